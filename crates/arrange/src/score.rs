//! Why one composition is better than another.

use crate::axes::Axes;
use crate::cell::make_cells;
use crate::lettering_size::{FixedWidth, letter_height_mm};
use crate::plan::{Composed, Setting};
use crate::spacing::Spacing;
use crate::{Options, Weights};
use piece::{Caption, Piece, Placement};
use shape::{Bounds, Point};
use std::collections::BTreeSet;

/// What a layout is worth, term by term; 0 is best in each, and each is a pure number that does not
/// depend on the size of the board.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Score {
    /// Share of ordered pairs in one band whose order along or across the run differs from the
    /// device's, over n(n-1). In rows: parts of one kind that could be neighbours and are not, over n(n-1).
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
    /// Difference between what stays free at the sides and above and below, over half the field's
    /// shorter side.
    pub margins: f64,
    /// How much farther small parts are from their next neighbour than parts are on average, in such
    /// distances, per part.
    pub loners: f64,
    /// Folds of a run that would fit the board unfolded, each layer in a station of its own.
    pub folds: f64,
    /// Length of all leaders over the field's diagonal, per part.
    pub leaders: f64,
}

impl Score {
    /// The weighted sum; less is better.
    pub fn total(&self, weights: &Weights) -> f64 {
        self.terms(weights)
            .iter()
            .map(|(_, value, weight)| value * weight)
            .sum()
    }

    /// Each term with its name, value and weight.
    pub fn terms(&self, weights: &Weights) -> [(&'static str, f64, f64); 10] {
        let (s, w) = (self, weights);
        [
            ("order", s.order, w.order),
            ("gaps", s.gaps, w.gaps),
            ("alignment", s.alignment, w.alignment),
            ("balance", s.balance, w.balance),
            ("voids", s.voids, w.voids),
            ("window_use", s.window_use, w.window_use),
            ("margins", s.margins, w.margins),
            ("loners", s.loners, w.loners),
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
        order: if setting.rows {
            strangers(setting, composed)
        } else {
            order(setting, composed)
        },
        gaps: unevenness(&composed.gaps),
        alignment: misalignment(&bodies),
        balance: imbalance(setting, &bodies) / (0.5 * diagonal),
        voids: voids(composed.extent, &boxes, &setting.obstacles) / (0.05 * diagonal).powi(2),
        window_use: 1.0
            - (composed.extent.width_mm() * composed.extent.height_mm()
                / (region.width_mm() * region.height_mm()))
            .clamp(0.0, 1.0),
        margins: {
            let (w, h) = (region.width_mm(), region.height_mm());
            let sides = 0.5 * (w - composed.extent.width_mm());
            let ends = 0.5 * (h - composed.extent.height_mm());
            (sides - ends).abs() / (0.5 * w.min(h))
        },
        loners: loners(setting.part_mm, &boxes),
        folds: if setting.runs_unfolded {
            n_bands.saturating_sub(1) as f64
        } else {
            0.0
        },
        leaders: 0.0,
    }
}

/// Scores placements as they stand, each part a cell of its own.
pub(crate) fn score_of(
    piece: &Piece,
    placements: &[Placement],
    captions: &[Caption],
    options: &Options,
) -> Score {
    let spacing = Spacing {
        gap_mm: piece.layout.gap_mm,
        letter_mm: letter_height_mm(options.viewing_distance_m),
        captions: false,
    };
    let movable: BTreeSet<usize> = (0..piece.parts.len()).collect();
    let mut loose = piece.clone();
    // Groups are blocks while they are moved; here each part counts for itself.
    for part in &mut loose.parts {
        part.group = None;
    }
    let mut cells = make_cells(&loose, &movable, &spacing, &FixedWidth, false);
    let mut at = Vec::with_capacity(cells.len());
    for cell in &mut cells {
        let i = cell.caption.part;
        let part = &piece.parts[i];
        let bounds = placements
            .iter()
            .find(|p| p.part == part.id)
            .map(|p| part.shown_outline().placed(p.board_from_part()).bounds());
        let bounds = bounds.unwrap_or_else(|| part.outline.bounds());
        cell.body = [bounds.width_mm(), bounds.height_mm()];
        at.push(bounds.min);
    }
    let field = piece.frame.field();
    let axes = Axes {
        spread: piece.layout.spread,
        region: field,
    };
    let setting = Setting::new(&cells, axes, spacing, options.weights, Vec::new());
    let bodies = at
        .iter()
        .zip(&cells)
        .map(|(p, c)| Bounds::between(*p, Point::new(p.x + c.body[0], p.y + c.body[1])));
    let extent = bodies.reduce(Bounds::joined).unwrap_or(field);
    let composed = Composed {
        band_of: vec![0; cells.len()],
        at,
        gaps: Vec::new(),
        overflow: (0.0, 0.0),
        collisions_mm: 0.0,
        extent,
    };
    let mut found = score(&setting, &composed);
    found.leaders = leaders(captions, field, piece.parts.len());
    found
}

/// Length of all leaders over the field's diagonal, per part.
pub(crate) fn leaders(captions: &[Caption], field: Bounds, parts: usize) -> f64 {
    // An empty sum is -0.
    let length: f64 = captions
        .iter()
        .flat_map(|c| c.leader.windows(2).map(|w| w[0].distance_mm(w[1])))
        .fold(0.0, |sum, l| sum + l);
    length / (field.width_mm().hypot(field.height_mm()) * parts.max(1) as f64)
}

/// Rows in which like does not lie beside like: pairs of one kind that could be neighbours and are not, over n(n-1).
fn strangers(setting: &Setting<'_>, composed: &Composed) -> f64 {
    let n = setting.cells.len();
    if n < 2 {
        return 0.0;
    }
    // Where there are no homes, a cell's layer is its kind.
    let kind = |c: usize| setting.cells[c].layer;
    let mut in_rows: Vec<usize> = (0..n).collect();
    let along = |c: usize| setting.axes.in_run(composed.at[c]).0;
    in_rows.sort_by(|&a, &b| {
        let bands = composed.band_of[a].cmp(&composed.band_of[b]);
        bands.then(along(a).total_cmp(&along(b)))
    });
    let neighbours = in_rows
        .windows(2)
        .filter(|w| composed.band_of[w[0]] == composed.band_of[w[1]] && kind(w[0]) == kind(w[1]))
        .count();
    let kinds: BTreeSet<u32> = (0..n).map(kind).collect();
    (n - kinds.len() - neighbours) as f64 / (n * (n - 1)) as f64
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
            let beside = setting.cells[i].layer == setting.cells[j].layer
                && (a.0 - b.0).abs()
                    > 0.5 * (setting.extents[i].0.body + setting.extents[j].0.body);
            for (along, home, now) in [
                (true, a.0 - b.0, place[i].0 - place[j].0),
                (false, a.1 - b.1, place[i].1 - place[j].1),
            ] {
                if home * now < 0.0 && now.abs() > SAME_LINE_MM {
                    // What was almost level at home may go either way.
                    flips += (home.abs() / 10.0).min(1.0);
                } else if along && now.abs() <= SAME_LINE_MM && beside {
                    // What stood side by side in one layer and is now in line has lost its order, if
                    // not changed it.
                    flips += 0.5;
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
    let (mut alone, mut near) = (0usize, 0usize);
    for axis in 0..2 {
        // Nearest other line of the same kind (low edge, middle, high edge), by sorting each kind.
        let mut least = vec![f64::INFINITY; n];
        for kind in 0..3 {
            let mut lines: Vec<(f64, usize)> = bodies
                .iter()
                .map(|b| {
                    let (low, high) = match axis {
                        0 => (b.min.x, b.max.x),
                        _ => (b.min.y, b.max.y),
                    };
                    [low, 0.5 * (low + high), high][kind]
                })
                .zip(0..n)
                .collect();
            lines.sort_by(|a, b| a.0.total_cmp(&b.0));
            for pair in lines.windows(2) {
                let apart = pair[1].0 - pair[0].0;
                for (_, k) in pair {
                    least[*k] = least[*k].min(apart);
                }
            }
        }
        for apart in least {
            if apart > SAME_LINE_MM {
                alone += 1;
                if apart < NEAR_LINE_MM {
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

/// Each part's box with its caption's.
fn joined(boxes: &[[Option<Bounds>; 2]]) -> Vec<Bounds> {
    boxes
        .iter()
        .filter_map(|b| b.iter().flatten().copied().reduce(Bounds::joined))
        .collect()
}

/// Small parts (less than half as long and broad as a part of mean area) that stand off.
fn loners(part_mm: f64, boxes: &[[Option<Bounds>; 2]]) -> f64 {
    let n = boxes.len();
    if n < 3 {
        return 0.0;
    }
    let whole = joined(boxes);
    let mut next = vec![f64::INFINITY; n];
    for (i, a) in whole.iter().enumerate() {
        for (j, b) in whole.iter().enumerate().take(i) {
            let apart = a.distance_mm(*b);
            next[i] = next[i].min(apart);
            next[j] = next[j].min(apart);
        }
    }
    let mean = next.iter().sum::<f64>() / n as f64;
    if mean <= 0.0 {
        return 0.0;
    }
    let small = |b: &[Option<Bounds>; 2]| {
        b[0].is_some_and(|b| b.width_mm() * b.height_mm() < (0.5 * part_mm).powi(2))
    };
    let off: f64 = boxes
        .iter()
        .zip(&next)
        .filter(|(b, _)| small(b))
        .map(|(_, apart)| (apart / mean - 1.2).max(0.0))
        .sum();
    off / n as f64
}

/// Mean square distance to the next box over a grid of the composition, mm2.
fn voids(extent: Bounds, boxes: &[[Option<Bounds>; 2]], obstacles: &[Bounds]) -> f64 {
    const GRID: usize = 12;
    let mut all: Vec<Bounds> = joined(boxes);
    all.extend(obstacles);
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
