//! Whether two shells belong to one device, by their outlines.

use shape::registration::{Options, register};
use shape::{Bounds, Outline, Pose, Silent};

/// Of two shells of one device, the smaller has this share of its area in common with the other at least.
const LID_SHARE: f64 = 0.93;

/// And they reach as far on every side, to this share of the longer side.
const LID_REACH: f64 = 0.02;

/// What is narrower than twice this is a whisker, mm.
const WHISKER_MM: f64 = 0.5;

/// The pose that lays one shell's outline on another's; `None` where they are no two shells of one device.
pub(super) fn body_in(body: &Outline, shell: &Outline) -> Option<Pose> {
    let found = register(body, shell, &Options::default(), &Silent).ok()?;
    let placed = body.placed(found.b_from_a);
    let both = shape::intersection_area_mm2(&placed, shell);
    let share = both / placed.area_mm2().min(shell.area_mm2());
    // What is merely large lies somewhere in the body; a lid or a hull reaches as far as the body on every side.
    let (a, b) = (reach(&placed), reach(shell));
    let off = |x: f64, y: f64| (x - y).abs();
    let furthest = [
        off(a.min.x, b.min.x),
        off(a.min.y, b.min.y),
        off(a.max.x, b.max.x),
        off(a.max.y, b.max.y),
    ];
    let as_far = furthest
        .iter()
        .all(|off| *off < LID_REACH * b.width_mm().max(b.height_mm()));
    (share > LID_SHARE && as_far).then_some(found.b_from_a)
}

/// How far an outline reaches without its whiskers: a shadow's edge may have been captured with it.
fn reach(outline: &Outline) -> Bounds {
    let core = shape::offset(std::slice::from_ref(outline), -WHISKER_MM);
    let whole = shape::offset(&core, WHISKER_MM);
    let bounds = whole.iter().map(Outline::bounds).reduce(Bounds::joined);
    bounds.unwrap_or_else(|| outline.bounds())
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use shape::Point;

    pub(crate) fn outline(corners: &[(f64, f64)]) -> Outline {
        let points = corners.iter().map(|&(x, y)| Point::new(x, y)).collect();
        Outline::try_new(points, Vec::new()).expect("a valid outline")
    }

    /// A hull with a notch at one corner, so that it lies on itself in one way alone.
    pub(crate) fn hull() -> Outline {
        outline(&[
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ])
    }

    #[test]
    fn a_lid_lies_on_its_hull_even_with_a_bay() {
        let bay = outline(&[
            (0.0, 0.0),
            (20.0, 0.0),
            (20.0, 30.0),
            (40.0, 30.0),
            (40.0, 0.0),
            (60.0, 0.0),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ]);
        for lid in [hull(), bay] {
            let at = Pose::new(7.0, -3.0, 12.0);
            let found = body_in(&hull(), &lid.placed(at)).expect("a lid of this hull");
            for corner in [Point::new(0.0, 0.0), Point::new(60.0, 110.0)] {
                let off = found.apply(corner).distance_mm(at.apply(corner));
                assert!(off < 0.1, "{off}");
            }
        }
    }

    #[test]
    fn a_lid_with_a_whisker_is_a_lid() {
        let whiskered = outline(&[
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 40.0),
            (66.0, 40.0),
            (66.0, 40.3),
            (60.0, 40.3),
            (60.0, 110.0),
            (9.0, 110.0),
            (9.0, 96.0),
            (0.0, 96.0),
        ]);
        assert!(body_in(&hull(), &whiskered).is_some());
    }

    #[test]
    fn what_merely_fits_into_the_hull_is_no_lid() {
        let display = outline(&[(0.0, 0.0), (50.0, 0.0), (50.0, 90.0), (0.0, 90.0)]);
        assert_eq!(body_in(&hull(), &display), None);
        let longer = outline(&[(0.0, 0.0), (60.0, 0.0), (60.0, 125.0), (0.0, 125.0)]);
        assert_eq!(body_in(&hull(), &longer), None);
    }
}
