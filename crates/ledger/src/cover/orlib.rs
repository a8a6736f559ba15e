//! Set cover in the file form of the OR-Library.

use super::{Column, Program};

/// The largest file that is read, bytes.
pub const MAX_COVER_BYTES: usize = 64 << 20;

/// Rows and columns that a file may have at most.
const MOST: usize = 200_000;

/// Why a text is no set cover file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CoverFileError {
    /// The text ends too early.
    #[error("ends where {expected} should follow")]
    Ends {
        /// What should follow.
        expected: String,
    },
    /// A word that is no whole number.
    #[error("word {at} is {found:?}, where {expected} should be: a whole number, not negative")]
    NoNumber {
        /// Which word of the file, from 1.
        at: usize,
        /// What it is.
        found: String,
        /// What should be there.
        expected: String,
    },
    /// A number that cannot be.
    #[error("word {at}: {problem}")]
    Number {
        /// Which word of the file, from 1.
        at: usize,
        /// What is wrong.
        problem: String,
    },
}

/// Reads rows, columns, the columns' costs, then for each row how many columns cover it, and which (from 1).
///
/// # Errors
/// [`CoverFileError`] with the place of the first word that is wrong.
pub fn read_cover_file(bytes: &[u8]) -> Result<Program, CoverFileError> {
    let text = String::from_utf8_lossy(bytes);
    let mut words = Words {
        rest: text.split_ascii_whitespace(),
        at: 0,
    };
    let n_rows = words.below_limit("the number of rows")?;
    let n_columns = words.below_limit("the number of columns")?;
    let mut columns = Vec::new();
    for group in 0..n_columns {
        let cost = words.next(|| format!("the cost of column {}", group + 1))?;
        if cost > 1 << 40 {
            return Err(words.wrong("the cost is above the limit of 2^40".into()));
        }
        columns.push(Column {
            cost,
            group,
            entries: Vec::new(),
        });
    }
    for row in 0..n_rows {
        let count = words.next(|| format!("how many columns cover row {}", row + 1))?;
        if count > n_columns as u64 {
            let problem = format!("row {} has {count} columns of {n_columns}", row + 1);
            return Err(words.wrong(problem));
        }
        for _ in 0..count {
            let column = words.next(|| format!("a column of row {}", row + 1))?;
            let place = usize::try_from(column).ok().and_then(|c| c.checked_sub(1));
            let Some(there) = place.and_then(|c| columns.get_mut(c)) else {
                let problem = format!("there is no column {column}; they are 1 to {n_columns}");
                return Err(words.wrong(problem));
            };
            if there.entries.last().is_some_and(|e| e.0 == row) {
                return Err(words.wrong(format!("row {} names column {column} twice", row + 1)));
            }
            there.entries.push((row, 1.0));
        }
    }
    if words.rest.next().is_some() {
        words.at += 1;
        return Err(words.wrong("more follows after the last row".into()));
    }
    Ok(Program {
        needs: vec![1.0; n_rows],
        columns,
        not_all: Vec::new(),
    })
}

struct Words<'a> {
    rest: std::str::SplitAsciiWhitespace<'a>,
    at: usize,
}

impl Words<'_> {
    fn next(&mut self, expected: impl Fn() -> String) -> Result<u64, CoverFileError> {
        let word = self.rest.next().ok_or_else(|| CoverFileError::Ends {
            expected: expected(),
        })?;
        self.at += 1;
        word.parse().map_err(|_| CoverFileError::NoNumber {
            at: self.at,
            found: word.chars().take(40).collect(),
            expected: expected(),
        })
    }

    fn below_limit(&mut self, what: &str) -> Result<usize, CoverFileError> {
        let number = self.next(|| what.to_owned())?;
        match usize::try_from(number) {
            Ok(n) if (1..=MOST).contains(&n) => Ok(n),
            _ => Err(self.wrong(format!("{what} is {number}; it must be 1 to {MOST}"))),
        }
    }

    fn wrong(&self, problem: String) -> CoverFileError {
        CoverFileError::Number {
            at: self.at,
            problem,
        }
    }
}
