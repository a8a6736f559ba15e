//! Where a part may lie in an inside photo: coarse by spectra, over place and turn.

use crate::field::Field;
use crate::sought::{EdgePoint, View};
use crate::spectrum::{Scratch, Spectrum};
use rustfft::num_complex::Complex32;
use shape::{Cancelled, Watch};

/// Scales of the search, px/mm, coarse first. A part takes the one at which it is some 26 pixels from its middle to its
/// farthest point, so that large and small ones want the same number of turns.
pub(crate) const SCALES: [f64; 4] = [0.7, 1.0, 1.4, 2.0];
const RADIUS_PX: f64 = 26.0;

/// Candidates that one part keeps of the coarse search.
const KEPT: usize = 28;

/// Edge points of each kind that the coarse search takes.
const MOST_POINTS: usize = 1_200;

/// A pose of a part in the photo's plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stand {
    /// Where the part's centre appears, mm from the plate's origin.
    pub(crate) x: f64,
    pub(crate) y: f64,
    /// Turn, radians counter-clockwise.
    pub(crate) turn: f64,
    /// How much larger than life it appears: H/(H-z).
    pub(crate) scale: f64,
}

impl Stand {
    /// Carries points of the part, mm from its centre, onto the plate, mm from its origin.
    pub(crate) fn to_plate(self) -> impl Fn([f64; 2]) -> [f64; 2] {
        let (s, c) = self.turn.sin_cos();
        move |p| {
            [
                self.x + self.scale * (c * p[0] - s * p[1]),
                self.y + self.scale * (s * p[0] + c * p[1]),
            ]
        }
    }
}

/// A pose and how well the edges agree there, at most 1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate {
    pub(crate) stand: Stand,
    pub(crate) score: f64,
}

/// A photo's edges at one scale with their spectra.
pub(crate) struct Level {
    pub(crate) field: Field,
    plan: Spectrum,
    signed: Vec<Complex32>,
    unsigned: Vec<Complex32>,
}

impl Level {
    pub(crate) fn of(field: Field) -> Self {
        // Beyond the photo's rim, the sums come round from the other side; a margin keeps that off what counts.
        let margin = 12;
        let plan = Spectrum::at_least(field.width + margin, field.height + margin);
        let mut scratch = Scratch::default();
        let mut spread = |values: &[Complex32]| {
            let mut all = vec![Complex32::new(0.0, 0.0); plan.len()];
            for (row, to) in values.chunks(field.width).zip(all.chunks_mut(plan.width)) {
                to[..field.width].copy_from_slice(row);
            }
            plan.forth(&mut all, &mut scratch);
            all
        };
        let (signed, unsigned) = (spread(&field.signed), spread(&field.unsigned));
        Self {
            field,
            plan,
            signed,
            unsigned,
        }
    }
}

/// Which scale suits a part.
pub(crate) fn scale_for(view: &View) -> usize {
    let wanted = RADIUS_PX / view.radius_mm.max(0.1);
    let near = |s: &f64| (s / wanted).ln().abs();
    (0..SCALES.len())
        .min_by(|&a, &b| near(&SCALES[a]).total_cmp(&near(&SCALES[b])))
        .unwrap_or(0)
}

/// By which of a part's edges it is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum By {
    /// Its outline and its face.
    All,
    /// Its face alone: its own edge lies under another part.
    Face,
}

impl By {
    /// Those of them that are asked for.
    pub(crate) fn of(self, mut points: Vec<EdgePoint>) -> Vec<EdgePoint> {
        points.retain(|p| self == Self::All || !p.rim);
        points
    }
}

/// Candidates for a part, best first, no two alike.
///
/// `scale` is how much larger than life parts appear at the height where the device is thought to be.
pub(crate) fn search(
    view: &View,
    by: By,
    level: &Level,
    scale: f64,
    watch: &dyn Watch,
) -> Result<Vec<Candidate>, Cancelled> {
    let k = level.field.px_per_mm;
    let points = by.of(view.edge_points(k, MOST_POINTS));
    let total: f32 = points.iter().map(|p| p.weight).sum();
    if total <= 0.0 {
        return Ok(Vec::new());
    }
    // Half a step moves the farthest point by about a pixel. Turns come in pairs, each half round from the other.
    let step = (2.0 / (view.radius_mm * k)).clamp(0.025, 0.26);
    let pairs = (std::f64::consts::PI / step).ceil() as usize;
    let plan = &level.plan;
    let mut signed = Vec::new();
    let mut unsigned = Vec::new();
    let mut scratch = Scratch::default();
    let mut found: Vec<Candidate> = Vec::new();
    let per_value = 1.0 / (plan.len() as f32 * total);
    for n in 0..pairs {
        watch.step("looking for parts", n as f64 / pairs as f64)?;
        let turn = n as f64 * std::f64::consts::PI / pairs as f64;
        splat(&points, turn, scale * k, plan, &mut signed, &mut unsigned);
        plan.forth(&mut signed, &mut scratch);
        plan.forth(&mut unsigned, &mut scratch);
        both_ways(&mut signed, &unsigned, level);
        plan.back(&mut signed, &mut scratch);
        let half_round = turn + std::f64::consts::PI;
        peaks(&signed, |v| v.re, level, per_value, turn, scale, &mut found);
        peaks(
            &signed,
            |v| v.im,
            level,
            per_value,
            half_round,
            scale,
            &mut found,
        );
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    Ok(unlike(
        found,
        0.2 * view.radius_mm + 0.8 / k,
        2.2 * step,
        KEPT,
    ))
}

/// From the spectra of a part's edges to that of their sums with the photo's: as they are in the real part, turned half round in the
/// imaginary one.
///
/// Half a turn mirrors the grids about their corner and turns the signed edges' ways over, so its spectra are those at the opposite
/// frequency. Only real parts of sums are asked for, and two of them fit in one transform.
fn both_ways(signed: &mut [Complex32], unsigned: &[Complex32], level: &Level) {
    let i = Complex32::i();
    let of = |s: Complex32, u: Complex32, at: usize| {
        let (a, b) = (s.conj() * level.signed[at], u.conj() * level.unsigned[at]);
        (a + b, b - a)
    };
    let (width, height) = (level.plan.width, level.plan.height);
    for row in 0..=height / 2 {
        let opposite_row = (height - row) % height;
        // A row that is its own opposite: its second half is the first one's.
        let columns = if row == opposite_row {
            width / 2 + 1
        } else {
            width
        };
        for column in 0..columns {
            let at = row * width + column;
            let opposite_column = if column == 0 { 0 } else { width - column };
            let opposite = opposite_row * width + opposite_column;
            let (s, u) = (
                [signed[at], signed[opposite]],
                [unsigned[at], unsigned[opposite]],
            );
            // As they are at both frequencies; turned half round, the patterns change places, the photo does not.
            let (as_is, _) = of(s[0], u[0], at);
            let (as_is_opposite, _) = of(s[1], u[1], opposite);
            let (_, turned) = of(s[1], u[1], at);
            let (_, turned_opposite) = of(s[0], u[0], opposite);
            let real = |v: Complex32, opposite: Complex32| (v + opposite.conj()) * 0.5;
            let (first, second) = (real(as_is, as_is_opposite), real(turned, turned_opposite));
            signed[at] = first + i * second;
            // Spectra of real sums: the opposite frequency has the conjugate.
            signed[opposite] = first.conj() + i * second.conj();
        }
    }
}

/// Puts a part's edges on grids, turned and scaled, its centre at the corner.
fn splat(
    points: &[EdgePoint],
    turn: f64,
    px_per_mm: f64,
    plan: &Spectrum,
    signed: &mut Vec<Complex32>,
    unsigned: &mut Vec<Complex32>,
) {
    let none = Complex32::new(0.0, 0.0);
    for grid in [&mut *signed, &mut *unsigned] {
        grid.clear();
        grid.resize(plan.len(), none);
    }
    let (s, c) = turn.sin_cos();
    let rotation = Complex32::new(c as f32, s as f32);
    let (w, h) = (plan.width as i64, plan.height as i64);
    for p in points {
        let x = (c * p.at[0] - s * p.at[1]) * px_per_mm;
        let y = (s * p.at[0] + c * p.at[1]) * px_per_mm;
        let (x0, y0) = (x.floor(), y.floor());
        let (u, v) = ((x - x0) as f32, (y - y0) as f32);
        let way = p.way * rotation;
        let (grid, value) = if p.rim {
            (&mut *unsigned, way * way * p.weight)
        } else {
            (&mut *signed, way * p.weight)
        };
        let (i0, j0) = ((x0 as i64).rem_euclid(w), (y0 as i64).rem_euclid(h));
        let (i1, j1) = ((i0 + 1) % w, (j0 + 1) % h);
        for (i, j, share) in [
            (i0, j0, (1.0 - u) * (1.0 - v)),
            (i1, j0, u * (1.0 - v)),
            (i0, j1, (1.0 - u) * v),
            (i1, j1, u * v),
        ] {
            grid[(j * w + i) as usize] += value * share;
        }
    }
}

/// Local maxima of one turn's sums, the best few.
fn peaks(
    sums: &[Complex32],
    sum: impl Fn(&Complex32) -> f32,
    level: &Level,
    per_value: f32,
    turn: f64,
    scale: f64,
    found: &mut Vec<Candidate>,
) {
    const MOST: usize = 5;
    let (w, h) = (level.field.width, level.field.height);
    let stride = level.plan.width;
    let at = |i: usize, j: usize| sum(&sums[j * stride + i]);
    let mut best: Vec<(f32, usize, usize)> = Vec::with_capacity(MOST + 1);
    for j in 1..h - 1 {
        for i in 1..w - 1 {
            let v = at(i, j);
            if v <= 0.0 || (best.len() == MOST && v <= best[MOST - 1].0) {
                continue;
            }
            let top = (j - 1..=j + 1).all(|y| (i - 1..=i + 1).all(|x| at(x, y) <= v));
            if top {
                let at = best.partition_point(|b| b.0 >= v);
                best.insert(at, (v, i, j));
                best.truncate(MOST);
            }
        }
    }
    let k = level.field.px_per_mm;
    found.extend(best.into_iter().map(|(v, i, j)| Candidate {
        stand: Stand {
            x: i as f64 / k,
            y: j as f64 / k,
            turn,
            scale,
        },
        score: f64::from(v * per_value),
    }));
}

/// The best of those that are not as good as the same, in the order given.
pub(crate) fn unlike(
    sorted: Vec<Candidate>,
    near_mm: f64,
    near_turn: f64,
    most: usize,
) -> Vec<Candidate> {
    let mut kept: Vec<Candidate> = Vec::new();
    for c in sorted {
        if kept.len() == most {
            break;
        }
        let same = kept.iter().any(|k| {
            (k.stand.x - c.stand.x).hypot(k.stand.y - c.stand.y) < near_mm
                && turned_by(k.stand.turn, c.stand.turn) < near_turn
        });
        if !same {
            kept.push(c);
        }
    }
    kept
}

/// Angle between two turns, radians, 0 to pi.
pub(crate) fn turned_by(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(std::f64::consts::TAU);
    d.min(std::f64::consts::TAU - d)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: each of the two turns by itself.
    #[test]
    fn a_pair_of_turns_is_the_sums_of_each() {
        let (width, height) = (21, 15);
        let mut chance = shape::Random::new(5);
        let mut any = || chance.between(-1.0, 1.0) as f32;
        let mut field = || -> Vec<Complex32> {
            let number = |_| Complex32::new(any(), any());
            (0..width * height).map(number).collect()
        };
        let level = Level::of(Field {
            width,
            height,
            px_per_mm: 1.0,
            signed: field(),
            unsigned: field(),
        });
        let points: Vec<EdgePoint> = (0..12)
            .map(|k| EdgePoint {
                at: [f64::from(any()) * 4.0, f64::from(any()) * 3.0],
                way: Complex32::from_polar(1.0, any() * 3.0),
                weight: 1.0 + any(),
                rim: k % 3 == 0,
            })
            .collect();
        let plan = &level.plan;
        let mut scratch = Scratch::default();
        let mut spectra = |turn: f64| {
            let (mut signed, mut unsigned) = (Vec::new(), Vec::new());
            splat(&points, turn, 1.0, plan, &mut signed, &mut unsigned);
            plan.forth(&mut signed, &mut scratch);
            plan.forth(&mut unsigned, &mut scratch);
            (signed, unsigned)
        };
        let half = std::f64::consts::PI;
        let (mut both, unsigned) = spectra(0.7);
        let turns = [0.7, 0.7 + half].map(&mut spectra);
        both_ways(&mut both, &unsigned, &level);
        plan.back(&mut both, &mut scratch);
        let [one, other] = turns.map(|(s, u)| {
            let patterns = s.iter().zip(&u);
            let photo = level.signed.iter().zip(&level.unsigned);
            let sum = |((s, u), (a, b)): ((&Complex32, &Complex32), (&Complex32, &Complex32))| {
                s.conj() * a + u.conj() * b
            };
            let mut sums: Vec<Complex32> = patterns.zip(photo).map(sum).collect();
            plan.back(&mut sums, &mut scratch);
            sums
        });
        for k in 0..plan.len() {
            let off = Complex32::new(both[k].re - one[k].re, both[k].im - other[k].re);
            assert!(off.norm() < 1e-2 * plan.len() as f32 / 300.0, "{k}: {off}");
        }
    }

    #[test]
    fn a_face_alone_is_looked_for_without_the_outline() {
        let edge = |rim: bool| EdgePoint {
            at: [1.0, 2.0],
            way: Complex32::new(1.0, 0.0),
            weight: 1.0,
            rim,
        };
        let all = vec![edge(true), edge(false), edge(true), edge(false)];
        assert_eq!(By::All.of(all.clone()).len(), 4);
        let face = By::Face.of(all);
        assert!(face.len() == 2 && face.iter().all(|p| !p.rim));
    }
}
