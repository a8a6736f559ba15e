//! How each kind of block is set.

use super::flow::{
    ACCENT, BODY_MM, Flow, HEAD_MM, INK, PITCH, QUIET, RULE, SMALL_MM, Set, TINT, broken, down,
};
use super::steps;
use crate::drawing::{Align, Compose};
use crate::guide::board_picture::Board;
use crate::guide::{Bar, Block, Guide, Table, Warning};
use crate::{Ink, Item, Path, PressError, Stroke};
use lettering::{Face, set_line};
use piece::Stage;
use shape::Point;

/// One tone for each stage, from clay to slate; work is drawn in it, waiting in a lighter one.
pub(crate) const fn stage_tone(stage: Stage) -> Ink {
    match stage {
        Stage::Prepare => Ink::rgb(150, 92, 54),
        Stage::DryFit => Ink::rgb(166, 126, 48),
        Stage::Transfer => Ink::rgb(104, 122, 60),
        Stage::Bond => Ink::rgb(46, 116, 102),
        Stage::Close => Ink::rgb(56, 98, 134),
        Stage::Hang | Stage::Later => Ink::rgb(92, 82, 128),
    }
}

pub(super) fn set(
    flow: &mut Flow,
    block: &Block,
    guide: &Guide,
    board: &Board<'_>,
) -> Result<(), PressError> {
    let width = flow.width_mm();
    match block {
        Block::Heading(title) => {
            flow.space(5.5);
            flow.keep(30.0);
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
        Block::Schedule(bars) => set_schedule(flow, bars, guide),
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
    let most = (flow.left_mm() - 4.0).max(90.0).min(flow.page_mm() - 20.0);
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

fn set_schedule(flow: &mut Flow, bars: &[Bar], guide: &Guide) {
    let words = guide.language.words();
    let end = bars.iter().map(|b| b.to_minute).fold(1.0, f64::max);
    let width = flow.width_mm();
    let label_w = 58.0;
    let (x0, chart_w) = (label_w + 3.0, width - label_w - 5.0);
    let row = 5.1;
    // Whole hours, quarter days or days, so that there are 4 to 12 lines.
    let step = [
        30.0, 60.0, 120.0, 240.0, 720.0, 1440.0, 2880.0, 7200.0, 14400.0,
    ]
    .into_iter()
    .find(|s| end / s <= 9.0)
    .unwrap_or(end / 6.0);
    let at = |minute: f64| x0 + chart_w * minute / end;
    let mut rest = bars;
    flow.keep(40.0);
    while !rest.is_empty() {
        let fits = (((flow.left_mm() - 16.0) / row).floor().max(1.0) as usize).min(rest.len());
        let (now, later) = rest.split_at(fits);
        let mut set = Set::default();
        let height = row * now.len() as f64;
        let top = -5.0;
        let mut k = 0.0;
        while k * step <= end + 1e-6 {
            let x = at(k * step);
            let line = Path::line(Point::new(x, top), Point::new(x, top - height));
            set.items.stroke(line, Stroke::continuous(0.1, RULE));
            let said = time_mark(k * step, step, words);
            set.items.words(
                &said,
                Face::Regular,
                1.8,
                Point::new(x, top + 1.3),
                Align::Centre,
                QUIET,
            );
            k += 1.0;
        }
        for (n, bar) in now.iter().enumerate() {
            let y = top - row * (n as f64 + 1.0);
            let line = crate::fitting::line_within(&bar.label, Face::Regular, 1.95, label_w);
            set.items
                .text(line, Point::new(0.0, y + 1.6), Align::Left, INK);
            draw_bar(&mut set.items, bar, y + 0.9, row - 1.8, &at);
        }
        set.height_mm = height + 9.0;
        flow.put(set);
        rest = later;
        if !rest.is_empty() {
            flow.start_page();
        }
    }
    let mut legend = Set::default();
    let mut x = 0.0;
    for (label, work, edge) in [
        (words.working, true, false),
        (
            words
                .waiting
                .trim_start_matches("{} ")
                .trim_start_matches("of "),
            false,
            false,
        ),
        (words.no_slack, true, true),
    ] {
        let b = down(x, -0.3, 6.0, 2.6);
        let tone = stage_tone(Stage::Bond);
        let ink = if work { tone } else { tone.at(0.28) };
        legend.items.fill(Path::rectangle(b), ink);
        if edge {
            legend
                .items
                .stroke(Path::rectangle(b), Stroke::continuous(0.35, INK));
        }
        let line = set_line(label, Face::Regular, SMALL_MM);
        let w = line.width_mm;
        legend
            .items
            .text(line, Point::new(x + 8.0, -2.6), Align::Left, QUIET);
        x += 8.0 + w + 9.0;
    }
    legend.height_mm = 7.0;
    flow.put(legend);
}

fn draw_bar(items: &mut Vec<Item>, bar: &Bar, y: f64, height: f64, at: &dyn Fn(f64) -> f64) {
    let (from, to) = (at(bar.from_minute), at(bar.to_minute));
    let tone = stage_tone(bar.stage);
    let whole = down(from, y + height, (to - from).max(0.5), height);
    items.fill(Path::rectangle(whole), tone.at(0.28));
    let share = (bar.hands_on_minutes / (bar.to_minute - bar.from_minute).max(1e-9)).min(1.0);
    let work = down(from, y + height, ((to - from) * share).max(0.5), height);
    items.fill(Path::rectangle(work), tone);
    if bar.critical {
        items.stroke(Path::rectangle(whole), Stroke::continuous(0.3, INK));
    }
}

fn time_mark(minute: f64, step: f64, words: &crate::words::Words) -> String {
    if step >= 1440.0 {
        format!("{:.0}\u{a0}{}", minute / 1440.0, words.days)
    } else if step >= 60.0 {
        format!("{:.0}\u{a0}{}", minute / 60.0, words.hours)
    } else {
        format!("{minute:.0}\u{a0}{}", words.minutes)
    }
}
