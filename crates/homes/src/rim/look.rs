//! Looking for the device's body: each shell in each photo, then all of them held against each other, against the parts that lie in it,
//! and against the hull's walls.

use super::lid::body_in;
use super::{Rim, carried};
use crate::error::HomesError;
use crate::inside::Inside;
use crate::layers::placed;
use crate::look::Seen;
use crate::register::{Spot, filled};
use crate::sought::{Sought, View};
use crate::swept::{Body, Heights};
use crate::walls::Walls;
use shape::{Outline, Pose, Watch, mapped};

/// A part is a shell where its outline, holes filled, is this share of the largest of all parts' at least.
const SHELL_SHARE: f64 = 0.6;

/// And this share of the middle one of the silhouettes: of a device that has no shell, no part is one.
const OF_SILHOUETTE: [f64; 2] = [0.6, 1.25];

/// Edges that agree less than this, on the mean over all photos, are no body's.
const LEAST_MEAN: f64 = 0.25;

/// Parts that reach so far from their middle, mm, and are seen with this chance tell where the body is not.
const HELD_RADIUS_MM: f64 = 8.0;
const HELD_CHANCE: f64 = 0.7;

/// No wall is thinner, mm; and what a millimetre costs by which one part sticks out.
const LEAST_WALL_MM: f64 = 0.7;
const STICKING_OUT_COSTS: f64 = 0.3;

/// How much the shells' faces count beside edges where it is asked which shell is the hull.
const FACES: f64 = 1.0;

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
                let Some(room) = shape::largest(room) else {
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Point;

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
}
