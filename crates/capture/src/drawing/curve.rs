//! Curves in chords that miss them by no more than a stated error.

use super::CHORD_ERROR_MM;
use super::trace::Affine;
use shape::{Point, Vector};

/// Halvings of one curve; past this the chords are far below any drawing's digits.
const MOST_HALVINGS: u32 = 24;

/// An arc of an ellipse: `centre + cos(t) u + sin(t) v` from `start` to `start + sweep`, radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct EllipseArc {
    pub(super) centre: Point,
    pub(super) u: Vector,
    pub(super) v: Vector,
    pub(super) start: f64,
    pub(super) sweep: f64,
}

impl EllipseArc {
    /// An arc of a circle, mapped.
    pub(super) fn circle(at: [f64; 2], radius: f64, start: f64, sweep: f64, to: Affine) -> Self {
        Self {
            centre: to.point(at[0], at[1]),
            u: to.vector(radius, 0.0),
            v: to.vector(0.0, radius),
            start,
            sweep,
        }
    }

    pub(super) fn at(&self, t: f64) -> Point {
        self.centre + self.u * t.cos() + self.v * t.sin()
    }

    /// How many chords keep the error. The unit circle's chord over an angle d misses it by
    /// 1 - cos(d / 2); the map from the unit circle stretches that by its larger singular value at most.
    fn n_chords(&self) -> f64 {
        let (uu, vv, uv) = (self.u.dot(self.u), self.v.dot(self.v), self.u.dot(self.v));
        let stretch = (0.5 * (uu + vv + ((uu - vv).powi(2) + 4.0 * uv * uv).sqrt())).sqrt();
        let step = if stretch > CHORD_ERROR_MM {
            2.0 * (1.0 - CHORD_ERROR_MM / stretch).acos()
        } else {
            std::f64::consts::FRAC_PI_2
        };
        // A whole turn in three chords or more, whatever its size.
        (self.sweep.abs() / step.min(std::f64::consts::FRAC_PI_2))
            .ceil()
            .max(1.0)
    }

    /// The chords' ends without the first; `None` where they are more than `most` or the arc is no
    /// number.
    pub(super) fn chords(&self, most: usize) -> Option<Vec<Point>> {
        let n = self.n_chords();
        let numbers = [
            self.centre.x,
            self.centre.y,
            self.u.x,
            self.u.y,
            self.v.x,
            self.v.y,
            self.start,
            self.sweep,
        ];
        if n > most as f64 || numbers.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let n = n as usize;
        Some(
            (1..=n)
                .map(|k| self.at(self.start + self.sweep * (k as f64 / n as f64)))
                .collect(),
        )
    }
}

/// The arc from `a` to `b` with a bulge: the tangent of a quarter of its included angle, positive
/// counter-clockwise (DXF's definition). `None` where it is straight.
///
/// Half the chord is c, the sagitta bulge * c, the radius c (1 + bulge^2) / (2 bulge), and the centre lies
/// c (1 - bulge^2) / (2 bulge) left of the chord's middle.
pub(super) fn bulge_arc(a: [f64; 2], b: [f64; 2], bulge: f64, to: Affine) -> Option<EllipseArc> {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    if bulge.abs() < 1e-12 || dx.hypot(dy) == 0.0 {
        return None;
    }
    let off = (1.0 - bulge * bulge) / (4.0 * bulge);
    let centre = [
        0.5 * (a[0] + b[0]) - dy * off,
        0.5 * (a[1] + b[1]) + dx * off,
    ];
    let start = (a[1] - centre[1]).atan2(a[0] - centre[0]);
    let radius = (a[0] - centre[0]).hypot(a[1] - centre[1]);
    Some(EllipseArc::circle(
        centre,
        radius,
        start,
        4.0 * bulge.atan(),
        to,
    ))
}

/// A rational Bezier curve of any degree: control points (x w, y w, w), mapped already.
///
/// The control points, divided by their weights, hold the curve in their hull where all weights are
/// positive; the curve is halved (de Casteljau) until they lie near enough to the chord, so that the error
/// is kept for certain.
pub(super) struct Bezier(pub(super) Vec<[f64; 3]>);

impl Bezier {
    /// A curve without weights.
    pub(super) fn plain(points: &[Point]) -> Self {
        Self(points.iter().map(|p| [p.x, p.y, 1.0]).collect())
    }

    /// Adds the chords' ends without the first to `into`; false where there would be more than `most`
    /// points in it, or a weight is not positive.
    pub(super) fn chords(&self, into: &mut Vec<Point>, most: usize) -> bool {
        let sound = self.0.len() >= 2
            && self
                .0
                .iter()
                .all(|c| c.iter().all(|v| v.is_finite()) && c[2] > 0.0);
        sound && halve(&self.0, 0, into, most)
    }
}

fn halve(control: &[[f64; 3]], depth: u32, into: &mut Vec<Point>, most: usize) -> bool {
    let place = |c: &[f64; 3]| Point::new(c[0] / c[2], c[1] / c[2]);
    let (a, b) = (place(&control[0]), place(&control[control.len() - 1]));
    let farthest = control[1..control.len() - 1]
        .iter()
        .map(place)
        .map(|p| p.distance_mm(p.nearest_on_segment(a, b)))
        .fold(0.0, f64::max);
    let near = farthest * inner_share(control) <= CHORD_ERROR_MM;
    if near || depth >= MOST_HALVINGS {
        into.push(b);
        return into.len() <= most;
    }
    let mut left = Vec::with_capacity(control.len());
    let mut row = control.to_vec();
    let mut right = Vec::with_capacity(control.len());
    while let (Some(&first), Some(&last)) = (row.first(), row.last()) {
        left.push(first);
        right.push(last);
        row = row
            .windows(2)
            .map(|w| std::array::from_fn(|k| 0.5 * (w[0][k] + w[1][k])))
            .collect();
    }
    right.reverse();
    halve(&left, depth + 1, into, most) && halve(&right, depth + 1, into, most)
}

/// The inner control points' largest joint share in a point of the curve: 1 - t^n - (1 - t)^n, greatest in the
/// middle, made larger where they weigh more than the ends. The curve lies no farther from the chord than this
/// share of the farthest one.
fn inner_share(control: &[[f64; 3]]) -> f64 {
    let n = control.len() - 1;
    let inner = control[1..n].iter().map(|c| c[2]).fold(0.0, f64::max);
    let ends = control[0][2].min(control[n][2]);
    let ends_share = 0.5_f64.powi(n as i32 - 1);
    let weight = (1.0 - ends_share) * inner;
    weight / (weight + ends_share * ends)
}

/// A B-spline's Bezier pieces. `control` as (x w, y w, w); `knots` number `control + degree + 1`.
/// `None` where the numbers do not fit together or the knots run backwards.
///
/// Each piece's control points are the blossom's values at the ends of its knot span (Ramshaw, "Blossoms
/// are polar forms", 1989): `degree - k` times the lower, `k` times the upper end.
pub(super) fn spline_pieces(
    degree: usize,
    knots: &[f64],
    control: &[[f64; 3]],
) -> Option<Vec<Bezier>> {
    let sound = (1..=10).contains(&degree)
        && control.len() > degree
        && knots.len() == control.len() + degree + 1
        && knots.iter().all(|k| k.is_finite())
        && knots.windows(2).all(|w| w[0] <= w[1]);
    if !sound {
        return None;
    }
    let mut pieces = Vec::new();
    for i in degree..control.len() {
        let (low, high) = (knots[i], knots[i + 1]);
        if low < high {
            let ends = |k: usize| {
                let argument = move |r: usize| if r <= degree - k { low } else { high };
                blossom(degree, knots, control, i, argument)
            };
            pieces.push(Bezier((0..=degree).map(ends).collect()));
        }
    }
    Some(pieces)
}

/// de Boor's scheme over the span from knot `i`, with one argument a round.
fn blossom(
    degree: usize,
    knots: &[f64],
    control: &[[f64; 3]],
    i: usize,
    argument: impl Fn(usize) -> f64,
) -> [f64; 3] {
    let mut d: Vec<[f64; 3]> = control[i - degree..=i].to_vec();
    for r in 1..=degree {
        for j in (r..=degree).rev() {
            let (from, to) = (knots[i - degree + j], knots[i + 1 + j - r]);
            // The span lies between them and is not empty.
            let share = (argument(r) - from) / (to - from);
            d[j] = std::array::from_fn(|k| d[j - 1][k] + share * (d[j][k] - d[j - 1][k]));
        }
    }
    d[degree]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_1_SQRT_2, PI, TAU};

    fn worst_miss_mm(points: &[Point], distance: impl Fn(Point) -> f64) -> f64 {
        points
            .windows(2)
            .flat_map(|w| (0..=20).map(move |k| w[0].lerp(w[1], f64::from(k) / 20.0)))
            .map(distance)
            .fold(0.0, f64::max)
    }

    #[test]
    fn chords_of_circles_of_any_size_keep_the_error_and_do_not_waste_points() {
        for radius in [0.002, 0.1, 1.0, 20.0, 150.0, 2000.0] {
            let arc = EllipseArc::circle([3.0, -4.0], radius, 0.3, TAU, Affine::IDENTITY);
            let mut points = vec![arc.at(0.3)];
            points.extend(arc.chords(100_000).expect("few"));
            let miss = worst_miss_mm(&points, |p| {
                (p.distance_mm(Point::new(3.0, -4.0)) - radius).abs()
            });
            assert!(miss <= CHORD_ERROR_MM + 1e-9, "{radius}: {miss}");
            assert!(points.len() >= 5);
            if radius >= 1.0 {
                assert!(
                    miss > 0.5 * CHORD_ERROR_MM,
                    "{radius}: {miss} with {}",
                    points.len()
                );
            }
        }
    }

    /// A bulge of 1 is half a circle (tan 45 degrees); 0.41421 = tan 22.5 degrees a quarter: by the
    /// definition that the DXF reference gives for group 42 (recalled, not verified).
    #[test]
    fn a_bulge_is_the_tangent_of_a_quarter_of_the_angle() {
        // From (0, 0) to (2, 0), counter-clockwise: the middle of the arc lies right of the chord, below.
        let half = bulge_arc([0.0, 0.0], [2.0, 0.0], 1.0, Affine::IDENTITY).expect("an arc");
        assert!(half.centre.distance_mm(Point::new(1.0, 0.0)) < 1e-12);
        assert!((half.sweep - PI).abs() < 1e-12);
        let middle = half.at(half.start + 0.5 * half.sweep);
        assert!(middle.distance_mm(Point::new(1.0, -1.0)) < 1e-12);
        // A quarter circle of radius 1 about the origin, from (1, 0) to (0, 1), worked by hand.
        let bulge = (PI / 8.0).tan();
        let quarter = bulge_arc([1.0, 0.0], [0.0, 1.0], bulge, Affine::IDENTITY).expect("an arc");
        assert!(quarter.centre.distance_mm(Point::default()) < 1e-12);
        let back = bulge_arc([0.0, 1.0], [1.0, 0.0], -bulge, Affine::IDENTITY).expect("an arc");
        assert!(back.centre.distance_mm(Point::default()) < 1e-12);
        assert!((back.sweep + PI / 2.0).abs() < 1e-12);
    }

    /// A quarter circle as a rational quadratic: weights 1, cos 45 degrees, 1 (Piegl and Tiller, The NURBS
    /// Book, section 7.3; recalled, not verified). Every point is at distance 1 from the centre, which
    /// checks itself.
    #[test]
    fn a_rational_spline_draws_a_true_circle() {
        let w = FRAC_1_SQRT_2;
        let control: Vec<[f64; 3]> = [
            (1.0, 0.0, 1.0),
            (1.0, 1.0, w),
            (0.0, 1.0, 1.0),
            (-1.0, 1.0, w),
            (-1.0, 0.0, 1.0),
            (-1.0, -1.0, w),
            (0.0, -1.0, 1.0),
            (1.0, -1.0, w),
            (1.0, 0.0, 1.0),
        ]
        .map(|(x, y, w)| [50.0 * x * w, 50.0 * y * w, w])
        .to_vec();
        let knots = [0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 4.0, 4.0, 4.0];
        let pieces = spline_pieces(2, &knots, &control).expect("sound");
        assert_eq!(pieces.len(), 4);
        let mut points = vec![Point::new(50.0, 0.0)];
        for piece in &pieces {
            assert!(piece.chords(&mut points, 10_000));
        }
        let miss = worst_miss_mm(&points, |p| (p.distance_mm(Point::default()) - 50.0).abs());
        assert!(miss <= CHORD_ERROR_MM, "{miss}");
        assert!(points.len() < 400, "{}", points.len());
    }

    /// A uniform cubic B-spline over knots 0 to 7 passes through (p0 + 4 p1 + p2) / 6 at its joints: its
    /// basis functions at a knot (Cox and de Boor's recursion, by hand).
    #[test]
    fn a_uniform_cubic_spline_joins_where_its_basis_says() {
        let p = [[0.0, 0.0], [1.0, 2.0], [3.0, 3.0], [5.0, 0.0]];
        let control = p.map(|[x, y]| [x, y, 1.0]);
        let knots: Vec<f64> = (0..8).map(f64::from).collect();
        let pieces = spline_pieces(3, &knots, &control).expect("sound");
        let first = pieces[0].0[0];
        let last = pieces[0].0[3];
        for k in 0..2 {
            assert!((first[k] - (p[0][k] + 4.0 * p[1][k] + p[2][k]) / 6.0).abs() < 1e-12);
            assert!((last[k] - (p[1][k] + 4.0 * p[2][k] + p[3][k]) / 6.0).abs() < 1e-12);
        }
    }

    #[test]
    fn numbers_that_do_not_fit_make_no_curve() {
        let control = [[0.0, 0.0, 1.0]; 4];
        assert!(spline_pieces(3, &[0.0; 7], &control).is_none());
        assert!(spline_pieces(0, &[0.0; 5], &control).is_none());
        assert!(
            spline_pieces(3, &[0.0, 0.0, 0.0, 0.0, 1.0, 1.0, f64::NAN, 1.0], &control).is_none()
        );
        assert!(spline_pieces(3, &[0.0, 0.0, 0.0, 2.0, 1.0, 1.0, 1.0, 1.0], &control).is_none());
        let mut none = Vec::new();
        assert!(!Bezier(vec![[0.0, 0.0, 1.0], [1.0, 0.0, -1.0]]).chords(&mut none, 100));
        assert!(!Bezier(vec![[0.0, 0.0, 1.0], [f64::NAN, 0.0, 1.0]]).chords(&mut none, 100));
        let nan = EllipseArc::circle([0.0, 0.0], f64::NAN, 0.0, TAU, Affine::IDENTITY);
        assert!(nan.chords(1000).is_none());
    }
}
