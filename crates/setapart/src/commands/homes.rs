//! `homes`: where each part sat in the device, into the piece.

mod drawing;
mod photos;
mod shown;
mod told;

pub(crate) use photos::sought;
pub(crate) use told::findings;

use super::picture::PictureKind;
use super::{Outcome, findings_in_words, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use crate::say;
use drawing::by_drawing;
use homes::{Found, PlaceError};
use photos::by_photos;
use piece::{Finding, PartId, Piece};
use shape::Outline;
use shown::{as_json, drawn, in_words};
use std::collections::BTreeMap;
use std::path::Path;

/// What the command found out, for all that it writes.
struct Gained {
    device: Option<Outline>,
    found: Option<Found>,
    findings: Vec<Finding>,
    /// Confidence of each part's home, where it was found now.
    sure: BTreeMap<PartId, f64>,
}

pub(crate) fn run(args: &cli::Homes) -> Result<Outcome, Failure> {
    let mut piece = read_piece(&args.piece)?;
    let folder = args
        .piece
        .input
        .as_deref()
        .and_then(Path::parent)
        .unwrap_or(Path::new("."))
        .to_owned();
    let picture_kind = args.picture.as_deref().map(PictureKind::of).transpose()?;
    if args.inside.is_empty() && args.drawing.is_none() && args.fills.is_empty() {
        return Err(argument(
            "--inside",
            "give photos of the opened device as PHOTO@STAGE, or --drawing FILE, or --fills PART=PLACE",
        ));
    }
    let progress = Progress::new();
    let mut result = Gained {
        device: None,
        found: None,
        findings: Vec::new(),
        sure: BTreeMap::new(),
    };
    if !args.inside.is_empty() {
        by_photos(args, &mut piece, &folder, &progress, &mut result)?;
    }
    if let Some(path) = &args.drawing {
        by_drawing(args, path, &mut piece, &progress, &mut result)?;
    }
    for fill in &args.fills {
        by_place(fill, &mut piece, &progress, &mut result)?;
    }
    drop(progress);
    Finding::sort(&mut result.findings);
    let mut outputs = Outputs::default();
    if let Some(path) = &args.out {
        outputs.add(path, piece.to_json());
    }
    if let (Some(path), Some(kind)) = (&args.picture, picture_kind) {
        outputs.add(path, drawn(&piece, &folder, &result, kind)?);
    }
    outputs.write()?;
    if args.json {
        say::json(&as_json(&piece, &result));
    } else if args.out.is_some() {
        say::print(in_words(&piece, &result));
    } else {
        say::print(piece.to_json());
        say::note(findings_in_words(&result.findings));
    }
    Ok(Outcome::of(&result.findings))
}

fn argument(option: &'static str, problem: impl Into<String>) -> Failure {
    Failure::Argument {
        option,
        problem: problem.into(),
    }
}

fn by_place(
    fill: &str,
    piece: &mut Piece,
    progress: &Progress,
    result: &mut Gained,
) -> Result<(), Failure> {
    let bad = |problem: String| argument("--fills", problem);
    let (filler, place) = fill.split_once('=').ok_or_else(|| {
        bad(format!(
            "{fill:?}: give the part and whose place it takes, as in new-board=board"
        ))
    })?;
    let find = |id: &str| {
        piece
            .parts
            .iter()
            .position(|p| p.id.as_str() == id)
            .ok_or_else(|| bad(format!("there is no part with the id {id:?}")))
    };
    let (a, b) = (find(filler)?, find(place)?);
    let home = piece.parts[b]
        .home
        .ok_or_else(|| bad(format!("{place} has no home that {filler} could take")))?;
    match homes::home_of_place(
        &piece.parts[a].outline,
        &piece.parts[b].outline,
        home,
        progress,
    ) {
        Ok(home) => {
            piece.parts[a].home = Some(home);
            result.sure.insert(
                piece.parts[a].id.clone(),
                result.sure.get(&piece.parts[b].id).copied().unwrap_or(1.0),
            );
            // It was looked for in the photos in vain: it was never in this device.
            let id = piece.parts[a].id.clone();
            result
                .findings
                .retain(|f| !(f.parts == [id.clone()] && f.code == "homes.not-found"));
            Ok(())
        }
        Err(PlaceError::Cancelled(_)) => Err(Failure::Cancelled),
        Err(e) => Err(bad(format!(
            "{filler} cannot take the place of {place}: {e}"
        ))),
    }
}
