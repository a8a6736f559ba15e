//! From what the camera saw to the part's true outline.
//!
//! Seen from height H over the sheet, straight below it the nadir, the top of a part at height h is
//! enlarged by H/(H-h) about the nadir. The silhouette of a straight-walled part is the sweep from its
//! base to that enlarged top. Along each ray from the nadir, solid stretches [a, b] appear as
//! [a, b H/(H-h)], and openings lose the same at their near end. So a point belongs to the part where
//! the whole stretch from it to its enlarged place lies in the silhouette: the silhouette less what
//! its border sweeps when it shrinks about the nadir by (H-h)/H. For solid stretches, and for openings
//! wider than the shift r h/(H-h), this is exact; an opening narrower than the shift shows no paper.

use shape::{Outline, Point, RingOverlay, overlay_rings};

/// The camera as the height correction sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standpoint {
    /// Height over the sheet, H, mm.
    pub height_mm: f64,
    /// The point of the sheet straight below, mm.
    pub nadir: Point,
}

impl Standpoint {
    /// Where what lies at height `h_mm` over a point of the sheet appears in the sheet's plane.
    pub(crate) fn appears_at(self, p: Point, h_mm: f64) -> Point {
        let enlarged = self.height_mm / (self.height_mm - h_mm);
        self.nadir + (p - self.nadir) * enlarged
    }

    /// How far a top edge at height `h_mm` and distance r from the nadir appears moved, at most over
    /// the outline, mm: r h/(H-h).
    pub(crate) fn greatest_shift_mm(&self, silhouette: &Outline, h_mm: f64) -> f64 {
        let r = silhouette
            .outer()
            .points()
            .iter()
            .map(|p| p.distance_mm(self.nadir))
            .fold(0.0, f64::max);
        // The silhouette's far points are already enlarged: their true distance is r (H-h)/H.
        r * h_mm / self.height_mm
    }
}

/// The true outlines of a straight-walled part of height `h_mm` whose silhouette is given in mm of the
/// sheet's plane. More than one where the part only seemed to hang together; none where nothing is left.
pub fn true_outlines(silhouette: &Outline, from: Standpoint, h_mm: f64) -> Vec<Outline> {
    let shrink = (from.height_mm - h_mm) / from.height_mm;
    if h_mm <= 0.0 || !(shrink > 0.0 && shrink < 1.0) {
        return vec![silhouette.clone()];
    }
    let shrunk = |p: Point| from.nadir + (p - from.nadir) * shrink;
    let mut swept: Vec<Vec<Point>> = Vec::new();
    for (a, b) in silhouette.rings().flat_map(shape::Ring::sides) {
        let quad = [a, b, shrunk(b), shrunk(a)];
        // All quads run the same way round, so that overlaps add up under the non-zero rule.
        let area: f64 = (0..4)
            .map(|i| (quad[i] - a).cross(quad[(i + 1) % 4] - a))
            .sum();
        if area > 0.0 {
            swept.push(quad.to_vec());
        } else if area < 0.0 {
            swept.push(quad.iter().rev().copied().collect());
        }
    }
    let rings: Vec<Vec<Point>> = silhouette.rings().map(|r| r.points().to_vec()).collect();
    overlay_rings(&rings, &swept, RingOverlay::Difference)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<Point> {
        vec![
            Point::new(x0, y0),
            Point::new(x1, y0),
            Point::new(x1, y1),
            Point::new(x0, y1),
        ]
    }

    /// The silhouette of a straight-walled part, by its definition: its base, its top enlarged by H/(H-h), and
    /// what its walls cover between the two.
    fn silhouette(part: &Outline, from: Standpoint, h_mm: f64) -> Outline {
        let k = from.height_mm / (from.height_mm - h_mm);
        let enlarged = |p: Point| from.nadir + (p - from.nadir) * k;
        let top = |r: &shape::Ring| r.points().iter().map(|p| enlarged(*p)).collect();
        let top = Outline::try_new(top(part.outer()), part.holes().iter().map(top).collect());
        let walls = part
            .rings()
            .flat_map(shape::Ring::sides)
            .filter_map(|(a, b)| {
                Outline::try_new(vec![a, b, enlarged(b), enlarged(a)], vec![]).ok()
            });
        let all: Vec<Outline> = [part.clone(), top.unwrap()]
            .into_iter()
            .chain(walls)
            .collect();
        let mut all = shape::union(&all);
        assert_eq!(all.len(), 1);
        all.remove(0)
    }

    fn difference_mm2(a: &Outline, b: &Outline) -> f64 {
        a.area_mm2() + b.area_mm2() - 2.0 * shape::intersection_area_mm2(a, b)
    }

    /// Check value of the correction: H 400 and h 8 mm read 400/392 = 1.0204 times too large.
    #[test]
    fn a_disc_under_the_camera_shrinks_by_its_height() {
        let ring = |r: f64| -> Vec<Point> {
            (0..360)
                .map(|i| f64::from(i).to_radians())
                .map(|a| Point::new(100.0 + r * a.cos(), 50.0 + r * a.sin()))
                .collect()
        };
        let from = Standpoint {
            height_mm: 400.0,
            nadir: Point::new(100.0, 50.0),
        };
        let seen = Outline::try_new(ring(20.0 * 400.0 / 392.0), vec![]).unwrap();
        let found = true_outlines(&seen, from, 8.0);
        assert_eq!(found.len(), 1);
        let ratio = seen.area_mm2().sqrt() / found[0].area_mm2().sqrt();
        assert!((ratio - 1.0204).abs() < 1e-4, "{ratio}");
    }

    /// Truth: by construction. The plate, its holes and its notch are bounded by rays from the nadir, so that
    /// every ray meets an opening at its full width: a wide hole, one between once and twice the shift of
    /// about 4 mm, and a notch. (Where a ray cuts a corner shorter than the shift, the corner is not seen.)
    #[test]
    fn holes_and_notches_wider_than_the_shift_come_back_exactly() {
        let from = Standpoint {
            height_mm: 380.0,
            nadir: Point::new(-120.0, 0.0),
        };
        let at = |r: f64, angle: f64| from.nadir + shape::Vector::new(angle.cos(), angle.sin()) * r;
        let arc = |r: f64, a0: f64, a1: f64| {
            (0..=20).map(move |i| (r, a0 + (a1 - a0) * f64::from(i) / 20.0))
        };
        let sector = |r0: f64, r1: f64, a: f64| -> Vec<Point> {
            arc(r1, -a, a)
                .chain(arc(r0, a, -a))
                .map(|(r, angle)| at(r, angle))
                .collect()
        };
        let outer = arc(180.0, -0.17, -0.02)
            .chain(arc(170.0, -0.02, 0.02))
            .chain(arc(180.0, 0.02, 0.17))
            .chain(arc(120.0, 0.17, -0.17))
            .map(|(r, angle)| at(r, angle))
            .collect();
        let holes = vec![sector(130.0, 145.0, 0.07), sector(152.0, 158.0, 0.06)];
        let part = Outline::try_new(outer, holes).unwrap();
        let seen = silhouette(&part, from, 10.0);
        let found = true_outlines(&seen, from, 10.0);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].holes().len(), 2);
        let off = difference_mm2(&found[0], &part);
        assert!(off < 1e-3, "{off}");
    }

    #[test]
    fn an_opening_narrower_than_the_shift_is_not_seen() {
        let from = Standpoint {
            height_mm: 380.0,
            nadir: Point::new(-120.0, 0.0),
        };
        let part = Outline::try_new(
            rectangle(0.0, -30.0, 60.0, 30.0),
            vec![rectangle(30.0, -8.0, 33.0, 8.0)],
        )
        .unwrap();
        let seen = silhouette(&part, from, 10.0);
        assert!(seen.holes().is_empty());
        assert!(from.greatest_shift_mm(&seen, 10.0) > 3.0);
    }
}
