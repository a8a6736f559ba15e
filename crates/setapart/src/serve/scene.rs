//! What the board's page needs to know of a piece, as data.

use super::bench::OnBench;
pub(crate) use crate::commands::findings_of as findings;
use lettering::{Face, cap_height_per_em, line_pitch_mm};
use piece::{Caption, Part, Piece};
use press::CaptionStart;
use serde_json::{Value, json};
use shape::{Outline, Point, thinned};

/// Points of an outline that are sent are thinned so that none of the others is farther off than this, mm. What the page
/// says of clearances is right to twice as much; the checks measure the outlines themselves.
const THIN_MM: f64 = 0.01;

/// Parts and scene.
pub(crate) fn whole(on: &OnBench) -> Value {
    let mut all = scene(on);
    all["parts"] = on
        .piece
        .parts
        .iter()
        .enumerate()
        .map(|(k, part)| part_data(part, k + 1))
        .collect();
    all
}

/// Where everything lies, and what is wrong with it: what changes with each step.
pub(crate) fn scene(on: &OnBench) -> Value {
    let piece = &on.piece;
    let (window, field, board) = (
        piece.frame.window(),
        piece.frame.field(),
        piece.frame.board(),
    );
    let corners = |b: shape::Bounds| json!([b.min.x, b.min.y, b.max.x, b.max.y]);
    json!({
        "revision": on.state.revision,
        "undo": on.state.undo,
        "redo": on.state.redo,
        "name": piece.name,
        "device": piece.device,
        "frame": piece.frame,
        "window": corners(window),
        "field": corners(field),
        "board": corners(board),
        "layout": piece.layout,
        "placements": piece.placements,
        "captions": piece.captions.iter().map(|c| caption_data(piece, c)).collect::<Vec<_>>(),
        "axes": piece.axes.iter().flat_map(|a| &a.lines).collect::<Vec<_>>(),
    })
}

fn part_data(part: &Part, number: usize) -> Value {
    let shown = part.shown_outline();
    let ring = |points: &[Point]| -> Vec<[f64; 2]> {
        thinned(points, THIN_MM)
            .into_iter()
            .map(|p| [micron(p.x), micron(p.y)])
            .collect()
    };
    let cutout = part
        .shown_cutout()
        .map(|c| json!({ "image": c.image, "px_per_mm": c.px_per_mm, "origin_mm": c.origin_mm }));
    json!({
        "id": part.id,
        "number": number,
        "name": part.name,
        "kind": part.kind,
        "outer": ring(shown.outer().points()),
        "holes": shown.holes().iter().map(|h| ring(h.points())).collect::<Vec<_>>(),
        "thickness_mm": part.thickness_mm,
        "sigma_mm": part.sigma_mm,
        "turns": part.turns,
        "group": part.group,
        "stand_in": part.stand_in,
        "hazards": part.hazards,
        "cutout": cutout,
    })
}

/// A caption with its lines as the press sets them, so that the page shows what will be printed.
fn caption_data(piece: &Piece, caption: &Caption) -> Value {
    let number = piece
        .parts
        .iter()
        .position(|p| p.id == caption.part)
        .map_or(0, |k| k + 1);
    let start = CaptionStart::of(caption, number);
    let letter_mm = start.letter_mm;
    json!({
        "part": caption.part,
        "text": caption.text,
        "x": caption.x,
        "y": caption.y,
        "w": caption.w,
        "h": caption.h,
        "leader": caption.leader,
        "letter_mm": letter_mm,
        "em_mm": letter_mm / cap_height_per_em(Face::Regular),
        "pitch_mm": line_pitch_mm(letter_mm),
        "indent_mm": start.indent_mm,
    })
}

fn micron(mm: f64) -> f64 {
    (mm * 1000.0).round() / 1000.0
}

/// A small picture of the piece for the shelf: outlines in their places.
pub(crate) fn small_picture(piece: &Piece) -> String {
    let board = piece.frame.board();
    let (w, h) = (board.width_mm(), board.height_mm());
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{:.1} {:.1} {w:.1} {h:.1}\">\
         <rect x=\"{:.1}\" y=\"{:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"#f3eee2\"/>\
         <g fill=\"#6f6a60\" fill-rule=\"evenodd\">",
        board.min.x, -board.max.y, board.min.x, -board.max.y
    );
    for (_, outline) in piece.outlines_on_board() {
        svg += "<path d=\"";
        svg += &path_of(&outline);
        svg += "\"/>";
    }
    svg + "</g></svg>"
}

/// An outline as path data, y down, a user unit a mm; fine enough to be looked at, not to be cut.
pub(crate) fn path_of(outline: &Outline) -> String {
    let mut d = String::new();
    for ring in outline.rings() {
        for (k, p) in thinned(ring.points(), 0.1).into_iter().enumerate() {
            let step = if k == 0 { 'M' } else { 'L' };
            d += &format!("{step}{:.1} {:.1}", p.x, -p.y);
        }
        d.push('Z');
    }
    d
}
