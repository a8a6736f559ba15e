//! The device's body in each photo, by the outline of its shell.
//!
//! A silhouette takes in shadows, and of a white shell on white paper it misses some. The outline of a shell is known to a
//! tenth: it is looked for by its edge, which runs round the open device in every photo, whatever lies in it.

mod lid;
mod look;

#[cfg(test)]
pub(crate) use lid::tests;
pub(crate) use look::look_for_rim;

use crate::confidence::{Kind, features};
use crate::joint::Estimate;
use crate::layers::{placed, placing};
use crate::look::{Seen, has_picture};
use crate::register::Spot;
use crate::sought::{Side, Sought, View};
use crate::swept::Body;
use crate::tied::Tied;
use shape::{Outline, Pose};

/// How far a place of the body may be from where the tie of its photo puts it, mm, and how far at its outline by the turn.
const NEAR_MM: [f64; 2] = [3.0, 6.0];

/// How well the body's place is known from its edge, one sigma, mm: walls are rounded, and lids are not quite their hulls.
const EDGE_MM: f64 = 0.2;

/// Edges that agree so well show the device's body, and with this chance its shell by that alone, whatever its face looks like.
const LEAST_OF_SHELL: f64 = 0.3;
const BY_RIM: f64 = 0.6;

/// The outline that stands for the device's body, and where each photo may show it.
pub(crate) struct Rim {
    /// As seen from the side that looks up; no holes, no picture.
    pub(crate) view: View,
    /// By photo, the best first.
    sightings: Vec<Vec<Body>>,
    /// The parts that are shells, by their numbers, and the pose that lays the body's outline on each's.
    shells: Vec<(usize, Pose)>,
    /// How many of the possible heights are one shell's: of the open hull.
    singles: usize,
    /// The part that is the hull, which stands on the sheet in every photo.
    hull: Option<usize>,
}

/// Where one of two outlines lies, from where the other one does; the pose carries the second onto the first.
fn carried(spot: Spot, from: &View, to: &View, from_from_to: Pose) -> Spot {
    let sheet_from_to = placing(from, spot).after(from_from_to);
    Spot {
        centre: sheet_from_to.apply(to.centre),
        turn: sheet_from_to.turn_deg.to_radians(),
    }
}

impl Rim {
    /// The parts that are the device's shells.
    pub(crate) fn shells(&self) -> Vec<usize> {
        self.shells.iter().map(|s| s.0).collect()
    }

    /// Whether a part is one of the device's shells.
    fn is_shell(&self, part: usize) -> bool {
        self.shells.iter().any(|s| s.0 == part)
    }

    /// Where a photo may show the body, and how well edges agree there.
    pub(crate) fn places(&self, photo: usize) -> Vec<(Spot, f64)> {
        let place = |b: &Body| (b.spot, b.agreement.max(0.0));
        self.sightings[photo].iter().map(place).collect()
    }

    /// A shell lies where the body lies: what was seen of it elsewhere is let go, and it is looked at there.
    pub(crate) fn place_shells(
        &self,
        parts: &[Sought],
        views: &[View],
        side: Side,
        tied: Tied<'_>,
        seen: &mut [Vec<Vec<Seen>>],
    ) {
        let Some(body) = self.agreed(tied) else {
            return;
        };
        for &(part, shell_from_body) in &self.shells {
            let view = &views[part];
            for (k, inside, pose) in tied.photos() {
                let there = body.carried(pose);
                let spot = carried(there, &self.view, view, shell_from_body.inverse());
                let all = &mut seen[k][part];
                all.retain(|s| inside.spot(&s.0).is_near(spot, view.radius_mm, NEAR_MM));
                let top_mm = self
                    .near(k, there)
                    .map_or_else(|| parts[part].thickness_mm.unwrap_or(0.0), |b| b.top_mm);
                let stand = inside.stand_of(spot, top_mm);
                let sighting = inside.look_at(view, side, stand, 1.0);
                let kind = Kind::of(!has_picture(&parts[part], side));
                let body = self.near(k, there).filter(|b| b.agreement > LEAST_OF_SHELL);
                let shown =
                    body.is_some_and(|b| (b.height < self.singles) == (Some(part) == self.hull));
                let by_rim = if shown { BY_RIM } else { 0.0 };
                let chance = kind.alone(&sighting).max(by_rim);
                let features = features(&sighting, sighting.score);
                all.push((sighting, features, chance));
                all.sort_by(|a, b| b.2.total_cmp(&a.2));
            }
        }
    }

    /// The body as one more thing that all photos show, standing on the sheet. `None` where only one photo shows it.
    pub(crate) fn as_estimate(&self, tied: Tied<'_>) -> Option<Estimate> {
        let first = self.agreed(tied)?;
        let sightings = tied.photos().filter_map(|(k, _, pose)| {
            // Its height is its own in each photo, a lid more or less, and taken off.
            let seen = self.near(k, first.carried(pose))?;
            Some((k, seen.spot, seen.agreement.clamp(0.05, 1.0)))
        });
        Estimate::of_body(first, self.view.radius_mm, EDGE_MM, sightings, tied.insides)
    }

    /// Where each shell lies when the body lies there.
    pub(crate) fn shells_at<'a>(
        &'a self,
        body: Spot,
        views: &'a [View],
    ) -> impl Iterator<Item = (usize, Spot)> + 'a {
        self.shells.iter().map(move |&(part, shell_from_body)| {
            let way = shell_from_body.inverse();
            (part, carried(body, &self.view, &views[part], way))
        })
    }

    /// The place on the first photo's sheet for which all photos together speak most.
    fn agreed(&self, tied: Tied<'_>) -> Option<Spot> {
        let all = tied.photos().flat_map(|(k, _, pose)| {
            let back = pose.inverse();
            self.sightings[k].iter().map(move |s| s.spot.carried(back))
        });
        let worth = |spot: &Spot| -> f64 {
            let there = tied
                .photos()
                .filter_map(|(k, _, pose)| self.near(k, spot.carried(pose)));
            there.map(|s| s.agreement).sum()
        };
        all.max_by(|a, b| worth(a).total_cmp(&worth(b)))
    }

    /// The body's outline on the first photo's sheet, where all photos together show it.
    pub(crate) fn outline(&self, tied: Tied<'_>) -> Option<Outline> {
        self.agreed(tied).map(|spot| self.outline_at(spot))
    }

    /// The best sighting near a place on a photo's own sheet: of those that agree alike, the nearest.
    fn near(&self, photo: usize, spot: Spot) -> Option<&Body> {
        let radius_mm = self.view.radius_mm;
        let worth = |s: &Body| {
            let off_mm = s.spot.centre.distance_mm(spot.centre);
            s.agreement * (1.0 - 0.5 * off_mm / NEAR_MM[0])
        };
        self.sightings[photo]
            .iter()
            .filter(|s| s.spot.is_near(spot, radius_mm, NEAR_MM))
            .max_by(|a, b| worth(a).total_cmp(&worth(b)))
    }

    /// The body's outline at a place.
    pub(crate) fn outline_at(&self, spot: Spot) -> Outline {
        placed(&self.view, spot)
    }
}
