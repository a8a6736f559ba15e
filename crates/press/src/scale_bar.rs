//! The bar of 100 mm, or of 4 in, that shows whether a print is true to scale.

use crate::drawing::{Align, Compose};
use crate::words::filled;
use crate::{Ink, Path, Speech, Stroke, Units, width_mm};
use lettering::{Face, set_line};
use shape::{Point, Vector};

/// Length of the bar between the centre lines of its end ticks, mm: 100 mm, or 4 in for whoever measures in inches.
/// Centre lines, because ink that spreads moves a line's edges but not its middle.
pub const fn bar_mm(units: Units) -> f64 {
    match units {
        Units::Metric => 100.0,
        Units::Inch => 4.0 * 25.4,
    }
}

/// From one tick to the next, mm.
const fn step_mm(units: Units) -> f64 {
    match units {
        Units::Metric => 10.0,
        Units::Inch => 0.5 * 25.4,
    }
}

impl Speech {
    /// What stands in a bar.
    fn measure_me(self) -> String {
        filled(self.sheets().measure_me, &[&self.bar()])
    }

    /// The bar's length in words, with a plain space: readers of the page look for it.
    pub(crate) fn bar(self) -> String {
        match self.units {
            Units::Metric => "100 mm".into(),
            Units::Inch => "4 in".into(),
        }
    }
}

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

/// Draws a bar whose first tick is centred on `start`, with what to do in its middle.
pub(crate) fn draw_scale_bar(
    to: &mut impl Compose,
    start: Point,
    axis: Axis,
    speech: Speech,
    cap_mm: f64,
) {
    let (along, turn_deg) = match axis {
        Axis::Horizontal => (Vector::new(1.0, 0.0), 0.0),
        Axis::Vertical => (Vector::new(0.0, 1.0), 90.0),
    };
    let across = along.turned_left();
    let length_mm = bar_mm(speech.units);
    let line = set_line(&speech.measure_me(), Face::Regular, cap_mm);
    let free_mm = 0.5 * (length_mm - line.width_mm) - WORDS_GAP_MM;
    let fine = || Stroke::continuous(width_mm::NARROW, Ink::BLACK);
    for at_mm in [0.0, length_mm] {
        let foot = start + along * at_mm - across * (0.5 * TICK_MM);
        to.stroke(Path::line(foot, foot + across * TICK_MM), fine());
    }
    for (from_mm, to_mm) in [(0.0, free_mm), (length_mm - free_mm, length_mm)] {
        let stretch = Path::line(start + along * from_mm, start + along * to_mm);
        to.stroke(stretch, fine());
    }
    // Ten millimetres or half an inch apart, shorter: an eye on a ruler finds a stretch that slipped.
    let step_mm = step_mm(speech.units);
    let steps = (length_mm / step_mm).round() as u32;
    for step in 1..steps {
        let at_mm = step_mm * f64::from(step);
        if at_mm < free_mm - 1.0 || at_mm > length_mm - free_mm + 1.0 {
            let at = start + along * at_mm;
            to.stroke(Path::line(at, at + across * (0.3 * TICK_MM)), fine());
        }
    }
    let baseline = start + along * (0.5 * length_mm) - across * (0.5 * cap_mm);
    to.turned_text(line, baseline, Align::Centre, turn_deg, Ink::BLACK);
}
