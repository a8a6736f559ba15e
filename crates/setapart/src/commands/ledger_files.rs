//! What the ledger's commands share: documents in, tables and pictures out, tables for people.

use super::picture::PictureKind;
use crate::cli::Tables;
use crate::document::{Document, Wanted, read_as, read_file};
use crate::failure::Failure;
use crate::files::{self, Outputs, STANDARD_INPUT};
use ledger::table::{Cell, Table, to_xlsx};
use ledger::{Currency, LedgerError, Money};
use press::Drawing;
use std::fmt::Write;
use std::path::Path;

/// Largest document or table, bytes.
const MOST_BYTES: u64 = 16 << 20;

/// Scale of pictures as PNG, px/mm.
const PX_PER_MM: f64 = 10.0;

/// Reads a file: a document by its kind, a table, or what another command printed.
pub(super) fn read<T>(
    path: &Path,
    wanted: impl Into<Wanted>,
    make: impl FnOnce(&[u8]) -> Result<T, LedgerError>,
) -> Result<T, Failure> {
    read_file(wanted.into(), path, MOST_BYTES, make, failed(path))
}

/// Reads a file, or standard input.
pub(super) fn read_or_stdin<T>(
    path: Option<&Path>,
    kind: Document,
    make: impl FnOnce(&[u8]) -> Result<T, LedgerError>,
) -> Result<T, Failure> {
    let Some(path) = path else {
        let bytes = files::read_stdin(MOST_BYTES, kind.in_words())?;
        let path = Path::new(STANDARD_INPUT);
        return read_as(kind.into(), path, &bytes, make, failed(path));
    };
    read(path, kind, make)
}

fn failed(path: &Path) -> impl FnOnce(LedgerError) -> Failure {
    |source| Failure::Ledger {
        path: path.into(),
        source,
    }
}

/// A table rather than JSON, by the file's name.
pub(super) fn is_csv(path: &Path) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("csv"))
}

pub(super) fn currency(code: &str) -> Result<Currency, Failure> {
    Currency::try_new(code).map_err(|e| Failure::Argument {
        option: "--currency",
        problem: e.to_string(),
    })
}

/// Adds the tables' files to the outputs.
pub(super) fn add_tables(
    outputs: &mut Outputs,
    to: &Tables,
    title: &str,
    tables: &[Table],
) -> Result<(), Failure> {
    if let (Some(path), Some(first)) = (&to.csv, tables.first()) {
        outputs.add(path, first.to_csv());
    }
    if let Some(path) = &to.xlsx {
        outputs.add(path, to_xlsx(title, tables)?);
    }
    Ok(())
}

/// A picture in the format that was asked for.
pub(super) fn picture(kind: PictureKind, page: &Drawing) -> Result<Vec<u8>, Failure> {
    Ok(kind.file_of(page, PX_PER_MM)?)
}

/// A table for people: numbers to the right, a line under the names.
pub(super) fn in_words(table: &Table) -> String {
    let words = |cell: &Cell| match cell {
        Cell::Empty => String::new(),
        Cell::Text(t) => t.clone(),
        Cell::Number(n) => format!("{}", (n * 100.0).round() / 100.0),
        Cell::Money(minor) => Money::new(*minor, table.currency).to_string(),
        Cell::Share(s) => format!("{:.1} %", 100.0 * s),
    };
    let lines: Vec<Vec<String>> = table
        .lines
        .iter()
        .map(|l| l.iter().map(words).collect())
        .collect();
    let names: Vec<String> = table.columns.iter().map(|c| c.replace('_', " ")).collect();
    let columns = names.len();
    let wide = |c: usize| {
        let cells = lines.iter().filter_map(|l| l.get(c));
        cells
            .chain([&names[c]])
            .map(|t| t.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(wide).collect();
    let right: Vec<bool> = (0..columns)
        .map(|c| {
            let mut cells = table
                .lines
                .iter()
                .filter_map(|l| l.get(c))
                .filter(|c| **c != Cell::Empty);
            cells.clone().count() > 0 && cells.all(|c| !matches!(c, Cell::Text(_)))
        })
        .collect();
    let line = |cells: &[String]| {
        let mut text = String::from("  ");
        for (c, cell) in cells.iter().enumerate() {
            let _ = if right[c] {
                write!(text, "{cell:>0$}", widths[c])
            } else {
                write!(text, "{cell:<0$}", widths[c])
            };
            text.push_str("  ");
        }
        text.trim_end().to_owned() + "\n"
    };
    let mut text = line(&names);
    for cells in &lines {
        text += &line(cells);
    }
    text
}
