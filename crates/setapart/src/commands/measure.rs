//! `measure` (hidden): numbers of a piece for other programs to compare with their own.

use super::{Outcome, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::say;
use serde_json::json;
use shape::EdgeTree;

pub(crate) fn run(args: &cli::Measure) -> Result<Outcome, Failure> {
    let piece = read_piece(&args.piece)?;
    let placed = piece.outlines_on_board();
    let parts: Vec<_> = placed
        .iter()
        .map(|(part, outline)| {
            let b = outline.bounds();
            json!({
                "part": part.id,
                "area_mm2": outline.area_mm2(),
                "perimeter_mm": outline.perimeter_mm(),
                "bounds": [b.min.x, b.min.y, b.max.x, b.max.y],
            })
        })
        .collect();
    let trees: Vec<EdgeTree> = placed
        .iter()
        .map(|(_, o)| EdgeTree::new(o.clone()))
        .collect();
    let mut pairs = Vec::new();
    for (i, a) in trees.iter().enumerate() {
        for (j, b) in trees.iter().enumerate().skip(i + 1) {
            pairs.push(json!({
                "a": placed[i].0.id,
                "b": placed[j].0.id,
                "clearance_mm": a.clearance_mm(b, f64::INFINITY),
            }));
        }
    }
    say::json(&json!({ "parts": parts, "pairs": pairs }));
    Ok(Outcome::Fine)
}
