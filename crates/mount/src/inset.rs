//! Outlines made lean, and shrunk without needless work.

use shape::{Outline, Point, Pose, offset};

/// How far a lean outline may lie from the one it stands for, mm; whoever keeps a distance keeps so much more.
pub(crate) const LEAN_MM: f64 = 0.02;

/// Shrinks outlines by a distance. What surely vanishes is left out beforehand: its sides would all cross each other,
/// which takes long and gives nothing.
pub(crate) fn inset(outlines: &[Outline], by_mm: f64) -> Vec<Outline> {
    let may_stay: Vec<Outline> = outlines
        .iter()
        .filter(|o| widest_disc_at_most_mm(o) > by_mm)
        .cloned()
        .collect();
    if may_stay.is_empty() {
        return Vec::new();
    }
    offset(&may_stay, -by_mm)
}

/// No disc of a larger radius fits into the outline.
fn widest_disc_at_most_mm(outline: &Outline) -> f64 {
    let b = outline.bounds();
    let by_area = (outline.area_mm2() / std::f64::consts::PI).sqrt();
    (b.width_mm().min(b.height_mm()) / 2.0).min(by_area)
}

/// The shorter side of the smallest rectangle round the outline, mm.
pub(crate) fn breadth_mm(outline: &Outline) -> f64 {
    let along = crate::tape::long_axis_deg(outline);
    let b = outline.placed(Pose::new(0.0, 0.0, -along)).bounds();
    b.width_mm().min(b.height_mm())
}

/// The outline with fewer points, none of the former ones farther than [`LEAN_MM`] from it (Ramer 1972, Douglas and
/// Peucker 1973); as it was where that would make rings cross.
pub(crate) fn lean(outline: &Outline) -> Outline {
    let thin = |ring: &[Point]| -> Vec<Point> {
        let n = ring.len();
        let far = (0..n).fold(0, |best, k| {
            if ring[k].distance_mm(ring[0]) > ring[best].distance_mm(ring[0]) {
                k
            } else {
                best
            }
        });
        if n < 8 || far == 0 {
            return ring.to_vec();
        }
        let mut kept = vec![ring[0]];
        thin_run(&ring[..=far], &mut kept);
        let rest: Vec<Point> = ring[far..].iter().chain(&ring[..1]).copied().collect();
        thin_run(&rest, &mut kept);
        kept.pop();
        kept
    };
    Outline::try_new(
        thin(outline.outer().points()),
        outline.holes().iter().map(|h| thin(h.points())).collect(),
    )
    .unwrap_or_else(|_| outline.clone())
}

/// Keeps what is needed of a run after its first point, which is kept already.
fn thin_run(run: &[Point], kept: &mut Vec<Point>) {
    let mut open = vec![(0, run.len() - 1)];
    while let Some((from, to)) = open.pop() {
        let chord = run[to] - run[from];
        let length = chord.length_mm();
        let off = |k: usize| {
            let v = run[k] - run[from];
            if length > 0.0 {
                (chord.cross(v) / length).abs()
            } else {
                v.length_mm()
            }
        };
        let worst = (from + 1..to).fold((from, 0.0), |best: (usize, f64), k| {
            if off(k) > best.1 { (k, off(k)) } else { best }
        });
        if worst.1 > LEAN_MM {
            // The nearer half is taken off the stack first, so that points come in order.
            open.push((worst.0, to));
            open.push((from, worst.0));
        } else {
            kept.push(run[to]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::EdgeTree;

    /// A circle of radius 20 mm whose chords may be off by 0.02 mm needs about 70 points.
    #[test]
    fn a_lean_circle_keeps_its_distance_with_fewer_points() {
        let ring = (0..1000)
            .map(|k| {
                let (s, c) = (f64::from(k) * std::f64::consts::TAU / 1000.0).sin_cos();
                Point::new(20.0 * c, 20.0 * s)
            })
            .collect();
        let whole = Outline::try_new(ring, vec![]).unwrap();
        let thin = lean(&whole);
        let n = thin.outer().points().len();
        assert!((40..150).contains(&n), "{n}");
        let tree = EdgeTree::new(thin);
        for p in whole.outer().points() {
            assert!(tree.signed_distance_mm(*p).abs() <= LEAN_MM + 1e-9);
        }
    }

    #[test]
    fn what_vanishes_is_nothing() {
        let o = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 4.0)).unwrap();
        assert!(inset(std::slice::from_ref(&o), 2.0).is_empty());
        assert_eq!(inset(&[o], 1.0).len(), 1);
    }
}
