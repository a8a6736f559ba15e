//! Where pieces of tape lie.

use crate::inset::{Face, LEAN_MM};
use shape::{Outline, Point, Pose, Vector, convex_hull};

/// A straight piece of tape.
#[derive(Debug, Clone, PartialEq)]
pub struct TapeStrip {
    /// Its four corners, counter-clockwise.
    pub corners: [Point; 4],
    /// Width of the roll, mm.
    pub width_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
}

impl TapeStrip {
    /// Area, mm2.
    pub fn area_mm2(&self) -> f64 {
        self.width_mm * self.length_mm
    }
}

/// Shortest piece that can be handled, mm.
const SHORTEST_MM: f64 = 4.0;
/// Most pieces under one part.
const MOST_PIECES: usize = 8;
/// Bands that are tried across a face.
const BANDS: usize = 48;

/// An axis-parallel rectangle: x from, x to, y from, y to.
type Rectangle = [f64; 4];

/// Lays pieces along the face's length, a margin inside its edge and holes, the largest first, until they have the
/// area asked for; fewer where no more have room. Empty where the face is narrower than the narrowest roll.
pub fn lay_tape(
    face: &Outline,
    margin_mm: f64,
    widths_mm: &[f64],
    area_mm2: f64,
) -> Vec<TapeStrip> {
    tape_on(&Face::new(face.clone()), margin_mm, widths_mm, area_mm2)
}

/// As [`lay_tape`], on a face of which more is known.
pub(crate) fn tape_on(
    face: &Face,
    margin_mm: f64,
    widths_mm: &[f64],
    area_mm2: f64,
) -> Vec<TapeStrip> {
    let along_deg = long_axis_deg(face.outline());
    let turn = Pose::new(0.0, 0.0, -along_deg);
    let room = face.inset(margin_mm + 0.01 + LEAN_MM);
    let room: Vec<Outline> = room.iter().map(|o| o.placed(turn)).collect();
    let mut taken: Vec<Rectangle> = Vec::new();
    let mut strips = Vec::new();
    let mut missing = area_mm2;
    while missing > 0.0 && strips.len() < MOST_PIECES {
        let Some(best) = widths_mm
            .iter()
            .filter_map(|w| longest(&room, *w, &taken))
            .max_by(|a, b| area(*a).total_cmp(&area(*b)))
        else {
            break;
        };
        let [x0, mut x1, y0, y1] = best;
        let width_mm = y1 - y0;
        // No longer than needed, but long enough to hold against turning.
        let enough = (missing / width_mm).max(2.0 * width_mm).max(SHORTEST_MM);
        let spare = (x1 - x0 - enough).max(0.0);
        let x0 = x0 + spare / 2.0;
        x1 -= spare / 2.0;
        taken.push(best);
        missing -= (x1 - x0) * width_mm;
        let back = Pose::new(0.0, 0.0, along_deg);
        strips.push(TapeStrip {
            corners: [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
                .map(|(x, y)| back.apply(Point::new(x, y))),
            width_mm,
            length_mm: x1 - x0,
        });
    }
    strips
}

fn area([x0, x1, y0, y1]: Rectangle) -> f64 {
    (x1 - x0) * (y1 - y0)
}

/// The longest rectangle of that height in the room, clear of what is taken.
fn longest(room: &[Outline], height: f64, taken: &[Rectangle]) -> Option<Rectangle> {
    let bounds = room
        .iter()
        .map(Outline::bounds)
        .reduce(shape::Bounds::joined)?;
    let free = bounds.height_mm() - height;
    if free < 0.0 {
        return None;
    }
    let middle = BANDS / 2;
    // From the middle outwards, so that of equal ones the middle is taken.
    let order = (0..=BANDS).map(|k| {
        if k % 2 == 0 {
            middle + k / 2
        } else {
            middle - k.div_ceil(2)
        }
    });
    let mut best: Option<Rectangle> = None;
    for band in order {
        let y0 = bounds.min.y + free * band as f64 / BANDS as f64;
        for [x0, x1] in free_in_band(room, y0, y0 + height, taken) {
            if x1 - x0 >= SHORTEST_MM && best.is_none_or(|b| x1 - x0 > b[1] - b[0] + 0.5) {
                best = Some([x0, x1, y0, y0 + height]);
            }
        }
    }
    best
}

/// Stretches of x in which the whole band lies in the room: no side of the room enters the band there, and its middle is
/// inside.
fn free_in_band(room: &[Outline], y0: f64, y1: f64, taken: &[Rectangle]) -> Vec<[f64; 2]> {
    let mut blocked: Vec<[f64; 2]> = Vec::new();
    for (a, b) in room
        .iter()
        .flat_map(Outline::rings)
        .flat_map(shape::Ring::sides)
    {
        // A side along the band's own edge is no obstacle.
        if a.y.max(b.y) <= y0 + 1e-9 || a.y.min(b.y) >= y1 - 1e-9 {
            continue;
        }
        let x_at = |y: f64| {
            if a.y == b.y {
                a.x
            } else {
                a.x + ((y - a.y) / (b.y - a.y)).clamp(0.0, 1.0) * (b.x - a.x)
            }
        };
        let (p, q) = if a.y == b.y {
            (a.x, b.x)
        } else {
            (x_at(a.y.clamp(y0, y1)), x_at(b.y.clamp(y0, y1)))
        };
        blocked.push([p.min(q), p.max(q)]);
    }
    for t in taken {
        if t[2] < y1 && t[3] > y0 {
            blocked.push([t[0], t[1]]);
        }
    }
    blocked.sort_by(|s, t| s[0].total_cmp(&t[0]));
    let mut free = Vec::new();
    let mut reached = f64::NEG_INFINITY;
    for [from, to] in blocked {
        if reached.is_finite() && from > reached {
            let at = Point::new((reached + from) / 2.0, (y0 + y1) / 2.0);
            let in_taken = taken
                .iter()
                .any(|t| at.x > t[0] && at.x < t[1] && t[2] < y1 && t[3] > y0);
            if !in_taken && room.iter().any(|o| o.contains(at)) {
                free.push([reached, from]);
            }
        }
        reached = reached.max(to);
    }
    free
}

/// Direction of the longer side of the smallest rectangle round the outline, degrees.
pub(crate) fn long_axis_deg(outline: &Outline) -> f64 {
    let hull = convex_hull(outline.outer().points().to_vec(), 1e-9);
    let n = hull.len();
    let mut best = (f64::INFINITY, 0.0);
    for k in 0..n {
        let side = hull[(k + 1) % n] - hull[k];
        let length = side.length_mm();
        if length < 1e-9 {
            continue;
        }
        let u = side * (1.0 / length);
        let extent = |v: Vector| {
            let (low, high) = hull
                .iter()
                .map(|p| v.dot(*p - hull[0]))
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), d| {
                    (a.min(d), b.max(d))
                });
            high - low
        };
        let (along, across) = (extent(u), extent(u.turned_left()));
        // Of equal rectangles the first counts, so that rounding never decides.
        if along * across < best.0 * (1.0 - 1e-9) {
            let deg = u.y.atan2(u.x).to_degrees() + if across > along { 90.0 } else { 0.0 };
            best = (along * across, deg.rem_euclid(180.0));
        }
    }
    best.1
}
