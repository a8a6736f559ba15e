//! The 100 mm bar that shows whether a print is true to scale.

use crate::drawing::{Align, Compose};
use crate::{Ink, Path, Stroke, width_mm};
use lettering::{Face, set_line};
use shape::{Point, Vector};

/// Length of the bar between the centre lines of its end ticks, mm. Centre lines, because ink that
/// spreads moves a line's edges but not its middle.
pub const BAR_MM: f64 = 100.0;

/// Length of the end ticks, mm.
pub(crate) const TICK_MM: f64 = 3.2;

/// White on either side of the words in the bar, mm.
const WORDS_GAP_MM: f64 = 1.6;

/// Which way a bar runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Axis {
    /// To the right.
    Horizontal,
    /// Upwards; its words are read from the right-hand side, as dimensions are.
    Vertical,
}

/// Draws a bar whose first tick is centred on `start`, with words in its middle.
pub(crate) fn draw_scale_bar(
    to: &mut impl Compose,
    start: Point,
    axis: Axis,
    words: &str,
    cap_mm: f64,
) {
    let (along, turn_deg) = match axis {
        Axis::Horizontal => (Vector::new(1.0, 0.0), 0.0),
        Axis::Vertical => (Vector::new(0.0, 1.0), 90.0),
    };
    let across = along.turned_left();
    let line = set_line(words, Face::Regular, cap_mm);
    let free_mm = 0.5 * (BAR_MM - line.width_mm) - WORDS_GAP_MM;
    let fine = || Stroke::continuous(width_mm::NARROW, Ink::BLACK);
    for at_mm in [0.0, BAR_MM] {
        let foot = start + along * at_mm - across * (0.5 * TICK_MM);
        to.stroke(Path::line(foot, foot + across * TICK_MM), fine());
    }
    for (from_mm, to_mm) in [(0.0, free_mm), (BAR_MM - free_mm, BAR_MM)] {
        let stretch = Path::line(start + along * from_mm, start + along * to_mm);
        to.stroke(stretch, fine());
    }
    // Ten millimetres apart, shorter: an eye on a ruler finds a stretch that slipped.
    for ten in 1..10 {
        let at_mm = 10.0 * f64::from(ten);
        if at_mm < free_mm - 1.0 || at_mm > BAR_MM - free_mm + 1.0 {
            let at = start + along * at_mm;
            to.stroke(Path::line(at, at + across * (0.3 * TICK_MM)), fine());
        }
    }
    let baseline = start + along * (0.5 * BAR_MM) - across * (0.5 * cap_mm);
    to.turned_text(line, baseline, Align::Centre, turn_deg, Ink::BLACK);
}
