//! A scanner measured by one scan of a capture sheet.
//!
//! Least squares with Huber weights over: each axis's correction at knots (straight between them), the angle between
//! the axes, where and how the sheet lies, and one shift for all tags' sides, since ink and threshold make every tag a
//! little larger or smaller. Knots that no tag is near follow their neighbours.

use super::axis::ScannerAxis;
use super::profile::{ProfileError, ScannerProfile};
use super::{Scan, nominal_mm};
use crate::camera::sighted;
use crate::photo::Photo;
use crate::sheet::Sheet;
use crate::tags;
use nalgebra::{DMatrix, DVector};
use shape::Point;

/// Distance between knots, mm: a correction that swings by 0.6 % over 280 mm bends by 0.007 mm between them.
const KNOTS_MM: f64 = 20.0;

/// What moves a corner in a scan, one sigma, mm: a fifth of a pixel at 300 dpi.
const CORNER_SIGMA_MM: f64 = 0.02;

/// How much a correction may bend from knot to knot (second difference), one sigma, mm.
const BEND_SIGMA_MM: f64 = 0.05;

/// How far all tags' sides may be moved outwards, one sigma, mm.
const EDGE_SHIFT_SIGMA_MM: f64 = 0.1;

/// Misses beyond this many sigmas count linearly.
const HUBER: f64 = 2.5;

/// Fewest tags, and the least that they span along both axes, mm.
const LEAST_TAGS: usize = 8;
const LEAST_SPAN_MM: f64 = 100.0;

/// Misses above which no scanner explains the tags, mm.
const MOST_RMS_MM: f64 = 0.2;

/// A tag's corner: on the sheet, which way is outwards from its tag, and where the resolution puts it in the scan.
struct Sighted {
    on_sheet: Point,
    outwards: [f64; 2],
    nominal: [f64; 2],
}

/// Measures a scanner by a scan of a capture sheet that lies face down on the glass.
///
/// `sheet` is `None` for one of ours; `printed_mm` what its bars of 100 mm measured along x and y, where somebody
/// measured them; `dpi` the resolution of the scan along x and y.
///
/// # Errors
/// [`ProfileError`], each with what to do.
pub fn measure_scanner(
    photo: &Photo,
    dpi: Option<[f64; 2]>,
    sheet: Option<&Sheet>,
    printed_mm: Option<[f64; 2]>,
) -> Result<ScannerProfile, ProfileError> {
    let dpi = Scan::try_new(photo.size_px(), dpi, None)?.dpi();
    let seen = tags::detect(&photo.linear_luma());
    let sightings = sighted(&seen, sheet, printed_mm.unwrap_or([100.0; 2]))?;
    let tags = sightings.len();
    let corners: Vec<Sighted> = sightings
        .iter()
        .flat_map(|(on_sheet, in_photo)| {
            let middle = on_sheet[0].lerp(on_sheet[2], 0.5);
            on_sheet.iter().zip(in_photo).map(move |(p, at)| Sighted {
                on_sheet: *p,
                outwards: [(p.x - middle.x).signum(), (p.y - middle.y).signum()],
                nominal: nominal_mm([at.x, at.y], dpi),
            })
        })
        .collect();
    let span = |k: usize| {
        let (low, high) = ends(&corners, k);
        high - low
    };
    if tags < LEAST_TAGS || span(0) < LEAST_SPAN_MM || span(1) < LEAST_SPAN_MM {
        return Err(ProfileError::FewTags { tags });
    }
    let unsound = |rms_mm| ProfileError::DoesNotFit { rms_mm };
    let fit = Fit::through(&corners).ok_or(unsound(f64::INFINITY))?;
    let misses: Vec<f64> = corners
        .iter()
        .map(|c| {
            let [x, y] = fit.miss(c);
            x.hypot(y)
        })
        .collect();
    let rms_mm = (misses.iter().map(|m| m * m).sum::<f64>() / misses.len() as f64).sqrt();
    if rms_mm.is_nan() || rms_mm > MOST_RMS_MM {
        return Err(unsound(rms_mm));
    }
    let axis = |k: usize| {
        let knots = fit.knots[k].clone();
        let true_mm = knots.iter().zip(fit.corrections(k)).map(|(n, c)| n + c);
        ScannerAxis::try_new(knots.clone(), true_mm.collect()).ok_or(unsound(rms_mm))
    };
    Ok(ScannerProfile {
        x: axis(0)?,
        y: axis(1)?,
        skew: fit.x[fit.skew()],
        residual_rms_mm: rms_mm,
        residual_worst_mm: misses.iter().copied().fold(0.0, f64::max),
        tags,
        print_measured: printed_mm.is_some(),
    })
}

fn ends(corners: &[Sighted], k: usize) -> (f64, f64) {
    corners
        .iter()
        .map(|c| c.nominal[k])
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        })
}

/// The unknowns: corrections of x, then of y, at their knots; skew; the sheet's place (2); the edge shift. The sheet's
/// turn is kept apart, since it is not linear.
struct Fit {
    knots: [Vec<f64>; 2],
    turn: f64,
    x: DVector<f64>,
}

/// Columns with their factors, the factor of a further turn, and what they should sum up to.
struct Equation {
    columns: Vec<(usize, f64)>,
    turn: f64,
    wanted: f64,
}

impl Fit {
    fn through(corners: &[Sighted]) -> Option<Self> {
        let knots = [0, 1].map(|k| {
            let (low, high) = ends(corners, k);
            let n = ((high - low) / KNOTS_MM).ceil().clamp(2.0, 400.0) as usize;
            (0..=n)
                .map(|i| low + (high - low) * i as f64 / n as f64)
                .collect::<Vec<_>>()
        });
        let unknowns = knots[0].len() + knots[1].len() + 4;
        let mut fit = Self {
            turn: first_turn(corners),
            x: DVector::zeros(unknowns),
            knots,
        };
        for _ in 0..12 {
            let step = fit.step(corners)?;
            fit.turn += step;
        }
        fit.turn.is_finite().then_some(fit)
    }

    fn skew(&self) -> usize {
        self.knots[0].len() + self.knots[1].len()
    }

    fn corrections(&self, k: usize) -> impl Iterator<Item = f64> + '_ {
        let first = if k == 0 { 0 } else { self.knots[0].len() };
        self.x.iter().copied().skip(first).take(self.knots[k].len())
    }

    /// The two equations of a corner, in x and y (up).
    fn equations(&self, c: &Sighted) -> [Equation; 2] {
        let (sin, cos) = self.turn.sin_cos();
        let turned = |p: [f64; 2]| [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]];
        let on_glass = turned([c.on_sheet.x, c.on_sheet.y]);
        let outwards = turned(c.outwards);
        let (skew, place, edge) = (self.skew(), self.skew() + 1, self.skew() + 3);
        let hat = |k: usize, first: usize, sign: f64| {
            let knots = &self.knots[k];
            let step = knots[1] - knots[0];
            let at = ((c.nominal[k] - knots[0]) / step).clamp(0.0, (knots.len() - 1) as f64);
            let i = (at as usize).min(knots.len() - 2);
            let t = at - i as f64;
            [(first + i, sign * (1.0 - t)), (first + i + 1, sign * t)]
        };
        let [u, v] = c.nominal;
        let mut along_x: Vec<(usize, f64)> = hat(0, 0, 1.0).to_vec();
        along_x.extend([(skew, v), (place, -1.0), (edge, -outwards[0])]);
        let mut along_y: Vec<(usize, f64)> = hat(1, self.knots[0].len(), -1.0).to_vec();
        along_y.extend([(place + 1, -1.0), (edge, -outwards[1])]);
        // A further turn moves the sheet's points by its angle times themselves turned left.
        [
            Equation {
                columns: along_x,
                turn: on_glass[1],
                wanted: on_glass[0] - u,
            },
            Equation {
                columns: along_y,
                turn: -on_glass[0],
                wanted: on_glass[1] + v,
            },
        ]
    }

    /// How far the fit puts a corner from where it was seen, mm.
    fn miss(&self, c: &Sighted) -> [f64; 2] {
        self.equations(c).map(|e| {
            let sum: f64 = e.columns.iter().map(|(i, f)| f * self.x[*i]).sum();
            e.wanted - sum
        })
    }

    /// Solves for everything at once, the turn as a small one more; gives that.
    fn step(&mut self, corners: &[Sighted]) -> Option<f64> {
        let n = self.x.len();
        let mut normal = DMatrix::<f64>::zeros(n + 1, n + 1);
        let mut right = DVector::<f64>::zeros(n + 1);
        let mut add = |columns: &[(usize, f64)], wanted: f64, weight: f64| {
            for (i, f) in columns {
                for (j, g) in columns {
                    normal[(*i, *j)] += weight * f * g;
                }
                right[*i] += weight * f * wanted;
            }
        };
        for c in corners {
            let [mx, my] = self.miss(c);
            let size = mx.hypot(my) / CORNER_SIGMA_MM;
            // The first guess misses by millimetres everywhere: all count alike then.
            let started = self.x.iter().any(|v| *v != 0.0);
            let huber = if started && size > HUBER {
                HUBER / size
            } else {
                1.0
            };
            let weight = huber / (CORNER_SIGMA_MM * CORNER_SIGMA_MM);
            for mut e in self.equations(c) {
                e.columns.push((n, e.turn));
                add(&e.columns, e.wanted, weight);
            }
        }
        let mut first = 0;
        for knots in &self.knots {
            for i in first + 1..first + knots.len() - 1 {
                let bend = [(i - 1, 1.0), (i, -2.0), (i + 1, 1.0)];
                add(&bend, 0.0, 1.0 / (BEND_SIGMA_MM * BEND_SIGMA_MM));
            }
            // The sheet may lie anywhere: a trace of stiffness keeps the corrections near zero.
            for i in first..first + knots.len() {
                add(&[(i, 1.0)], 0.0, 1e-4);
            }
            first += knots.len();
        }
        add(
            &[(self.skew() + 3, 1.0)],
            0.0,
            1.0 / (EDGE_SHIFT_SIGMA_MM * EDGE_SHIFT_SIGMA_MM),
        );
        let solution = normal.cholesky()?.solve(&right);
        let sound = solution.iter().all(|v| v.is_finite());
        self.x = solution.rows(0, n).into_owned();
        sound.then(|| solution[n])
    }
}

/// How the sheet is turned on the glass, rad: the turn of all corners about their middles that fits best.
fn first_turn(corners: &[Sighted]) -> f64 {
    let n = corners.len() as f64;
    let mean = |f: fn(&Sighted) -> f64| corners.iter().map(f).sum::<f64>() / n;
    let (px, py) = (mean(|c| c.on_sheet.x), mean(|c| c.on_sheet.y));
    let (u, v) = (mean(|c| c.nominal[0]), mean(|c| c.nominal[1]));
    let (mut cross, mut dot) = (0.0, 0.0);
    for c in corners {
        let (a, b) = (c.on_sheet.x - px, c.on_sheet.y - py);
        let (p, q) = (c.nominal[0] - u, v - c.nominal[1]);
        cross += a * q - b * p;
        dot += a * p + b * q;
    }
    cross.atan2(dot)
}
