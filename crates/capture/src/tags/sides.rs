//! A tag's corners from the blurred edges of its sides.
//!
//! Along each side, brightness profiles are taken across it in linear light, where the half-way level
//! of a blurred edge is its true place. A straight line is fitted through these places, and
//! neighbouring lines are intersected. A corner itself is never looked at: blur rounds it.
//!
//! The lens bows a side by a tenth of a pixel or so. To fit a bow here was measured to be worse than to
//! leave it (0.13 px for 0.09 px on the studio photos): the error of an edge's place is periodic where
//! the edge runs nearly along the pixel grid, and looks like a bow. The camera's solution knows the
//! bow, and takes it off afterwards.

use crate::photo::{LinearLuma, PhotoPoint, meeting};

/// Places along a side at which its edge is looked for; one every two pixels is enough.
const MOST_PROFILES: usize = 80;

/// Part of a side at each end that is left out, since blur rounds the corners there: a share of the
/// side, and px.
const END_SHARE: f64 = 0.03;
const END_PX: f64 = 2.5;

/// Distance between samples of a profile, px.
const STEP_PX: f64 = 0.5;

/// How far a profile reaches to each side of the edge: a share of a cell (on the inside another cell
/// follows), within limits in px.
const REACH_CELLS: f64 = 0.8;
const REACH_PX: std::ops::RangeInclusive<f64> = 2.5..=10.0;

/// What whatever is not noise still moves an edge, px (sharpening, pixel grid, paper).
const FLOOR_PX: f64 = 0.02;

/// Corners with their uncertainty.
#[derive(Debug, Clone, Copy)]
pub(super) struct Corners {
    /// In the order of the corners that came in.
    pub(super) in_photo: [PhotoPoint; 4],
    /// One standard deviation of a corner in each direction, px, from the scatter about the fitted sides.
    pub(super) sigma_px: f64,
    /// How far the brightness takes to rise from 10 % to 90 % across the more blurred pair of sides, px.
    pub(super) rise_px: f64,
    /// The share of a side, about its middle, that a line was fitted to; the mean of the four.
    pub(super) fitted_share: f64,
}

/// Moves roughly known corners (within about two pixels; clockwise as seen) to where the sides meet.
/// `None` where a side has no clear edge.
pub(super) fn refine(luma: &LinearLuma, rough: &[PhotoPoint; 4]) -> Option<Corners> {
    let mut corners = Corners {
        in_photo: *rough,
        sigma_px: 0.0,
        rise_px: 0.0,
        fitted_share: 0.0,
    };
    // The first round brings the profiles to the edge, the second measures.
    for _ in 0..2 {
        let c = corners.in_photo;
        let sides: [Side; 4] = array_of(|i| Side::fitted(luma, c[i], c[(i + 1) % 4]))?;
        corners.in_photo = array_of(|i| sides[(i + 3) % 4].meets(&sides[i]))?;
        let moved = (0..4).map(|i| corners.in_photo[i].distance_px(c[i]));
        if moved.fold(0.0, f64::max) > 4.0 * REACH_PX.start() {
            return None;
        }
        let of_sides = |f: fn(&Side) -> f64| sides.iter().map(f).sum::<f64>() / 4.0;
        corners.sigma_px = of_sides(|s| s.end_sigma_px * s.end_sigma_px).sqrt();
        corners.fitted_share = of_sides(|s| 1.0 - 2.0 * end_share(s.length_px));
        // A moving camera blurs one pair of opposite sides only: the worse pair counts.
        let pair = |i: usize| 0.5 * (sides[i].rise_px + sides[i + 2].rise_px);
        corners.rise_px = pair(0).max(pair(1));
    }
    Some(corners)
}

fn array_of<T>(each: impl Fn(usize) -> Option<T>) -> Option<[T; 4]> {
    Some([each(0)?, each(1)?, each(2)?, each(3)?])
}

/// The share of a side that is left out at each of its ends.
fn end_share(length_px: f64) -> f64 {
    END_SHARE.max(END_PX / length_px).min(0.25)
}

/// A side: the chord it was looked for along, and where the edge lies off the chord.
struct Side {
    start: PhotoPoint,
    /// Unit vectors along the chord and out of the tag.
    along: [f64; 2],
    outward: [f64; 2],
    length_px: f64,
    /// How far outwards of the chord the edge is at its start and at its end, px.
    offsets_px: [f64; 2],
    end_sigma_px: f64,
    rise_px: f64,
}

impl Side {
    fn fitted(luma: &LinearLuma, start: PhotoPoint, end: PhotoPoint) -> Option<Self> {
        let length_px = start.distance_px(end);
        let along = [(end.x - start.x) / length_px, (end.y - start.y) / length_px];
        let mut side = Self {
            start,
            along,
            // Clockwise as seen with y down: outwards is to the left of the way.
            outward: [along[1], -along[0]],
            length_px,
            offsets_px: [0.0; 2],
            end_sigma_px: 0.0,
            rise_px: 0.0,
        };
        let cell_px = length_px / super::TAG_CELLS as f64;
        let reach = (REACH_CELLS * cell_px).clamp(*REACH_PX.start(), *REACH_PX.end());
        let end_share = end_share(length_px);
        let profiles = ((length_px / 2.0) as usize).clamp(8, MOST_PROFILES);
        let crossings: Vec<(f64, Crossing)> = (0..profiles)
            .filter_map(|i| {
                let t = end_share + (1.0 - 2.0 * end_share) * (i as f64 + 0.5) / profiles as f64;
                let profile = side.profile(luma, t, reach)?;
                Some((t, crossing(&profile, reach)?))
            })
            .collect();
        if crossings.len() < (profiles / 2).max(6) {
            return None;
        }
        let places: Vec<(f64, f64)> = crossings.iter().map(|(t, c)| (*t, c.at_px)).collect();
        (side.offsets_px, side.end_sigma_px) = fit_line(&places)?;
        let mut rises: Vec<f64> = crossings.iter().map(|(_, c)| c.rise_px).collect();
        rises.sort_by(f64::total_cmp);
        side.rise_px = rises[rises.len() / 2];
        Some(side)
    }

    /// Brightness across the side at share `t` of it, from `reach` inside to `reach` outside.
    fn profile(&self, luma: &LinearLuma, t: f64, reach: f64) -> Option<Vec<f64>> {
        let steps = (reach / STEP_PX) as i32;
        (-steps..=steps)
            .map(|i| {
                let p = self.at(t, f64::from(i) * STEP_PX);
                luma.holds(p).then(|| luma.between(p))
            })
            .collect()
    }

    /// The place at share `t` of the chord and `out` px outwards.
    fn at(&self, t: f64, out: f64) -> PhotoPoint {
        let on = t * self.length_px;
        PhotoPoint::new(
            self.start.x + on * self.along[0] + out * self.outward[0],
            self.start.y + on * self.along[1] + out * self.outward[1],
        )
    }

    /// Where this side's line meets the next one's.
    fn meets(&self, next: &Self) -> Option<PhotoPoint> {
        let ends = |side: &Self| [0.0, 1.0].map(|t| side.at(t, side.offsets_px[t as usize]));
        // Sides that are parallel within 3 degrees are no tag's.
        let least_px2 = 0.05 * self.length_px * next.length_px;
        meeting(ends(self), ends(next), least_px2)
    }
}

/// Where a profile crosses its half-way level.
struct Crossing {
    at_px: f64,
    rise_px: f64,
}

/// Finds the crossing nearest to the profile's middle, dark to light.
fn crossing(profile: &[f64], reach: f64) -> Option<Crossing> {
    let n = profile.len();
    let plateau = (n / 5).max(1);
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let (dark, light) = (mean(&profile[..plateau]), mean(&profile[n - plateau..]));
    let contrast = light - dark;
    // Less than a quarter of the light level is glare or another thing lying there.
    if contrast < 0.01 || contrast < 0.25 * light {
        return None;
    }
    let place = |level: f64| {
        let value = dark + level * contrast;
        (1..n)
            .filter(|&i| profile[i - 1] < value && profile[i] >= value)
            .map(|i| {
                let between = (value - profile[i - 1]) / (profile[i] - profile[i - 1]);
                ((i - 1) as f64 + between) * STEP_PX - ((n - 1) / 2) as f64 * STEP_PX
            })
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))
    };
    let at_px = place(0.5)?;
    let rise_px = match (place(0.1), place(0.9)) {
        (Some(low), Some(high)) if high > low => high - low,
        // The plateaus are not reached: wider than can be seen.
        _ => 2.0 * reach,
    };
    Some(Crossing { at_px, rise_px })
}

/// Fits a straight line to offsets at shares 0 to 1 of a side, with little weight for what lies off (Tukey's
/// biweight, scale from the median). Returns the offsets at both ends, px, and one standard deviation there.
fn fit_line(places: &[(f64, f64)]) -> Option<([f64; 2], f64)> {
    let mut weights = vec![1.0; places.len()];
    let mut line = ([0.0; 2], 0.0);
    for _ in 0..6 {
        let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
            let weighted = places.iter().zip(&weights);
            weighted.map(|(&(t, offset), w)| w * f(t, offset)).sum()
        };
        let n = sum(&|_, _| 1.0);
        let (t_mean, mean) = (sum(&|t, _| t) / n, sum(&|_, offset| offset) / n);
        let spread = sum(&|t, _| (t - t_mean).powi(2));
        let slope = sum(&|t, offset| (t - t_mean) * (offset - mean)) / spread;
        let at = |t: f64| mean + slope * (t - t_mean);
        let misses: Vec<f64> = places
            .iter()
            .map(|&(t, offset)| (offset - at(t)).abs())
            .collect();
        let mut sorted = misses.clone();
        sorted.sort_by(f64::total_cmp);
        // 1.4826: a normal distribution's standard deviation over its median miss.
        let sigma = (1.4826 * sorted[sorted.len() / 2]).max(FLOOR_PX);
        for (w, miss) in weights.iter_mut().zip(&misses) {
            let r = miss / (4.685 * sigma);
            *w = if r < 1.0 { (1.0 - r * r).powi(2) } else { 0.0 };
        }
        let variance = sigma * sigma * (1.0 / n + (1.0 - t_mean).powi(2) / spread);
        line = ([at(0.0), at(1.0)], (variance + FLOOR_PX * FLOOR_PX).sqrt());
    }
    (line.0.iter().all(|v| v.is_finite()) && line.1.is_finite()).then_some(line)
}
