//! A camera from an ID-1 card that lies beside the parts, where there is no sheet.
//!
//! Four corners give the pose once the focal length is known; the rest of the lens is held by priors, so that what is
//! not known of it shows in how unsure sizes become away from the card.

mod sides;

use super::fit::{Fit, Sighting, State, fit, sigma_of};
use super::solve::lens_prior;
use super::start::Homography;
use super::{Camera, SheetPoint3};
use crate::photo::PhotoPoint;
use shape::{Outline, Point};
use sides::{FITTED_SHARE, StraightSides, straight_sides};

/// ISO/IEC 7810, ID-1: 85.60 x 53.98 mm, corners rounded to 3.18 mm, 0.76 mm thick.
pub const CARD_MM: [f64; 2] = [85.60, 53.98];
#[cfg(test)]
const CORNER_RADIUS_MM: f64 = 3.18;
const THICKNESS_MM: f64 = 0.76;

/// How well a card's own size is known, one sigma as a share: the standard lets new cards be about 0.12 mm off in length
/// and 0.05 mm in width (recalled, not verified).
pub(crate) const CARD_SIZE_SIGMA: f64 = 7e-4;

/// How well a side is known where a soft shade lies along it, one sigma, mm: the whole side moves together.
const SIDE_SIGMA_MM: f64 = 0.1;

/// Standard deviation of k1 and k2 about zero for a photo that a telephone has corrected (recalled, not verified):
/// four corners cannot tell them.
const K_SIGMA: f64 = 0.03;

/// What the nearest point of the outline is away from where its sides meet: r (sqrt 2 - 1) = 1.32 mm on a card; a sharp
/// corner leaves a few tenths, and round parts more.
const CORNER_CUT_MM: std::ops::RangeInclusive<f64> = 0.7..=2.1;

/// Corners' misses, mm, up to which a four-sided part counts as a card. A board 1 % longer than a card misses by 0.3.
const MOST_RMS_MM: f64 = 0.25;

/// A card's outline is at least as long as this share of the photo's diagonal: it is then 100 px wide in 2 MP.
const LEAST_PERIMETER: f64 = 0.12;

/// A photo taken at a greater slant than this measures nothing well, degrees.
const MOST_LEAN_DEG: f64 = 50.0;

/// Why no card gave a camera.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CardError {
    /// Nothing looks like one.
    #[error(
        "no card is seen; lay a bank or identity card (ID-1, 85.60 x 53.98 mm) flat beside the parts, all of it in the \
         photo, on an even surface that it stands out from"
    )]
    NoCard,
    /// More than one thing looks like one.
    #[error("{count} things look like a card; leave one of them in the photo")]
    SeveralCards {
        /// How many.
        count: usize,
    },
    /// The photo shows no even surface.
    #[error(
        "no even surface is seen round the parts; lay them and the card on plain paper, and light it evenly"
    )]
    NoBackground,
    /// A card, and nothing else.
    #[error("no part is seen beside the card; lay the parts round it, apart from each other")]
    NothingThere,
}

/// A camera that was found from a card. Its plane is the one the card lies on: mm from the card's lower-left corner as
/// the photo shows it, x along its lower side.
#[derive(Debug, Clone)]
pub struct BesideCard {
    /// The camera.
    pub camera: Camera,
    /// Where straight lines through the card's sides meet in the photo: upper left, upper right, lower right, lower
    /// left as the photo shows it.
    pub corners_in_photo: [PhotoPoint; 4],
    /// The card's size along x and y, mm.
    pub size_mm: [f64; 2],
    /// Root mean square of the corners' misses, px.
    pub corner_rms_px: f64,
    /// The same, mm.
    pub corner_rms_mm: f64,
    /// The file told the focal length; else a telephone's main camera is assumed.
    pub focal_known: bool,
    /// One standard deviation of the camera's height, mm.
    pub height_sigma_mm: f64,
    /// Width and height of the photo, px.
    pub(crate) size_px: [u32; 2],
    fit: Fit,
}

impl BesideCard {
    /// One standard deviation, mm, of half the distance between two points of the plane as the camera measures it: how
    /// far the outline of a part of that extent may be off. Grows away from the card.
    pub(crate) fn sigma_mm_between(&self, a: Point, b: Point) -> Option<f64> {
        let see = |p: Point| self.camera.project(SheetPoint3::over(p, 0.0));
        let (p, q) = (see(a)?, see(b)?);
        sigma_of(&self.fit, |s| {
            let at = |p| s.camera.sheet_from_photo(p, 0.0);
            Some(0.5 * at(p)?.distance_mm(at(q)?))
        })
    }

    /// The card's place in its own plane, without the rounding of its corners.
    pub(crate) fn card(&self) -> Option<Outline> {
        Outline::rectangle(Point::default(), self.size_mm.into()).ok()
    }

    /// The middle of the card.
    pub(crate) fn middle(&self) -> Point {
        Point::new(0.5 * self.size_mm[0], 0.5 * self.size_mm[1])
    }
}

/// Finds the one card among closed lines in a photo.
///
/// # Errors
/// [`CardError::NoCard`] and [`CardError::SeveralCards`].
pub(crate) fn find_card(
    rings_px: &[Vec<[f64; 2]>],
    size_px: [u32; 2],
    focal_35mm: Option<f64>,
) -> Result<BesideCard, CardError> {
    let [w, h] = size_px.map(f64::from);
    let least_px = LEAST_PERIMETER * w.hypot(h);
    let mut cards: Vec<BesideCard> = rings_px
        .iter()
        .filter_map(|ring| straight_sides(ring, least_px))
        .filter(has_card_corners)
        .filter_map(|sides| solve_card(&sides, size_px, focal_35mm))
        .filter(|card| card.corner_rms_mm <= MOST_RMS_MM)
        .collect();
    match cards.len() {
        1 => cards.pop().ok_or(CardError::NoCard),
        0 => Err(CardError::NoCard),
        count => Err(CardError::SeveralCards { count }),
    }
}

/// Whether the corners are rounded as a card's are.
fn has_card_corners(sides: &StraightSides) -> bool {
    let px_per_mm = sides.perimeter_px() / (2.0 * (CARD_MM[0] + CARD_MM[1]));
    sides
        .corner_cuts_px
        .iter()
        .all(|cut| CORNER_CUT_MM.contains(&(cut / px_per_mm)))
}

/// The camera that sees a card so; `None` where none does.
fn solve_card(
    sides: &StraightSides,
    size_px: [u32; 2],
    focal_35mm: Option<f64>,
) -> Option<BesideCard> {
    let corners = from_upper_left(sides.corners);
    let [long, short] = CARD_MM;
    [[long, short], [short, long]]
        .into_iter()
        .filter_map(|size_mm| solve_lying(corners, sides.rms_px, size_mm, size_px, focal_35mm))
        .min_by(|a, b| a.fit.cost.total_cmp(&b.fit.cost))
}

fn solve_lying(
    corners: [PhotoPoint; 4],
    rms_px: f64,
    [w, h]: [f64; 2],
    size_px: [u32; 2],
    focal_35mm: Option<f64>,
) -> Option<BesideCard> {
    let on_plane = [
        Point::new(0.0, h),
        Point::new(w, h),
        Point::new(w, 0.0),
        Point::new(0.0, 0.0),
    ];
    let (prior, starts_px) = lens_prior(size_px, focal_35mm, K_SIGMA);
    let pairs: [_; 4] = std::array::from_fn(|i| (on_plane[i], corners[i]));
    let map = Homography::through(&pairs)?;
    let mut sighting = Sighting {
        id: 0,
        on_sheet: on_plane,
        in_photo: corners,
        sigma_px: rms_px,
        fitted_share: FITTED_SHARE,
        side_heights_mm: [THICKNESS_MM; 4],
    };
    sighting.sigma_px = rms_px.hypot(SIDE_SIGMA_MM * sighting.px_per_mm());
    let mut best: Option<Fit> = None;
    for focal_px in starts_px {
        let Some(camera) = map.camera(focal_px, prior.middle) else {
            continue;
        };
        let state = State {
            camera,
            edge_shift_px: 0.0,
            aspect: 0.0,
        };
        // Which edge of a side shows, the upper or the lower, depends on where the camera stands.
        let mut fitted = fit(state, std::slice::from_ref(&sighting), prior);
        for _ in 0..2 {
            let Some(found) = fitted else { break };
            sighting.side_heights_mm = sides_seen(found.state.camera.nadir(), [w, h]);
            fitted = fit(found.state, std::slice::from_ref(&sighting), prior);
        }
        best = best
            .into_iter()
            .chain(fitted)
            .min_by(|a, b| a.cost.total_cmp(&b.cost));
    }
    let fit = best?;
    let camera = fit.state.camera;
    if camera.height_mm() <= 0.0 || camera.tilt_deg() > MOST_LEAN_DEG {
        return None;
    }
    sighting.side_heights_mm = sides_seen(camera.nadir(), [w, h]);
    let expected = fit.state.corners(&sighting)?.measured;
    let square: f64 = (0..4)
        .map(|i| expected[i].distance_px(corners[i]).powi(2))
        .sum();
    let corner_rms_px = (square / 4.0).sqrt();
    // An aspect that its prior had to give way to is a miss too: half of it at each end.
    let aspect_mm = 0.25 * fit.state.aspect.abs() * (w + h);
    let px_per_mm = camera.px_per_mm(Point::new(0.5 * w, 0.5 * h))?;
    Some(BesideCard {
        corner_rms_mm: (corner_rms_px / px_per_mm).hypot(aspect_mm),
        corner_rms_px,
        camera,
        corners_in_photo: corners,
        size_mm: [w, h],
        focal_known: focal_35mm.is_some(),
        height_sigma_mm: sigma_of(&fit, |s| Some(s.camera.height_mm()))?,
        size_px,
        fit,
    })
}

/// How high the edge lies that shows along each side: the upper one where the side faces away from the nadir.
fn sides_seen(nadir: Point, [w, h]: [f64; 2]) -> [f64; 4] {
    let upper = [nadir.y < h, nadir.x < w, nadir.y > 0.0, nadir.x > 0.0];
    upper.map(|u| if u { THICKNESS_MM } else { 0.0 })
}

/// Corners in the order upper left, upper right, lower right, lower left: the upper side is the one that runs most to
/// the right.
fn from_upper_left(corners: [[f64; 2]; 4]) -> [PhotoPoint; 4] {
    let mut p = corners.map(|[x, y]| PhotoPoint::new(x, y));
    let doubled_area: f64 = (0..4)
        .map(|i| (p[i], p[(i + 1) % 4]))
        .map(|(a, b)| a.x * b.y - b.x * a.y)
        .sum();
    // With y down, clockwise as seen is a positive area.
    if doubled_area < 0.0 {
        p.reverse();
    }
    let rightwards = |i: usize| {
        let (a, b) = (p[i], p[(i + 1) % 4]);
        (b.x - a.x) / a.distance_px(b).max(1e-9)
    };
    let first = (0..4)
        .max_by(|&i, &j| rightwards(i).total_cmp(&rightwards(j)))
        .unwrap_or(0);
    std::array::from_fn(|i| p[(first + i) % 4])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A camera 350 mm over the card, 6 degrees aslant, without distortion.
    fn camera() -> Camera {
        let (sin, cos) = 6f64.to_radians().sin_cos();
        Camera {
            focal_px: 3000.0,
            centre_px: PhotoPoint::new(2015.5, 1511.5),
            k1: 0.0,
            k2: 0.0,
            rotation: [[1.0, 0.0, 0.0], [0.0, -cos, sin], [0.0, -sin, -cos]],
            translation_mm: [-60.0, 30.0, 350.0],
        }
    }

    const SIZE_PX: [u32; 2] = [4032, 3024];

    fn focal_35mm() -> f64 {
        3000.0 * super::super::FULL_FRAME_DIAGONAL_MM / 4032f64.hypot(3024.0)
    }

    /// A plate with rounded corners, seen from above: its upper rim and what shows of its lower one.
    fn plate([w, h]: [f64; 2], radius_mm: f64, thickness_mm: f64) -> Vec<[f64; 2]> {
        let rim = |z: f64| -> Vec<Point> {
            let arc = |cx: f64, cy: f64, from: f64| {
                (0..=20).map(move |i| {
                    let a = (from + 4.5 * f64::from(i)).to_radians();
                    Point::new(cx + radius_mm * a.cos(), cy + radius_mm * a.sin())
                })
            };
            arc(w - radius_mm, radius_mm, -90.0)
                .chain(arc(w - radius_mm, h - radius_mm, 0.0))
                .chain(arc(radius_mm, h - radius_mm, 90.0))
                .chain(arc(radius_mm, radius_mm, 180.0))
                .map(|p| camera().project(SheetPoint3::over(p, z)).unwrap())
                .map(|p| Point::new(p.x, p.y))
                .collect()
        };
        let (lower, upper) = (rim(0.0), rim(thickness_mm));
        let n = lower.len();
        let mut pieces = vec![
            Outline::try_new(lower.clone(), vec![]).unwrap(),
            Outline::try_new(upper.clone(), vec![]).unwrap(),
        ];
        for i in 0..n {
            let j = (i + 1) % n;
            let wall = vec![lower[i], lower[j], upper[j], upper[i]];
            pieces.extend(Outline::try_new(wall, vec![]).ok());
        }
        let all = shape::union(&pieces);
        all[0]
            .outer()
            .points()
            .iter()
            .map(|p| <[f64; 2]>::from(*p))
            .collect()
    }

    /// Truth: by construction.
    #[test]
    fn a_card_gives_the_camera_that_sees_it() {
        let ring = plate(CARD_MM, CORNER_RADIUS_MM, THICKNESS_MM);
        let card = find_card(&[ring], SIZE_PX, Some(focal_35mm())).unwrap();
        let (found, truth) = (card.camera, camera());
        assert!(
            (found.height_mm() - truth.height_mm()).abs() < 1.0,
            "{}",
            found.height_mm()
        );
        assert!(
            found.nadir().distance_mm(truth.nadir()) < 2.0,
            "{:?}",
            found.nadir()
        );
        for p in [
            Point::new(0.0, 0.0),
            Point::new(85.6, 53.98),
            Point::new(150.0, 20.0),
            Point::new(40.0, 120.0),
        ] {
            let seen = truth.project(SheetPoint3::over(p, 0.0)).unwrap();
            let at = found.sheet_from_photo(seen, 0.0).unwrap();
            assert!(at.distance_mm(p) < 0.1, "{p:?} {at:?}");
        }
        // Farther from the card, sizes are less sure.
        let sigma = |x: f64| {
            let (a, b) = (Point::new(x, 20.0), Point::new(x + 30.0, 20.0));
            card.sigma_mm_between(a, b).unwrap()
        };
        assert!(
            sigma(160.0) > 1.5 * sigma(30.0),
            "{} {}",
            sigma(160.0),
            sigma(30.0)
        );
    }

    #[test]
    fn what_is_nearly_a_card_is_none() {
        let of = |size, radius| {
            find_card(
                &[plate(size, radius, THICKNESS_MM)],
                SIZE_PX,
                Some(focal_35mm()),
            )
            .map(|c| c.corner_rms_mm)
        };
        // Sharp corners; 3 % longer; a part of other proportions.
        assert_eq!(of(CARD_MM, 0.05), Err(CardError::NoCard));
        assert_eq!(of([88.2, 53.98], CORNER_RADIUS_MM), Err(CardError::NoCard));
        assert_eq!(of([70.0, 60.0], CORNER_RADIUS_MM), Err(CardError::NoCard));
    }

    #[test]
    fn two_cards_are_one_too_many() {
        let ring = plate(CARD_MM, CORNER_RADIUS_MM, THICKNESS_MM);
        assert_eq!(
            find_card(&[ring.clone(), ring], SIZE_PX, None).map(|_| ()),
            Err(CardError::SeveralCards { count: 2 })
        );
    }
}
