//! How the photos belong together: the device lies anew on the sheet in each of them.

use crate::inside::{Inside, Sighting};
use crate::search::{Stand, turned_by};
use shape::registration::{Options, register};
use shape::{Cancelled, Outline, Point, Pose, Silent, Vector, Watch, mapped};

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
    /// By how much more speaks for it than for any that lays the device elsewhere; the same measure as `parts`.
    pub(crate) lead: f64,
}

impl Tie {
    /// Whether the photo shows something else. `by_rim`: the tie rests on the body's edge too.
    pub(crate) fn is_stranger(&self, by_rim: bool) -> bool {
        let lies_there = by_rim && self.lead > STRANGER_LEAD;
        self.silhouettes < STRANGER[0] && self.parts < STRANGER[1] && !lies_there
    }

    /// Whether so much speaks for this tie that it is hardly another: the device lies there and nowhere else.
    pub(crate) fn is_plain(&self) -> bool {
        self.lead > PLAIN_LEAD
    }
}

/// A photo in which the silhouette agrees less and fewer parts are seen shows something else, unless the device's edge plainly lies in
/// it: a white hull's silhouette lacks much.
const STRANGER: [f64; 2] = [0.62, 1.2];

/// By this the edge must lie there more than elsewhere.
const STRANGER_LEAD: f64 = 0.7;

/// On rendered photos of other devices (seven pairs) ties led by 0.03 to 0.55, on a white hull with half its silhouette by 3.6; of eleven
/// ties within half a millimetre nine led by more than this, of eight that were farther off, two.
const PLAIN_LEAD: f64 = 1.5;

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

/// A tie that moves the device's middle so far is another one, mm.
const ELSEWHERE_MM: f64 = 1.2;

/// Ties of one photo that are weighed against each other.
const MOST_TIES: usize = 6;

/// Two ties that move the device's middle and turn it by less are one: mm, radians.
const SAME_MM: f64 = 0.8;
const SAME_TURN: f64 = 0.05;

/// The device's silhouettes in the first photo and in another one, without their holes, and how they lie on each other.
#[derive(Debug)]
pub(crate) struct Silhouettes {
    first: Outline,
    other: Outline,
    /// In all four quarter turns.
    poses: [Pose; 4],
    /// Middle of the device's area in the first photo.
    middle: Point,
}

impl Silhouettes {
    pub(crate) fn of(
        first: &Outline,
        other: &Outline,
        watch: &dyn Watch,
    ) -> Result<Self, Cancelled> {
        watch.step("tying the photos together", 0.0)?;
        let device = first.centroid();
        let (first, other) = (filled(first), filled(other));
        let found = register(&first, &other, &Options::default(), &Silent)?;
        let middle = other.centroid();
        let turned = |k: f64| Pose::about(middle, 90.0 * k).after(found.b_from_a);
        Ok(Self {
            poses: [0.0, 1.0, 2.0, 3.0].map(turned),
            middle: device,
            first,
            other,
        })
    }

    /// What they have in common, as a share of what either covers.
    fn common(&self, pose: Pose) -> f64 {
        let placed = self.first.placed(pose);
        let both = shape::intersection_area_mm2(&placed, &self.other);
        both / (placed.area_mm2() + self.other.area_mm2() - both).max(1e-9)
    }
}

/// Ways in which a photo may be tied to the first, by the parts that both show and by the device's silhouette: the best first, no two
/// that lay the device in nearly the same place, each with what speaks for it in all. None is empty.
///
/// `known` are spots on the first photo's sheet with their weights, `seen` those of the other photo, both by part.
pub(crate) fn ties(
    silhouettes: &Silhouettes,
    known: &[Vec<(Spot, f64)>],
    seen: &[Vec<(Spot, f64)>],
    radii: &[f64],
    rim: Option<&RimPlaces>,
    watch: &dyn Watch,
) -> Result<Vec<(f64, Tie)>, Cancelled> {
    watch.step("tying the photos together", 0.0)?;
    let mut poses = silhouettes.poses.to_vec();
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
    let mut ties: Vec<(f64, Tie)> = mapped(&poses, |&pose| {
        let parts = support(pose, known, seen, radii);
        let common = silhouettes.common(pose);
        let tie = Tie {
            pose,
            parts,
            silhouettes: common,
            lead: f64::INFINITY,
        };
        // A shell gone or there changes the silhouette by some percent; lying on itself in another way, by much more.
        let by_outlines = match rim {
            // Of a body that lies on itself the wrong way round, edges agree less by a tenth and more.
            Some(rim) => 4.0 * common + 10.0 * rim.agreement(pose),
            None => 10.0 * common,
        };
        (parts + by_outlines, tie)
    });
    // Of equals the first, as they were found.
    ties.sort_by(|a, b| b.0.total_cmp(&a.0));
    let there = |tie: &Tie| tie.pose.apply(silhouettes.middle);
    let mut kept: Vec<(f64, Tie)> = Vec::new();
    for (worth, tie) in &ties {
        if kept.len() == MOST_TIES {
            break;
        }
        let is_one = |(_, other): &(f64, Tie)| {
            let turned = turned_by(
                tie.pose.turn_deg.to_radians(),
                other.pose.turn_deg.to_radians(),
            );
            there(tie).distance_mm(there(other)) < SAME_MM && turned < SAME_TURN
        };
        if kept.iter().any(is_one) {
            continue;
        }
        let elsewhere = ties
            .iter()
            .find(|(_, t)| there(t).distance_mm(there(tie)) > ELSEWHERE_MM);
        let lead = elsewhere.map_or(f64::INFINITY, |(other, _)| worth - other);
        kept.push((*worth, Tie { lead, ..*tie }));
    }
    Ok(kept)
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

/// An outline without its holes.
pub(crate) fn filled(outline: &Outline) -> Outline {
    Outline::try_new(outline.outer().points().to_vec(), Vec::new())
        .unwrap_or_else(|_| outline.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rim::tests::{hull, outline};

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

    /// Ties one hull to another by places of its edge: the first photo shows one place, the other these.
    fn tied(other: &Outline, places: Vec<(Spot, f64)>) -> Tie {
        let first = hull().placed(Pose::new(50.0, 60.0, 0.0));
        let rim = RimPlaces {
            first: vec![(spot(80.0, 115.0, 0.0), 0.8)],
            other: places,
            radius_mm: 60.0,
        };
        let watch = shape::Silent;
        let silhouettes = Silhouettes::of(&first, other, &watch).expect("not cancelled");
        ties(&silhouettes, &[], &[], &[], Some(&rim), &watch).expect("not cancelled")[0].1
    }

    #[test]
    fn a_tie_is_plain_where_the_edge_shows_in_one_place_alone() {
        let there = hull().placed(Pose::new(70.0, 50.0, 0.0));
        let plain = tied(&there, vec![(spot(100.0, 105.0, 0.0), 0.8)]);
        assert!(plain.is_plain(), "{}", plain.lead);
        assert!((plain.pose.x - 20.0).abs() < 0.1 && (plain.pose.y + 10.0).abs() < 0.1);
        // Three millimetres beside it the edge shows as well.
        let two = vec![
            (spot(100.0, 105.0, 0.0), 0.8),
            (spot(103.0, 105.0, 0.0), 0.75),
        ];
        let loose = tied(&there, two);
        assert!(!loose.is_plain(), "{}", loose.lead);
    }

    #[test]
    fn half_a_silhouette_is_no_stranger_where_the_edge_lies_plainly() {
        // Of a white hull on white paper only what lies in one half of it shows.
        let half = outline(&[(70.0, 50.0), (130.0, 50.0), (130.0, 95.0), (70.0, 95.0)]);
        let tie = tied(&half, vec![(spot(100.0, 105.0, 0.0), 0.8)]);
        assert!(tie.silhouettes < STRANGER[0], "{}", tie.silhouettes);
        assert!(!tie.is_stranger(true), "{}", tie.lead);
        // Nobody knows that without a shell.
        assert!(tie.is_stranger(false));
    }
}
