//! Is a region's hull four-sided?

use shape::Point;

/// Four corners in half-size pixels, clockwise as seen (y down), from any of them.
pub(super) type Quad = [[f64; 2]; 4];

/// Hull points beyond this number are no tag: its hull has a few steps along each side.
const MOST_HULL_POINTS: usize = 120;

/// Least share of the hull that the four-sided figure covers. Blurred corners and whole pixels take a
/// few per cent of the smallest tags; an octagon gives 0.71 to 0.85, a disc 0.64.
const LEAST_COVER: f64 = 0.88;

/// The largest four-sided figure inscribed in the hull of the points, where it covers the hull nearly.
/// Its corners are centres of outermost pixels.
pub(super) fn inscribed_quad(points: &[[i32; 2]]) -> Option<Quad> {
    let hull = convex_hull(points);
    let n = hull.len();
    if !(4..=MOST_HULL_POINTS).contains(&n) {
        return None;
    }
    let (mut best, mut corners) = (0_i64, [0_usize; 4]);
    // For each diagonal, the farthest point on either side; both move on as the diagonal turns.
    for a in 0..n {
        let (mut left, mut right) = (a + 1, a + 3);
        for c in a + 2..n {
            left = left.max(a + 1);
            while left + 1 < c && twice(&hull, a, left + 1, c) >= twice(&hull, a, left, c) {
                left += 1;
            }
            right = right.max(c + 1);
            while right + 1 < a + n && twice(&hull, a, c, right + 1) >= twice(&hull, a, c, right) {
                right += 1;
            }
            if right >= a + n {
                continue;
            }
            let area = twice(&hull, a, left, c) + twice(&hull, a, c, right);
            if area > best {
                (best, corners) = (area, [a, left, c, right % n]);
            }
        }
    }
    let whole: i64 = (1..n - 1).map(|i| twice(&hull, 0, i, i + 1)).sum();
    if best <= 0 || (best as f64) < LEAST_COVER * whole as f64 {
        return None;
    }
    let quad = corners.map(|i| hull[i].map(f64::from));
    is_tag_like(&quad).then_some(quad)
}

/// Sides of a square seen up to 60 degrees off differ by less than these.
fn is_tag_like(quad: &Quad) -> bool {
    let side = |i: usize| {
        let ([x0, y0], [x1, y1]) = (quad[i], quad[(i + 1) % 4]);
        (x1 - x0).hypot(y1 - y0)
    };
    let sides: [f64; 4] = std::array::from_fn(side);
    let shortest = sides.iter().copied().fold(f64::INFINITY, f64::min);
    let longest = sides.iter().copied().fold(0.0, f64::max);
    shortest >= 8.0 && longest <= 3.0 * shortest
}

/// Twice the area of a triangle of hull points, positive in the hull's own sense; indices wrap.
fn twice(hull: &[[i32; 2]], a: usize, b: usize, c: usize) -> i64 {
    let n = hull.len();
    let [p, q, r] = [a, b, c].map(|i| hull[i % n].map(i64::from));
    (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
}

/// The convex hull, clockwise as seen with y down. Whole numbers of pixels are exact in floating point, and so is the hull.
fn convex_hull(points: &[[i32; 2]]) -> Vec<[i32; 2]> {
    let places = points.iter().map(|p| Point::from(p.map(f64::from)));
    shape::convex_hull(places.collect(), 0.0)
        .into_iter()
        .map(|p| <[f64; 2]>::from(p).map(|v| v as i32))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(inside: impl Fn(f64, f64) -> bool) -> Vec<[i32; 2]> {
        (-60..=60)
            .flat_map(|y| (-60..=60).map(move |x| [x, y]))
            .filter(|&[x, y]| inside(f64::from(x), f64::from(y)))
            .collect()
    }

    #[test]
    fn a_turned_square_is_found_at_its_corners() {
        let (s, c) = 0.35_f64.sin_cos();
        let quad = inscribed_quad(&filled(|x, y| {
            (x * c + y * s).abs() <= 30.0 && (y * c - x * s).abs() <= 30.0
        }))
        .expect("a square is four-sided");
        for [x, y] in quad {
            // By construction the corners are 30 * sqrt 2 from the middle.
            assert!((x.hypot(y) - 42.426).abs() < 1.5, "{x} {y}");
        }
    }

    #[test]
    fn a_disc_is_not_four_sided() {
        assert_eq!(inscribed_quad(&filled(|x, y| x.hypot(y) < 40.0)), None);
    }

    #[test]
    fn a_triangle_is_not_four_sided() {
        assert_eq!(
            inscribed_quad(&filled(|x, y| y < 40.0 && y > 2.0 * x.abs() - 40.0)),
            None
        );
    }
}
