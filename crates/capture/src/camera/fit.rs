//! The camera that fits the corners best: Levenberg-Marquardt over pose, lens, and two things about the
//! print: how far the tags' sides appear shifted outwards, and whether one axis came out longer.
//!
//! The last two matter. A sheet that is 0.004 % longer along one axis looks the same as one seen with a
//! focal length 0.9 % off at 3 degrees of tilt; taken for exact, it would shift the camera's height by 3 mm.

use super::{Camera, SheetPoint3};
use crate::photo::{PhotoPoint, meeting};
use nalgebra::{Matrix3, Rotation3, SMatrix, SVector, Vector3};
use shape::Point;

/// Rotation (3), translation (3), logarithm of the focal length, k1, k2, principal point (2), edge shift,
/// logarithm of the print's aspect.
pub(super) const PARAMETERS: usize = 13;
const FOCAL: usize = 6;
const K1: usize = 7;
const K2: usize = 8;
const CENTRE: usize = 9;
const EDGE_SHIFT: usize = 11;
const ASPECT: usize = 12;
pub(super) type Step = SVector<f64, PARAMETERS>;
pub(super) type Spread = SMatrix<f64, PARAMETERS, PARAMETERS>;

/// Steps for differences: rad, mm, px or plain. Small against what is measured, large against rounding.
const TINY: [f64; PARAMETERS] = [
    1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4, 1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-4, 1e-7,
];

/// Prior of the edge shift, px: sharpening (0.1 px inwards in the studio photos), spread of ink or toner.
const EDGE_SHIFT_SIGMA_PX: f64 = 0.7;

/// Prior of the principal point about the photo's middle, as a share of the diagonal: assembly of the lens, and
/// stabilisers that move it (recalled, no source).
const CENTRE_SIGMA: f64 = 0.004;

/// Prior of the print's aspect about what its bars said: a bar is read to a tenth of a millimetre at best, and
/// printers differ between their axes by about as much (0.1 % and more, see `--printed-x`).
const ASPECT_SIGMA: f64 = 6e-4;

/// What moves a corner besides its own scatter: edges that run along the pixel grid, px; and paper that is not
/// quite flat and print that is not quite in its place, mm. Neighbouring corners share most of the latter, so that
/// the corners' number does not average it out: it is taken large enough for the priors to keep their say.
const CORNER_FLOOR_PX: f64 = 0.05;
const CORNER_FLOOR_MM: f64 = 0.02;

/// Misses beyond this many standard deviations count linearly (Huber).
const HUBER: f64 = 2.5;

/// Where lines fitted through a bowed side cross it: a straight line fitted to a parabola meets it at
/// -1/sqrt 3 and 1/sqrt 3 of the fitted half length.
const LINE_MEETS_BOW: f64 = 0.577_350_27;

/// A tag on the sheet and in the photo.
#[derive(Debug, Clone)]
pub(super) struct Sighting {
    pub(super) id: u32,
    pub(super) on_sheet: [Point; 4],
    pub(super) in_photo: [PhotoPoint; 4],
    pub(super) sigma_px: f64,
    /// The share of a side that a line was fitted to, about its middle.
    pub(super) fitted_share: f64,
    /// How high over the sheet each side is that was seen, mm: from each corner to the next.
    pub(super) side_heights_mm: [f64; 4],
}

impl Sighting {
    /// How large a millimetre of the sheet is here, from the tag's sides.
    pub(super) fn px_per_mm(&self) -> f64 {
        let around = (0..4).map(|i| (i, (i + 1) % 4));
        let (px, mm) = around.fold((0.0, 0.0), |(px, mm), (i, j)| {
            (
                px + self.in_photo[i].distance_px(self.in_photo[j]),
                mm + self.on_sheet[i].distance_mm(self.on_sheet[j]),
            )
        });
        px / mm
    }
}

/// What is known of the lens beforehand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prior {
    /// The focal length, px.
    pub(super) focal_px: f64,
    /// Its standard deviation, as a share.
    pub(super) focal_sigma: f64,
    /// Standard deviation of k1 and k2 about zero.
    pub(super) k_sigma: f64,
    /// The photo's middle and diagonal, px.
    pub(super) middle: PhotoPoint,
    pub(super) diagonal_px: f64,
}

/// What the fit looks for.
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    pub(super) camera: Camera,
    /// How far the sides of all tags appear moved outwards.
    pub(super) edge_shift_px: f64,
    /// Logarithm of how much longer the print is along x than along y, against the sheet that was given.
    pub(super) aspect: f64,
}

impl State {
    /// Where a point of the sheet came out in print: the area stays.
    pub(super) fn printed(&self, p: Point) -> Point {
        let stretch = (0.5 * self.aspect).exp();
        Point::new(p.x * stretch, p.y / stretch)
    }

    /// The state a step away. The rotation turns in camera coordinates.
    pub(super) fn moved(&self, step: &Step) -> Self {
        let c = &self.camera;
        let turn = Rotation3::new(Vector3::new(step[0], step[1], step[2]));
        let rotation: Matrix3<f64> = turn.matrix() * c.rotation();
        Self {
            camera: Camera {
                focal_px: c.focal_px * step[FOCAL].exp(),
                k1: c.k1 + step[K1],
                k2: c.k2 + step[K2],
                rotation: std::array::from_fn(|i| std::array::from_fn(|j| rotation[(i, j)])),
                translation_mm: std::array::from_fn(|i| c.translation_mm[i] + step[3 + i]),
                centre_px: PhotoPoint::new(
                    c.centre_px.x + step[CENTRE],
                    c.centre_px.y + step[CENTRE + 1],
                ),
            },
            edge_shift_px: self.edge_shift_px + step[EDGE_SHIFT],
            aspect: self.aspect + step[ASPECT],
        }
    }

    /// Where the lines fitted to the tag's sides meet: the corners as `tags` measures them, with the
    /// lens's bow and the edge shift in them. Also the corners themselves.
    pub(super) fn corners(&self, s: &Sighting) -> Option<Seen> {
        let see = |p: Point, height_mm: f64| {
            let place = SheetPoint3::over(self.printed(p), height_mm);
            self.camera.project(place)
        };
        let meets = s.fitted_share * LINE_MEETS_BOW;
        let mut lines = [[PhotoPoint::default(); 2]; 4];
        for (i, line) in lines.iter_mut().enumerate() {
            let (p, q) = (s.on_sheet[i], s.on_sheet[(i + 1) % 4]);
            let height_mm = s.side_heights_mm[i];
            let a = see(p.lerp(q, 0.5 - 0.5 * meets), height_mm)?;
            let b = see(p.lerp(q, 0.5 + 0.5 * meets), height_mm)?;
            let length = a.distance_px(b);
            let out = [(b.y - a.y), -(b.x - a.x)].map(|v| v / length * self.edge_shift_px);
            *line = [a, b].map(|e| PhotoPoint::new(e.x + out[0], e.y + out[1]));
        }
        let mut seen = Seen::default();
        for i in 0..4 {
            seen.measured[i] = meeting(lines[(i + 3) % 4], lines[i], 0.0)?;
            seen.true_[i] = see(s.on_sheet[i], 0.0)?;
        }
        Some(seen)
    }
}

/// A tag's corners in the photo.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen {
    /// As straight lines through the sides meet.
    pub(super) measured: [PhotoPoint; 4],
    /// As they are.
    pub(super) true_: [PhotoPoint; 4],
}

/// A fitted state.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub(super) state: State,
    /// Sum of squared, normalised, robust misses with the priors'.
    pub(super) cost: f64,
    /// Covariance of a step from the state.
    pub(super) covariance: Spread,
}

/// Fits from a first guess. `None` where the guess sees the tags behind the camera or the equations are
/// singular.
pub(super) fn fit(start: State, sightings: &[Sighting], prior: Prior) -> Option<Fit> {
    let mut state = start;
    let mut at = equations(&state, sightings, prior)?;
    let mut damping = 1e-3;
    for _ in 0..60 {
        let mut damped = at.normal;
        for i in 0..PARAMETERS {
            damped[(i, i)] *= 1.0 + damping;
        }
        let step = damped.cholesky()?.solve(&at.right);
        let next = state.moved(&step);
        let better = equations(&next, sightings, prior).filter(|n| n.cost <= at.cost);
        match better {
            Some(n) => {
                let settled = at.cost - n.cost < 1e-9 * (1.0 + at.cost);
                (state, at) = (next, n);
                damping = (damping * 0.1).max(1e-12);
                if settled {
                    break;
                }
            }
            None if damping > 1e9 => break,
            None => damping *= 10.0,
        }
    }
    // Where corners scatter more than they said, so does what follows from them.
    let spare = (8 * sightings.len()).saturating_sub(PARAMETERS).max(1) as f64;
    let excess = (at.cost / spare).max(1.0);
    let covariance = at.normal.cholesky()?.inverse() * excess;
    let sound = covariance.iter().all(|v| v.is_finite()) && state.camera.focal_px.is_finite();
    sound.then_some(Fit {
        state,
        cost: at.cost,
        covariance,
    })
}

struct Equations {
    normal: Spread,
    right: Step,
    cost: f64,
}

fn equations(state: &State, sightings: &[Sighting], prior: Prior) -> Option<Equations> {
    let ahead: Vec<State> = (0..2 * PARAMETERS)
        .map(|k| {
            let mut step = Step::zeros();
            step[k / 2] = if k % 2 == 0 {
                TINY[k / 2]
            } else {
                -TINY[k / 2]
            };
            state.moved(&step)
        })
        .collect();
    let mut sum = Equations {
        normal: Spread::zeros(),
        right: Step::zeros(),
        cost: 0.0,
    };
    for s in sightings {
        let here = state.corners(s)?.measured;
        let around = ahead
            .iter()
            .map(|a| Some(a.corners(s)?.measured))
            .collect::<Option<Vec<_>>>()?;
        let paper_px = CORNER_FLOOR_MM * s.px_per_mm();
        let inverse = 1.0 / s.sigma_px.hypot(CORNER_FLOOR_PX).hypot(paper_px);
        for c in 0..4 {
            let miss = [s.in_photo[c].x - here[c].x, s.in_photo[c].y - here[c].y];
            let size = miss[0].hypot(miss[1]) * inverse;
            let weight = if size <= HUBER { 1.0 } else { HUBER / size };
            sum.cost += if size <= HUBER {
                size * size
            } else {
                HUBER * (2.0 * size - HUBER)
            };
            for (axis, miss) in miss.into_iter().enumerate() {
                let slope = Step::from_fn(|k, _| {
                    let (plus, minus) = (around[2 * k][c], around[2 * k + 1][c]);
                    let moved = [plus.x - minus.x, plus.y - minus.y][axis];
                    moved / (2.0 * TINY[k])
                });
                let weight = weight * inverse * inverse;
                sum.normal += slope * slope.transpose() * weight;
                sum.right += slope * (weight * miss);
            }
        }
    }
    let camera = &state.camera;
    let centre_sigma = CENTRE_SIGMA * prior.diagonal_px;
    let known = [
        (
            FOCAL,
            (prior.focal_px / camera.focal_px).ln(),
            prior.focal_sigma,
        ),
        (K1, -camera.k1, prior.k_sigma),
        (K2, -camera.k2, prior.k_sigma),
        (CENTRE, prior.middle.x - camera.centre_px.x, centre_sigma),
        (
            CENTRE + 1,
            prior.middle.y - camera.centre_px.y,
            centre_sigma,
        ),
        (EDGE_SHIFT, -state.edge_shift_px, EDGE_SHIFT_SIGMA_PX),
        (ASPECT, -state.aspect, ASPECT_SIGMA),
    ];
    for (k, miss, sigma) in known {
        let weight = 1.0 / (sigma * sigma);
        sum.normal[(k, k)] += weight;
        sum.right[k] += weight * miss;
        sum.cost += weight * miss * miss;
    }
    sum.cost.is_finite().then_some(sum)
}

/// One standard deviation of what `measure` reads from a state, by differences.
pub(super) fn sigma_of(fit: &Fit, measure: impl Fn(&State) -> Option<f64>) -> Option<f64> {
    let mut slope = Step::zeros();
    for k in 0..PARAMETERS {
        let at = |sign: f64| {
            let mut step = Step::zeros();
            step[k] = sign * TINY[k];
            measure(&fit.state.moved(&step))
        };
        slope[k] = (at(1.0)? - at(-1.0)?) / (2.0 * TINY[k]);
    }
    let variance = slope.dot(&(fit.covariance * slope));
    (variance >= 0.0).then(|| variance.sqrt())
}
