//! `leftovers`: what is not framed, by stream.

use super::ledger_files::{in_words, read};
use super::{Outcome, read_piece};
use crate::cli::{self, PieceIn};
use crate::document::Wanted;
use crate::failure::Failure;
use crate::{files, say};
use ledger::leftovers::{Thing, leftovers};
use serde_json::json;

pub(crate) fn run(args: &cli::Leftovers) -> Result<Outcome, Failure> {
    let piece = args
        .input
        .clone()
        .map(|input| read_piece(&PieceIn { input: Some(input) }))
        .transpose()?;
    let things = match &args.things {
        Some(path) => read(
            path,
            Wanted::Table("a table of leftovers"),
            Thing::list_from_csv,
        )?,
        None => Vec::new(),
    };
    let left = leftovers(piece.as_ref(), &things);
    let table = left.table();
    if let Some(path) = &args.csv {
        files::write(path, table.to_csv())?;
    }
    if args.json {
        say::json(&json!(left));
        return Ok(Outcome::Fine);
    }
    if left.lines.is_empty() {
        say::line("Nothing is left over.");
        return Ok(Outcome::Fine);
    }
    let mut text = in_words(&table);
    for s in &left.streams {
        text += &format!(
            "\n{} ({}, {:.0} g as far as weighed)\n  {}\n",
            s.title,
            s.count,
            s.mass_g.ceil(),
            s.advice
        );
    }
    text += &format!(
        "\n{}\nannex vii: Directive 2012/19/EU, Annex VII: must be taken out of devices that are collected.\n",
        left.rule
    );
    say::print(text);
    Ok(Outcome::Fine)
}
