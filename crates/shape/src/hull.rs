//! The convex hull of points.

use crate::Point;

/// The convex ring that holds all points, counter-clockwise (Andrew 1979). A corner at which the ring turns by no more
/// than `straight_mm2` (the cross product of its two sides, mm2) is left out; 0 leaves out what is exactly straight.
pub fn convex_hull(mut points: Vec<Point>, straight_mm2: f64) -> Vec<Point> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    let half = |points: &mut dyn Iterator<Item = Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..] {
                if (b - a).cross(p - b) > straight_mm2 {
                    break;
                }
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut ring = half(&mut points.iter().copied());
    ring.extend(half(&mut points.iter().rev().copied()));
    ring
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By construction: a square with points on its sides and inside.
    #[test]
    fn only_the_corners_of_a_square_are_left() {
        let all =
            (0..=4).flat_map(|x| (0..=4).map(move |y| Point::new(f64::from(x), f64::from(y))));
        let ring = convex_hull(all.collect(), 0.0);
        let corners = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)];
        assert_eq!(ring, corners.map(|(x, y)| Point::new(x, y)));
        assert!(convex_hull(Vec::new(), 0.0).is_empty());
    }
}
