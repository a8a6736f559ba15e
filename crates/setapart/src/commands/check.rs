//! `check`: what is wrong with a piece.

use super::mount::read_catalogue;
use super::{Outcome, findings_in_words, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::say;
use ::mount::Catalogue;
use piece::{Finding, Piece};
use serde_json::json;

pub(crate) fn run(args: &cli::Check) -> Result<Outcome, Failure> {
    let piece = read_piece(&args.piece)?;
    let catalogue = read_catalogue(args.catalogue.as_deref())?;
    let findings = all_findings(&piece, &catalogue)?;
    if args.json {
        say::json(&json!({ "findings": findings }));
    } else if findings.is_empty() {
        say::line("Nothing is wrong with it.");
    } else {
        say::print(findings_in_words(&findings));
    }
    Ok(Outcome::of(&findings))
}

/// What is wrong with the layout and with the build.
pub(crate) fn all_findings(piece: &Piece, catalogue: &Catalogue) -> Result<Vec<Finding>, Failure> {
    let mut findings = arrange::check(piece);
    findings.extend(::mount::check(piece, catalogue, &shape::Silent)?);
    Finding::sort(&mut findings);
    Ok(findings)
}
