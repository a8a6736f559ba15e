//! One photo's picture of the open hull's rim, looked for in the other photos.
//!
//! The same hull stands on the sheet at every stage, whatever lies in it. Its rim, with ledges, bosses and cut-outs beside it, is
//! seen by each photo, and photos agree with each other better than any of them agrees with a hull's outline, whose edges are
//! rounded and run beside shade.

use crate::field::{SURE_STEP, gradients, of_brightness};
use crate::inside::Inside;
use crate::joint::{Estimate, Observation};
use crate::register::{Spot, filled};
use crate::search::Candidate;
use crate::settle::{Held, Steps, climb, fit_edges};
use crate::sought::{EdgePoint, thin_out};
use rustfft::num_complex::Complex32;
use shape::{Outline, Point, Pose, Vector};

/// What belongs to the rim: this far into the outline, and out of it, mm. A wall is 1 to 2 mm thick, ledges and bosses stand beside.
const BAND_MM: [f64; 2] = [4.5, 0.3];

/// Fainter edges are left out, as a share of a sure one.
const LEAST_EDGE: f32 = 0.35;

/// Edge points of a rim.
const MOST_POINTS: usize = 2500;

/// How far a photo may be from where its tie puts it, mm; looked for from so many places on either side.
const OFF_MM: f64 = 3.0;
const STARTS: i32 = 2;

/// A rim that agrees less than this share of how it agrees with itself is not seen.
const LEAST_SHARE: f64 = 0.35;

/// How well a rim's height is known, one sigma, mm.
const HEIGHT_SIGMA_MM: f64 = 0.6;

/// The hull as one photo shows it.
pub(crate) struct OpenHull {
    pub(crate) photo: usize,
    /// On the photo's own sheet.
    pub(crate) spot: Spot,
    pub(crate) top_mm: f64,
    pub(crate) outline: Outline,
    pub(crate) radius_mm: f64,
}

/// Each hull's rim as one more thing that all photos of the open device show.
pub(crate) fn as_estimates(
    hulls: &[OpenHull],
    insides: &[Inside],
    poses: &[Pose],
) -> Vec<Estimate> {
    hulls
        .iter()
        .filter_map(|of| {
            let points = rim_points(of, &insides[of.photo]);
            let seen: Vec<(usize, f64, Held)> = hulls
                .iter()
                .filter_map(|there| {
                    let across = poses[there.photo].after(poses[of.photo].inverse());
                    // In its own photo it is where it is.
                    let reach = if there.photo == of.photo { 0 } else { STARTS };
                    let spot = of.spot.carried(across);
                    let (score, held) = seen_in(&points, of, spot, reach, &insides[there.photo])?;
                    Some((there.photo, score, held))
                })
                .collect();
            let own = seen.iter().find(|s| s.0 == of.photo)?.1.max(1e-6);
            let observations: Vec<Observation> = seen
                .into_iter()
                .filter(|(_, score, _)| *score > LEAST_SHARE * own)
                .map(|(photo, score, held)| Observation {
                    photo,
                    held,
                    weight: (score / own).powi(2).min(1.0),
                })
                .collect();
            (observations.len() > 1).then(|| Estimate {
                spot: of.spot.carried(poses[of.photo].inverse()),
                top_mm: of.top_mm,
                top_sigma_mm: HEIGHT_SIGMA_MM,
                radius_mm: of.radius_mm,
                outline_sigma_mm: 0.3,
                observations,
                prior_mm: [of.top_mm, HEIGHT_SIGMA_MM],
            })
        })
        .collect()
}

/// The edges that a photo shows on and beside the rim, about the hull's middle.
fn rim_points(of: &OpenHull, inside: &Inside) -> Vec<EdgePoint> {
    let outline = filled(&of.outline);
    let grown = shape::offset(std::slice::from_ref(&outline), BAND_MM[1]);
    let within = shape::offset(std::slice::from_ref(&outline), -BAND_MM[0]);
    let holds = |all: &[Outline], p: Point| all.iter().any(|o| o.contains(p));
    let picture = &inside.picture;
    let scale = inside.scale_at(of.top_mm);
    let back = Complex32::from_polar(1.0, -of.spot.turn as f32);
    let (s, c) = of.spot.turn.sin_cos();
    let grey = |i: usize, j: usize| of_brightness(gradients(picture, i, j));
    let mut all = Vec::new();
    for j in 1..picture.height.saturating_sub(1) {
        for i in 1..picture.width.saturating_sub(1) {
            let g = grey(i, j);
            let length = g.norm();
            let weight = length / (length + SURE_STEP);
            if weight < LEAST_EDGE {
                continue;
            }
            // The crest of an edge alone.
            let (x, y) = (
                (g.re / length).round() as isize,
                (g.im / length).round() as isize,
            );
            let beside = |by: isize| {
                grey(
                    (i as isize + by * x) as usize,
                    (j as isize + by * y) as usize,
                )
                .norm()
            };
            if beside(1) > length || beside(-1) > length {
                continue;
            }
            let k = picture.px_per_mm;
            let seen = picture.origin + Vector::new(i as f64 / k, j as f64 / k);
            let on_sheet = inside.nadir + (seen - inside.nadir) * (1.0 / scale);
            if !holds(&grown, on_sheet) || holds(&within, on_sheet) {
                continue;
            }
            let arm = on_sheet - of.spot.centre;
            all.push(EdgePoint {
                at: [c * arm.x + s * arm.y, c * arm.y - s * arm.x],
                way: g / length * back,
                weight,
                rim: true,
            });
        }
    }
    thin_out(&mut all, MOST_POINTS);
    all
}

/// Where a photo shows the rim near a spot of its sheet, and how well edges agree there. It is looked for from `reach` places on every
/// side of the spot.
fn seen_in(
    points: &[EdgePoint],
    of: &OpenHull,
    spot: Spot,
    reach: i32,
    inside: &Inside,
) -> Option<(f64, Held)> {
    let scale = inside.scale_at(of.top_mm);
    let steps = Steps {
        place_mm: 0.6,
        turn: 0.6 / of.radius_mm.max(1.0),
        scale: 0.0,
        halvings: 3,
    };
    let step = OFF_MM / f64::from(STARTS);
    let best = (-reach..=reach)
        .flat_map(|x| (-reach..=reach).map(move |y| (x, y)))
        .map(|(x, y)| {
            let off = Vector::new(f64::from(x) * step, f64::from(y) * step);
            let from = Spot {
                centre: spot.centre + off,
                ..spot
            };
            let stand = inside.stand_of(from, of.top_mm);
            let from = Candidate { stand, score: 0.0 };
            climb(points, &inside.middle, from, steps, [scale, scale])
        })
        .max_by(|a, b| a.score.total_cmp(&b.score))?;
    let prior = [scale, HEIGHT_SIGMA_MM / inside.height_mm];
    let held = fit_edges(points, &inside.picture, best.stand, of.radius_mm, prior);
    Some((best.score, held))
}
