//! Lines and arcs moved to one side, as lines and arcs again.

use super::{ExactOutline, ExactPoint, ExactRing, Segment};
use crate::edge_distance::farthest_mm;
use crate::{EdgeTree, Outline, Point, Ring, Vector, offset};
use std::f64::consts::{PI, TAU};

/// Ends of neighbours that come this close are one joint, mm.
const ONE_MM: f64 = 0.002;

/// Where neighbours that should cross only come this close, nearly smooth as they are, they meet half-way, mm.
const NEARLY_MM: f64 = 0.008;

/// What the result and the offset of the polygon may be apart, mm: the chord errors of both, and what joints are moved.
const AGREE_MM: f64 = 0.016;

/// Least radius of an arc that is left, mm.
const LEAST_RADIUS_MM: f64 = 1e-3;

/// Grown by `by_mm` with round joins (shrunk where negative), as [`offset`] does; an outline of lines and arcs stays one
/// where its rings keep their number and their corners their order. The others are polygons.
///
/// The moved lines and arcs are measured against the moved polygon before they are believed.
pub fn offset_exact(outline: &Outline, by_mm: f64) -> Vec<Outline> {
    let moved = offset(std::slice::from_ref(outline), by_mm);
    let ([polygon], Some(exact)) = (moved.as_slice(), outline.exact()) else {
        return moved;
    };
    match moved_rings(exact, by_mm).filter(|found| agree(found, polygon)) {
        Some(found) => vec![found],
        None => moved,
    }
}

fn moved_rings(exact: &ExactOutline, by_mm: f64) -> Option<Outline> {
    let outer = moved_ring(&exact.outer, by_mm)?;
    let holes = exact.holes.iter().map(|h| moved_ring(h, by_mm));
    let moved = ExactOutline::try_new(outer, holes.collect::<Option<_>>()?).ok()?;
    Outline::from_exact(moved).ok()
}

/// The same edge, whatever the order of its rings.
fn agree(found: &Outline, polygon: &Outline) -> bool {
    if found.holes().len() != polygon.holes().len() {
        return false;
    }
    let sides = |o: &Outline| o.rings().flat_map(Ring::sides).collect::<Vec<_>>();
    let (found_tree, polygon_tree) = (EdgeTree::new(found.clone()), EdgeTree::new(polygon.clone()));
    farthest_mm(sides(found).into_iter(), &polygon_tree) <= AGREE_MM
        && farthest_mm(sides(polygon).into_iter(), &found_tree) <= AGREE_MM
}

/// A side moved to its right, with what it runs on.
#[derive(Debug, Clone, Copy)]
struct Moved {
    from: Point,
    to: Point,
    bulge: f64,
    track: Track,
    /// Where the side before it met this one, before both were moved.
    corner: Point,
    /// Sides between it and the one before are gone, so that there is no gap to close.
    after_gone: bool,
}

/// What a moved side runs on.
#[derive(Debug, Clone, Copy)]
enum Track {
    Line { along: Vector },
    Circle { centre: Point, radius_mm: f64 },
}

/// A ring whose material lies to the left of its sides, moved to its right.
fn moved_ring(ring: &ExactRing, by_mm: f64) -> Option<Vec<ExactPoint>> {
    let sides: Vec<Segment> = ring.segments().collect();
    let mut moved: Vec<Moved> = Vec::with_capacity(sides.len());
    let mut gone = 0;
    for &side in &sides {
        match moved_side(side, by_mm) {
            Some(mut one) => {
                one.after_gone = gone > 0;
                if gone > 0 {
                    // The two that are neighbours now meet near the middle of what was between them.
                    one.corner = one
                        .corner
                        .lerp(moved.last().map_or(one.corner, |m| m.to), 0.5);
                }
                gone = 0;
                moved.push(one);
            }
            None => gone += 1,
        }
    }
    if moved.len() < 2 {
        return None;
    }
    moved[0].after_gone |= gone > 0;
    let count = moved.len();
    let mut gaps: Vec<Option<ExactPoint>> = vec![None; count];
    for next in 0..count {
        let before = (next + count - 1) % count;
        gaps[next] = join(&mut moved, before, next, by_mm)?;
    }
    let mut points = Vec::with_capacity(2 * count);
    for (side, gap) in moved.iter().zip(gaps) {
        points.extend(gap);
        points.push(ExactPoint {
            at: side.from,
            bulge: side.bulge,
        });
    }
    Some(points)
}

/// `None` for an arc that shrinks away.
fn moved_side(side: Segment, by_mm: f64) -> Option<Moved> {
    let right = |v: Vector| -v.turned_left();
    let [start, end] = side.directions();
    let moved = |track| Moved {
        from: side.from + right(start) * by_mm,
        to: side.to + right(end) * by_mm,
        bulge: side.bulge,
        track,
        corner: side.from,
        after_gone: false,
    };
    match side.circle() {
        None => Some(moved(Track::Line { along: start })),
        Some(circle) => {
            let radius_mm = circle.radius_mm + by_mm * side.bulge.signum();
            let centre = circle.centre;
            (radius_mm > LEAST_RADIUS_MM).then(|| moved(Track::Circle { centre, radius_mm }))
        }
    }
}

/// Lets two neighbours meet; gives the round join that goes between them, where there is one.
fn join(moved: &mut [Moved], before: usize, next: usize, by_mm: f64) -> Option<Option<ExactPoint>> {
    let (a, b) = (moved[before], moved[next]);
    let apart = a.to.distance_mm(b.from);
    if apart <= ONE_MM && !b.after_gone {
        let middle = a.to.lerp(b.from, 0.5);
        moved[before].to = middle;
        moved[next].from = middle;
        return Some(None);
    }
    let turn = a.direction_at_end().cross(b.direction_at_start());
    let ahead = a.direction_at_end().dot(b.direction_at_start());
    let opens = turn * by_mm > 0.0 || (turn == 0.0 && ahead < 0.0 && by_mm > 0.0);
    if opens && !b.after_gone {
        // A corner that opens: round about the corner itself.
        let angle = turn.atan2(ahead);
        return Some(Some(ExactPoint {
            at: a.to,
            bulge: (0.25 * angle).tan(),
        }));
    }
    let meets = crossings(a, b)
        .into_iter()
        .flatten()
        .min_by(|p, q| {
            let off = |p: &Point| p.distance_mm(b.corner);
            off(p).total_cmp(&off(q))
        })
        .or_else(|| (apart <= NEARLY_MM).then(|| a.to.lerp(b.from, 0.5)))?;
    moved[before].end_at(meets)?;
    moved[next].start_at(meets)?;
    Some(None)
}

impl Moved {
    fn segment(self) -> Segment {
        Segment {
            from: self.from,
            to: self.to,
            bulge: self.bulge,
        }
    }

    fn direction_at_start(self) -> Vector {
        self.direction(self.from, 0)
    }

    fn direction_at_end(self) -> Vector {
        self.direction(self.to, 1)
    }

    fn direction(self, at: Point, end: usize) -> Vector {
        match self.track {
            Track::Line { along } => along,
            Track::Circle { centre, .. } => {
                let round = (at - centre).turned_left() * self.bulge.signum();
                let length = round.length_mm();
                if length > 0.0 {
                    round * (1.0 / length)
                } else {
                    self.segment().directions()[end]
                }
            }
        }
    }

    /// Ends at another place of its track; `None` where nothing is left of it.
    fn end_at(&mut self, place: Point) -> Option<()> {
        let by = self.ahead(self.to, place);
        self.to = place;
        self.lengthened(by)
    }

    /// Starts at another place of its track; `None` where nothing is left of it.
    fn start_at(&mut self, place: Point) -> Option<()> {
        let by = -self.ahead(self.from, place);
        self.from = place;
        self.lengthened(by)
    }

    /// How far one place lies ahead of another: mm on a line, radians on a circle.
    fn ahead(&self, from: Point, to: Point) -> f64 {
        match self.track {
            Track::Line { along } => along.dot(to - from),
            Track::Circle { centre, .. } => {
                let (v, w) = (from - centre, to - centre);
                v.cross(w).atan2(v.dot(w)) * self.bulge.signum()
            }
        }
    }

    fn lengthened(&mut self, by: f64) -> Option<()> {
        match self.track {
            Track::Line { along } => (along.dot(self.to - self.from) > 0.0).then_some(()),
            Track::Circle { radius_mm, .. } => {
                let angle = (4.0 * self.bulge.atan()).abs() + by;
                let left = angle * radius_mm > 1e-6 && angle < 0.96 * TAU;
                self.bulge = (0.25 * angle).tan() * self.bulge.signum();
                (left && by.abs() < PI).then_some(())
            }
        }
    }
}

/// Where the tracks of two sides cross.
fn crossings(a: Moved, b: Moved) -> [Option<Point>; 2] {
    match (a.track, b.track) {
        (Track::Line { along: u }, Track::Line { along: v }) => {
            let across = u.cross(v);
            let t = (b.from - a.from).cross(v) / across;
            let at = a.from + u * t;
            [(across.abs() > 1e-9 && at.is_finite()).then_some(at), None]
        }
        (Track::Line { along }, Track::Circle { centre, radius_mm }) => {
            line_and_circle(a.from, along, centre, radius_mm)
        }
        (Track::Circle { centre, radius_mm }, Track::Line { along }) => {
            line_and_circle(b.from, along, centre, radius_mm)
        }
        (
            Track::Circle {
                centre: c,
                radius_mm: r,
            },
            Track::Circle {
                centre: d,
                radius_mm: s,
            },
        ) => {
            let between = d - c;
            let apart = between.length_mm();
            if apart < 1e-9 {
                return [None; 2];
            }
            let along = (apart * apart + r * r - s * s) / (2.0 * apart);
            let foot = c + between * (along / apart);
            beside(
                foot,
                between.turned_left() * (1.0 / apart),
                r * r - along * along,
            )
        }
    }
}

fn line_and_circle(
    from: Point,
    along: Vector,
    centre: Point,
    radius_mm: f64,
) -> [Option<Point>; 2] {
    let foot = from + along * along.dot(centre - from);
    let off = foot.distance_mm(centre);
    beside(foot, along, radius_mm * radius_mm - off * off)
}

/// The places whose distance along a direction, squared, is so much.
fn beside(foot: Point, along: Vector, squared: f64) -> [Option<Point>; 2] {
    if squared < 0.0 {
        return [None; 2];
    }
    let reach = squared.sqrt();
    [Some(foot + along * reach), Some(foot - along * reach)]
}
