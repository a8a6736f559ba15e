//! Tables that leave the ledger: as text for people, as CSV, as a spreadsheet.

use crate::money::plain_signed;
use crate::{Currency, LedgerError};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook};

/// A table with a title, for people and for spreadsheets.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it is called; the sheet's name in a spreadsheet.
    pub title: String,
    /// Money in it is in this currency.
    pub currency: Currency,
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Lines, each with a cell for each column.
    pub lines: Vec<Vec<Cell>>,
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Words.
    Text(String),
    /// A bare number.
    Number(f64),
    /// An amount, minor units of the table's currency.
    Money(i64),
    /// A chance or a share: 0.5 for 50 %.
    Share(f64),
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.into())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl Cell {
    fn words(&self, currency: Currency) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(t) => t.clone(),
            Self::Number(n) | Self::Share(n) => n.to_string(),
            Self::Money(minor) => plain_signed(*minor, currency),
        }
    }
}

/// Writes CSV: commas between cells, points in decimals, a first line of names.
pub(crate) fn csv_bytes(columns: &[String], lines: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Into memory: cannot fail.
    let _ = writer.write_record(columns);
    for line in lines {
        let _ = writer.write_record(line.iter().map(|cell| harmless(cell)));
    }
    writer.into_inner().unwrap_or_default()
}

/// A text that a spreadsheet would take for a formula gets a space in front.
fn harmless(cell: &str) -> String {
    let starts = cell.starts_with(['=', '@', '+', '\t', '\r'])
        || (cell.starts_with('-') && cell.len() > 1 && cell.parse::<f64>().is_err());
    if starts {
        format!(" {cell}")
    } else {
        cell.to_owned()
    }
}

impl Table {
    /// The table as CSV: amounts in major units with a decimal point, shares as numbers from 0 to 1.
    pub fn to_csv(&self) -> Vec<u8> {
        let lines = self.lines.iter();
        csv_bytes(
            &self.columns,
            lines.map(|line| line.iter().map(|c| c.words(self.currency)).collect()),
        )
    }
}

/// Tables as one spreadsheet (Office Open XML), a sheet each. No time stamps: the same tables give the same bytes.
///
/// # Errors
/// [`LedgerError::Spreadsheet`] with what the writer says, such as two sheets of one name.
pub fn to_xlsx(title: &str, tables: &[Table]) -> Result<Vec<u8>, LedgerError> {
    let failed = |e: rust_xlsxwriter::XlsxError| LedgerError::Spreadsheet(e.to_string());
    let mut book = Workbook::new();
    // The writer would ask the clock; a fixed day keeps bytes the same.
    let day = ExcelDateTime::from_ymd(2000, 1, 1).map_err(failed)?;
    book.set_properties(
        &DocProperties::new()
            .set_title(title)
            .set_creation_datetime(&day),
    );
    for table in tables {
        let sheet = book.add_worksheet();
        let name: String = table
            .title
            .chars()
            .filter(|c| !"[]:*?/\\'".contains(*c))
            .take(31)
            .collect();
        sheet.set_name(name).map_err(failed)?;
        let head = Format::new()
            .set_bold()
            .set_border_bottom(rust_xlsxwriter::FormatBorder::Thin);
        let decimals = table.currency.exponent() as usize;
        let zeros = if decimals == 0 {
            String::new()
        } else {
            format!(".{}", "0".repeat(decimals))
        };
        let money = Format::new().set_num_format(format!("#,##0{zeros}"));
        let share = Format::new().set_num_format("0.0%");
        for (c, column) in table.columns.iter().enumerate() {
            let c = u16::try_from(c).map_err(|e| LedgerError::Spreadsheet(e.to_string()))?;
            sheet
                .write_string_with_format(0, c, column, &head)
                .map_err(failed)?;
            let widest = table.lines.iter().map(|l| {
                l.get(usize::from(c))
                    .map_or(0, |x| x.words(table.currency).chars().count())
            });
            let widest = widest.chain([column.chars().count()]).max().unwrap_or(8);
            sheet
                .set_column_width(c, (widest as f64 + 2.0).clamp(8.0, 60.0))
                .map_err(failed)?;
        }
        for (r, line) in (1u32..).zip(&table.lines) {
            for (c, cell) in (0u16..).zip(line) {
                match cell {
                    Cell::Empty => continue,
                    Cell::Text(t) => sheet.write_string(r, c, t),
                    Cell::Number(n) => sheet.write_number(r, c, *n),
                    Cell::Share(n) => sheet.write_number_with_format(r, c, *n, &share),
                    // The one place where money becomes a floating-point number: spreadsheets have no other.
                    Cell::Money(minor) => {
                        let major = *minor as f64 / 10f64.powi(decimals as i32);
                        sheet.write_number_with_format(r, c, major, &money)
                    }
                }
                .map_err(failed)?;
            }
        }
        sheet.set_freeze_panes(1, 0).map_err(failed)?;
    }
    book.save_to_buffer().map_err(failed)
}
