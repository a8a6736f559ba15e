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
use crate::walls::Walls;
use shape::registration::{Options, register};
use shape::{Bounds, Outline, Pose, Silent, Watch, mapped};

/// A part is a shell where its outline, holes filled, is this share of the largest of all parts' at least.
const SHELL_SHARE: f64 = 0.6;

/// And this share of the middle one of the silhouettes: of a device that has no shell, no part is one.
const OF_SILHOUETTE: [f64; 2] = [0.6, 1.25];

/// Of two shells of one device, the smaller has this share of its area in common with the other at least.
const LID_SHARE: f64 = 0.93;

/// And they reach as far on every side, to this share of the longer side.
const LID_REACH: f64 = 0.02;

/// What is narrower than twice this is a whisker, mm.
const WHISKER_MM: f64 = 0.5;

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

/// How much the shells' faces count beside edges where it is asked which shell is the hull.
const FACES: f64 = 1.0;

/// Edges that agree so well show the device's body, and with this chance its shell by that alone, whatever its face looks like.
const LEAST_OF_SHELL: f64 = 0.3;
const BY_RIM: f64 = 0.6;

/// How much walls that agree count beside edges: a body whose walls are looked for by its own picture agrees less by chance.
const WALLS: f64 = 1.2;

/// Outer edges that agree so well are no chance, and no farther from the walls than this, mm.
const PLAIN_EDGES: f64 = 0.5;
const NEAR_WALLS_MM: f64 = 1.5;

/// Places that are kept of each photo; nearer than this, in the middle and at the outline, two of one height are one, mm.
const MOST_PLACES: usize = 10;
const SAME_MM: f64 = 0.3;

/// So many of them are looked for again by the hull's walls.
const BY_WALLS: usize = 5;

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
    /// How many of the possible heights are one shell's: of the open hull.
    singles: usize,
    /// The part that is the hull, which stands on the sheet in every photo.
    hull: Option<usize>,
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
    let bodies: Vec<View> = shells
        .iter()
        .map(|(_, shell)| View::of_outline(filled(&shell.outline)))
        .collect();
    // Each shell in each photo by itself, several at a time.
    let pairs: Vec<(&View, &Inside)> = bodies
        .iter()
        .flat_map(|view| insides.iter().map(move |inside| (view, inside)))
        .collect();
    let mut found = mapped(&pairs, |(view, inside)| {
        inside.look_for_body(view, &heights, watch)
    })
    .into_iter();
    let mut tried: Vec<(f64, usize, View, Vec<Vec<Body>>)> = Vec::new();
    for ((part, _), view) in shells.iter().zip(bodies) {
        let sightings: Vec<Vec<Body>> = found
            .by_ref()
            .take(insides.len())
            .collect::<Result<_, _>>()?;
        let worth = sightings
            .iter()
            .map(|all| all.first().map_or(0.0, |s| s.agreement))
            .sum::<f64>();
        tried.push((worth, *part, view, sightings));
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
        singles: heights.singles,
        hull: None,
    };
    // The others say where the body is too: in the one photo the lid shows best, in the other the hull.
    for (_, part, view, sightings) in tried {
        let Some(shell_from_body) = body_in(&rim.view.outline, &view.outline) else {
            continue;
        };
        rim.shells.push((part, shell_from_body));
        for (to, all) in rim.sightings.iter_mut().zip(sightings) {
            to.extend(all.into_iter().map(|mut seen| {
                seen.spot = carried(seen.spot, &view, &rim.view, shell_from_body);
                seen
            }));
        }
    }
    rim.hold_what_is_in_it(views, insides, seen);
    rim.keep_one_hull(parts, &heights, seen, stages);
    for all in &mut rim.sightings {
        *all = best_unlike(std::mem::take(all), rim.view.radius_mm);
    }
    rim.hold_walls(views, &heights, insides);
    for all in &mut rim.sightings {
        *all = best_unlike(std::mem::take(all), rim.view.radius_mm);
    }
    Ok(Some(rim))
}

/// The best of those that are not as good as the same, best first: edges and walls lead from one place to another.
fn best_unlike(mut all: Vec<Body>, radius_mm: f64) -> Vec<Body> {
    all.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
    let mut kept: Vec<Body> = Vec::new();
    for body in all {
        let same = |k: &Body| {
            k.height == body.height && k.spot.is_near(body.spot, radius_mm, [SAME_MM, SAME_MM])
        };
        if kept.len() < MOST_PLACES && !kept.iter().any(same) {
            kept.push(body);
        }
    }
    kept
}

/// Where one of two outlines lies, from where the other one does; the pose carries the second onto the first.
fn carried(spot: Spot, from: &View, to: &View, from_from_to: Pose) -> Spot {
    let sheet_from_to = placing(from, spot).after(from_from_to);
    Spot {
        centre: sheet_from_to.apply(to.centre),
        turn: sheet_from_to.turn_deg.to_radians(),
    }
}

/// The pose that lays one shell's outline on another's; `None` where they are no two shells of one device.
fn body_in(body: &Outline, shell: &Outline) -> Option<Pose> {
    let found = register(body, shell, &Options::default(), &Silent).ok()?;
    let placed = body.placed(found.b_from_a);
    let both = shape::intersection_area_mm2(&placed, shell);
    let share = both / placed.area_mm2().min(shell.area_mm2());
    // What is merely large lies somewhere in the body; a lid or a hull reaches as far as the body on every side.
    let (a, b) = (reach(&placed), reach(shell));
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

/// How far an outline reaches without its whiskers: a shadow's edge may have been captured with it.
fn reach(outline: &Outline) -> Bounds {
    let core = shape::offset(std::slice::from_ref(outline), -WHISKER_MM);
    let whole = shape::offset(&core, WHISKER_MM);
    let bounds = whole.iter().map(Outline::bounds).reduce(Bounds::joined);
    bounds.unwrap_or_else(|| outline.bounds())
}

/// How much surer a shell is seen once the device is open, from photos of the first stage and later ones: a lid shows its face
/// at first and is gone later, a hull shows its inside the more, the emptier it is. 0 where there are not both.
fn gains_by_opening(seen: impl Iterator<Item = (bool, f64)>) -> f64 {
    let (at_first, later): (Vec<_>, Vec<_>) = seen.partition(|s| s.0);
    let mean = |all: &[(bool, f64)]| all.iter().map(|s| s.1).sum::<f64>() / all.len() as f64;
    if at_first.is_empty() || later.is_empty() {
        return 0.0;
    }
    mean(&later) - mean(&at_first)
}

impl Rim {
    /// The body holds the parts that lie in it: places out of which surely seen parts would stick are the worse.
    fn hold_what_is_in_it(&mut self, views: &[View], insides: &[Inside], seen: &[Vec<Vec<Seen>>]) {
        for (k, inside) in insides.iter().enumerate() {
            let within: Vec<Outline> = views
                .iter()
                .enumerate()
                .filter(|(i, v)| !self.is_shell(*i) && v.radius_mm > HELD_RADIUS_MM)
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
    /// heights, those are kept that fit this and agree best, where the shells' own faces do not speak against it.
    fn keep_one_hull(
        &mut self,
        parts: &[Sought],
        heights: &Heights,
        seen: &[Vec<Vec<Seen>>],
        stages: &[u32],
    ) {
        let first = stages.iter().min().copied().unwrap_or(0);
        let is_hull = |part: usize| -> f64 {
            let chance = |k: usize| seen[k][part].first().map_or(0.0, |s| s.2);
            let all = (0..stages.len()).map(|k| (stages[k] == first, chance(k)));
            gains_by_opening(all)
        };
        let may = |hull: usize, photo: usize, body: &Body| {
            body.height == hull || (body.height >= heights.singles && stages[photo] == first)
        };
        let of_height = |hull: usize| {
            let is_of = move |part: &usize| {
                let thickness = parts[*part].thickness_mm;
                thickness.is_some_and(|t| heights.is_of(hull, t))
            };
            self.shells.iter().map(|s| s.0).filter(is_of)
        };
        let worth = |hull: usize| -> f64 {
            let best = |(k, all): (usize, &Vec<Body>)| {
                all.iter()
                    .filter(|b| may(hull, k, b))
                    .map(|b| b.agreement)
                    .fold(0.0, f64::max)
            };
            let faces: f64 = of_height(hull).map(is_hull).sum();
            self.sightings.iter().enumerate().map(best).sum::<f64>() + FACES * faces
        };
        let hull = (0..heights.singles).max_by(|&a, &b| worth(a).total_cmp(&worth(b)));
        let part =
            hull.and_then(|h| of_height(h).max_by(|&a, &b| is_hull(a).total_cmp(&is_hull(b))));
        for (k, all) in self.sightings.iter_mut().enumerate() {
            all.retain(|b| hull.is_none_or(|h| may(h, k, b)));
        }
        self.hull = part;
    }

    /// Places of the open hull are looked for again by its walls, which its own picture shows.
    fn hold_walls(&mut self, views: &[View], heights: &Heights, insides: &[Inside]) {
        let is_hull = |s: &&(usize, Pose)| Some(s.0) == self.hull && views[s.0].picture.is_some();
        let Some(&(part, shell_from_body)) = self.shells.iter().find(is_hull) else {
            return;
        };
        let shell = &views[part];
        let walls = Walls::of(shell);
        let photos: Vec<(&Vec<Body>, &Inside)> = self.sightings.iter().zip(insides).collect();
        self.sightings = mapped(&photos, |(sightings, inside)| {
            let (open, mut all): (Vec<Body>, Vec<Body>) =
                sightings.iter().partition(|b| b.height < self.singles);
            let by_walls = |body: &Body| {
                let spot = carried(body.spot, &self.view, shell, shell_from_body.inverse());
                let tops = walls.seen_near(spot, body.top_mm, inside);
                let top = |(spot, agreement): (Spot, f64)| Body {
                    spot: carried(spot, shell, &self.view, shell_from_body),
                    agreement: WALLS * agreement,
                    ..*body
                };
                tops.into_iter().map(top).collect::<Vec<_>>()
            };
            let open: Vec<Body> = open.iter().take(BY_WALLS).flat_map(by_walls).collect();
            let mut open = best_unlike(open, self.view.radius_mm);
            // Where outer edges show plainly too, they tell it better: captured outlines and walls of high hulls differ by some tenths.
            let by_edges = inside.bodies_near(&self.view, heights, &open);
            for (body, by_edges) in open.iter_mut().zip(by_edges) {
                let moved_mm = by_edges.spot.centre.distance_mm(body.spot.centre);
                if by_edges.agreement > PLAIN_EDGES && moved_mm < NEAR_WALLS_MM {
                    body.spot = by_edges.spot;
                }
            }
            all.extend(open);
            all
        });
    }

    /// Whether a part is one of the device's shells.
    pub(crate) fn is_shell(&self, part: usize) -> bool {
        self.shells.iter().any(|s| s.0 == part)
    }

    /// Where a photo may show the body, and how well edges agree there.
    pub(crate) fn places(&self, photo: usize) -> Vec<(Spot, f64)> {
        let place = |b: &Body| (b.spot, b.agreement.max(0.0));
        self.sightings[photo].iter().map(place).collect()
    }

    /// A shell lies where the body lies: what was seen of it elsewhere is let go, and it is looked at there.
    #[allow(clippy::too_many_arguments, reason = "all of it belongs to one search")]
    pub(crate) fn place_shells(
        &self,
        parts: &[Sought],
        views: &[View],
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
            let view = &views[part];
            for (k, inside) in insides.iter().enumerate().filter(|(k, _)| !stranger[*k]) {
                let there = body.carried(poses[k]);
                let spot = carried(there, &self.view, view, shell_from_body.inverse());
                let all = &mut seen[k][part];
                all.retain(|s| inside.spot(&s.0).is_near(spot, view.radius_mm, NEAR_MM));
                let top_mm = self
                    .near(k, body.carried(poses[k]))
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

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use shape::Point;

    pub(crate) fn outline(corners: &[(f64, f64)]) -> Outline {
        let points = corners.iter().map(|&(x, y)| Point::new(x, y)).collect();
        Outline::try_new(points, Vec::new()).expect("a valid outline")
    }

    /// A hull with a notch at one corner, so that it lies on itself in one way alone.
    pub(crate) fn hull() -> Outline {
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
    fn a_place_is_kept_once_and_the_best_of_it() {
        let body = |x: f64, height: usize, agreement: f64| Body {
            spot: Spot {
                centre: Point::new(x, 0.0),
                turn: 0.0,
            },
            top_mm: 8.0,
            height,
            agreement,
        };
        let all = vec![
            body(0.0, 0, 0.4),
            body(0.1, 0, 0.6),
            body(0.1, 1, 0.5),
            body(3.0, 0, 0.3),
            body(3.2, 0, 0.2),
        ];
        let kept = best_unlike(all, 60.0);
        let agreements: Vec<f64> = kept.iter().map(|b| b.agreement).collect();
        assert_eq!(agreements, [0.6, 0.5, 0.3]);
    }

    #[test]
    fn a_lid_with_a_whisker_is_a_lid() {
        let whiskered = outline(&[
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 40.0),
            (66.0, 40.0),
            (66.0, 40.3),
            (60.0, 40.3),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ]);
        assert!(body_in(&hull(), &whiskered).is_some());
    }

    #[test]
    fn a_lid_is_lost_by_opening_and_a_hull_gains() {
        let lid = gains_by_opening([(true, 0.98), (false, 0.2), (false, 0.3)].into_iter());
        let hull = gains_by_opening([(true, 0.1), (false, 0.5), (false, 0.8)].into_iter());
        assert!((lid + 0.73).abs() < 1e-12 && (hull - 0.55).abs() < 1e-12);
        // Photos of one stage tell nothing of it.
        assert_eq!(
            gains_by_opening([(true, 0.9), (true, 0.2)].into_iter()),
            0.0
        );
        assert_eq!(gains_by_opening(std::iter::empty()), 0.0);
    }

    #[test]
    fn what_merely_fits_into_the_hull_is_no_lid() {
        let display = outline(&[(0.0, 0.0), (50.0, 0.0), (50.0, 90.0), (0.0, 90.0)]);
        assert_eq!(body_in(&hull(), &display), None);
        let longer = outline(&[(0.0, 0.0), (60.0, 0.0), (60.0, 125.0), (0.0, 125.0)]);
        assert_eq!(body_in(&hull(), &longer), None);
    }
}
