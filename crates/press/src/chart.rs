//! Pictures of numbers: bars for the shares of a whole, steps for what rises with what is asked.

use crate::drawing::Compose;
use crate::fitting::line_within;
use crate::{Align, Drawing, Ink, Path, PressError, Stroke, width_mm};
use lettering::{Face, set_line};
use shape::{Bounds, Point};

/// Width of the pictures, mm.
const WIDTH_MM: f64 = 170.0;
const MARGIN_MM: f64 = 8.0;
/// Height of capitals in titles and in the rest, mm.
const TITLE_MM: f64 = 3.5;
const LETTER_MM: f64 = 2.2;
/// From one bar's line to the next, mm.
const PITCH_MM: f64 = 7.2;
const BAR_MM: f64 = 4.4;
/// Room for labels left of the bars, mm.
const LABEL_MM: f64 = 56.0;
/// Room for amounts right of the longest bar, mm.
const AMOUNT_MM: f64 = 38.0;

const TEXT: Ink = Ink::rgb(38, 40, 44);
const FAINT_TEXT: Ink = Ink::rgb(98, 102, 108);
const RULE: Ink = Ink::rgb(205, 203, 196);
/// Bars and lines: a slate that stands on white and in a photocopy.
const SLATE: Ink = Ink::rgb(63, 88, 104);
/// What is picked out: a rust.
const RUST: Ink = Ink::rgb(166, 82, 40);

/// Shares of a whole as bars, in the order given.
#[derive(Debug, Clone, PartialEq)]
pub struct Bars {
    /// What it shows.
    pub title: String,
    /// The whole, in words.
    pub subtitle: String,
    /// One bar each.
    pub bars: Vec<Bar>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it stands for.
    pub label: String,
    /// Its length, in any unit; below 0 counts as 0.
    pub value: f64,
    /// The value in words.
    pub amount: String,
    /// It is picked out.
    pub marked: bool,
}

/// Lays bars out on a page of their own size.
///
/// # Errors
/// [`PressError::Length`] for more bars than a page can hold.
pub fn lay_out_bars(bars: &Bars) -> Result<Drawing, PressError> {
    let head = 2.0 * MARGIN_MM + TITLE_MM + 2.0 * LETTER_MM;
    let height = head + PITCH_MM * bars.bars.len() as f64 + MARGIN_MM;
    let mut page = blank(&bars.title, &bars.subtitle, height)?;
    let most = bars
        .bars
        .iter()
        .map(|b| b.value)
        .filter(|v| v.is_finite())
        .fold(0.0, f64::max);
    let left = MARGIN_MM + LABEL_MM;
    let longest = WIDTH_MM - MARGIN_MM - AMOUNT_MM - left;
    for (k, bar) in bars.bars.iter().enumerate() {
        let middle = height - head - PITCH_MM * (k as f64 + 0.5);
        let share = if most > 0.0 {
            (bar.value / most).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let length = if share.is_finite() {
            longest * share
        } else {
            0.0
        };
        let baseline = middle - 0.5 * LETTER_MM;
        let label = line_within(&bar.label, Face::Regular, LETTER_MM, LABEL_MM - 3.0);
        page.text(label, Point::new(left - 2.5, baseline), Align::Right, TEXT);
        if length > 0.0 {
            let b = Bounds {
                min: Point::new(left, middle - 0.5 * BAR_MM),
                max: Point::new(left + length.max(0.3), middle + 0.5 * BAR_MM),
            };
            page.fill(Path::rectangle(b), if bar.marked { RUST } else { SLATE });
        }
        let at = Point::new(left + length + 2.0, baseline);
        page.words(&bar.amount, Face::Medium, LETTER_MM, at, Align::Left, TEXT);
    }
    let foot = height - head - PITCH_MM * bars.bars.len() as f64;
    let axis = Path::line(
        Point::new(left, height - head + 1.0),
        Point::new(left, foot - 1.0),
    );
    page.stroke(axis, Stroke::continuous(width_mm::NARROW, FAINT_TEXT));
    Ok(page)
}

/// What is paid for what is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Steps {
    /// What it shows.
    pub title: String,
    /// More, in words.
    pub subtitle: String,
    /// What lies along the x axis.
    pub x_title: String,
    /// The places along x that were worked out, from left to right.
    pub points: Vec<StepPoint>,
    /// The place that was asked for.
    pub asked: Option<f64>,
}

/// One place along x.
#[derive(Debug, Clone, PartialEq)]
pub struct StepPoint {
    /// Where it lies: a chance, 0 to 1. The axis gives each further nine as much room as the last.
    pub chance: f64,
    /// What is paid there, with its words; `None` where it cannot be had.
    pub paid: Option<(f64, String)>,
}

/// Lays steps out: flat up to each place, then up to the next.
///
/// # Errors
/// None that can happen: the page has one size, and a possible one.
pub fn lay_out_steps(steps: &Steps) -> Result<Drawing, PressError> {
    let height = 108.0;
    let mut page = blank(&steps.title, &steps.subtitle, height)?;
    let plot = Bounds {
        min: Point::new(MARGIN_MM + 4.0, MARGIN_MM + 12.0),
        max: Point::new(WIDTH_MM - MARGIN_MM - 4.0, height - 31.0),
    };
    let nines = |chance: f64| -(1.0 - chance.clamp(0.0, 0.999_999)).log10();
    let ends = (steps.points.first(), steps.points.last());
    let (Some(first), Some(last)) = ends else {
        return Ok(page);
    };
    // Half of the first place's room before it: its step is seen too.
    let low = nines(first.chance) * 0.6;
    let span = (nines(last.chance) - low).max(1e-9);
    let x = |chance: f64| plot.min.x + plot.width_mm() * (nines(chance) - low) / span;
    let most = steps
        .points
        .iter()
        .filter_map(|p| p.paid.as_ref())
        .map(|p| p.0)
        .fold(0.0, f64::max);
    let y = |paid: f64| {
        plot.min.y
            + if most > 0.0 {
                plot.height_mm() * paid / most
            } else {
                0.0
            }
    };

    let reached = steps.points.iter().take_while(|p| p.paid.is_some()).count();
    if reached < steps.points.len() {
        let from = if reached > 0 {
            x(steps.points[reached - 1].chance)
        } else {
            plot.min.x
        };
        let beyond = Bounds {
            min: Point::new(from, plot.min.y),
            max: plot.max,
        };
        page.fill(Path::rectangle(beyond), Ink::rgb(242, 240, 235));
        let at = Point::new(0.5 * (from + plot.max.x), plot.max.y - 5.0);
        page.words(
            "out of reach",
            Face::Regular,
            LETTER_MM,
            at,
            Align::Centre,
            FAINT_TEXT,
        );
    }
    if let Some(asked) = steps.asked {
        let line = Path::line(
            Point::new(x(asked), plot.min.y),
            Point::new(x(asked), plot.max.y + 3.0),
        );
        page.stroke(line, Stroke::dashed(width_mm::MEDIUM, RUST));
        let at = Point::new(x(asked), plot.max.y + 4.5);
        page.words("asked", Face::Medium, LETTER_MM, at, Align::Centre, RUST);
    }
    let mut corners = Vec::new();
    let mut from = plot.min.x;
    for p in &steps.points[..reached] {
        let paid = p.paid.as_ref().map_or(0.0, |p| p.0);
        corners.push(Point::new(from, y(paid)));
        corners.push(Point::new(x(p.chance), y(paid)));
        from = x(p.chance);
    }
    if !corners.is_empty() {
        page.stroke(
            Path::polyline(&corners),
            Stroke::continuous(width_mm::EXTRA_WIDE, SLATE),
        );
    }
    // Each price once: over its step, or, where the step is shorter than its words, below it on the right.
    let priced = &steps.points[..reached];
    for (k, p) in priced.iter().enumerate() {
        let Some((paid, words)) = &p.paid else {
            continue;
        };
        let here = Point::new(x(p.chance), y(*paid));
        let asked = steps.asked == Some(p.chance);
        page.fill(Path::circle(here, 0.9), if asked { RUST } else { SLATE });
        let same = |q: &&StepPoint| q.paid.as_ref().is_some_and(|q| q.1 == *words);
        if k > 0 && same(&&priced[k - 1]) {
            continue;
        }
        let start = if k > 0 {
            x(priced[k - 1].chance)
        } else {
            plot.min.x
        };
        let end = priced[k..]
            .iter()
            .take_while(same)
            .last()
            .map_or(here.x, |q| x(q.chance));
        let line = set_line(words, Face::Medium, LETTER_MM);
        let at = if start + 1.0 + line.width_mm <= end {
            Point::new(start + 1.0, here.y + 1.8)
        } else {
            Point::new(end + 1.8, here.y - 1.0 - LETTER_MM)
        };
        page.text(line, at, Align::Left, TEXT);
    }
    let axis = Path::line(plot.min, Point::new(plot.max.x, plot.min.y));
    page.stroke(axis, Stroke::continuous(width_mm::NARROW, FAINT_TEXT));
    let mut free_from = f64::NEG_INFINITY;
    for p in &steps.points {
        let tick = Path::line(
            Point::new(x(p.chance), plot.min.y),
            Point::new(x(p.chance), plot.min.y - 1.5),
        );
        page.stroke(tick, Stroke::continuous(width_mm::NARROW, FAINT_TEXT));
        let percent = format!("{} %", (p.chance * 1000.0).round() / 10.0);
        let line = set_line(&percent, Face::Regular, LETTER_MM);
        let half = 0.5 * line.width_mm;
        if x(p.chance) - half > free_from {
            free_from = x(p.chance) + half + 1.5;
            page.text(
                line,
                Point::new(x(p.chance), plot.min.y - 5.5),
                Align::Centre,
                TEXT,
            );
        }
    }
    let at = Point::new(0.5 * (plot.min.x + plot.max.x), plot.min.y - 11.5);
    page.words(
        &steps.x_title,
        Face::Regular,
        LETTER_MM,
        at,
        Align::Centre,
        FAINT_TEXT,
    );
    Ok(page)
}

/// A white page with a title and a line below it.
fn blank(title: &str, subtitle: &str, height: f64) -> Result<Drawing, PressError> {
    let mut page = Drawing::new(title, WIDTH_MM, height)?;
    page.fill(Path::rectangle(page.page()), Ink::WHITE);
    let top = height - MARGIN_MM - TITLE_MM;
    page.words(
        title,
        Face::SemiBold,
        TITLE_MM,
        Point::new(MARGIN_MM, top),
        Align::Left,
        TEXT,
    );
    let below = top - 2.6 * LETTER_MM;
    page.words(
        subtitle,
        Face::Regular,
        LETTER_MM,
        Point::new(MARGIN_MM, below),
        Align::Left,
        FAINT_TEXT,
    );
    let rule = below - 1.4 * LETTER_MM;
    let line = Path::line(
        Point::new(MARGIN_MM, rule),
        Point::new(WIDTH_MM - MARGIN_MM, rule),
    );
    page.stroke(line, Stroke::continuous(width_mm::NARROW, RULE));
    Ok(page)
}
