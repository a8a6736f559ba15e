//! Finding every tag of a photo.

use super::decode::{Reading, read_cells};
use super::half_size::HalfSize;
use super::quad::inscribed_quad;
use super::regions::{Region, Wanted, dark_regions};
use super::sides::refine;
use crate::photo::{LinearLuma, PhotoPoint};
use std::collections::BTreeSet;

/// A tag seen in a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct DetectedTag {
    /// Its id in the family 36h11.
    pub id: u32,
    /// Its corners as printed: upper left, upper right, lower right, lower left.
    pub corners_in_photo: [PhotoPoint; 4],
    /// Cells that were misread (0 to 3).
    pub hamming: u32,
    /// One standard deviation of a corner in each direction, px.
    pub corner_sigma_px: f64,
    /// How far the brightness takes to rise from 10 % to 90 % across its more blurred pair of sides, px.
    pub rise_px: f64,
    /// The share of a side, about its middle, that a line was fitted to: less of small tags, whose corners blur takes more of.
    pub fitted_share: f64,
}

/// What [`detect`] found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TagsSeen {
    /// Every tag, by id; one that was seen at two places is here twice.
    pub tags: Vec<DetectedTag>,
    /// Ids that were seen more than once.
    pub repeated: Vec<u32>,
    /// Ids that were seen as in a mirror, with each place counted.
    pub mirrored: Vec<u32>,
}

impl TagsSeen {
    /// The middle one of all tags' rises, px; `None` without tags.
    pub fn rise_px(&self) -> Option<f64> {
        let mut rises: Vec<f64> = self.tags.iter().map(|t| t.rise_px).collect();
        rises.sort_by(f64::total_cmp);
        rises.get(rises.len() / 2).copied()
    }
}

/// A pixel counts as dark below this share of its surroundings' mean; the second, more tolerant share is
/// for tags that glare or a shadow's edge greyed.
const DARK_SHARES: [f64; 2] = [0.68, 0.84];

/// Half-size pixels from a tag's edge to the middle of its surroundings: small tags have cells of 2.5.
const LEAST_REACH: usize = 12;

/// Smallest tag side looked for, half-size px: 2 px a cell.
const LEAST_SIDE: u32 = 16;

/// Finds every tag of the family 36h11 in a photo. Tags need a white rim of a cell and a side of
/// about 40 px or more. One under glare or something else is simply not there.
///
/// The result does not depend on the number of threads.
pub fn detect(luma: &LinearLuma) -> TagsSeen {
    let view = HalfSize::of(luma);
    let short = view.width.min(view.height);
    let wanted = Wanted {
        least_side: LEAST_SIDE,
        greatest_side: short as u32,
    };
    let reach = (short / 60).max(LEAST_REACH);
    let mut seen = TagsSeen::default();
    let mut mirrored: Vec<(u32, PhotoPoint)> = Vec::new();
    for share in DARK_SHARES {
        for region in dark_regions(&view, reach, share, &wanted) {
            let Some((reading, corners)) = read_region(luma, &region) else {
                continue;
            };
            if reading.mirrored {
                let [place, ..] = corners;
                let known =
                    |m: &(u32, PhotoPoint)| m.0 == reading.id && m.1.distance_px(place) < 8.0;
                if !mirrored.iter().any(known) {
                    mirrored.push((reading.id, place));
                }
                continue;
            }
            let known = |t: &DetectedTag| {
                t.id == reading.id && t.corners_in_photo[0].distance_px(corners[0]) < 8.0
            };
            if seen.tags.iter().any(known) {
                continue;
            }
            if let Some(refined) = refine(luma, &corners) {
                seen.tags.push(DetectedTag {
                    id: reading.id,
                    corners_in_photo: refined.in_photo,
                    hamming: reading.misread,
                    corner_sigma_px: refined.sigma_px,
                    rise_px: refined.rise_px,
                    fitted_share: refined.fitted_share,
                });
            }
        }
    }
    // Stable: of two places with one id, the one nearer the top comes first.
    seen.tags.sort_by_key(|t| t.id);
    let repeated: BTreeSet<u32> = seen
        .tags
        .windows(2)
        .filter(|pair| pair[0].id == pair[1].id)
        .map(|pair| pair[0].id)
        .collect();
    seen.repeated = repeated.into_iter().collect();
    seen.mirrored = mirrored.into_iter().map(|(id, _)| id).collect();
    seen.mirrored.sort_unstable();
    seen
}

/// Reads a region's cells; corners come out as printed (upper left first), in full-size pixels.
fn read_region(luma: &LinearLuma, region: &Region) -> Option<(Reading, [PhotoPoint; 4])> {
    let quad = inscribed_quad(&region.rim)?;
    let mut corners = quad.map(|[x, y]| PhotoPoint::new(2.0 * x + 0.5, 2.0 * y + 0.5));
    if !dark_share_fits(region, &corners) {
        return None;
    }
    // From the centres of the outermost half-size pixels to their outer corners.
    let n = corners.len() as f64;
    let centre = PhotoPoint::new(
        corners.iter().map(|c| c.x).sum::<f64>() / n,
        corners.iter().map(|c| c.y).sum::<f64>() / n,
    );
    for corner in &mut corners {
        let away = corner.distance_px(centre);
        let grown = 1.0 + std::f64::consts::SQRT_2 / away;
        corner.x = centre.x + grown * (corner.x - centre.x);
        corner.y = centre.y + grown * (corner.y - centre.y);
    }
    let reading = read_cells(luma, &corners)?;
    corners.rotate_left(reading.first_corner);
    Some((reading, corners))
}

/// A tag is dark on its border, 28 of 64 cells, and on part of the other 36; of the largest tags, whose cells
/// are wider than the surroundings looked at, only the rim of the border.
fn dark_share_fits(region: &Region, corners: &[PhotoPoint; 4]) -> bool {
    let doubled: f64 = (0..4)
        .map(|i| {
            let (p, q) = (corners[i], corners[(i + 1) % 4]);
            p.x * q.y - q.x * p.y
        })
        .sum();
    // Four full-size pixels to one of half size.
    let share = 4.0 * f64::from(region.area) / (0.5 * doubled.abs());
    (0.1..=1.1).contains(&share)
}
