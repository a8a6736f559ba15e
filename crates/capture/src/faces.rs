//! Which part of a second photo, turned over, is which part of the first.

use crate::capture::Captured;
use shape::registration::{Options, register};
use shape::{Cancelled, Outline, Point, Pose, Silent, Watch};

/// Areas of the two faces of one part differ by no more than this share: the outlines are the same, mirrored.
const AREA_SHARE: f64 = 0.06;

/// Nor do their lengths along the edge by more than this.
const EDGE_SHARE: f64 = 0.08;

/// Farther apart than this on average, edges are those of two parts, mm.
const FARTHEST_RMS_MM: f64 = 0.35;

/// This share of both edges has to meet.
const LEAST_MEETING: f64 = 0.8;

/// A part's two faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Faces {
    /// Which part of the first photo.
    pub front: usize,
    /// Which part of the second.
    pub back: usize,
    /// Root of the mean square distance between both outlines, the back's mirrored, mm.
    pub rms_mm: f64,
    /// Carries the back, mirrored about its own vertical centre line, onto the front.
    pub front_from_mirrored: Pose,
    /// Another pairing is about as good: parts of the same shape cannot be told apart by it.
    pub ambiguous: bool,
}

impl Faces {
    /// Carries the coordinates of the back's outline to those of the front's as they are seen from behind: mirrored about the
    /// front's own vertical centre line. In them both faces have the same outline.
    pub fn front_seen_from_behind(&self, front: &Outline, back: &Outline) -> Pose {
        let axis2 = |o: &Outline| o.bounds().min.x + o.bounds().max.x;
        // Mirroring before and after a turn turns the other way.
        let origin = self.front_from_mirrored.apply(Point::new(axis2(back), 0.0));
        let turn_deg = (-self.front_from_mirrored.turn_deg).rem_euclid(360.0);
        Pose::new(axis2(front) - origin.x, origin.y, turn_deg)
    }
}

/// Joins parts seen from behind to the same parts seen from the front, by their mirrored outlines. Each part is
/// joined once at most, the best matches first; parts without a match are left out.
///
/// # Errors
/// [`Cancelled`] where the watch asks for it.
pub fn join_faces(
    fronts: &[Captured],
    backs: &[Captured],
    watch: &dyn Watch,
) -> Result<Vec<Faces>, Cancelled> {
    let [fronts, backs] =
        [fronts, backs].map(|all| all.iter().map(|c| &c.outline).collect::<Vec<_>>());
    join_outlines(&fronts, &backs, watch)
}

/// The same for the outlines of both faces, each in coordinates of its own.
///
/// # Errors
/// [`Cancelled`] where the watch asks for it.
pub fn join_outlines(
    fronts: &[&Outline],
    backs: &[&Outline],
    watch: &dyn Watch,
) -> Result<Vec<Faces>, Cancelled> {
    let mut found: Vec<Faces> = Vec::new();
    for (f, front) in fronts.iter().enumerate() {
        watch.step("joining the faces", f as f64 / fronts.len() as f64)?;
        for (b, back) in backs.iter().enumerate() {
            if !alike(front, back) {
                continue;
            }
            let mirrored = back.mirrored();
            let options = Options {
                allow_flip: false,
                ..Options::default()
            };
            let placed = register(&mirrored, front, &options, &Silent)?;
            if placed.edge_share >= LEAST_MEETING && placed.edge_rms_mm <= FARTHEST_RMS_MM {
                found.push(Faces {
                    front: f,
                    back: b,
                    rms_mm: placed.edge_rms_mm,
                    front_from_mirrored: placed.b_from_a,
                    ambiguous: false,
                });
            }
        }
    }
    found.sort_by(|a, b| {
        a.rms_mm
            .total_cmp(&b.rms_mm)
            .then((a.front, a.back).cmp(&(b.front, b.back)))
    });
    let mut joined: Vec<Faces> = Vec::new();
    for mut faces in found.iter().cloned() {
        if joined
            .iter()
            .any(|j| j.front == faces.front || j.back == faces.back)
        {
            continue;
        }
        faces.ambiguous = found.iter().any(|o| {
            let other = (o.front == faces.front) != (o.back == faces.back);
            other && o.rms_mm < 2.0 * faces.rms_mm
        });
        joined.push(faces);
    }
    joined.sort_by_key(|j| j.front);
    Ok(joined)
}

fn alike(a: &Outline, b: &Outline) -> bool {
    let near = |u: f64, v: f64, share: f64| (u - v).abs() <= share * u.max(v) + 0.3;
    let length = |o: &Outline| -> f64 {
        let sides = o.outer().sides();
        sides.map(|(p, q): (Point, Point)| p.distance_mm(q)).sum()
    };
    near(a.area_mm2(), b.area_mm2(), AREA_SHARE) && near(length(a), length(b), EDGE_SHARE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Vector;

    /// Truth: by construction. An odd plate is turned over, turned and shifted; seen from behind, every corner of its back lies on
    /// a corner of its mirrored front.
    #[test]
    fn a_back_lies_on_its_front_as_seen_from_behind() {
        let corners = [
            (0.0, 0.0),
            (40.0, 0.0),
            (40.0, 12.0),
            (22.0, 12.0),
            (22.0, 30.0),
            (0.0, 25.0),
        ];
        let front = Outline::try_new(corners.map(|(x, y)| Point::new(x, y)).to_vec(), vec![]);
        let front = front.unwrap().shifted(Vector::new(3.0, 7.0));
        let back = front.mirrored().placed(Pose::new(55.0, 80.0, 37.0));
        let other = Outline::rectangle(Point::new(0.0, 0.0), Point::new(9.0, 9.0)).unwrap();
        let joined = join_outlines(&[&other, &front], &[&back], &Silent).unwrap();
        assert_eq!(joined.len(), 1);
        assert_eq!((joined[0].front, joined[0].back), (1, 0));
        let pose = joined[0].front_seen_from_behind(&front, &back);
        let seen = front.mirrored();
        for p in back.placed(pose).outer().points() {
            let nearest = seen.outer().points().iter().map(|q| q.distance_mm(*p));
            assert!(nearest.fold(f64::INFINITY, f64::min) < 0.01, "{p:?}");
        }
    }
}
