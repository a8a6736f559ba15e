//! `arrange`: placements and captions into the piece.

use super::{Outcome, read_piece};
use crate::cli::{self, StyleName};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use piece::Style;

pub(crate) fn run(args: &cli::Arrange) -> Result<Outcome, Failure> {
    let mut piece = read_piece(&args.piece)?;
    if let Some(style) = args.style {
        piece.layout.style = match style {
            StyleName::Exploded => Style::Exploded,
            StyleName::Knolled => Style::Knolled,
        };
    }
    let options = arrange::Options {
        seed: args.seed,
        ..arrange::Options::default()
    };
    let progress = Progress::with_time_limit(args.time);
    let arranged = arrange::arrange(&piece, &options, &progress)?;
    drop(progress);
    piece.placements = arranged.placements;
    piece.captions = arranged.captions;
    let findings = arrange::check(&piece);
    match &args.out {
        Some(path) => files::write(path, piece.to_json())?,
        None => say::print(piece.to_json()),
    }
    Ok(Outcome::of(&findings))
}
