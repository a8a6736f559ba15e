//! Outlines with fewer points that hold the ones they stand for.

use shape::{Outline, Point, offset};

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
            grown.holes().iter().map(|h| thin(h.points())).collect(),
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

/// A ring without the points that lie within `by_mm` of the sides that take their place, thinned from the point that lies
/// farthest from its first one: from a point in the middle of a side it would keep one more than it must.
fn thinned(ring: &[Point], by_mm: f64) -> Vec<Point> {
    let from_first = |&k: &usize| ring[k].distance_mm(ring[0]);
    let far = (0..ring.len()).max_by(|a, b| from_first(a).total_cmp(&from_first(b)));
    let mut turned = ring.to_vec();
    turned.rotate_left(far.unwrap_or(0));
    shape::thinned(&turned, by_mm)
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
