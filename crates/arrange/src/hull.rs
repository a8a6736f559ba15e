//! The convex hull of an outline: what a part takes up where nothing may lie in its holes and notches.

use shape::{Outline, convex_hull};

/// A little to the inside counts as straight, so that the ring stays simple, mm2.
const STRAIGHT: f64 = 1e-12;

/// The least convex outline that holds this one; the outline itself where rounding leaves no hull.
pub(crate) fn hull(outline: &Outline) -> Outline {
    let ring = convex_hull(outline.outer().points().to_vec(), STRAIGHT);
    Outline::try_new(ring, vec![]).unwrap_or_else(|_| outline.clone())
}

#[cfg(test)]
mod tests {
    use super::hull;
    use shape::{Outline, Point};

    /// By construction: an L of 10 x 10 mm less a square of 5 mm; its hull cuts the notch's corner off.
    #[test]
    fn the_hull_of_an_l_closes_its_notch_with_one_straight_side() {
        let l = [
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 5.0),
            (5.0, 5.0),
            (5.0, 10.0),
            (0.0, 10.0),
        ];
        let l = Outline::try_new(l.map(|(x, y)| Point::new(x, y)).to_vec(), vec![]);
        let area = l.map(|l| hull(&l).area_mm2());
        assert!(area.is_ok_and(|a| (a - 87.5).abs() < 1e-9));
    }
}
