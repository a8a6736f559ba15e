//! Tables that people hand in as CSV.

use crate::{Chance, Currency, LedgerError, Minor, number};
use piece::PartKind;
use shape::BadField;

/// The largest table that is read, bytes.
const MAX_TABLE_BYTES: usize = 8 << 20;

/// The most lines that are read.
const MOST_LINES: usize = 20_000;

/// A table that was read: each line has a cell for each column.
pub(crate) struct Sheet {
    columns: Vec<String>,
    lines: Vec<(u64, Vec<String>)>,
}

impl Sheet {
    /// Reads a table whose first line names its columns: all of `needed`, any of `known`, and any that begins with
    /// one of `open`.
    pub(crate) fn read(
        bytes: &[u8],
        needed: &[&str],
        known: &[&str],
        open: &[&str],
    ) -> Result<Self, LedgerError> {
        let table = |problem: String| LedgerError::Table {
            line: None,
            column: None,
            problem,
        };
        if bytes.len() > MAX_TABLE_BYTES {
            return Err(LedgerError::TooLarge {
                found: bytes.len(),
                limit: MAX_TABLE_BYTES,
            });
        }
        // A mark of the byte order, as spreadsheets write it.
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let text = std::str::from_utf8(bytes)
            .map_err(|_| table("is not UTF-8 text; save it as CSV in UTF-8".into()))?;
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let told = |e: &csv::Error| {
            let line = e.position().map(csv::Position::line);
            let problem = match e.kind() {
                csv::ErrorKind::UnequalLengths {
                    expected_len, len, ..
                } => format!(
                    "has {len} cells, the first line has {expected_len}; a decimal comma splits a cell in two: write 12.50"
                ),
                _ => e.to_string(),
            };
            LedgerError::Table {
                line,
                column: None,
                problem,
            }
        };
        let header = reader.headers().map_err(|e| told(&e))?.clone();
        let columns: Vec<String> = header.iter().map(str::to_owned).collect();
        let expected = || {
            let more = open.iter().map(|o| format!("{o}…"));
            let all = needed.iter().chain(known).map(|s| (*s).to_owned());
            all.chain(more).collect::<Vec<_>>().join(",")
        };
        if columns.len() == 1 && columns[0].contains(';') {
            return Err(table(format!(
                "its cells are parted by semicolons; save it with commas between cells and points in decimals: {}",
                expected()
            )));
        }
        for name in needed {
            if !columns.iter().any(|c| c == name) {
                return Err(table(format!(
                    "has no column {name:?}; the first line names the columns, of: {}",
                    expected()
                )));
            }
        }
        for (k, name) in columns.iter().enumerate() {
            let is_known = needed.contains(&name.as_str())
                || known.contains(&name.as_str())
                || open
                    .iter()
                    .any(|o| name.len() > o.len() && name.starts_with(o));
            if !is_known {
                let short: String = name.chars().take(40).collect();
                return Err(table(format!(
                    "does not know the column {short:?}; the columns are: {}",
                    expected()
                )));
            }
            if columns[..k].contains(name) {
                return Err(table(format!("has the column {name:?} twice")));
            }
        }
        let mut lines = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| told(&e))?;
            if lines.len() == MOST_LINES {
                return Err(table(format!("has more than {MOST_LINES} lines")));
            }
            let line = record.position().map_or(0, csv::Position::line);
            lines.push((line, record.iter().map(str::to_owned).collect()));
        }
        Ok(Self { columns, lines })
    }

    /// The lines below the first.
    pub(crate) fn lines(&self) -> impl Iterator<Item = Line<'_>> {
        self.lines.iter().map(|(number, cells)| Line {
            number: *number,
            columns: &self.columns,
            cells,
        })
    }

    /// Columns that begin like this, with what follows.
    pub(crate) fn open_columns<'a>(&'a self, beginning: &'a str) -> impl Iterator<Item = &'a str> {
        let columns = self.columns.iter();
        columns.filter_map(move |c| c.strip_prefix(beginning).filter(|rest| !rest.is_empty()))
    }
}

/// One line of a table.
#[derive(Clone, Copy)]
pub(crate) struct Line<'a> {
    pub(crate) number: u64,
    columns: &'a [String],
    cells: &'a [String],
}

impl<'a> Line<'a> {
    /// What stands in a column; `None` where it is empty or there is no such column.
    pub(crate) fn cell(&self, column: &str) -> Option<&'a str> {
        let place = self.columns.iter().position(|c| c == column)?;
        let cell = self.cells.get(place)?.as_str();
        (!cell.is_empty()).then_some(cell)
    }

    /// What is wrong in a column of this line.
    pub(crate) fn wrong(&self, column: &str, problem: impl Into<String>) -> LedgerError {
        LedgerError::Table {
            line: Some(self.number),
            column: Some(column.into()),
            problem: problem.into(),
        }
    }

    /// A text of at most 200 characters, without control characters.
    pub(crate) fn text(&self, column: &str) -> Result<Option<String>, LedgerError> {
        match self.cell(column) {
            Some(t) if t.chars().count() > 200 || t.chars().any(char::is_control) => Err(self
                .wrong(
                    column,
                    "is longer than 200 characters, or has line breaks or control characters",
                )),
            other => Ok(other.map(str::to_owned)),
        }
    }

    pub(crate) fn needed(&self, column: &str) -> Result<String, LedgerError> {
        self.text(column)?
            .ok_or_else(|| self.wrong(column, "is empty"))
    }

    pub(crate) fn chance(&self, column: &str) -> Result<Option<Chance>, LedgerError> {
        let read = |t| number::decimal(t).map_err(|e| self.wrong(column, e));
        let Some(value) = self.cell(column).map(read).transpose()? else {
            return Ok(None);
        };
        let checked = Chance::try_new(value).map_err(|e| self.wrong(column, e.to_string()))?;
        Ok(Some(checked))
    }

    pub(crate) fn number(&self, column: &str) -> Result<Option<f64>, LedgerError> {
        let read = |t| number::decimal(t).map_err(|e| self.wrong(column, e));
        self.cell(column).map(read).transpose()
    }

    pub(crate) fn kind(&self, column: &str) -> Result<Option<PartKind>, LedgerError> {
        let read = |t| part_kind(t).map_err(|e| self.wrong(column, e));
        self.cell(column).map(read).transpose()
    }

    pub(crate) fn count(&self, column: &str) -> Result<Option<u32>, LedgerError> {
        let Some(text) = self.cell(column) else {
            return Ok(None);
        };
        match text.parse::<u32>() {
            Ok(n) if n <= 10_000 => Ok(Some(n)),
            _ => Err(self.wrong(
                column,
                format!("{text:?} is no count; it is a whole number from 0 to 10000"),
            )),
        }
    }

    pub(crate) fn money(
        &self,
        column: &str,
        currency: Currency,
    ) -> Result<Option<Minor>, LedgerError> {
        let read = |t| Minor::from_decimal(t, currency).map_err(|e| self.wrong(column, e));
        self.cell(column).map(read).transpose()
    }

    pub(crate) fn yes_or_no(&self, column: &str) -> Result<Option<bool>, LedgerError> {
        match self.cell(column) {
            None => Ok(None),
            Some("yes") => Ok(Some(true)),
            Some("no") => Ok(Some(false)),
            Some(other) => Err(self.wrong(
                column,
                format!("{other:?} is neither yes nor no; leave it empty where nobody knows"),
            )),
        }
    }
}

/// A kind of part by its name.
pub(crate) fn part_kind(name: &str) -> Result<PartKind, String> {
    serde_json::from_value(name.into()).map_err(|e| e.to_string())
}

/// Reads a JSON document: one value, nothing after it, the path of what is wrong in the error.
pub(crate) fn read_json<T: serde::de::DeserializeOwned>(
    bytes: &[u8],
    limit: usize,
) -> Result<T, LedgerError> {
    if bytes.len() > limit {
        return Err(LedgerError::TooLarge {
            found: bytes.len(),
            limit,
        });
    }
    shape::from_json(bytes)
        .map_err(|BadField { path, problem }| LedgerError::Document { path, problem })
}

/// An error at a place of a document.
pub(crate) fn unsound(path: impl Into<String>, problem: impl Into<String>) -> LedgerError {
    LedgerError::Document {
        path: path.into(),
        problem: problem.into(),
    }
}
