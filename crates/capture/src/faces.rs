//! Which part of a second photo, turned over, is which part of the first.

use crate::capture::Captured;
use shape::registration::{Options, register};
use shape::{Cancelled, Outline, Point, Silent, Watch};

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
    /// The turn that carries the mirrored back onto the front, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Another pairing is about as good: parts of the same shape cannot be told apart by it.
    pub ambiguous: bool,
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
    let mut found: Vec<Faces> = Vec::new();
    for (f, front) in fronts.iter().enumerate() {
        watch.step("joining the faces", f as f64 / fronts.len() as f64)?;
        for (b, back) in backs.iter().enumerate() {
            if !alike(&front.outline, &back.outline) {
                continue;
            }
            let mirrored = back.outline.mirrored();
            let options = Options {
                allow_flip: false,
                ..Options::default()
            };
            let placed = register(&mirrored, &front.outline, &options, &Silent)?;
            if placed.edge_share >= LEAST_MEETING && placed.edge_rms_mm <= FARTHEST_RMS_MM {
                found.push(Faces {
                    front: f,
                    back: b,
                    rms_mm: placed.edge_rms_mm,
                    turn_deg: placed.b_from_a.turn_deg,
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
