//! The device's body in each photo, by the outline of its shell.
//!
//! A silhouette takes in shadows, and of a white shell on white paper it misses some. The outline of a shell is known to a
//! tenth: it is looked for by its edge, which runs round the open device in every photo, whatever lies in it.

use crate::confidence::{Kind, features};
use crate::error::HomesError;
use crate::inside::Inside;
use crate::joint::Estimate;
use crate::layers::{placed, placing};
use crate::look::{Seen, has_picture};
use crate::register::{Spot, filled, largest};
use crate::sought::{Side, Sought, View};
use crate::swept::{Body, Heights};
use shape::registration::{Options, register};
use shape::{Outline, Pose, Silent, Watch};

/// A part is a shell where its outline, holes filled, is this share of the largest of all parts' at least.
const SHELL_SHARE: f64 = 0.6;

/// And this share of the middle one of the silhouettes: of a device that has no shell, no part is one.
const OF_SILHOUETTE: [f64; 2] = [0.6, 1.25];

/// Of two shells of one device, the smaller has this share of its area in common with the other at least.
const LID_SHARE: f64 = 0.93;

/// And they reach as far on every side, to this share of the longer side.
const LID_REACH: f64 = 0.02;

/// Edges that agree less than this, on the mean over all photos, are no body's.
const LEAST_MEAN: f64 = 0.25;

/// Parts that reach so far from their middle, mm, and are seen with this chance tell where the body is not.
const HELD_RADIUS_MM: f64 = 8.0;
const HELD_CHANCE: f64 = 0.7;

/// No wall is thinner, mm; and what a millimetre costs by which one part sticks out.
const LEAST_WALL_MM: f64 = 0.7;
const STICKING_OUT_COSTS: f64 = 0.3;

/// How far a place of the body may be from where the tie of its photo puts it, mm, and how far at its outline by the turn.
const NEAR_MM: [f64; 2] = [3.0, 6.0];

/// How well the body's place is known from its edge, one sigma, mm: walls are rounded, and lids are not quite their hulls.
const EDGE_MM: f64 = 0.2;

/// Places that are kept of each photo.
const MOST_PLACES: usize = 8;

/// Shells that are tried.
const MOST_SHELLS: usize = 4;

/// The outline that stands for the device's body, and where each photo may show it.
pub(crate) struct Rim {
    /// As seen from the side that looks up; no holes, no picture.
    pub(crate) view: View,
    /// By photo, the best first.
    sightings: Vec<Vec<Body>>,
    /// The parts that are shells, by their numbers, and the pose that lays the body's outline on each's.
    shells: Vec<(usize, Pose)>,
}

/// Looks for the device's body; `None` where no part can be its shell.
pub(crate) fn look_for_rim(
    parts: &[Sought],
    views: &[View],
    insides: &[Inside],
    seen: &[Vec<Vec<Seen>>],
    stages: &[u32],
    watch: &dyn Watch,
) -> Result<Option<Rim>, HomesError> {
    let area = |v: &View| filled(&v.outline).area_mm2();
    let largest = views.iter().map(area).fold(0.0, f64::max);
    let mut silhouettes: Vec<f64> = insides
        .iter()
        .map(|i| filled(&i.silhouette).area_mm2())
        .collect();
    silhouettes.sort_by(f64::total_cmp);
    let middle = silhouettes[silhouettes.len() / 2];
    let mut shells: Vec<(usize, &View)> = views
        .iter()
        .enumerate()
        .filter(|(_, v)| area(v) >= SHELL_SHARE * largest)
        .filter(|(_, v)| (OF_SILHOUETTE[0]..OF_SILHOUETTE[1]).contains(&(area(v) / middle)))
        .collect();
    shells.sort_by(|a, b| area(b.1).total_cmp(&area(a.1)));
    shells.truncate(MOST_SHELLS);
    let thickness = |s: &(usize, &View)| parts[s.0].thickness_mm;
    let thicknesses: Vec<f64> = shells.iter().filter_map(thickness).collect();
    let heights = Heights::of_shells(&thicknesses);
    let mut tried: Vec<(f64, usize, View, Vec<Vec<Body>>)> = Vec::new();
    for (part, shell) in shells {
        let view = View::of_outline(filled(&shell.outline));
        let mut sightings = Vec::new();
        for inside in insides {
            sightings.push(inside.look_for_body(&view, &heights, watch)?);
        }
        let worth = sightings
            .iter()
            .map(|all: &Vec<Body>| all.first().map_or(0.0, |s| s.agreement))
            .sum::<f64>();
        tried.push((worth, part, view, sightings));
    }
    tried.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut tried = tried.into_iter();
    let Some((_, part, view, sightings)) = tried
        .next()
        .filter(|t| t.0 > LEAST_MEAN * insides.len() as f64)
    else {
        return Ok(None);
    };
    let mut rim = Rim {
        view,
        sightings,
        shells: vec![(part, Pose::default())],
    };
    // The others say where the body is too: in the one photo the lid shows best, in the other the hull.
    for (_, part, view, sightings) in tried {
        let Some(shell_from_body) = body_in(&rim.view.outline, &view.outline) else {
            continue;
        };
        rim.shells.push((part, shell_from_body));
        let body = shell_from_body.apply(rim.view.centre);
        for (to, all) in rim.sightings.iter_mut().zip(sightings) {
            to.extend(all.into_iter().map(|mut seen| {
                seen.spot = Spot {
                    centre: placing(&view, seen.spot).apply(body),
                    turn: seen.spot.turn + shell_from_body.turn_deg.to_radians(),
                };
                seen
            }));
        }
    }
    rim.hold_what_is_in_it(views, insides, seen);
    rim.keep_one_hull(&heights, stages);
    for all in &mut rim.sightings {
        all.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
        all.truncate(MOST_PLACES);
    }
    Ok(Some(rim))
}

/// The pose that lays one shell's outline on another's; `None` where they are no two shells of one device.
fn body_in(body: &Outline, shell: &Outline) -> Option<Pose> {
    let found = register(body, shell, &Options::default(), &Silent).ok()?;
    let placed = body.placed(found.b_from_a);
    let both = shape::intersection_area_mm2(&placed, shell);
    let share = both / placed.area_mm2().min(shell.area_mm2());
    // What is merely large lies somewhere in the body; a lid or a hull reaches as far as the body on every side.
    let (a, b) = (placed.bounds(), shell.bounds());
    let off = |x: f64, y: f64| (x - y).abs();
    let furthest = [
        off(a.min.x, b.min.x),
        off(a.min.y, b.min.y),
        off(a.max.x, b.max.x),
        off(a.max.y, b.max.y),
    ];
    let as_far = furthest
        .iter()
        .all(|off| *off < LID_REACH * b.width_mm().max(b.height_mm()));
    (share > LID_SHARE && as_far).then_some(found.b_from_a)
}

impl Rim {
    /// The body holds the parts that lie in it: places out of which surely seen parts would stick are the worse.
    fn hold_what_is_in_it(&mut self, views: &[View], insides: &[Inside], seen: &[Vec<Vec<Seen>>]) {
        let is_shell = |part: usize| self.shells.iter().any(|s| s.0 == part);
        for (k, inside) in insides.iter().enumerate() {
            let within: Vec<Outline> = views
                .iter()
                .enumerate()
                .filter(|(i, v)| !is_shell(*i) && v.radius_mm > HELD_RADIUS_MM)
                .filter_map(|(i, v)| {
                    let (sighting, _, chance) = seen[k][i].first()?;
                    (*chance > HELD_CHANCE).then(|| filled(&placed(v, inside.spot(sighting))))
                })
                .collect();
            for body in &mut self.sightings[k] {
                let outline = placed(&self.view, body.spot);
                let room = shape::offset(std::slice::from_ref(&outline), -LEAST_WALL_MM);
                let Some(room) = largest(room) else {
                    continue;
                };
                let sticks_out: f64 = within
                    .iter()
                    .map(|part| {
                        let out = part.area_mm2() - shape::intersection_area_mm2(part, &room);
                        // By this it would have to move.
                        (out / part.outer().length_mm() * 2.0).min(1.0)
                    })
                    .sum();
                body.agreement -= STICKING_OUT_COSTS * sticks_out;
            }
        }
    }

    /// One and the same shell stands on the sheet in every photo, and only the first stage may show the device closed: of all
    /// heights, those are kept that fit this and agree best.
    fn keep_one_hull(&mut self, heights: &Heights, stages: &[u32]) {
        let first = stages.iter().min().copied().unwrap_or(0);
        let may = |hull: usize, photo: usize, body: &Body| {
            body.height == hull || (body.height >= heights.singles && stages[photo] == first)
        };
        let worth = |hull: usize| -> f64 {
            let best = |(k, all): (usize, &Vec<Body>)| {
                all.iter()
                    .filter(|b| may(hull, k, b))
                    .map(|b| b.agreement)
                    .fold(0.0, f64::max)
            };
            self.sightings.iter().enumerate().map(best).sum()
        };
        let hull = (0..heights.singles).max_by(|&a, &b| worth(a).total_cmp(&worth(b)));
        for (k, all) in self.sightings.iter_mut().enumerate() {
            all.retain(|b| hull.is_none_or(|h| may(h, k, b)));
        }
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
        side: Side,
        insides: &[Inside],
        poses: &[Pose],
        stranger: &[bool],
        seen: &mut [Vec<Vec<Seen>>],
    ) {
        let Some(body) = self.agreed(poses, stranger) else {
            return;
        };
        for &(part, shell_from_body) in &self.shells {
            let view = View::of(&parts[part], side);
            for (k, inside) in insides.iter().enumerate().filter(|(k, _)| !stranger[*k]) {
                let sheet_from_body = placing(&self.view, body.carried(poses[k]));
                let sheet_from_shell = sheet_from_body.after(shell_from_body.inverse());
                let spot = Spot {
                    centre: sheet_from_shell.apply(view.centre),
                    turn: sheet_from_shell.turn_deg.to_radians(),
                };
                let all = &mut seen[k][part];
                all.retain(|s| inside.spot(&s.0).is_near(spot, view.radius_mm, NEAR_MM));
                let top_mm = self
                    .near(k, body.carried(poses[k]))
                    .map_or_else(|| parts[part].thickness_mm.unwrap_or(0.0), |b| b.top_mm);
                let stand = inside.stand_of(spot, top_mm);
                let sighting = inside.look_at(&parts[part], side, stand, 1.0);
                let kind = Kind::of(!has_picture(&parts[part], side));
                let chance = kind.alone(&sighting);
                let features = features(&sighting, sighting.score);
                all.push((sighting, features, chance));
                all.sort_by(|a, b| b.2.total_cmp(&a.2));
            }
        }
    }

    /// The body as one more thing that all photos show, standing on the sheet. `None` where only one photo shows it.
    pub(crate) fn as_estimate(
        &self,
        insides: &[Inside],
        poses: &[Pose],
        stranger: &[bool],
    ) -> Option<Estimate> {
        let first = self.agreed(poses, stranger)?;
        let sightings = (0..insides.len())
            .filter(|&k| !stranger[k])
            .filter_map(|k| {
                // Its height is its own in each photo, a lid more or less, and taken off.
                let seen = self.near(k, first.carried(poses[k]))?;
                Some((k, seen.spot, seen.agreement.clamp(0.05, 1.0)))
            });
        Estimate::of_body(first, self.view.radius_mm, EDGE_MM, sightings, insides)
    }

    /// The place on the first photo's sheet for which all photos together speak most.
    fn agreed(&self, poses: &[Pose], stranger: &[bool]) -> Option<Spot> {
        let photos = || (0..poses.len()).filter(|&k| !stranger[k]);
        let all: Vec<Spot> = photos()
            .flat_map(|k| {
                let back = poses[k].inverse();
                self.sightings[k].iter().map(move |s| s.spot.carried(back))
            })
            .collect();
        let worth = |spot: &Spot| -> f64 {
            photos()
                .filter_map(|k| self.near(k, spot.carried(poses[k])))
                .map(|s| s.agreement)
                .sum()
        };
        all.into_iter().max_by(|a, b| worth(a).total_cmp(&worth(b)))
    }

    /// The best sighting near a place on a photo's own sheet.
    fn near(&self, photo: usize, spot: Spot) -> Option<&Body> {
        let radius_mm = self.view.radius_mm;
        self.sightings[photo]
            .iter()
            .find(|s| s.spot.is_near(spot, radius_mm, NEAR_MM))
    }

    /// The body's outline at a place.
    pub(crate) fn outline_at(&self, spot: Spot) -> Outline {
        placed(&self.view, spot)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Point;

    fn outline(corners: &[(f64, f64)]) -> Outline {
        let points = corners.iter().map(|&(x, y)| Point::new(x, y)).collect();
        Outline::try_new(points, Vec::new()).expect("a valid outline")
    }

    /// A hull with a notch at one corner, so that it lies on itself in one way alone.
    fn hull() -> Outline {
        outline(&[
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ])
    }

    #[test]
    fn a_lid_lies_on_its_hull_even_with_a_bay() {
        let bay = outline(&[
            (0.0, 0.0),
            (20.0, 0.0),
            (20.0, 30.0),
            (40.0, 30.0),
            (40.0, 0.0),
            (60.0, 0.0),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ]);
        for lid in [hull(), bay] {
            let at = Pose::new(7.0, -3.0, 12.0);
            let found = body_in(&hull(), &lid.placed(at)).expect("a lid of this hull");
            for corner in [Point::new(0.0, 0.0), Point::new(60.0, 110.0)] {
                let off = found.apply(corner).distance_mm(at.apply(corner));
                assert!(off < 0.1, "{off}");
            }
        }
    }

    #[test]
    fn what_merely_fits_into_the_hull_is_no_lid() {
        let display = outline(&[(0.0, 0.0), (50.0, 0.0), (50.0, 90.0), (0.0, 90.0)]);
        assert_eq!(body_in(&hull(), &display), None);
        let longer = outline(&[(0.0, 0.0), (60.0, 0.0), (60.0, 125.0), (0.0, 125.0)]);
        assert_eq!(body_in(&hull(), &longer), None);
    }
}
