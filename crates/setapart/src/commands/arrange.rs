//! `arrange`: placements and captions into the piece.

use super::{Outcome, findings_in_words, findings_of, read_piece};
use crate::cli::{self, StyleName};
use crate::document::{Wanted, read_file};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use arrange::{Arranged, RealFont, Room, StoppedBy, Weights};
use piece::{Finding, Piece, Style};
use serde_json::json;
use std::path::Path;

/// Largest file of weights, bytes.
const MOST_WEIGHTS_BYTES: u64 = 1 << 20;

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
        weights: read_weights(args.weights.as_deref())?,
        captions: !args.no_captions,
        ..arrange::Options::default()
    };
    let progress = Progress::with_time_limit(args.time);
    let arranged = if args.keep {
        arrange::keep_with(&piece, &options, &RealFont, &progress)?
    } else {
        arrange::arrange(&piece, &options, &progress)?
    };
    drop(progress);
    let moved = moved_mm(&piece, &arranged);
    piece.placements.clone_from(&arranged.placements);
    piece.captions.clone_from(&arranged.captions);
    piece.axes = arrange::assembly_axes(&piece);
    let findings = findings_of(&piece);
    match &args.out {
        Some(path) => {
            files::write(path, piece.to_json())?;
            if args.json {
                say::json(&as_json(&arranged, &options.weights, &findings));
            } else {
                say::print(in_words(args, &piece, &arranged, &options.weights, moved));
                say::note(findings_in_words(&findings));
            }
        }
        None => {
            say::print(piece.to_json());
            say::note(findings_in_words(&findings));
        }
    }
    Ok(Outcome::of(&findings))
}

/// Weights as the file says; without a file, and for what it leaves out, the usual ones.
pub(crate) fn read_weights(path: Option<&Path>) -> Result<Weights, Failure> {
    let Some(path) = path else {
        return Ok(Weights::default());
    };
    read_file(
        Wanted::Other("a file of weights"),
        path,
        MOST_WEIGHTS_BYTES,
        Weights::from_json,
        |e| Failure::Argument {
            option: "--weights",
            problem: format!("{}: {e}", path.display()),
        },
    )
}

/// How many of the parts that had a place were moved, and how far in all, mm.
fn moved_mm(before: &Piece, arranged: &Arranged) -> (usize, f64) {
    let mut moved = (0, 0.0);
    for now in &arranged.placements {
        if let Some(was) = before.placement(&now.part) {
            let by = (now.x - was.x).hypot(now.y - was.y);
            if by > 1e-6 || (now.turn_deg - was.turn_deg).abs() > 1e-9 {
                moved.0 += 1;
                moved.1 += by;
            }
        }
    }
    moved
}

pub(crate) fn room_name(room: Room) -> &'static str {
    match room {
        Room::Spread => "spread",
        Room::Composed => "composed",
        Room::Tight => "tight",
        Room::Packed => "packed",
        Room::Kept => "kept",
    }
}

fn stopped_name(stopped_by: StoppedBy) -> &'static str {
    match stopped_by {
        StoppedBy::Steps => "steps",
        StoppedBy::Watch => "time",
    }
}

fn as_json(arranged: &Arranged, weights: &Weights, findings: &[Finding]) -> serde_json::Value {
    let terms: Vec<_> = arranged
        .score
        .terms(weights)
        .into_iter()
        .map(|(name, value, weight)| json!({ "term": name, "value": value, "weight": weight }))
        .collect();
    json!({
        "room": room_name(arranged.room),
        "bands": arranged.bands,
        "shared_stations": arranged.shared_stations,
        "uncaptioned": arranged.uncaptioned,
        "score": { "total": arranged.score.total(weights), "terms": terms },
        "stopped_by": stopped_name(arranged.stopped_by),
        "findings": findings,
    })
}

fn in_words(
    args: &cli::Arrange,
    piece: &Piece,
    arranged: &Arranged,
    weights: &Weights,
    (moved, by_mm): (usize, f64),
) -> String {
    let parts = say::counted(piece.parts.len(), "part");
    let mut text = match arranged.room {
        Room::Spread => format!("{parts} spread in one run\n"),
        Room::Composed if piece.layout.style == Style::Knolled => {
            format!("{parts} in {}\n", say::counted(arranged.bands, "row"))
        }
        Room::Composed | Room::Tight => {
            let mut text = format!(
                "{parts} composed in {}",
                say::counted(arranged.bands, "band")
            );
            if arranged.bands > 1 {
                text += ", front layers first";
            }
            if arranged.shared_stations > 0 {
                text += &format!(
                    "; neighbouring layers share {}",
                    say::counted(arranged.shared_stations, "station")
                );
            }
            if arranged.room == Room::Tight {
                text += "; no room for captions below their parts";
            }
            text + "\n"
        }
        Room::Packed => format!("{parts} fitted in one by one: no composition has room\n"),
        Room::Kept => format!("{parts}; moved: {moved}, by {by_mm:.1} mm in all\n"),
    };
    let led = arranged
        .captions
        .iter()
        .filter(|c| !c.leader.is_empty())
        .count();
    if !args.no_captions {
        text += &format!(
            "  captions  {}, {} with a leader, {} left out\n",
            arranged.captions.len(),
            led,
            arranged.uncaptioned.len()
        );
    }
    text += &format!(
        "  score     {:.3}, less is better:\n",
        arranged.score.total(weights)
    );
    for (name, value, weight) in arranged.score.terms(weights) {
        text += &format!("            {name:<11} {value:.3} x {weight}\n");
    }
    if arranged.stopped_by == StoppedBy::Watch {
        text += "  stopped before all steps were done: the best layout so far\n";
    }
    text
}
