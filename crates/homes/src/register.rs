//! How the photos belong together: the device lies anew on the sheet in each of them.

use crate::inside::{Inside, Sighting};
use crate::search::{Stand, turned_by};
use shape::registration::{Options, register};
use shape::{Cancelled, Outline, Point, Pose, Silent, Vector, Watch};

/// A part's place on a plane: its centre and its turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    pub(crate) centre: Point,
    /// Radians counter-clockwise.
    pub(crate) turn: f64,
}

impl Spot {
    /// Carried by a pose.
    pub(crate) fn carried(self, by: Pose) -> Self {
        Self {
            centre: by.apply(self.centre),
            turn: self.turn + by.turn_deg.to_radians(),
        }
    }

    /// Two spots of a thing of this radius are one: no farther apart than this, mm, in their centres and at the outline.
    pub(crate) fn is_near(
        self,
        other: Self,
        radius_mm: f64,
        [centre_mm, outline_mm]: [f64; 2],
    ) -> bool {
        self.centre.distance_mm(other.centre) < centre_mm
            && turned_by(self.turn, other.turn) * radius_mm < outline_mm
    }
}

impl Inside {
    /// Where a sighting's part lies on the sheet: what its height enlarges is taken off.
    pub(crate) fn spot(&self, sighting: &Sighting) -> Spot {
        self.spot_of(&sighting.held.stand)
    }

    /// The same of a pose on the plate.
    pub(crate) fn spot_of(&self, stand: &Stand) -> Spot {
        let seen = self.origin + Vector::new(stand.x, stand.y);
        Spot {
            centre: self.nadir + (seen - self.nadir) * (1.0 / stand.scale),
            turn: stand.turn,
        }
    }

    /// The pose on the plate of a part that lies at this spot of the sheet, its top at this height.
    pub(crate) fn stand_of(&self, spot: Spot, height_mm: f64) -> Stand {
        let scale = self.scale_at(height_mm);
        let seen = self.nadir + (spot.centre - self.nadir) * scale;
        Stand {
            x: seen.x - self.origin.x,
            y: seen.y - self.origin.y,
            turn: spot.turn,
            scale,
        }
    }
}

/// What ties two photos together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tie {
    /// Carries the sheet of the first photo onto the other's, so that the device comes to lie on itself.
    pub(crate) pose: Pose,
    /// Sum of what speaks for it: parts seen in both, each at most 1.
    pub(crate) parts: f64,
    /// Common share of both silhouettes, 0 to 1.
    pub(crate) silhouettes: f64,
}

/// Where both photos may show the device's body by its edge, each with how well edges agree there.
#[derive(Debug)]
pub(crate) struct RimPlaces {
    pub(crate) first: Vec<(Spot, f64)>,
    pub(crate) other: Vec<(Spot, f64)>,
    pub(crate) radius_mm: f64,
}

impl RimPlaces {
    /// How well edges agree in both photos where a pose lays a place of the first on one of the other; the best.
    fn agreement(&self, pose: Pose) -> f64 {
        let mut best = 0.0f64;
        for (a, there) in &self.first {
            let a = a.carried(pose);
            for (b, here) in &self.other {
                let off = a.centre.distance_mm(b.centre);
                let off = off.max(turned_by(a.turn, b.turn) * self.radius_mm);
                if off < NEAR_MM {
                    best = best.max((there + here) * (1.0 - 0.5 * off / NEAR_MM));
                }
            }
        }
        best
    }
}

/// How near two sightings of a part must come to be one, mm, and how near at its outline by their turns.
const NEAR_MM: f64 = 2.0;
pub(crate) const NEAR_AT_OUTLINE_MM: f64 = 2.5;

/// Ties a photo to the first by the parts that both show and by the device's silhouette.
///
/// `known` are spots on the first photo's sheet with their weights, `seen` those of the other photo, both by part.
pub(crate) fn tie(
    first: &Outline,
    other: &Outline,
    known: &[Vec<(Spot, f64)>],
    seen: &[Vec<(Spot, f64)>],
    radii: &[f64],
    rim: Option<&RimPlaces>,
    watch: &dyn Watch,
) -> Result<Tie, Cancelled> {
    watch.step("tying the photos together", 0.0)?;
    let mut poses = by_silhouettes(first, other)?;
    if let Some(rim) = rim {
        for (a, _) in &rim.first {
            poses.extend(rim.other.iter().map(|(b, _)| between(*a, *b)));
        }
    }
    for (k, s) in known.iter().zip(seen) {
        for (a, wa) in k.iter().take(4) {
            for (b, wb) in s.iter().take(4) {
                if wa * wb > 0.01 {
                    poses.push(between(*a, *b));
                }
            }
        }
    }
    let mut best: Option<(f64, Tie)> = None;
    for pose in poses {
        let parts = support(pose, known, seen, radii);
        let silhouettes = common(first, other, pose);
        let tie = Tie {
            pose,
            parts,
            silhouettes,
        };
        // A shell gone or there changes the silhouette by some percent; lying on itself in another way, by much more.
        let by_outlines = match rim {
            // Of a body that lies on itself the wrong way round, edges agree less by a tenth and more.
            Some(rim) => 4.0 * silhouettes + 10.0 * rim.agreement(pose),
            None => 10.0 * silhouettes,
        };
        let worth = parts + by_outlines;
        if best.as_ref().is_none_or(|(w, _)| worth > *w) {
            best = Some((worth, tie));
        }
    }
    Ok(best.map_or(
        Tie {
            pose: Pose::default(),
            parts: 0.0,
            silhouettes: 0.0,
        },
        |(_, tie)| tie,
    ))
}

/// The pose that carries one spot onto another.
fn between(a: Spot, b: Spot) -> Pose {
    Pose::bringing(a.centre, b.centre, (b.turn - a.turn).to_degrees())
}

/// How many parts a pose brings together, each weighed.
fn support(
    pose: Pose,
    known: &[Vec<(Spot, f64)>],
    seen: &[Vec<(Spot, f64)>],
    radii: &[f64],
) -> f64 {
    let mut sum = 0.0;
    for ((k, s), radius) in known.iter().zip(seen).zip(radii) {
        let mut best = 0.0f64;
        for (a, wa) in k {
            let a = a.carried(pose);
            for (b, wb) in s {
                let off = a.centre.distance_mm(b.centre);
                if a.is_near(*b, *radius, [NEAR_MM, NEAR_AT_OUTLINE_MM]) {
                    best = best.max(wa * wb * (1.0 - 0.5 * off / NEAR_MM));
                }
            }
        }
        sum += best;
    }
    sum
}

/// Common share of two outlines.
fn common(first: &Outline, other: &Outline, pose: Pose) -> f64 {
    let placed = filled(first).placed(pose);
    let other = filled(other);
    let both = shape::intersection_area_mm2(&placed, &other);
    both / (placed.area_mm2() + other.area_mm2() - both).max(1e-9)
}

/// An outline without its holes.
pub(crate) fn filled(outline: &Outline) -> Outline {
    Outline::try_new(outline.outer().points().to_vec(), Vec::new())
        .unwrap_or_else(|_| outline.clone())
}

/// The one with the most area.
pub(crate) fn largest(outlines: Vec<Outline>) -> Option<Outline> {
    outlines
        .into_iter()
        .max_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2()))
}

/// Poses that lay the silhouettes on each other, in all four quarter turns.
fn by_silhouettes(first: &Outline, other: &Outline) -> Result<Vec<Pose>, Cancelled> {
    let (a, b) = (filled(first), filled(other));
    let found = register(&a, &b, &Options::default(), &Silent)?;
    let pose = found.b_from_a;
    let middle = b.centroid();
    Ok((0..4)
        .map(|k| Pose::about(middle, 90.0 * f64::from(k)).after(pose))
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(x: f64, y: f64, turn_deg: f64) -> Spot {
        Spot {
            centre: Point::new(x, y),
            turn: turn_deg.to_radians(),
        }
    }

    #[test]
    fn a_pose_that_lays_rim_on_rim_agrees_most() {
        let places = RimPlaces {
            first: vec![
                (spot(100.0, 150.0, 0.0), 0.7),
                (spot(100.0, 151.0, 180.0), 0.6),
            ],
            other: vec![(spot(120.0, 140.0, 10.0), 0.8)],
            radius_mm: 60.0,
        };
        let right = between(places.first[0].0, places.other[0].0);
        let over = between(places.first[1].0, places.other[0].0);
        assert!((places.agreement(right) - 1.5).abs() < 1e-9);
        assert!((places.agreement(over) - 1.4).abs() < 1e-9);
        // A millimetre off it agrees less, far off not at all.
        let beside = Pose::new(1.0, 0.0, 0.0).after(right);
        let less = places.agreement(beside);
        assert!(less < 1.4 && less > 0.7, "{less}");
        assert_eq!(
            places.agreement(Pose::new(20.0, 0.0, 0.0).after(right)),
            0.0
        );
    }
}
