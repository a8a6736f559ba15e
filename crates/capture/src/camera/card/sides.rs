//! The four straight sides of a closed line with rounded corners.

/// The share of a side that its line is fitted to, about its middle: a card's corners round 3.18 of 53.98 mm at each end.
pub(super) const FITTED_SHARE: f64 = 0.8;

/// Points along the whole line.
const POINTS: usize = 2_400;

/// How near to a side's line its points have to lie, as shares of the side's length, round by round.
const NEAR: [f64; 4] = [0.05, 0.02, 0.008, 0.008];

/// The share of a side's middle that has to have such points.
const LEAST_COVER: f64 = 0.8;

/// How far the line may bow or wander about its sides, root mean square, as a share of a side.
const MOST_RMS: f64 = 0.004;

/// A closed line that is four straight sides.
#[derive(Debug, Clone)]
pub(super) struct StraightSides {
    /// Where the sides' lines meet, in order, px.
    pub(super) corners: [[f64; 2]; 4],
    /// How far the nearest point of the line is from each corner, px.
    pub(super) corner_cuts_px: [f64; 4],
    /// Root mean square of the points' distance from their side, px.
    pub(super) rms_px: f64,
}

impl StraightSides {
    /// Length of the four sides together, px.
    pub(super) fn perimeter_px(&self) -> f64 {
        (0..4)
            .map(|i| distance(self.corners[i], self.corners[(i + 1) % 4]))
            .sum()
    }
}

/// A line: a point on it and its direction.
#[derive(Clone, Copy)]
struct Line {
    at: [f64; 2],
    along: [f64; 2],
}

/// The four sides of a closed line at least `least_px` long; `None` where it has other ones.
pub(super) fn straight_sides(ring: &[[f64; 2]], least_px: f64) -> Option<StraightSides> {
    let n = ring.len();
    let length: f64 = (0..n).map(|i| distance(ring[i], ring[(i + 1) % n])).sum();
    if n < 4 || length.is_nan() || length < least_px {
        return None;
    }
    let points = dense(ring, length);
    let mut corners = first_corners(&points)?;
    let mut rms = f64::INFINITY;
    for near in NEAR {
        let mut lines = Vec::with_capacity(4);
        let (mut square, mut count) = (0.0, 0usize);
        for i in 0..4 {
            let (line, misses) = fit_side(&points, corners[i], corners[(i + 1) % 4], near)?;
            square += misses.iter().map(|m| m * m).sum::<f64>();
            count += misses.len();
            lines.push(line);
        }
        rms = (square / count.max(1) as f64).sqrt();
        for i in 0..4 {
            corners[i] = meeting(lines[(i + 3) % 4], lines[i])?;
        }
    }
    let shortest = (0..4)
        .map(|i| distance(corners[i], corners[(i + 1) % 4]))
        .fold(f64::INFINITY, f64::min);
    let area = |p: &[[f64; 2]]| -> f64 {
        let m = p.len();
        (0..m)
            .map(|i| cross(p[i], p[(i + 1) % m]))
            .sum::<f64>()
            .abs()
    };
    let fill = area(&points) / area(&corners);
    if rms > MOST_RMS * shortest || !(0.97..=1.01).contains(&fill) {
        return None;
    }
    let corner_cuts_px = corners.map(|c| {
        points
            .iter()
            .map(|p| distance(*p, c))
            .fold(f64::INFINITY, f64::min)
    });
    Some(StraightSides {
        corners,
        corner_cuts_px,
        rms_px: rms,
    })
}

/// The line with points at even distances.
fn dense(ring: &[[f64; 2]], length: f64) -> Vec<[f64; 2]> {
    let step = length / POINTS as f64;
    let n = ring.len();
    let mut points = Vec::with_capacity(POINTS + 1);
    let mut left = 0.0;
    for i in 0..n {
        let (a, b) = (ring[i], ring[(i + 1) % n]);
        let side = distance(a, b);
        let mut at = left;
        while at < side {
            let t = at / side;
            points.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
            at += step;
        }
        left = at - side;
    }
    points
}

/// The two points farthest apart, and on each side of the line between them the one farthest from it.
fn first_corners(points: &[[f64; 2]]) -> Option<[[f64; 2]; 4]> {
    let few: Vec<[f64; 2]> = points.iter().copied().step_by(12).collect();
    let mut ends = (0.0, [0.0; 2], [0.0; 2]);
    for (i, a) in few.iter().enumerate() {
        for b in &few[i + 1..] {
            let d = distance(*a, *b);
            if d > ends.0 {
                ends = (d, *a, *b);
            }
        }
    }
    let (length, a, b) = ends;
    let off = |p: &[f64; 2]| cross([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]) / length;
    let left = points.iter().max_by(|p, q| off(p).total_cmp(&off(q)))?;
    let right = points.iter().min_by(|p, q| off(p).total_cmp(&off(q)))?;
    // Both have to be well off the diagonal: a card's are 0.45 of it away.
    (off(left) > 0.2 * length && off(right) < -0.2 * length).then_some([a, *left, b, *right])
}

/// A line through the middle points of a side; `None` where too much of the side is not straight.
fn fit_side(
    points: &[[f64; 2]],
    from: [f64; 2],
    to: [f64; 2],
    near: f64,
) -> Option<(Line, Vec<f64>)> {
    const BINS: usize = 40;
    let length = distance(from, to);
    let along = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    let mut covered = [false; BINS];
    let chosen: Vec<[f64; 2]> = points
        .iter()
        .copied()
        .filter(|p| {
            let d = [p[0] - from[0], p[1] - from[1]];
            let t = (dot(along, d) / length - 0.5) / FITTED_SHARE + 0.5;
            let is_near = (0.0..1.0).contains(&t) && cross(along, d).abs() < near * length;
            if is_near {
                covered[(t * BINS as f64) as usize] = true;
            }
            is_near
        })
        .collect();
    let cover = covered.iter().filter(|c| **c).count() as f64 / BINS as f64;
    if chosen.len() < BINS || cover < LEAST_COVER {
        return None;
    }
    let n = chosen.len() as f64;
    let mean = [0, 1].map(|k| chosen.iter().map(|p| p[k]).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in &chosen {
        let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    // The long axis of the points' ellipse of inertia.
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let line = Line {
        at: mean,
        along: [angle.cos(), angle.sin()],
    };
    let misses = chosen
        .iter()
        .map(|p| cross(line.along, [p[0] - mean[0], p[1] - mean[1]]))
        .collect();
    Some((line, misses))
}

fn meeting(a: Line, b: Line) -> Option<[f64; 2]> {
    let det = cross(a.along, b.along);
    let t = cross([b.at[0] - a.at[0], b.at[1] - a.at[1]], b.along) / det;
    (det.abs() > 0.2).then(|| [a.at[0] + t * a.along[0], a.at[1] + t * a.along[1]])
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}
