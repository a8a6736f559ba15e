//! An outline as convex pieces, and the sum of two convex pieces.

use shape::{Outline, Point, Ring, Vector};

/// Convex polygons, counter-clockwise, that together cover the outline and nothing else.
///
/// Ears are cut off after holes are joined to the outer ring by bridges, then pieces are merged again across
/// diagonals that neither needs (Hertel and Mehlhorn 1983). Where rounding spoils that, the outline is cut into
/// trapezoids instead.
pub(crate) fn convex_pieces(outline: &Outline) -> Vec<Vec<Point>> {
    let pieces = ears(outline).map(merged).unwrap_or_default();
    let area: f64 = pieces.iter().map(|p| area(p)).sum();
    let sound = pieces.iter().all(|p| is_convex(p));
    if sound && (area - outline.area_mm2()).abs() <= 1e-9 * outline.area_mm2() {
        pieces
    } else {
        trapezoids(outline)
    }
}

fn area(points: &[Point]) -> f64 {
    let o = points[0];
    0.5 * points
        .windows(2)
        .map(|w| (w[0] - o).cross(w[1] - o))
        .sum::<f64>()
}

fn is_convex(points: &[Point]) -> bool {
    let n = points.len();
    (0..n).all(|i| {
        let (a, b, c) = (points[i], points[(i + 1) % n], points[(i + 2) % n]);
        let (u, v) = (b - a, c - b);
        u.cross(v) >= -1e-12 * u.length_mm() * v.length_mm()
    })
}

/// The outer ring with each hole joined to it by a bridge that runs there and back.
fn bridged(outline: &Outline) -> Vec<Point> {
    let mut ring = outline.outer().points().to_vec();
    let mut waiting: Vec<Vec<Point>> = outline
        .holes()
        .iter()
        .map(|h| h.points().to_vec())
        .collect();
    while !waiting.is_empty() {
        // The shortest line from any hole's corner to the ring's that crosses nothing.
        let mut lines: Vec<(f64, usize, usize, usize)> = Vec::new();
        for (h, hole) in waiting.iter().enumerate() {
            for (k, &p) in hole.iter().enumerate() {
                for (i, &q) in ring.iter().enumerate() {
                    lines.push((p.distance_mm(q), h, k, i));
                }
            }
        }
        lines.sort_by(|a, b| {
            a.0.total_cmp(&b.0)
                .then((a.1, a.2, a.3).cmp(&(b.1, b.2, b.3)))
        });
        let free = lines.iter().find(|&&(_, h, k, i)| {
            let (p, q) = (waiting[h][k], ring[i]);
            in_corner(&ring, i, p)
                && !blocked(&ring, p, q)
                && !waiting.iter().any(|hole| blocked(hole, p, q))
        });
        let Some(&(_, h, k, i)) = free else { break };
        let hole = waiting.remove(h);
        let mut joined = Vec::with_capacity(ring.len() + hole.len() + 2);
        joined.extend_from_slice(&ring[..=i]);
        joined.extend_from_slice(&hole[k..]);
        joined.extend_from_slice(&hole[..=k]);
        joined.extend_from_slice(&ring[i..]);
        ring = joined;
    }
    ring
}

/// The point lies in the angle of material at corner `i` of the ring.
fn in_corner(ring: &[Point], i: usize, p: Point) -> bool {
    let n = ring.len();
    let (a, b, c) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
    let (u, v, w) = (b - a, c - b, p - b);
    if u.cross(v) > 0.0 {
        u.cross(w) > 0.0 && v.cross(w) > 0.0
    } else {
        u.cross(w) > 0.0 || v.cross(w) > 0.0
    }
}

/// A side of the ring crosses the line between the two points, or a corner of it lies on the line.
fn blocked(ring: &[Point], p: Point, q: Point) -> bool {
    let along = q - p;
    (0..ring.len()).any(|i| {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        if a == p || a == q || b == p || b == q {
            return false;
        }
        let (s, t) = (along.cross(a - p), along.cross(b - p));
        let side = b - a;
        let (u, v) = (side.cross(p - a), side.cross(q - a));
        s * t <= 0.0 && u * v <= 0.0
    })
}

/// Triangles by their corners' numbers in one list of points; `None` where no ear is left to cut.
fn ears(outline: &Outline) -> Option<(Vec<Point>, Vec<Vec<usize>>)> {
    let ring = bridged(outline);
    // Both ends of a bridge are there twice: they get one number.
    let mut points: Vec<Point> = Vec::new();
    let mut left: Vec<usize> = Vec::new();
    for p in ring {
        let at = points.iter().position(|&q| q == p).unwrap_or_else(|| {
            points.push(p);
            points.len() - 1
        });
        left.push(at);
    }
    let mut pieces = Vec::new();
    while left.len() > 3 {
        let n = left.len();
        // The ear whose diagonal is shortest gives fewer slivers than the first one found.
        let mut best: Option<(f64, usize)> = None;
        for i in 0..n {
            let [a, b, c] = [left[(i + n - 1) % n], left[i], left[(i + 1) % n]];
            let (pa, pb, pc) = (points[a], points[b], points[c]);
            let turn = (pb - pa).cross(pc - pb);
            let flat = 1e-14 * pa.distance_mm(pb) * pb.distance_mm(pc);
            if turn < -flat || a == c {
                continue;
            }
            let length = pa.distance_mm(pc);
            if best.is_some_and(|(l, _)| l <= length) {
                continue;
            }
            let taken = left.iter().any(|&k| {
                k != a && k != b && k != c && {
                    let p = points[k];
                    (pb - pa).cross(p - pa) >= 0.0
                        && (pc - pb).cross(p - pb) >= 0.0
                        && (pa - pc).cross(p - pc) >= 0.0
                }
            });
            if !taken {
                best = Some((length, i));
            }
        }
        let (_, i) = best?;
        let triangle = vec![left[(i + n - 1) % n], left[i], left[(i + 1) % n]];
        left.remove(i);
        let [a, b, c] = [
            points[triangle[0]],
            points[triangle[1]],
            points[triangle[2]],
        ];
        if (b - a).cross(c - b) > 0.0 {
            pieces.push(triangle);
        }
    }
    pieces.push(left);
    Some((points, pieces))
}

/// Pieces joined across shared sides as long as they stay convex.
fn merged((points, mut pieces): (Vec<Point>, Vec<Vec<usize>>)) -> Vec<Vec<Point>> {
    let mut k = 0;
    while k < pieces.len() {
        let joined = (0..pieces.len())
            .filter(|&j| j != k)
            .find_map(|j| joined_pair(&points, &pieces[k], &pieces[j]).map(|p| (j, p)));
        match joined {
            Some((j, piece)) => {
                pieces[k] = piece;
                pieces.remove(j);
                if j < k {
                    k -= 1;
                }
            }
            None => k += 1,
        }
    }
    pieces
        .into_iter()
        .map(|p| p.into_iter().map(|i| points[i]).collect())
        .collect()
}

fn joined_pair(points: &[Point], a: &[usize], b: &[usize]) -> Option<Vec<usize>> {
    for i in 0..a.len() {
        let (from, to) = (a[i], a[(i + 1) % a.len()]);
        let Some(j) = (0..b.len()).find(|&j| b[j] == to && b[(j + 1) % b.len()] == from) else {
            continue;
        };
        // Round `a` from `to` to `from`, then round `b` between them.
        let mut ring: Vec<usize> = (0..a.len()).map(|k| a[(i + 1 + k) % a.len()]).collect();
        ring.extend((2..b.len()).map(|k| b[(j + k) % b.len()]));
        let corners: Vec<Point> = ring.iter().map(|&k| points[k]).collect();
        let n = corners.len();
        let strictly = (0..n).all(|k| {
            let (u, v) = (
                corners[(k + 1) % n] - corners[k],
                corners[(k + 2) % n] - corners[(k + 1) % n],
            );
            u.cross(v) >= 0.0
        });
        return strictly.then_some(ring);
    }
    None
}

/// The outline cut along the horizontal lines through all its corners.
fn trapezoids(outline: &Outline) -> Vec<Vec<Point>> {
    let mut levels: Vec<f64> = outline
        .rings()
        .flat_map(|r| r.points().iter().map(|p| p.y))
        .collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();
    let sides: Vec<(Point, Point)> = outline.rings().flat_map(Ring::sides).collect();
    let mut pieces = Vec::new();
    for w in levels.windows(2) {
        let (low, high) = (w[0], w[1]);
        let middle = 0.5 * (low + high);
        let at = |(a, b): (Point, Point), y: f64| {
            a.x + (b.x - a.x) * ((y - a.y) / (b.y - a.y)).clamp(0.0, 1.0)
        };
        let mut crossing: Vec<(f64, (Point, Point))> = sides
            .iter()
            .filter(|(a, b)| (a.y > middle) != (b.y > middle))
            .map(|&s| (at(s, middle), s))
            .collect();
        crossing.sort_by(|a, b| a.0.total_cmp(&b.0));
        for pair in crossing.chunks_exact(2) {
            let (l, r) = (pair[0].1, pair[1].1);
            let mut piece = vec![
                Point::new(at(l, low), low),
                Point::new(at(r, low), low),
                Point::new(at(r, high), high),
                Point::new(at(l, high), high),
            ];
            piece.dedup();
            if piece.len() > 3 && piece[0] == piece[piece.len() - 1] {
                piece.pop();
            }
            if piece.len() > 2 {
                pieces.push(piece);
            }
        }
    }
    pieces
}

/// Minkowski sum of two convex polygons, counter-clockwise: their sides merged by direction.
pub(crate) fn convex_sum(a: &[Point], b: &[Point]) -> Vec<Point> {
    let lowest = |p: &[Point]| {
        (0..p.len())
            .min_by(|&i, &j| p[i].y.total_cmp(&p[j].y).then(p[i].x.total_cmp(&p[j].x)))
            .unwrap_or(0)
    };
    let (start_a, start_b) = (lowest(a), lowest(b));
    let side = |p: &[Point], k: usize| -> Vector { p[(k + 1) % p.len()] - p[k % p.len()] };
    let mut at = Point::new(a[start_a].x + b[start_b].x, a[start_a].y + b[start_b].y);
    let mut sum = Vec::with_capacity(a.len() + b.len());
    let (mut i, mut j) = (0, 0);
    while i < a.len() || j < b.len() {
        sum.push(at);
        let (u, v) = (side(a, start_a + i), side(b, start_b + j));
        let turn = u.cross(v);
        let take_a = j >= b.len() || (i < a.len() && turn >= 0.0);
        let take_b = i >= a.len() || (j < b.len() && turn <= 0.0);
        if take_a {
            at = at + u;
            i += 1;
        }
        if take_b {
            at = at + v;
            j += 1;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[(f64, f64)]) -> Vec<Point> {
        list.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    fn covers(outline: &Outline) {
        for pieces in [convex_pieces(outline), trapezoids(outline)] {
            let sum: f64 = pieces.iter().map(|p| area(p)).sum();
            assert!(
                (sum - outline.area_mm2()).abs() < 1e-9 * outline.area_mm2(),
                "{sum} {}",
                outline.area_mm2()
            );
            // The ends of trapezoids are cut points: they lie off a straight side by rounding.
            let most = pieces.iter().map(|p| dent_mm(p)).fold(0.0, f64::max);
            assert!(most < 1e-9, "{most}");
        }
    }

    /// How far the worst corner lies inside the line past it, mm; 0 for what is convex.
    fn dent_mm(points: &[Point]) -> f64 {
        let n = points.len();
        let side = |i: usize| points[(i + 1) % n] - points[i % n];
        (0..n)
            .map(|i| {
                let (u, v) = (side(i), side(i + 1));
                -u.cross(v) / u.length_mm().max(v.length_mm())
            })
            .fold(0.0, f64::max)
    }

    #[test]
    fn pieces_of_a_frame_with_two_holes_cover_it() {
        let frame = Outline::try_new(
            points(&[(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]),
            vec![
                points(&[(3.0, 3.0), (10.0, 3.0), (10.0, 15.0), (3.0, 15.0)]),
                points(&[(15.0, 4.0), (25.0, 8.0), (18.0, 16.0)]),
            ],
        )
        .expect("a valid outline");
        covers(&frame);
    }

    #[test]
    fn pieces_of_a_star_and_a_comb_cover_them() {
        let star: Vec<Point> = (0..14)
            .map(|k| {
                let (r, t) = (
                    if k % 2 == 0 { 10.0 } else { 4.0 },
                    f64::from(k) * 0.4487989505,
                );
                Point::new(r * t.cos(), r * t.sin())
            })
            .collect();
        covers(&Outline::try_new(star, vec![]).expect("a valid outline"));
        let comb = points(&[
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 5.0),
            (8.0, 5.0),
            (8.0, 1.0),
            (5.0, 1.0),
            (5.0, 5.0),
            (4.0, 5.0),
            (4.0, 1.0),
            (1.0, 1.0),
            (1.0, 5.0),
            (0.0, 5.0),
        ]);
        let comb = Outline::try_new(comb, vec![]).expect("a valid outline");
        covers(&comb);
        assert!(convex_pieces(&comb).len() <= 5, "merged");
    }

    /// Two squares of side 2 and 3 give one of side 5; construction.
    #[test]
    fn the_sum_of_two_squares_is_a_square() {
        let square = |s: f64| points(&[(0.0, 0.0), (s, 0.0), (s, s), (0.0, s)]);
        let sum = convex_sum(&square(2.0), &square(3.0));
        assert_eq!(sum.len(), 4);
        assert_eq!(area(&sum), 25.0);
    }
}
