//! Why one composition is better than another.

use crate::plan::{Composed, Setting};
use shape::{Bounds, Point};

/// What a layout is worth, term by term; 0 is best in each, and each is a pure number that does not
/// depend on the size of the board.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Score {
    /// Share of ordered pairs in one band whose order along or across the run differs from the
    /// device's, over n(n-1).
    pub order: f64,
    /// Spread of the visible distances between neighbours: standard deviation over mean.
    pub gaps: f64,
    /// Share of parts (per axis) that stand on no common edge or centre line, with near misses of
    /// 0.5 to 3 mm counted on top.
    pub alignment: f64,
    /// Distance of the centre of visual weight from the optical centre, over half the field's
    /// diagonal.
    pub balance: f64,
    /// Emptiness inside the composition: mean square distance from the next part or caption, over the
    /// square of a twentieth of the field's diagonal.
    pub voids: f64,
    /// Share of the field outside the composition's box.
    pub window_use: f64,
    /// Folds of a run that would fit the board unfolded, each layer in a station of its own.
    pub folds: f64,
    /// Length of all leaders over the field's diagonal, per part.
    pub leaders: f64,
}

/// How much each term weighs. Chosen by looking at layouts; the user's to change.
pub const WEIGHTS: Score = Score {
    order: 10.0,
    gaps: 0.5,
    alignment: 1.0,
    balance: 1.0,
    voids: 0.8,
    window_use: 0.7,
    folds: 2.0,
    leaders: 4.0,
};

impl Score {
    /// The weighted sum; less is better.
    pub fn total(&self) -> f64 {
        self.terms()
            .iter()
            .map(|(_, value, weight)| value * weight)
            .sum()
    }

    /// Each term with its name, value and weight.
    pub fn terms(&self) -> [(&'static str, f64, f64); 8] {
        let (s, w) = (self, &WEIGHTS);
        [
            ("order", s.order, w.order),
            ("gaps", s.gaps, w.gaps),
            ("alignment", s.alignment, w.alignment),
            ("balance", s.balance, w.balance),
            ("voids", s.voids, w.voids),
            ("window_use", s.window_use, w.window_use),
            ("folds", s.folds, w.folds),
            ("leaders", s.leaders, w.leaders),
        ]
    }
}

/// The optical centre lies a little above the middle: a twentieth of the height (common practice in
/// mounting, no source).
const OPTICAL_RISE: f64 = 0.05;

/// Lines nearer than this are one line, mm.
const SAME_LINE_MM: f64 = 0.5;
/// Lines nearer than this, but not one, look like a mistake, mm.
const NEAR_LINE_MM: f64 = 3.0;

/// Scores a composition (without leaders: a composition has none).
pub(crate) fn score(setting: &Setting<'_>, composed: &Composed) -> Score {
    let region = setting.axes.region;
    let diagonal = region.width_mm().hypot(region.height_mm());
    let boxes: Vec<[Option<Bounds>; 2]> = setting
        .cells
        .iter()
        .zip(&composed.at)
        .map(|(cell, &at)| setting.boxes_of(cell, at))
        .collect();
    let bodies: Vec<Bounds> = boxes.iter().filter_map(|b| b[0]).collect();
    let n_bands = composed.band_of.iter().max().map_or(0, |b| b + 1);
    Score {
        order: order(setting, composed),
        gaps: unevenness(&composed.gaps),
        alignment: misalignment(&bodies),
        balance: imbalance(setting, &bodies) / (0.5 * diagonal),
        voids: voids(composed.extent, &boxes) / (0.05 * diagonal).powi(2),
        window_use: 1.0
            - (composed.extent.width_mm() * composed.extent.height_mm()
                / (region.width_mm() * region.height_mm()))
            .clamp(0.0, 1.0),
        folds: if setting.runs_unfolded {
            n_bands.saturating_sub(1) as f64
        } else {
            0.0
        },
        leaders: 0.0,
    }
}

/// Pairs that changed sides, over n(n-1), after Dwyer, Marriott and Stuckey's orthogonal ordering.
fn order(setting: &Setting<'_>, composed: &Composed) -> f64 {
    let n = setting.cells.len();
    if n < 2 {
        return 0.0;
    }
    let place: Vec<(f64, f64)> = (0..n)
        .map(|c| {
            let [w, h] = setting.cells[c].body;
            let p = composed.at[c];
            setting
                .axes
                .in_run(Point::new(p.x + 0.5 * w, p.y + 0.5 * h))
        })
        .collect();
    let mut flips = 0.0;
    for i in 0..n {
        let Some(a) = setting.start(i) else { continue };
        for j in 0..i {
            let Some(b) = setting.start(j) else { continue };
            if composed.band_of[i] != composed.band_of[j] {
                // Bands follow each other like lines of text: the order between them is of layers.
                let (first, second) = if composed.band_of[i] < composed.band_of[j] {
                    (i, j)
                } else {
                    (j, i)
                };
                if setting.cells[first].layer > setting.cells[second].layer {
                    flips += 1.0;
                }
                continue;
            }
            for (home, now) in [
                (a.0 - b.0, place[i].0 - place[j].0),
                (a.1 - b.1, place[i].1 - place[j].1),
            ] {
                if home * now < 0.0 && now.abs() > SAME_LINE_MM {
                    // What was almost level at home may go either way.
                    flips += (home.abs() / 10.0).min(1.0);
                }
            }
        }
    }
    flips / (n * (n - 1)) as f64
}

fn unevenness(gaps: &[f64]) -> f64 {
    if gaps.is_empty() {
        return 0.0;
    }
    let n = gaps.len() as f64;
    let mean = gaps.iter().sum::<f64>() / n;
    let variance = gaps.iter().map(|g| (g - mean).powi(2)).sum::<f64>() / n;
    if mean > 0.0 {
        variance.sqrt() / mean
    } else {
        0.0
    }
}

fn misalignment(bodies: &[Bounds]) -> f64 {
    let n = bodies.len();
    if n < 2 {
        return 0.0;
    }
    let lines = |b: &Bounds, axis: usize| match axis {
        0 => [b.min.x, b.centre().x, b.max.x],
        _ => [b.min.y, b.centre().y, b.max.y],
    };
    let (mut alone, mut near) = (0usize, 0usize);
    for axis in 0..2 {
        for (i, a) in bodies.iter().enumerate() {
            let least = bodies
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != i)
                .flat_map(|(_, b)| {
                    let (p, q) = (lines(a, axis), lines(b, axis));
                    [0, 1, 2].map(|k| (p[k] - q[k]).abs())
                })
                .fold(f64::INFINITY, f64::min);
            if least > SAME_LINE_MM {
                alone += 1;
                if least < NEAR_LINE_MM {
                    near += 1;
                }
            }
        }
    }
    (alone as f64 + 0.5 * near as f64) / (2 * n) as f64
}

fn imbalance(setting: &Setting<'_>, bodies: &[Bounds]) -> f64 {
    let region = setting.axes.region;
    let middle = region.centre();
    let optical = Point::new(middle.x, middle.y + OPTICAL_RISE * region.height_mm());
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for (cell, body) in setting.cells.iter().zip(bodies) {
        let c = body.centre();
        sum += cell.weight;
        x += cell.weight * c.x;
        y += cell.weight * c.y;
    }
    if sum <= 0.0 {
        return 0.0;
    }
    Point::new(x / sum, y / sum).distance_mm(optical)
}

/// Mean square distance to the next box over a grid of the composition, mm2.
fn voids(extent: Bounds, boxes: &[[Option<Bounds>; 2]]) -> f64 {
    const GRID: usize = 16;
    let all: Vec<Bounds> = boxes.iter().flatten().flatten().copied().collect();
    let mut sum = 0.0;
    for i in 0..GRID {
        for j in 0..GRID {
            let p = Point::new(
                extent.min.x + (i as f64 + 0.5) / GRID as f64 * extent.width_mm(),
                extent.min.y + (j as f64 + 0.5) / GRID as f64 * extent.height_mm(),
            );
            let least = all
                .iter()
                .map(|b| {
                    let dx = (b.min.x - p.x).max(p.x - b.max.x).max(0.0);
                    let dy = (b.min.y - p.y).max(p.y - b.max.y).max(0.0);
                    dx * dx + dy * dy
                })
                .fold(f64::INFINITY, f64::min);
            sum += least;
        }
    }
    sum / (GRID * GRID) as f64
}
