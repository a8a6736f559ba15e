//! Walls that were taken for paper are given back to their part, once its height is known.
//!
//! Where a part's edge looks to the camera's foot (the nadir), the camera sees its wall, and the silhouette's border is the wall's
//! foot. A wall as dark as shade, or one that mirrors the paper, is easily left out: then the border is the wall's top. Which of the
//! two it is shows in the light where the other rim must be ([`wall`]), point by point along the ring; stretches of tops are swept down to
//! their feet, so that the silhouette is again what [`true_outlines`](crate::height::true_outlines) takes it for.

use crate::height::Standpoint;
use crate::light::Light;
use crate::plane::SheetPlane;
use crate::segment::eye::wall::{self, ACROSS, Across};
use crate::segment::paper::Ground;
use crate::silhouette::is_wide_enough;
use shape::{Outline, Point, Ring, RingOverlay, counted, overlay_rings};

/// Distance between the places along a ring, mm.
const STEP_MM: f64 = 0.3;

/// A wall that would look narrower than this, cells, or than this share of its lean, is not judged.
const LEAST_WIDTH: f64 = 1.0;
const LEAST_SHARE: f64 = 0.35;

/// Places whose odds are averaged, to either side.
const NEIGHBOURS: usize = 4;

/// Odds (their logarithm) from which on the border is taken for a top, and the fewest such places in a row.
const SURE: f32 = 1.0;
const FEWEST: usize = 4;

/// Walls reach this share of their shift into their part.
const OVERLAP: f64 = 0.02;

/// The silhouette, mm in the sheet's plane, of a part of height `h_mm` with the walls that were left out of it.
pub(crate) fn with_walls(
    silhouette: &Outline,
    light: &Light<'_, impl SheetPlane>,
    from: Standpoint,
    h_mm: f64,
) -> Outline {
    let lowered = (from.height_mm - h_mm) / from.height_mm;
    if light.relative.ground != Ground::Paper || !(lowered > 0.5 && lowered < 1.0) {
        return silhouette.clone();
    }
    let foot_of = |p: Point| from.nadir + (p - from.nadir) * lowered;
    let top_of = |p: Point| from.nadir + (p - from.nadir) * (1.0 / lowered);
    let judged: Vec<(Places, Vec<bool>)> = silhouette
        .rings()
        .map(|ring| {
            let places = Places::along(ring);
            let tops = light.tops(&places.at, top_of);
            (places, tops)
        })
        .collect();
    swept(silhouette, &judged, foot_of)
}

/// Places along a ring at even distances, and the ring's own corners from each to the next.
struct Places {
    at: Vec<Point>,
    between: Vec<Vec<Point>>,
}

/// A silhouette with what its border sweeps where it is a wall's top and sinks to the wall's foot. `judged`: places along each of
/// its rings, and whether they are tops.
fn swept(
    silhouette: &Outline,
    judged: &[(Places, Vec<bool>)],
    foot_of: impl Fn(Point) -> Point,
) -> Outline {
    let mut walls: Vec<Vec<Point>> = Vec::new();
    for (places, tops) in judged {
        for (i, top) in tops.iter().enumerate() {
            let next = (i + 1) % tops.len();
            if !*top || !tops[next] {
                continue;
            }
            let mut a = places.at[i];
            for &b in places.between[i].iter().chain([&places.at[next]]) {
                // A little into the part, so that nothing stays open between the two.
                let into = [a, b].map(|p| p + (p - foot_of(p)) * OVERLAP);
                walls.push(vec![into[0], into[1], foot_of(b), foot_of(a)]);
                a = b;
            }
        }
    }
    if walls.is_empty() {
        return silhouette.clone();
    }
    // All walls run the same way round, so that overlaps add up under the non-zero rule.
    for wall in &mut walls {
        let a = wall[0];
        let area: f64 = (0..4)
            .map(|i| (wall[i] - a).cross(wall[(i + 1) % 4] - a))
            .sum();
        if area < 0.0 {
            wall.reverse();
        }
    }
    let rings: Vec<Vec<Point>> = silhouette.rings().map(|r| r.points().to_vec()).collect();
    let whole = shape::largest(overlay_rings(&rings, &walls, RingOverlay::Union));
    // Where a wall begins, a sliver of paper may stay between it and the ring.
    let whole = whole.and_then(|o| {
        let wide = |r: &&Ring| {
            let hole = r.points().iter().rev().copied().collect();
            Outline::try_new(hole, Vec::new()).is_ok_and(|h| is_wide_enough(&h))
        };
        let holes = o.holes().iter().filter(wide);
        let holes = holes.map(|r| r.points().to_vec()).collect();
        Outline::try_new(o.outer().points().to_vec(), holes).ok()
    });
    whole.unwrap_or_else(|| silhouette.clone())
}

impl Places {
    fn along(ring: &Ring) -> Self {
        let total: f64 = ring.sides().map(|(a, b)| a.distance_mm(b)).sum();
        let count = ((total / STEP_MM) as usize).max(8);
        let step = total / count as f64;
        let mut at = Vec::with_capacity(count);
        let mut between: Vec<Vec<Point>> = Vec::with_capacity(count);
        let mut passed = 0.0;
        for (a, b) in ring.sides() {
            let length = a.distance_mm(b);
            while at.len() < count && at.len() as f64 * step < passed + length {
                let t = (at.len() as f64 * step - passed) / length.max(1e-12);
                at.push(a.lerp(b, t));
                between.push(Vec::new());
            }
            if let Some(corners) = between.last_mut() {
                corners.push(b);
            }
            passed += length;
        }
        Self { at, between }
    }
}

impl<P: SheetPlane> Light<'_, P> {
    /// Which places of a ring are tops of walls that lie outside of it.
    fn tops(&self, places: &[Point], top_of: impl Fn(Point) -> Point + Sync) -> Vec<bool> {
        let n = places.len();
        let cell = |p: Point| self.cell_of(p);
        let Some(cells) = places.iter().map(|p| cell(*p)).collect::<Option<Vec<_>>>() else {
            return vec![false; n];
        };
        let unit = self.unit();
        // Outer rings run counter-clockwise and holes clockwise: the part is on the left hand.
        // Whether a wall would be seen there at all, and the odds where it would be wide enough to be judged.
        let judged: Vec<(bool, Option<f32>)> = counted(n, |i| {
            let (a, b) = (cells[(i + n - 2) % n], cells[(i + 2) % n]);
            let along = [b[0] - a[0], b[1] - a[1]];
            let length = along[0].hypot(along[1]);
            let outward = [-along[1] / length, along[0] / length];
            let Some(top) = cell(top_of(places[i])) else {
                return (false, None);
            };
            let up = [top[0] - cells[i][0], top[1] - cells[i][1]];
            let width = -(up[0] * outward[0] + up[1] * outward[1]) / unit;
            let lean = up[0].hypot(up[1]) / unit;
            let wide = length > 0.0 && width > LEAST_WIDTH && width > LEAST_SHARE * lean;
            let odds = wide.then(|| {
                let across = self.across(cells[i], up, outward, unit);
                wall::odds_of_top(&across, width, lean)
            });
            (width > 0.0, odds)
        });
        let mean = |i: usize| {
            let near =
                (0..=2 * NEIGHBOURS).map(|d| judged[(i + n + d - NEIGHBOURS) % n].1.unwrap_or(0.0));
            near.sum::<f32>() / (2 * NEIGHBOURS + 1) as f32
        };
        let mut tops: Vec<bool> = (0..n)
            .map(|i| judged[i].1.is_some() && mean(i) > SURE)
            .collect();
        drop_short_runs(&mut tops);
        // A wall goes on to where it turns from the camera, however narrow it looks there.
        let open = |i: usize| judged[i].0 && judged[i].1.is_none();
        for i in (0..n).chain(0..n) {
            tops[i] |= open(i) && tops[(i + n - 1) % n];
        }
        for i in (0..n).rev().chain((0..n).rev()) {
            tops[i] |= open(i) && tops[(i + 1) % n];
        }
        tops
    }

    fn across(&self, at: [f64; 2], up: [f64; 2], outward: [f64; 2], unit: f64) -> Across {
        [-1.0, 0.0, 1.0].map(|key: f64| {
            let edge = [0, 1].map(|k| at[k] + key * up[k]);
            ACROSS.map(|o| {
                let mut sum = [0.0f32; 3];
                for along in [-unit, 0.0, unit] {
                    let x = edge[0] + outward[0] * o * unit - outward[1] * along;
                    let y = edge[1] + outward[1] * o * unit + outward[0] * along;
                    let v = self.joined([x, y], unit);
                    for k in 0..3 {
                        sum[k] += v[k] / 3.0;
                    }
                }
                sum
            })
        })
    }
}

/// Stretches of fewer places than [`FEWEST`] are none; the ring is closed.
fn drop_short_runs(tops: &mut [bool]) {
    let n = tops.len();
    let Some(start) = tops.iter().position(|t| !t) else {
        return;
    };
    let mut run = 0;
    for k in 1..=n {
        let i = (start + k) % n;
        if tops[i] {
            run += 1;
            continue;
        }
        if run < FEWEST {
            for back in 1..=run {
                tops[(i + n - back) % n] = false;
            }
        }
        run = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_stretches_are_dropped_also_over_the_rings_start() {
        let of = |text: &str| text.bytes().map(|b| b == b'x').collect::<Vec<_>>();
        for (given, kept) in [
            ("xx...xxxx.x.", "..... xxxx...".replace(' ', "").as_str()),
            ("xx....xx..xx", "xx........xx"),
            ("xxxxxxxx", "xxxxxxxx"),
            ("........", "........"),
        ] {
            let mut tops = of(given);
            drop_short_runs(&mut tops);
            assert_eq!(tops, of(kept), "{given}");
        }
    }

    /// Truth: by construction. A plate with a bay and a hole, seen from afar, whose walls towards the nadir were all left out.
    #[test]
    fn stretches_of_tops_are_swept_down_without_slits() {
        let from = Standpoint {
            height_mm: 400.0,
            nadir: Point::new(-150.0, 20.0),
        };
        let ring = |cx: f64, cy: f64, r: f64| -> Vec<Point> {
            (0..240)
                .map(|i| (f64::from(i) / 240.0 * std::f64::consts::TAU).sin_cos())
                .map(|(s, c)| Point::new(cx + r * c, cy + r * s))
                .collect()
        };
        let bitten = shape::difference(
            &Outline::rectangle(Point::new(0.0, 0.0), Point::new(60.0, 40.0)).unwrap(),
            &[Outline::try_new(ring(0.0, 20.0, 9.0), vec![]).unwrap()],
        );
        let outer = bitten[0].outer().points().to_vec();
        let part = Outline::try_new(outer, vec![ring(40.0, 20.0, 8.0)]).unwrap();
        let k = 400.0 / 392.0;
        let top = |r: &Ring| {
            r.points()
                .iter()
                .map(|p| from.nadir + (*p - from.nadir) * k)
                .collect()
        };
        let seen =
            Outline::try_new(top(part.outer()), part.holes().iter().map(top).collect()).unwrap();
        let foot_of = |p: Point| from.nadir + (p - from.nadir) * (1.0 / k);
        let judged: Vec<_> = seen
            .rings()
            .map(|r| {
                let places = Places::along(r);
                let (at, n) = (&places.at, places.at.len());
                let facing = |i: usize| {
                    let along = at[(i + 1) % n] - at[(i + n - 1) % n];
                    let outward = shape::Vector::new(along.y, -along.x);
                    let ray = at[i] - from.nadir;
                    outward.x * ray.x + outward.y * ray.y < 0.0
                };
                let tops = (0..n).map(facing).collect();
                (places, tops)
            })
            .collect();
        let whole = swept(&seen, &judged, foot_of);
        assert_eq!(whole.holes().len(), 1);
        let found = crate::height::true_outlines(&whole, from, 8.0);
        assert_eq!(found.len(), 1);
        let off = found[0].area_mm2() + part.area_mm2()
            - 2.0 * shape::intersection_area_mm2(&found[0], &part);
        // What the rays from the nadir miss in the corners of hole and bay.
        assert!(off < 0.02 * part.area_mm2(), "{off}");
    }

    #[test]
    fn places_lie_evenly_along_a_ring() {
        let square = Outline::rectangle(Point::new(0.0, 0.0), Point::new(6.0, 3.0)).unwrap();
        let places = Places::along(square.outer()).at;
        assert_eq!(places.len(), 60);
        for (a, b) in places.iter().zip(places.iter().cycle().skip(1)) {
            let d = a.distance_mm(*b);
            assert!((0.2..0.301).contains(&d), "{d}");
        }
    }
}
