//! How each kind of block is set.

use super::flow::{
    ACCENT, BODY_MM, Flow, HEAD_MM, INK, PITCH, QUIET, RULE, SMALL_MM, Set, TINT, broken, down,
};
use super::schedule::set_schedule;
use super::steps;
use crate::drawing::{Align, Compose};
use crate::guide::board_picture::Board;
use crate::guide::{Block, Guide, Table, Warning};
use crate::{Ink, Item, Path, PressError, Stroke};
use lettering::Face;
use shape::Point;

/// The least height of the picture that tells where every part lies, mm.
const LEAST_MAP_MM: f64 = 90.0;

/// What must be left of a page for a heading: itself and the first lines below it, or the picture.
fn least_below_heading_mm(next: Option<&Block>) -> f64 {
    match next {
        Some(Block::Map) => LEAST_MAP_MM + 20.0,
        _ => 30.0,
    }
}

/// Sets a block; `next` is the one that follows it.
pub(super) fn set(
    flow: &mut Flow,
    block: &Block,
    next: Option<&Block>,
    guide: &Guide,
    board: &Board<'_>,
) -> Result<(), PressError> {
    let width = flow.width_mm();
    match block {
        Block::Heading(title) => {
            flow.space(5.5);
            flow.keep(least_below_heading_mm(next));
            let mut set = Set::default();
            set.words(title, Face::SemiBold, HEAD_MM, 0.0, width, INK);
            set.space(0.8);
            flow.put(set);
        }
        Block::Paragraph(text) => {
            let mut set = Set::default();
            // Wider lines than 90 letters are hard to follow.
            let measure = width.min(140.0);
            set.words(text, Face::Regular, BODY_MM, 0.0, measure, INK);
            set.space(2.6);
            flow.put(set);
        }
        Block::List(points) => {
            list(flow, points, Mark::Dash);
        }
        Block::Checks(points) => {
            list(flow, points, Mark::Box);
        }
        Block::Table(table) => set_table(flow, table),
        Block::Caution(warning) => {
            let set = warning_set(warning, guide, width);
            flow.put(set);
            flow.space(3.4);
        }
        Block::Step(step) => {
            for row in steps::rows(&[step], width, guide, board)? {
                row.put(flow);
            }
        }
        Block::Schedule(bars) => set_schedule(flow, bars, guide.language.words()),
        Block::Map => set_map(flow, board)?,
    }
    Ok(())
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    Dash,
    Box,
}

pub(super) fn tick_box(items: &mut Vec<Item>, x: f64, baseline: f64) {
    let side = 3.0;
    let b = down(x, baseline + side - 0.35, side, side);
    items.stroke(
        Path::rounded_rectangle(b, 0.5),
        Stroke::continuous(0.25, INK),
    );
}

fn list(flow: &mut Flow, points: &[String], mark: Mark) {
    let width = flow.width_mm();
    let set = points.iter().map(|p| list_point(p, mark, width)).collect();
    flow.put_all(set, || None);
    flow.space(2.0);
}

fn list_point(text: &str, mark: Mark, width_mm: f64) -> Set {
    let indent = if mark == Mark::Box { 6.2 } else { 4.4 };
    let mut set = Set::default();
    let baseline = -BODY_MM;
    match mark {
        Mark::Dash => set.items.words(
            "–",
            Face::Regular,
            BODY_MM,
            Point::new(0.0, baseline),
            Align::Left,
            ACCENT,
        ),
        Mark::Box => tick_box(&mut set.items, 0.0, baseline),
    }
    let measure = (width_mm - indent).min(140.0);
    set.words(text, Face::Regular, BODY_MM, indent, measure, INK);
    set.space(1.4);
    set
}

/// The warning sign of ISO 7010 (W001): a triangle with a mark of exclamation.
fn warning_sign(items: &mut Vec<Item>, left: f64, top: f64, side: f64) {
    let h = 0.866 * side;
    let corners = [
        Point::new(left, top - h),
        Point::new(left + side, top - h),
        Point::new(left + 0.5 * side, top),
    ];
    items.push(Item::Shape(crate::Shape {
        path: Path::polygon(&corners),
        fill: Some(Ink::rgb(247, 196, 54)),
        stroke: Some(Stroke::continuous(0.45, INK).rounded()),
        id: None,
        title: None,
    }));
    let x = left + 0.5 * side;
    let bar = down(x - 0.06 * side, top - 0.30 * h, 0.12 * side, 0.36 * h);
    items.fill(Path::rounded_rectangle(bar, 0.06 * side), INK);
    items.fill(
        Path::circle(Point::new(x, top - 0.79 * h), 0.07 * side),
        INK,
    );
}

pub(super) fn warning_set(warning: &Warning, guide: &Guide, width: f64) -> Set {
    let words = guide.language.words();
    let (pad, sign) = (3.2, 7.0);
    let x = pad + sign + 3.4;
    let room = width - x - pad;
    let mut inner = Set::default();
    inner.space(pad);
    inner.words(&warning.text, Face::Medium, BODY_MM, x, room, INK);
    if !warning.rule.is_empty() {
        inner.space(0.6);
        inner.words(&warning.rule, Face::Regular, BODY_MM, x, room, INK);
    }
    if !warning.protection.is_empty() {
        inner.space(0.6);
        let said = format!("{}: {}", words.protection, warning.protection_in_words());
        inner.words(&said, Face::Regular, SMALL_MM, x, room, QUIET);
    }
    inner.space(pad - 1.4);
    inner.height_mm = inner.height_mm.max(0.866 * sign + 2.0 * pad);
    let mut set = Set::default();
    let around = down(0.0, 0.0, width, inner.height_mm);
    set.items.fill(Path::rounded_rectangle(around, 1.0), TINT);
    set.items.stroke(
        Path::rounded_rectangle(around, 1.0),
        Stroke::continuous(0.18, Ink::rgb(214, 178, 116)),
    );
    warning_sign(&mut set.items, pad, -pad + 0.3, sign);
    set.items.extend(inner.items);
    set.height_mm = inner.height_mm;
    set
}

fn set_table(flow: &mut Flow, table: &Table) {
    let width = flow.width_mm();
    let tick = if table.ticks { 6.0 } else { 0.0 };
    let shares: f64 = table.shares.iter().sum();
    let columns: Vec<f64> = table
        .shares
        .iter()
        .map(|s| (width - tick) * s / shares)
        .collect();
    let gap = 3.0;
    let row = |cells: &[String], face: Face, cap: f64, ink: Ink| -> Set {
        let mut set = Set::default();
        let mut x = tick;
        let mut deepest = 0.0_f64;
        for (n, cell) in cells.iter().enumerate() {
            let column = columns.get(n).copied().unwrap_or(20.0);
            let right = table.right.get(n).copied().unwrap_or(false);
            let lines = broken(cell, face, cap, column - gap);
            let mut y = 0.0;
            for line in lines {
                y += PITCH * cap;
                let (at, align) = if right {
                    (x + column - gap, Align::Right)
                } else {
                    (x, Align::Left)
                };
                let baseline = -(y - (PITCH - 1.0) * cap);
                set.items.text(line, Point::new(at, baseline), align, ink);
            }
            deepest = deepest.max(y);
            x += column;
        }
        set.height_mm = deepest;
        set
    };
    let head = || {
        let mut set = row(&table.head, Face::Medium, SMALL_MM, QUIET);
        set.space(0.4);
        let y = -set.height_mm;
        let rule = Path::line(Point::new(0.0, y), Point::new(width, y));
        set.items.stroke(rule, Stroke::continuous(0.25, INK));
        set.space(1.7);
        set
    };
    let body = table.rows.iter().map(|cells| {
        let mut set = row(cells, Face::Regular, BODY_MM - 0.15, INK);
        if table.ticks {
            tick_box(&mut set.items, 0.0, -(BODY_MM - 0.15));
        }
        let y = -set.height_mm - 0.2;
        let rule = Path::line(Point::new(0.0, y), Point::new(width, y));
        set.items.stroke(rule, Stroke::continuous(0.1, RULE));
        set.space(1.8);
        set
    });
    let body: Vec<Set> = body.collect();
    flow.space(1.5);
    // The head does not stand alone.
    let first: f64 = body.iter().take(2).map(|s| s.height_mm).sum();
    let heading = head();
    flow.keep((heading.height_mm + first).max(26.0));
    flow.put(heading);
    flow.put_all(body, || Some(head()));
    flow.space(4.0);
}

fn set_map(flow: &mut Flow, board: &Board<'_>) -> Result<(), PressError> {
    let most = (flow.left_mm() - 4.0)
        .max(LEAST_MAP_MM)
        .min(flow.page_mm() - 20.0);
    let ratio = board.height_mm(1.0);
    let width = (most / ratio).min(flow.width_mm());
    let height = width * ratio;
    let mut set = Set::default();
    let x = 0.5 * (flow.width_mm() - width);
    let place = down(x, 0.0, width, height);
    board.draw(&mut set.items, place, &board.all())?;
    set.height_mm = height + 3.0;
    flow.put(set);
    Ok(())
}
