//! Corners and bows of all sides of a ring together, by damped least squares.

use super::band::{Normal, PER_SIDE, Residuals};
use super::samples::Samples;
use crate::exact::{Circle, ExactPoint, Segment};
use crate::{Point, Vector};

/// A side with the run of places that it stands for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side {
    /// Where it starts; it ends where the next one starts.
    pub(super) from: Point,
    /// Its bow, as in [`ExactPoint`].
    pub(super) bulge: f64,
    pub(super) first: usize,
    pub(super) last: usize,
}

/// Side `k` as a segment.
pub(super) fn segment(sides: &[Side], k: usize) -> Segment {
    Segment {
        from: sides[k].from,
        to: sides[(k + 1) % sides.len()].from,
        bulge: sides[k].bulge,
    }
}

/// The sides as an exact ring's points.
pub(super) fn points(sides: &[Side]) -> Vec<ExactPoint> {
    let point = |s: &Side| ExactPoint {
        at: s.from,
        bulge: s.bulge,
    };
    sides.iter().map(point).collect()
}

/// Places of a run that are looked at.
const LOOKS: usize = 120;

const ROUNDS: usize = 10;

/// A joint this near to smooth is tried as smooth, radians.
const SMOOTH_RAD: f64 = 0.2;

/// How strongly a smooth joint is held smooth: a kink of 0.001 rad costs as much as 10 mm of side that
/// are 0.01 mm off.
const SMOOTH_WEIGHT: f64 = 1e3;

/// Joints (by the side that starts there) that are smooth or nearly so, with an arc on one side at least.
pub(super) fn nearly_smooth(sides: &[Side]) -> Vec<bool> {
    let m = sides.len();
    (0..m)
        .map(|k| {
            let arc = sides[k].bulge != 0.0 || sides[(k + m - 1) % m].bulge != 0.0;
            arc && kink_rad(sides, k).abs() < SMOOTH_RAD
        })
        .collect()
}

/// By what angle the ring turns at the start of side `k`, radians.
fn kink_rad(sides: &[Side], k: usize) -> f64 {
    let m = sides.len();
    let [_, end] = segment(sides, (k + m - 1) % m).directions();
    let [start, _] = segment(sides, k).directions();
    end.cross(start).atan2(end.dot(start))
}

/// Moves joints and bows to where the sides fit their runs best; joints marked smooth are held smooth.
pub(super) fn refine(samples: &Samples, sides: &mut [Side], smooth: &[bool]) {
    let m = sides.len();
    let step_mm = samples.length_mm / samples.len() as f64;
    let mut damping = 1e-3;
    let mut cost = total(samples, sides, smooth, step_mm);
    for _ in 0..ROUNDS {
        let Some(change) = normal(samples, sides, smooth, step_mm).step(damping) else {
            damping *= 10.0;
            continue;
        };
        let mut moved = sides.to_vec();
        for k in 0..m {
            let by = Vector::new(change[PER_SIDE * k], change[PER_SIDE * k + 1]);
            moved[k].from = moved[k].from + by;
            if moved[k].bulge != 0.0 {
                moved[k].bulge += change[PER_SIDE * k + 2];
            }
        }
        let usable = moved
            .iter()
            .all(|s| s.from.is_finite() && s.bulge.abs() < 10.0);
        let new = total(samples, &moved, smooth, step_mm);
        if usable && new < cost {
            let settled = cost - new < 1e-6 * cost;
            sides.copy_from_slice(&moved);
            cost = new;
            damping = (damping * 0.2).max(1e-9);
            if settled {
                break;
            }
        } else {
            damping *= 10.0;
        }
    }
}

/// The whole line or circle that a side lies on, worked out once for many places.
enum Course {
    Line {
        from: Point,
        along: Vector,
        length_mm: f64,
    },
    Circle {
        circle: Circle,
        sign: f64,
    },
}

impl Course {
    fn of(s: Segment) -> Self {
        match s.circle() {
            Some(circle) => Self::Circle {
                circle,
                sign: s.bulge.signum(),
            },
            None => {
                let along = s.to - s.from;
                Self::Line {
                    from: s.from,
                    along,
                    length_mm: along.length_mm().max(1e-9),
                }
            }
        }
    }

    /// Signed distance of a place, mm; positive on the left.
    fn miss_mm(&self, p: Point) -> f64 {
        match self {
            Self::Line {
                from,
                along,
                length_mm,
            } => along.cross(p - *from) / length_mm,
            Self::Circle { circle, sign } => {
                // Millimetres of an outline: a square neither overflows nor vanishes.
                let from = p - circle.centre;
                sign * (circle.radius_mm - from.dot(from).sqrt())
            }
        }
    }
}

/// Weighted places of a side's run.
fn looks<'a>(samples: &'a Samples, side: &Side) -> impl Iterator<Item = (Point, f64)> + 'a {
    let (first, count) = (side.first, side.last - side.first);
    let steps = count.min(LOOKS);
    let weight = count as f64 / steps.max(1) as f64;
    let n = samples.len();
    (0..=steps).map(move |k| {
        let i = (first + k * count / steps.max(1)) % n;
        (samples.at[i], weight * samples.weight_mm[i])
    })
}

/// A joint is held near its own place a little: along smooth joints nothing else says where it lies.
const HOLD: f64 = 1e-3;

fn total(samples: &Samples, sides: &[Side], smooth: &[bool], step_mm: f64) -> f64 {
    (0..sides.len())
        .map(|k| {
            let s = segment(sides, k);
            let course = Course::of(s);
            let fit: f64 = looks(samples, &sides[k])
                .map(|(p, w)| w * course.miss_mm(p).powi(2))
                .sum();
            let held = s.from - samples.place(sides[k].first);
            let kink = if smooth[k] { kink_rad(sides, k) } else { 0.0 };
            fit + HOLD * step_mm * held.dot(held) + SMOOTH_WEIGHT * step_mm * kink * kink
        })
        .sum()
}

/// The normal equations of all residuals; unknowns of a side: x, y, bulge.
fn normal(samples: &Samples, sides: &[Side], smooth: &[bool], step_mm: f64) -> Normal {
    let m = sides.len();
    let mut normal = Normal::of_sides(m);
    for k in 0..m {
        let (a, b) = (PER_SIDE * k, PER_SIDE * ((k + 1) % m));
        let s = segment(sides, k);
        let mut fit = Residuals::none();
        let (course, shifted) = (
            Course::of(s),
            shifted_segments(s).map(|t| t.map(Course::of)),
        );
        for (p, w) in looks(samples, &sides[k]) {
            let here = course.miss_mm(p);
            let slope =
                |t: &Option<Course>| t.as_ref().map_or(0.0, |t| (t.miss_mm(p) - here) / SHIFT);
            let slopes = shifted.each_ref().map(slope);
            fit.add(slopes, here, w);
        }
        normal.add([a, a + 1, b, b + 1, a + 2], &fit);
        let held = s.from - samples.place(sides[k].first);
        normal.add([a], &Residuals::one([1.0], held.x, HOLD * step_mm));
        normal.add([a + 1], &Residuals::one([1.0], held.y, HOLD * step_mm));
        if smooth[k] && m > 2 {
            add_kink(&mut normal, sides, k, step_mm);
        }
    }
    normal
}

/// Step of the difference quotients: mm for places, none for bulges.
const SHIFT: f64 = 1e-6;

/// The segment with each of its five numbers shifted; a straight one keeps its bulge.
fn shifted_segments(s: Segment) -> [Option<Segment>; 5] {
    let by = Vector::new(SHIFT, 0.0);
    let up = Vector::new(0.0, SHIFT);
    [
        Some(Segment {
            from: s.from + by,
            ..s
        }),
        Some(Segment {
            from: s.from + up,
            ..s
        }),
        Some(Segment { to: s.to + by, ..s }),
        Some(Segment { to: s.to + up, ..s }),
        (s.bulge != 0.0).then_some(Segment {
            bulge: s.bulge + SHIFT,
            ..s
        }),
    ]
}

fn add_kink(normal: &mut Normal, sides: &[Side], k: usize, step_mm: f64) {
    let m = sides.len();
    let (before, after) = ((k + m - 1) % m, (k + 1) % m);
    let unknowns: [usize; 8] = std::array::from_fn(|i| match i {
        6 => PER_SIDE * before + 2,
        7 => PER_SIDE * k + 2,
        _ => PER_SIDE * [before, k, after][i / 2] + i % 2,
    });
    let here = kink_rad(sides, k);
    let mut moved = sides.to_vec();
    let slopes = unknowns.map(|u| {
        let kept = moved[u / PER_SIDE];
        let side = &mut moved[u / PER_SIDE];
        match u % PER_SIDE {
            0 => side.from.x += SHIFT,
            1 => side.from.y += SHIFT,
            _ if side.bulge != 0.0 => side.bulge += SHIFT,
            _ => return 0.0,
        }
        let slope = (kink_rad(&moved, k) - here) / SHIFT;
        moved[u / PER_SIDE] = kept;
        slope
    });
    normal.add(
        unknowns,
        &Residuals::one(slopes, here, SMOOTH_WEIGHT * step_mm),
    );
}
