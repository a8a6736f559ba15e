//! How steps are set: each with its picture; short ones that follow each other two in a row.

use super::blocks::{tick_box, warning_set};
use super::flow::{ACCENT, BODY_MM, Flow, HEAD_MM, INK, QUIET, RULE, SMALL_MM, Set, down, moved};
use crate::drawing::{Align, Compose};
use crate::guide::board_picture::Board;
use crate::guide::{Guide, GuideStep};
use crate::{Affine, Path, PressError, Stroke};
use lettering::{Face, set_line};
use shape::Point;

/// White between two steps in a row, mm.
const BETWEEN_MM: f64 = 9.0;

/// The measures of a step, mm.
#[derive(Debug, Clone, Copy)]
struct Measure {
    width_mm: f64,
    picture_mm: f64,
    gap_mm: f64,
    tallest_picture_mm: f64,
}

impl Measure {
    /// A step that has the row to itself.
    fn whole(width_mm: f64) -> Self {
        Self {
            width_mm,
            picture_mm: 42.0,
            gap_mm: 7.0,
            tallest_picture_mm: 58.0,
        }
    }

    /// One of two in a row.
    fn half(width_mm: f64) -> Self {
        Self {
            width_mm: 0.5 * (width_mm - BETWEEN_MM),
            picture_mm: 30.0,
            gap_mm: 5.0,
            tallest_picture_mm: 42.0,
        }
    }
}

/// One step, or two side by side, as they are set.
pub(super) struct Row<'a> {
    steps: &'a [&'a GuideStep],
    set: Set,
}

impl Row<'_> {
    pub(super) fn height_mm(&self) -> f64 {
        self.set.height_mm
    }

    /// Puts it on the page, with a bookmark for each step.
    pub(super) fn put(self, flow: &mut Flow) {
        flow.keep(self.set.height_mm);
        for step in self.steps {
            flow.mark(1, &format!("{}  {}", step.number, step.title));
        }
        flow.put(self.set);
    }
}

/// Lays out steps that follow each other, in rows from the left to the right.
pub(super) fn rows<'a>(
    steps: &'a [&'a GuideStep],
    width_mm: f64,
    guide: &Guide,
    board: &Board<'_>,
) -> Result<Vec<Row<'a>>, PressError> {
    let mut halves = steps
        .iter()
        .map(|step| short(step, guide, board, width_mm))
        .collect::<Result<Vec<Option<Set>>, PressError>>()?;
    let mut rows = Vec::new();
    let mut at = 0;
    while at < steps.len() {
        let next = halves.get(at + 1).is_some_and(Option::is_some);
        let (count, set) = match (halves[at].take_if(|_| next), halves.get_mut(at + 1)) {
            (Some(left), Some(Some(right))) => (2, beside(left, std::mem::take(right), width_mm)),
            _ => (
                1,
                lay_out(steps[at], guide, board, Measure::whole(width_mm))?.set,
            ),
        };
        rows.push(Row {
            steps: &steps[at..at + count],
            set,
        });
        at += count;
    }
    Ok(rows)
}

/// A step in half a row, where its words are no taller than its picture and it warns of nothing.
fn short(
    step: &GuideStep,
    guide: &Guide,
    board: &Board<'_>,
    width_mm: f64,
) -> Result<Option<Set>, PressError> {
    if !step.cautions.is_empty() {
        return Ok(None);
    }
    let laid = lay_out(step, guide, board, Measure::half(width_mm))?;
    Ok((laid.words_mm <= laid.picture_mm).then_some(laid.set))
}

fn beside(mut left: Set, right: Set, width_mm: f64) -> Set {
    let shift = Affine::shifted(Point::new(0.5 * (width_mm + BETWEEN_MM), 0.0));
    left.items
        .extend(right.items.into_iter().map(|i| moved(i, shift)));
    left.height_mm = left.height_mm.max(right.height_mm);
    left
}

/// A step as it is set.
struct Laid {
    set: Set,
    words_mm: f64,
    picture_mm: f64,
}

fn lay_out(
    step: &GuideStep,
    guide: &Guide,
    board: &Board<'_>,
    measure: Measure,
) -> Result<Laid, PressError> {
    let width = measure.width_mm;
    let pictured = board.shows(&step.parts);
    // A picture of the board's ratio, no taller than that.
    let tall = board.height_mm(measure.picture_mm);
    let picture_w = measure.picture_mm * (measure.tallest_picture_mm / tall).min(1.0);
    let picture_h = board.height_mm(picture_w);
    let x = measure.picture_mm + measure.gap_mm;
    let room = width - x;
    let mut text = Set::default();
    // The number stands before the title, the box at the line's other end.
    let number = set_line(&step.number.to_string(), Face::SemiBold, HEAD_MM);
    let indent = number.width_mm + 2.4;
    text.items
        .text(number, Point::new(x, -HEAD_MM), Align::Left, ACCENT);
    tick_box(&mut text.items, width - 3.0, -HEAD_MM);
    text.words(
        &step.title,
        Face::SemiBold,
        HEAD_MM,
        x + indent,
        room - indent - 6.0,
        INK,
    );
    if !step.time.is_empty() {
        text.words(&step.time, Face::Regular, SMALL_MM, x, room, QUIET);
    }
    text.space(0.8);
    for sentence in &step.how {
        text.words(sentence, Face::Regular, BODY_MM, x, room, INK);
        text.space(0.9);
    }
    let names = board.names(&step.parts);
    if !names.is_empty() && names.len() <= 8 {
        let names: Vec<String> = names
            .iter()
            .map(|(n, name)| format!("{n}\u{a0}{name}"))
            .collect();
        text.words(&names.join(", "), Face::Regular, SMALL_MM, x, room, QUIET);
        text.space(0.8);
    }
    for caution in &step.cautions {
        text.space(1.2);
        let warning = warning_set(caution, guide, room);
        let shift = Affine::shifted(Point::new(x, -text.height_mm));
        for item in warning.items {
            text.items.push(moved(item, shift));
        }
        text.height_mm += warning.height_mm + 0.8;
    }
    let mut set = Set::default();
    set.items.stroke(
        Path::line(Point::default(), Point::new(width, 0.0)),
        Stroke::continuous(0.13, RULE),
    );
    set.space(3.6);
    let top = -set.height_mm;
    if pictured {
        let place = down(0.0, top, picture_w, picture_h);
        board.draw(&mut set.items, place, &step.parts)?;
    }
    let shift = Affine::shifted(Point::new(0.0, top));
    set.items
        .extend(text.items.into_iter().map(|i| moved(i, shift)));
    let words_mm = text.height_mm;
    let picture_mm = if pictured { picture_h } else { 0.0 };
    set.height_mm += words_mm.max(picture_mm) + 4.0;
    Ok(Laid {
        set,
        words_mm,
        picture_mm,
    })
}
