//! What can keep the ledger from an answer.

use crate::cover::CoverError;

/// Why the ledger cannot answer. Each text says what is wrong, where, and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LedgerError {
    /// More bytes than a document of this kind can have.
    #[error("has {found} bytes, the limit is {limit}")]
    TooLarge {
        /// Bytes found.
        found: usize,
        /// Most that are read.
        limit: usize,
    },
    /// A document that is not of the form that is asked.
    #[error("{path}: {problem}")]
    Document {
        /// Where, such as `lots[2].price_minor`; `.` is the document itself.
        path: String,
        /// What is wrong there, and what to write instead.
        problem: String,
    },
    /// A table that is not of the form that is asked.
    #[error("{}{problem}", at(.line, .column))]
    Table {
        /// Line of the file, from 1; `None` for the table as a whole.
        line: Option<u64>,
        /// Which column; `None` for the line as a whole.
        column: Option<String>,
        /// What is wrong there, and what to write instead.
        problem: String,
    },
    /// Two currencies where there can be one.
    #[error(
        "{place} is in {found}, the rest is in {expected}; convert it, money of two currencies is not added up"
    )]
    Currencies {
        /// What is in another one.
        place: String,
        /// Its currency.
        found: String,
        /// The currency of the rest.
        expected: String,
    },
    /// A sum beyond what money can be here.
    #[error("{what} adds up to more than can be counted; look for a price with too many digits")]
    TooMuch {
        /// Which sum.
        what: &'static str,
    },
    /// Parts that no lot on offer has.
    #[error("no lot on offer has {}; offer one, allow a stand-in, or take the part off the list", listed(.parts))]
    NoLot {
        /// Which parts.
        parts: Vec<String>,
    },
    /// A confidence that not even all lots together reach.
    #[error(
        "{part} cannot be had with a confidence of {asked}: all lots together give {reachable}; ask for less, find another lot, or allow a stand-in"
    )]
    OutOfReach {
        /// Which part, or the piece as a whole.
        part: String,
        /// What is asked, as a share.
        asked: String,
        /// What can be had at best, as a share.
        reachable: String,
    },
    /// The choice of lots failed.
    #[error("the choice of lots: {0}")]
    Cover(#[from] CoverError),
    /// A price that cannot be: shares of the price that leave nothing.
    #[error(
        "fees, tax on the price and margin take {share} of the price, which leaves nothing for costs; lower one of them"
    )]
    NoPrice {
        /// What they take together.
        share: String,
    },
    /// Something that is asked for and is not known.
    #[error("{what} is not known: {remedy}")]
    Missing {
        /// What.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// A number outside its range.
    #[error("{what} is {found}; it must be {allowed}")]
    Range {
        /// Which number.
        what: String,
        /// What it is.
        found: String,
        /// What it may be.
        allowed: &'static str,
    },
    /// The spreadsheet's writer refused.
    #[error("cannot write the spreadsheet: {0}")]
    Spreadsheet(String),
}

fn at(line: &Option<u64>, column: &Option<String>) -> String {
    match (line, column) {
        (Some(line), Some(column)) => format!("line {line}, column {column}: "),
        (Some(line), None) => format!("line {line}: "),
        (None, Some(column)) => format!("column {column}: "),
        (None, None) => String::new(),
    }
}

/// The first dozen, and how many more.
pub(crate) fn listed(names: &[String]) -> String {
    let shown = names
        .iter()
        .take(12)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match names.len() {
        0..=12 => shown,
        n => format!("{shown} and {} more", n - 12),
    }
}
