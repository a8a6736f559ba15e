//! The device's body in each photo: its silhouette freed of what its height enlarges.
//!
//! The silhouette of a body with straight walls is the sweep from its base on the sheet to its enlarged top. Whatever the height, one
//! and the same body must come out of every photo: where the body's size is known, the height follows from the silhouette's area.

use crate::inside::Inside;
use crate::joint::Estimate;
use crate::look::Seen;
use crate::register::{Spot, filled};
use crate::sought::View;
use crate::tied::Tied;
use capture::height::{Standpoint, true_outlines};
use shape::registration::{Options, register};
use shape::{Outline, Pose, Silent, Vector};

/// Height of a device of which nothing is known, mm (hand-held devices are 6 to 20 mm thick; common practice, no source).
pub(crate) const USUAL_MM: f64 = 9.0;

/// No device is thicker, mm.
pub(crate) const THICKEST_MM: f64 = 40.0;

/// A body that differs by more than this share of its area has lost or gained something.
const AREA_SHARE: f64 = 0.04;

/// A part with this chance that fills so much of the silhouette is a shell: its outline is the body's.
const SHELL_CHANCE: f64 = 0.7;
const SHELL_SHARE: [f64; 2] = [0.78, 1.02];

/// How well a body's pose is known from its edges, one sigma, mm.
const EDGE_MM: f64 = 0.25;

/// The body in each photo, mm of its sheet.
pub(crate) fn bodies(insides: &[Inside], seen: &[Vec<Vec<Seen>>], views: &[View]) -> Vec<Outline> {
    // A shell that is surely seen in any photo tells the body's size.
    let mut shell: Option<(f64, f64)> = None;
    for (inside, all) in insides.iter().zip(seen) {
        let silhouette = filled(&inside.silhouette).area_mm2();
        for (view, found) in views.iter().zip(all) {
            let area = filled(&view.outline).area_mm2();
            let chance = found.first().map_or(0.0, |s| s.2);
            let fills = (SHELL_SHARE[0]..SHELL_SHARE[1]).contains(&(area / silhouette));
            if fills && chance > SHELL_CHANCE && shell.is_none_or(|(c, _)| chance > c) {
                shell = Some((chance, area));
            }
        }
    }
    let first = &insides[0];
    let target = shell.map_or_else(|| lowered(first, USUAL_MM).area_mm2(), |(_, area)| area);
    insides
        .iter()
        .map(|inside| of_area(inside, target))
        .collect()
}

/// The silhouette of a body of this height, brought down to its base.
fn lowered(inside: &Inside, height_mm: f64) -> Outline {
    let seen = filled(&inside.silhouette);
    let from = Standpoint {
        height_mm: inside.height_mm,
        nadir: inside.nadir,
    };
    shape::largest(true_outlines(&seen, from, height_mm)).unwrap_or(seen)
}

/// The same, of the height at which the body has this area.
fn of_area(inside: &Inside, area_mm2: f64) -> Outline {
    let (mut low, mut high) = (0.0, THICKEST_MM);
    let mut body = lowered(inside, low);
    if body.area_mm2() <= area_mm2 {
        return body;
    }
    for _ in 0..9 {
        let middle = 0.5 * (low + high);
        body = lowered(inside, middle);
        if body.area_mm2() > area_mm2 {
            low = middle;
        } else {
            high = middle;
        }
    }
    body
}

/// The body as one more thing that all photos show, standing on the sheet: it ties photos that have no part in common.
/// `None` where no second photo shows the same body.
pub(crate) fn as_estimate(bodies: &[Outline], tied: Tied<'_>) -> Option<Estimate> {
    let first = &bodies[0];
    let centre = first.centroid();
    let radius_mm = first
        .outer()
        .points()
        .iter()
        .map(|p| p.distance_mm(centre))
        .fold(0.0, f64::max);
    let sightings = tied.photos().filter_map(|(k, _, near)| {
        let body = &bodies[k];
        if (body.area_mm2() / first.area_mm2() - 1.0).abs() > AREA_SHARE {
            return None;
        }
        if k == 0 {
            return Some((k, Spot { centre, turn: 0.0 }, 1.0));
        }
        let pose = carried(first, body, near)?;
        let spot = Spot {
            centre: pose.apply(centre),
            turn: pose.turn_deg.to_radians(),
        };
        Some((k, spot, 1.0))
    });
    let spot = Spot { centre, turn: 0.0 };
    Estimate::of_body(spot, radius_mm, EDGE_MM, sightings, tied.insides)
}

/// The pose that carries the first photo's body onto another's, near the one that is known.
fn carried(first: &Outline, body: &Outline, near: Pose) -> Option<Pose> {
    let there = first.placed(near);
    let found = register(&there, body, &Options::default(), &Silent).ok()?;
    let turn = (found.b_from_a.turn_deg + 180.0).rem_euclid(360.0) - 180.0;
    let moved = found.b_from_a.apply(there.centroid()) - there.centroid();
    let near_enough = turn.abs() < 4.0 && Vector::new(moved.x, moved.y).length_mm() < 5.0;
    (near_enough && found.edge_share > 0.7 && found.edge_rms_mm < 0.8)
        .then(|| found.b_from_a.after(near))
}
