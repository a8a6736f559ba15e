//! What the board shows at 1:1: its edges, the parts' outlines, numbers and captions.

use crate::caption::{CaptionInks, draw_axes, draw_captions};
use crate::drawing::{Align, Compose};
use crate::{Ink, Item, Path, PressError, Shape, Speech, Stroke, width_mm};
use lettering::{Face, set_line};
use piece::{Part, PartId, Piece};
use shape::{Bounds, Outline, Point};
use std::collections::{BTreeMap, BTreeSet};

/// Height of the small words' capitals, mm (ISO 3098).
const SMALL_MM: f64 = 2.5;

/// Grey of words that only explain.
const QUIET: Ink = Ink::grey(90);

/// Draws the board in board coordinates.
///
/// # Errors
/// Those of the captions.
pub(super) fn draw_board(piece: &Piece, speech: Speech) -> Result<Vec<Item>, PressError> {
    let mut items = Vec::new();
    let outlines = piece.outlines_on_board();
    draw_edges(&mut items, piece, speech);
    for (part, outline) in &outlines {
        items.push(Item::Shape(Shape {
            path: Path::outline(outline),
            fill: None,
            stroke: Some(Stroke::continuous(width_mm::WIDE, Ink::BLACK)),
            id: None,
            title: Some(part.name.clone()),
        }));
    }
    let by_id: BTreeMap<&PartId, &Outline> = outlines.iter().map(|(p, o)| (&p.id, o)).collect();
    draw_axes(&mut items, piece, Ink::BLACK);
    draw_captions(&mut items, piece, &by_id, CaptionInks::BLACK)?;
    draw_lone_numbers(&mut items, piece, &outlines);
    Ok(items)
}

/// The board's edge as a long-dashed dotted line, the window's as a long-dashed double-dotted one (an
/// adjacent part's edge in ISO 128-2), both named; short ticks mark their middles.
fn draw_edges(items: &mut Vec<Item>, piece: &Piece, speech: Speech) {
    let (board, window) = (piece.frame.board(), piece.frame.window());
    items.stroke(
        Path::rectangle(board),
        Stroke::long_dash_dot(width_mm::MEDIUM, Ink::BLACK),
    );
    items.stroke(
        Path::rectangle(window),
        Stroke::long_dash_double_dot(width_mm::NARROW, Ink::BLACK),
    );
    let rim_mm = window.min.y - board.min.y;
    let c = window.centre();
    let tick_mm = rim_mm.clamp(2.0, 6.0);
    for (from, to) in [
        (
            Point::new(c.x, board.min.y),
            Point::new(c.x, board.min.y + tick_mm),
        ),
        (
            Point::new(c.x, board.max.y),
            Point::new(c.x, board.max.y - tick_mm),
        ),
        (
            Point::new(board.min.x, c.y),
            Point::new(board.min.x + tick_mm, c.y),
        ),
        (
            Point::new(board.max.x, c.y),
            Point::new(board.max.x - tick_mm, c.y),
        ),
    ] {
        let tick = Stroke::continuous(width_mm::NARROW, Ink::BLACK);
        items.stroke(Path::line(from, to), tick);
    }
    // In the rim that the frame hides there is room for both names, unless it is very narrow.
    if rim_mm >= SMALL_MM + 1.6 {
        let y = board.min.y + 0.5 * (rim_mm - SMALL_MM);
        let line = crate::fitting::line_shrunk(
            speech.sheets().edges,
            Face::Regular,
            SMALL_MM,
            0.5 * window.width_mm() - 4.0,
        );
        items.text(line, Point::new(window.min.x + 2.0, y), Align::Left, QUIET);
    }
}

/// Numbers of the parts that no caption names: inside where there is room, else beside.
fn draw_lone_numbers(items: &mut Vec<Item>, piece: &Piece, outlines: &[(&Part, Outline)]) {
    let captioned: BTreeSet<&PartId> = piece.captions.iter().map(|c| &c.part).collect();
    let numbers = piece.item_numbers();
    for (part, outline) in outlines {
        if captioned.contains(&part.id) {
            continue;
        }
        let number = numbers.get(&part.id).copied().unwrap_or(0);
        let line = set_line(&number.to_string(), Face::Medium, SMALL_MM);
        let (b, w) = (outline.bounds(), line.width_mm);
        let (c, half) = (b.centre(), 0.5 * SMALL_MM);
        let (dx, dy) = (1.0 + 0.5 * w, 1.0 + half);
        let inside = box_round(outline.centroid(), w);
        let beside = [
            Point::new(b.max.x + dx, b.max.y - half),
            Point::new(c.x, b.max.y + dy),
            Point::new(b.min.x - dx, b.max.y - half),
            Point::new(c.x, b.min.y - dy),
            Point::new(b.max.x + dx, b.min.y + half),
            Point::new(b.min.x - dx, b.min.y + half),
        ]
        .map(|middle| box_round(middle, w));
        let is_free = |place: &Bounds| !items.iter().any(|i| i.touches(place.grown(0.4)));
        let place = if holds(outline, inside.grown(0.6)) && is_free(&inside) {
            inside
        } else {
            beside.into_iter().find(is_free).unwrap_or(beside[0])
        };
        items.text(line, place.min, Align::Left, Ink::BLACK);
    }
}

fn box_round(middle: Point, width_mm: f64) -> Bounds {
    Bounds {
        min: Point::new(middle.x - 0.5 * width_mm, middle.y - 0.5 * SMALL_MM),
        max: Point::new(middle.x + 0.5 * width_mm, middle.y + 0.5 * SMALL_MM),
    }
}

/// No ring of the outline enters the box, and the box lies in its material.
fn holds(outline: &Outline, b: Bounds) -> bool {
    let corners = [
        b.min,
        Point::new(b.max.x, b.min.y),
        b.max,
        Point::new(b.min.x, b.max.y),
    ];
    corners.iter().all(|&c| outline.contains(c))
        && !outline
            .rings()
            .flat_map(|r| r.points())
            .any(|&p| b.contains(p))
}
