//! The schedule of a build as a chart: one row a step, time from left to right.
//!
//! Minutes of work and days of cure do not go on one even scale. Where somebody works, each minute has the same width;
//! a stretch in which everybody waits is drawn short, as a band that says how long it is.

use crate::drawing::Compose;
use crate::fitting::line_within;
use crate::{Align, Drawing, Ink, Path, PressError, Stroke, width_mm};
use lettering::{Face, set_line};
use piece::{BuildPlan, Step};
use shape::{Bounds, Point};

const PAGE_MM: f64 = 297.0;
const MARGIN_MM: f64 = 10.0;
const TITLES_MM: f64 = 92.0;
const ROW_MM: f64 = 4.6;
const HEAD_MM: f64 = 24.0;
const FOOT_MM: f64 = 12.0;
const CAP_MM: f64 = 1.9;
/// Width of a stretch in which everybody waits.
const WAIT_MM: f64 = 11.0;
/// A slack of less than this is rounding, minutes.
const NO_SLACK_MINUTES: f64 = 1e-6;
/// Most rows: more would not fit on a page that can be.
const MOST_ROWS: usize = 1000;

const WORK: Ink = Ink::grey(70);
const WAITING: Ink = Ink::grey(205);
const BAND: Ink = Ink::grey(243);

/// A step that no minute can be lost on: what is late with it is late at the end.
pub(crate) fn sets_the_end(step: &Step) -> bool {
    step.slack_minutes <= NO_SLACK_MINUTES
}

/// A stretch of time with its place on the page.
struct Stretch {
    from: f64,
    to: f64,
    x: f64,
    w: f64,
    waiting: bool,
}

/// Lays out the schedule on a page as high as it needs.
///
/// # Errors
/// [`PressError::Length`] for a plan with more steps than a page can hold.
pub fn lay_out(title: &str, plan: &BuildPlan) -> Result<Drawing, PressError> {
    let steps = &plan.steps;
    let rows = steps.len();
    let height = if rows > MOST_ROWS {
        f64::INFINITY
    } else {
        HEAD_MM + FOOT_MM + ROW_MM * rows as f64
    };
    let mut page = Drawing::new(format!("{title}, schedule"), PAGE_MM, height)?;
    let axis = stretches(steps);
    let top = height - HEAD_MM;
    head(&mut page, title, plan, height);
    bands(&mut page, &axis, top, FOOT_MM);
    for (k, step) in steps.iter().enumerate() {
        let y = top - ROW_MM * (k as f64 + 1.0);
        if k > 0 && steps[k - 1].stage != step.stage {
            let line = Path::line(
                Point::new(MARGIN_MM, y + ROW_MM),
                Point::new(PAGE_MM - MARGIN_MM, y + ROW_MM),
            );
            page.stroke(line, Stroke::continuous(width_mm::FAINT, Ink::grey(150)));
        }
        row(&mut page, step, k + 1, y, &axis);
    }
    foot(&mut page);
    Ok(page)
}

/// Time from the first start to the last end in stretches of work and of waiting.
fn stretches(steps: &[Step]) -> Vec<Stretch> {
    let mut marks: Vec<f64> = steps
        .iter()
        .flat_map(|s| [s.start_minute, s.end_minute])
        .collect();
    marks.sort_by(f64::total_cmp);
    marks.dedup();
    let mut all: Vec<Stretch> = Vec::new();
    for w in marks.windows(2) {
        let (from, to) = (w[0], w[1]);
        let middle = 0.5 * (from + to);
        let waiting = !steps
            .iter()
            .any(|s| s.hands_on_minutes > 0.0 && s.start_minute <= middle && middle < s.end_minute);
        match all.last_mut() {
            Some(last) if last.waiting == waiting => last.to = to,
            _ => all.push(Stretch {
                from,
                to,
                x: 0.0,
                w: 0.0,
                waiting,
            }),
        }
    }
    let waits = all.iter().filter(|s| s.waiting).count() as f64;
    let worked: f64 = all
        .iter()
        .filter(|s| !s.waiting)
        .map(|s| s.to - s.from)
        .sum();
    let room = PAGE_MM - 2.0 * MARGIN_MM - TITLES_MM;
    let wait_mm = WAIT_MM.min(0.5 * room / waits.max(1.0));
    let per_minute = (room - waits * wait_mm) / worked.max(1e-9);
    let mut x = MARGIN_MM + TITLES_MM;
    for s in &mut all {
        s.x = x;
        s.w = if s.waiting {
            wait_mm
        } else {
            per_minute * (s.to - s.from)
        };
        x += s.w;
    }
    all
}

fn x_of(axis: &[Stretch], minute: f64) -> f64 {
    axis.iter()
        .find(|s| minute <= s.to)
        .or(axis.last())
        .map_or(MARGIN_MM + TITLES_MM, |s| {
            let share = (minute - s.from) / (s.to - s.from).max(1e-9);
            s.x + s.w * share.clamp(0.0, 1.0)
        })
}

fn head(page: &mut Drawing, title: &str, plan: &BuildPlan, height: f64) {
    let y = height - MARGIN_MM;
    page.words(
        &format!("{title}: schedule"),
        Face::Medium,
        3.2,
        Point::new(MARGIN_MM, y - 3.2),
        Align::Left,
        Ink::BLACK,
    );
    let line = format!(
        "{} steps, {} at work, {} from the first to the last",
        plan.steps.len(),
        in_words(plan.hands_on_minutes),
        in_words(plan.elapsed_minutes)
    );
    let at = Point::new(PAGE_MM - MARGIN_MM, y - 3.2);
    page.words(
        &line,
        Face::Regular,
        CAP_MM,
        at,
        Align::Right,
        Ink::grey(60),
    );
}

fn bands(page: &mut Drawing, axis: &[Stretch], top: f64, bottom: f64) {
    for s in axis {
        if s.waiting {
            let b = Bounds::between(Point::new(s.x, bottom), Point::new(s.x + s.w, top));
            page.fill(Path::rectangle(b), BAND);
            let at = Point::new(s.x + 0.5 * s.w, top + 1.4);
            page.words(
                &in_words(s.to - s.from),
                Face::Regular,
                1.5,
                at,
                Align::Centre,
                Ink::grey(90),
            );
        } else {
            let edge = |x: f64| Path::line(Point::new(x, bottom), Point::new(x, top + 0.8));
            let thin = Stroke::continuous(width_mm::FAINT, Ink::grey(170));
            page.stroke(edge(s.x), thin.clone());
            page.stroke(edge(s.x + s.w), thin);
            let label = in_words(s.to - s.from);
            if s.w > set_line(&label, Face::Medium, 1.5).width_mm + 1.0 {
                let at = Point::new(s.x + 0.5 * s.w, top + 1.4);
                page.words(&label, Face::Medium, 1.5, at, Align::Centre, Ink::BLACK);
            }
        }
    }
}

fn row(page: &mut Drawing, step: &Step, number: usize, y: f64, axis: &[Stretch]) {
    let base = y + 0.5 * (ROW_MM - CAP_MM);
    let numbered = Point::new(MARGIN_MM + 6.0, base);
    page.words(
        &number.to_string(),
        Face::Regular,
        CAP_MM,
        numbered,
        Align::Right,
        Ink::grey(110),
    );
    let critical = sets_the_end(step);
    let face = if critical {
        Face::Medium
    } else {
        Face::Regular
    };
    let title = line_within(&step.title, face, CAP_MM, TITLES_MM - 13.0);
    let at = Point::new(MARGIN_MM + 8.0, base);
    page.text(title, at, Align::Left, Ink::BLACK);
    let (from, to) = (x_of(axis, step.start_minute), x_of(axis, step.end_minute));
    let half = 0.5 * (ROW_MM - 1.5);
    let middle = y + 0.5 * ROW_MM;
    let bar = Bounds::between(
        Point::new(from, middle - half),
        Point::new(to.max(from + 0.35), middle + half),
    );
    let works = step.hands_on_minutes > 0.0;
    page.fill(Path::rectangle(bar), if works { WORK } else { WAITING });
    if critical {
        let under = Path::line(
            Point::new(bar.min.x, bar.min.y - 0.3),
            Point::new(bar.max.x, bar.min.y - 0.3),
        );
        page.stroke(under, Stroke::continuous(width_mm::WIDE, Ink::BLACK));
    }
    if !step.cautions.is_empty() {
        // A triangle with its point up: mind the cautions of this step.
        let at = Point::new(MARGIN_MM + TITLES_MM - 3.0, middle);
        let mark =
            [(-1.1, -0.95), (1.1, -0.95), (0.0, 0.95)].map(|(x, y)| Point::new(at.x + x, at.y + y));
        page.stroke(
            Path::polygon(&mark),
            Stroke::continuous(width_mm::NARROW, Ink::BLACK),
        );
    }
}

fn foot(page: &mut Drawing) {
    let y = 5.0;
    let mut x = MARGIN_MM + TITLES_MM;
    for (ink, words) in [(WORK, "somebody works"), (WAITING, "it sets by itself")] {
        let b = Bounds::between(Point::new(x, y), Point::new(x + 6.0, y + 2.4));
        page.fill(Path::rectangle(b), ink);
        let line = set_line(words, Face::Regular, CAP_MM);
        let w = line.width_mm;
        page.text(line, Point::new(x + 7.5, y + 0.3), Align::Left, Ink::BLACK);
        x += w + 14.0;
    }
    let under = Path::line(Point::new(x, y + 0.6), Point::new(x + 6.0, y + 0.6));
    page.stroke(under, Stroke::continuous(width_mm::WIDE, Ink::BLACK));
    let words = "no slack: what is late here makes the piece late";
    let at = Point::new(x + 7.5, y + 0.3);
    page.words(words, Face::Regular, CAP_MM, at, Align::Left, Ink::BLACK);
    let mark = [(0.0, 0.0), (2.2, 0.0), (1.1, 1.9)]
        .map(|(dx, dy)| Point::new(MARGIN_MM + dx, y + 0.3 + dy));
    page.stroke(
        Path::polygon(&mark),
        Stroke::continuous(width_mm::NARROW, Ink::BLACK),
    );
    let at = Point::new(MARGIN_MM + 3.6, y + 0.3);
    page.words(
        "has cautions: read them first",
        Face::Regular,
        CAP_MM,
        at,
        Align::Left,
        Ink::BLACK,
    );
}

fn in_words(minutes: f64) -> String {
    let whole = minutes.round() as u64;
    let (days, hours, rest) = (whole / 1440, whole % 1440 / 60, whole % 60);
    match (days, hours, rest) {
        (0, 0, _) => format!("{rest} min"),
        (0, _, 0) => format!("{hours} h"),
        (0, _, _) => format!("{hours} h {rest} min"),
        (_, 0, _) => format!("{days} d"),
        _ => format!("{days} d {hours} h"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use piece::Stage;

    fn step(id: &str, start: f64, end: f64, works: bool) -> Step {
        Step {
            id: id.into(),
            code: id.into(),
            params: Default::default(),
            title: format!("Step {id}"),
            how: vec![],
            stage: Stage::Bond,
            parts: vec![],
            after: vec![],
            minutes: end - start,
            hands_on_minutes: if works { end - start } else { 0.0 },
            clamps: 0,
            start_minute: start,
            end_minute: end,
            slack_minutes: 0.0,
            cautions: vec![],
        }
    }

    /// Ten minutes of work, a day of cure, thirty minutes of work: the day is a short band, and a minute of work is as
    /// wide before it as after it.
    #[test]
    fn waiting_is_short_and_every_minute_of_work_has_one_width() {
        let steps = [
            step("a", 0.0, 10.0, true),
            step("b", 10.0, 1450.0, false),
            step("c", 1450.0, 1480.0, true),
        ];
        let axis = stretches(&steps);
        let widths: Vec<f64> = axis.iter().map(|s| s.w).collect();
        assert_eq!(widths.len(), 3);
        assert_eq!(widths[1], WAIT_MM);
        assert!((widths[2] / widths[0] - 3.0).abs() < 1e-9, "{widths:?}");
        let end = PAGE_MM - MARGIN_MM;
        assert!((x_of(&axis, 1480.0) - end).abs() < 1e-9);
        assert!(x_of(&axis, 5.0) < x_of(&axis, 10.0));
    }

    /// A slack of twenty seconds is one; the chart counted it as none, the guide did not.
    #[test]
    fn chart_and_guide_agree_on_which_steps_set_the_end() {
        let mut short = step("a", 0.0, 10.0, true);
        short.slack_minutes = 0.3;
        assert!(!sets_the_end(&short));
        short.slack_minutes = 1e-9;
        assert!(sets_the_end(&short));
    }
}
