//! Rings with fewer points.

use crate::Point;

/// Rings of fewer points than this are kept as they are.
const FEW: usize = 8;

/// A closed ring without the points that lie within `within_mm` of the side that takes their place (Ramer 1972, Douglas and
/// Peucker 1973, on the two halves between the first point and the one farthest from it). Points come in the same order, the
/// first one first.
///
/// Distances are those from the side itself, not from the line that it lies on: a spike beyond a side's end stays. Thinned, a
/// ring may cross itself. Rings of fewer than eight points, and those that would have fewer than three, come back as they are.
pub fn thinned(ring: &[Point], within_mm: f64) -> Vec<Point> {
    let n = ring.len();
    if n < FEW {
        return ring.to_vec();
    }
    let from_first = |k: usize| ring[k].distance_mm(ring[0]);
    let far = (0..n)
        .max_by(|&a, &b| from_first(a).total_cmp(&from_first(b)))
        .unwrap_or(n / 2);
    let mut stays = vec![false; n];
    stays[0] = true;
    stays[far] = true;
    let mut spans = vec![(0, far), (far, n)];
    while let Some((from, to)) = spans.pop() {
        let (a, b) = (ring[from], ring[to % n]);
        let worst = (from + 1..to)
            .map(|k| (k, ring[k].distance_mm(ring[k].nearest_on_segment(a, b))))
            .max_by(|x, y| x.1.total_cmp(&y.1));
        if let Some((k, off)) = worst
            && off > within_mm
        {
            stays[k] = true;
            spans.push((from, k));
            spans.push((k, to));
        }
    }
    let kept: Vec<Point> = (0..n).filter(|&k| stays[k]).map(|k| ring[k]).collect();
    if kept.len() < 3 { ring.to_vec() } else { kept }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(list: &[(f64, f64)]) -> Vec<Point> {
        list.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    /// By construction: points on the sides of a square go, its corners stay, and a point 0.02 mm off a side stays where 0.01
    /// mm is asked for.
    #[test]
    fn points_on_sides_go_and_what_lies_farther_off_stays() {
        let ring = points(&[
            (0.0, 0.0),
            (2.0, 0.0),
            (5.0, 0.02),
            (10.0, 0.0),
            (10.0, 4.0),
            (10.0, 10.0),
            (5.0, 10.005),
            (0.0, 10.0),
            (0.0, 3.0),
        ]);
        let corners = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
        assert_eq!(thinned(&ring, 0.03), points(&corners));
        assert!(thinned(&ring, 0.01).contains(&Point::new(5.0, 0.02)));
        assert!(!thinned(&ring, 0.01).contains(&Point::new(5.0, 10.005)));
        assert_eq!(thinned(&ring[..7], 0.03), ring[..7]);
        assert!(thinned(&[], 1.0).is_empty());
    }

    /// By construction: seen from the first point, the ring goes out along a line beyond the far end's side and back. On the
    /// line itself all of it lies; 3 mm of it lie beyond the side's end.
    #[test]
    fn a_spike_along_a_side_s_own_line_stays() {
        let mut ring = points(&[(0.0, 0.0), (-3.0, 0.0), (0.0, 0.001)]);
        ring.extend((1..=8).map(|k| Point::new(f64::from(k), 0.0)));
        ring.extend(points(&[(8.0, 5.0), (0.0, 5.0)]));
        assert!(thinned(&ring, 0.01).contains(&Point::new(-3.0, 0.0)));
    }
}
