//! `check`: what is wrong with a piece.

use super::{Outcome, findings_in_words, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::say;
use serde_json::json;

pub(crate) fn run(args: &cli::Check) -> Result<Outcome, Failure> {
    let piece = read_piece(&args.piece)?;
    let findings = arrange::check(&piece);
    if args.json {
        say::json(&json!({ "findings": findings }));
    } else if findings.is_empty() {
        say::line("Nothing is wrong with it.");
    } else {
        say::print(findings_in_words(&findings));
    }
    Ok(Outcome::of(&findings))
}
