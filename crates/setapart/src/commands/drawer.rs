//! `drawer`: the stock of parts.

use super::Outcome;
use super::ledger_files::{in_words, is_csv, read};
use crate::cli;
use crate::document::{Document, Wanted};
use crate::failure::Failure;
use crate::{files, say};
use ledger::drawer::Drawer;

pub(crate) fn run(args: &cli::Drawer) -> Result<Outcome, Failure> {
    let mut drawer = if is_csv(&args.stock) {
        read(
            &args.stock,
            Wanted::Table("a table of stock"),
            Drawer::from_csv,
        )?
    } else {
        read(&args.stock, Document::Drawer, Drawer::from_json)?
    };
    if let Some(piece) = &args.free_for {
        drawer.stock.retain(|s| s.is_free_for(Some(piece)));
    }
    if let Some(path) = &args.csv {
        files::write(path, drawer.to_csv())?;
    }
    if args.json {
        say::print(drawer.to_json());
    } else {
        let count: u32 = drawer.stock.iter().map(|s| s.count).sum();
        say::print(format!(
            "{count} parts in {} lines\n{}",
            drawer.stock.len(),
            in_words(&drawer.table())
        ));
    }
    Ok(Outcome::Fine)
}
