//! Outlines with fewer points that hold the ones they stand for.

use shape::{Outline, Point, Vector, offset};

/// An outline with about `most_points` points or fewer that holds the given one: grown by a small amount, then
/// thinned by no more than that amount. Kept as it is where it has few points already.
///
/// The amount starts at a five-thousandth of the outline's diagonal and doubles until the points are few enough or
/// it reaches a hundredth.
pub(crate) fn holding(outline: &Outline, most_points: usize) -> Outline {
    let count = |o: &Outline| o.rings().map(|r| r.points().len()).sum::<usize>();
    if count(outline) <= most_points {
        return outline.clone();
    }
    let b = outline.bounds();
    let diagonal = b.width_mm().hypot(b.height_mm());
    let mut best = outline.clone();
    for doubling in 0..7 {
        let amount = diagonal * 0.0002 * f64::from(1 << doubling);
        if amount > 0.0101 * diagonal {
            break;
        }
        let grown = offset(std::slice::from_ref(outline), amount);
        // Grown, a connected outline stays one.
        let [grown] = grown.as_slice() else { continue };
        let thin = |points: &[Point]| thinned(points, amount * 0.999);
        let thinned = Outline::try_new(
            thin(grown.outer().points()),
            grown
                .holes()
                .iter()
                .map(|h| thin(h.points()))
                .filter(|h| h.len() > 2)
                .collect(),
        );
        let Ok(thinned) = thinned else { continue };
        if count(&thinned) < count(&best) {
            best = thinned;
        }
        if count(&best) <= most_points {
            break;
        }
    }
    best
}

/// A ring without the points that lie within `by_mm` of the line through those that stay (Douglas and Peucker 1973).
fn thinned(ring: &[Point], by_mm: f64) -> Vec<Point> {
    let far_from = |p: Point| {
        (0..ring.len())
            .max_by(|&i, &j| ring[i].distance_mm(p).total_cmp(&ring[j].distance_mm(p)))
            .unwrap_or(0)
    };
    let first = far_from(ring[0]);
    let second = far_from(ring[first]);
    let (low, high) = (first.min(second), first.max(second));
    let mut keep = vec![false; ring.len()];
    keep[low] = true;
    keep[high] = true;
    let n = ring.len();
    let mut stack = vec![(low, high), (high, low + n)];
    while let Some((i, j)) = stack.pop() {
        let (a, b) = (ring[i % n], ring[j % n]);
        let farthest = (i + 1..j)
            .map(|k| (distance_mm(ring[k % n], a, b), k))
            .max_by(|x, y| x.0.total_cmp(&y.0));
        if let Some((d, k)) = farthest
            && d > by_mm
        {
            keep[k % n] = true;
            stack.push((i, k));
            stack.push((k, j));
        }
    }
    (0..n).filter(|&k| keep[k]).map(|k| ring[k]).collect()
}

fn distance_mm(p: Point, a: Point, b: Point) -> f64 {
    let (u, w): (Vector, Vector) = (b - a, p - a);
    let length2 = u.dot(u);
    let t = if length2 > 0.0 {
        (u.dot(w) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (w - u * t).length_mm()
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::difference;

    #[test]
    fn few_points_hold_what_many_drew_and_little_more() {
        let wavy: Vec<Point> = (0..600)
            .map(|k| {
                let t = f64::from(k) * std::f64::consts::TAU / 600.0;
                let r = 30.0 + 5.0 * (5.0 * t).cos();
                Point::new(r * t.cos(), r * t.sin())
            })
            .collect();
        let hole: Vec<Point> = (0..300)
            .map(|k| {
                let t = f64::from(k) * std::f64::consts::TAU / 300.0;
                Point::new(12.0 * t.cos(), 12.0 * t.sin())
            })
            .collect();
        let outline = Outline::try_new(wavy, vec![hole]).expect("a valid outline");
        let few = holding(&outline, 64);
        let points: usize = few.rings().map(|r| r.points().len()).sum();
        assert!(points <= 64, "{points}");
        assert!(difference(&outline, std::slice::from_ref(&few)).is_empty());
        assert!(few.area_mm2() < 1.06 * outline.area_mm2());
        assert_eq!(few.holes().len(), 1);
    }
}
