//! All photos together: where each part lies, how high, and how the device lay in each photo.

use crate::inside::Inside;
use crate::register::Spot;
use crate::settle::Held;
use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};
use shape::{Point, Pose, Vector};

/// What no photo is better than, one sigma, mm: place, turn at the outline, scale at the outline.
const FLOOR_MM: [f64; 4] = [0.08, 0.08, 0.08, 0.2];

/// One sigma of an edge, mm, before many edges average it out.
const EDGE_MM: f64 = 0.15;

/// One sighting of a part that is believed.
#[derive(Debug, Clone)]
pub(crate) struct Observation {
    pub(crate) photo: usize,
    pub(crate) held: Held,
    /// How much it counts, 0 to 1.
    pub(crate) weight: f64,
}

/// A part as it is known from all photos.
#[derive(Debug, Clone)]
pub(crate) struct Estimate {
    /// On the first photo's sheet.
    pub(crate) spot: Spot,
    /// Height of its top over the sheet, mm.
    pub(crate) top_mm: f64,
    /// One sigma of that.
    pub(crate) top_sigma_mm: f64,
    pub(crate) radius_mm: f64,
    /// How well the part's own outline is known, mm: what its size tells of its height hangs on that.
    pub(crate) outline_sigma_mm: f64,
    pub(crate) observations: Vec<Observation>,
    /// What its top is thought to be before looking, and one sigma, mm.
    pub(crate) prior_mm: [f64; 2],
}

impl Estimate {
    /// The device's body, which stands on the sheet in every photo: it ties photos that have no part in common. `sightings` are
    /// photo, spot on its sheet and weight, `edge_mm` one sigma of such a spot. `None` where only one photo shows it.
    pub(crate) fn of_body(
        spot: Spot,
        radius_mm: f64,
        edge_mm: f64,
        sightings: impl Iterator<Item = (usize, Spot, f64)>,
        insides: &[Inside],
    ) -> Option<Self> {
        let observations: Vec<Observation> = sightings
            .map(|(photo, spot, weight)| Observation {
                photo,
                held: Held {
                    stand: insides[photo].stand_of(spot, 0.0),
                    information: Matrix4::identity() * (EDGE_MM / edge_mm).powi(2),
                },
                weight,
            })
            .collect();
        (observations.len() > 1).then_some(Self {
            spot,
            top_mm: 0.0,
            top_sigma_mm: 0.01,
            radius_mm,
            outline_sigma_mm: 0.3,
            observations,
            prior_mm: [0.0, 0.01],
        })
    }
}

/// Settles places, heights and the photos' poses on each other, each in turn, until nothing moves.
///
/// `poses[k]` carries the first photo's sheet onto photo k's.
pub(crate) fn settle(parts: &mut [Estimate], poses: &mut [Pose], insides: &[Inside]) {
    for round in 0..24 {
        for part in parts.iter_mut() {
            for _ in 0..2 {
                settle_part(part, poses, insides);
            }
        }
        if round < 20 {
            for k in 1..poses.len() {
                settle_pose(k, parts, poses, &insides[k]);
            }
        }
    }
}

/// What photo k should show of a part: apparent centre on the sheet, turn, scale.
fn predicted(spot: Spot, top_mm: f64, pose: Pose, inside: &Inside) -> (Point, f64, f64) {
    let on_sheet = spot.carried(pose);
    let scale = inside.scale_at(top_mm);
    (
        inside.nadir + (on_sheet.centre - inside.nadir) * scale,
        on_sheet.turn,
        scale,
    )
}

/// What was seen less what should be: mm of place, and of turn and scale at the outline.
fn miss(part: &Estimate, observation: &Observation, pose: Pose, inside: &Inside) -> Vector4<f64> {
    let stand = &observation.held.stand;
    let (centre, turn, scale) = predicted(part.spot, part.top_mm, pose, inside);
    let seen = inside.origin + Vector::new(stand.x, stand.y);
    let d = (stand.turn - turn + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
        - std::f64::consts::PI;
    let radius = part.radius_mm.max(1.0);
    Vector4::new(
        seen.x - centre.x,
        seen.y - centre.y,
        d * radius,
        (stand.scale - scale) * radius,
    )
}

/// How much each of the four counts.
fn certainty(held: &Held, outline_sigma_mm: f64) -> Matrix4<f64> {
    let mut cover = (held.information + Matrix4::identity() * 0.02)
        .try_inverse()
        .unwrap_or_else(Matrix4::identity)
        * EDGE_MM.powi(2);
    for k in 0..4 {
        cover[(k, k)] += FLOOR_MM[k].powi(2);
    }
    cover[(3, 3)] += outline_sigma_mm.powi(2);
    cover.try_inverse().unwrap_or_else(Matrix4::zeros)
}

/// Weight of a miss that is larger than it should be: a wrong sighting must not pull a photo (Cauchy).
fn robust(miss: &Vector4<f64>, certainty: &Matrix4<f64>) -> f64 {
    let size = (miss.transpose() * certainty * miss)[0].max(0.0).sqrt();
    1.0 / (1.0 + (size / 3.0).powi(2))
}

fn settle_part(part: &mut Estimate, poses: &[Pose], insides: &[Inside]) {
    let mut normal = Matrix4::<f64>::zeros();
    let mut right = Vector4::<f64>::zeros();
    for o in &part.observations {
        let (pose, inside) = (poses[o.photo], &insides[o.photo]);
        let c = certainty(&o.held, part.outline_sigma_mm);
        let r = miss(part, o, pose, inside);
        let weight = o.weight * robust(&r, &c);
        // Derivatives of what should be seen by x, y, turn and height.
        let scale = inside.scale_at(part.top_mm);
        let (sin, cos) = pose.turn_deg.to_radians().sin_cos();
        let on_sheet = part.spot.carried(pose).centre;
        let per_mm = scale * scale / inside.height_mm;
        let away = on_sheet - inside.nadir;
        let radius = part.radius_mm.max(1.0);
        let j = Matrix4::new(
            scale * cos,
            -scale * sin,
            0.0,
            away.x * per_mm,
            scale * sin,
            scale * cos,
            0.0,
            away.y * per_mm,
            0.0,
            0.0,
            radius,
            0.0,
            0.0,
            0.0,
            0.0,
            radius * per_mm,
        );
        normal += j.transpose() * c * j * weight;
        right += j.transpose() * c * r * weight;
    }
    let [mean, sigma] = part.prior_mm;
    normal[(3, 3)] += 1.0 / (sigma * sigma);
    right[3] += (mean - part.top_mm) / (sigma * sigma);
    let Some(factor) = normal.cholesky() else {
        return;
    };
    let by = factor.solve(&right);
    part.spot.centre = part.spot.centre + Vector::new(by[0], by[1]);
    part.spot.turn += by[2];
    part.top_mm = (part.top_mm + by[3]).clamp(0.0, crate::inside::HIGHEST_MM);
    part.top_sigma_mm = factor.inverse()[(3, 3)].max(0.0).sqrt();
}

fn settle_pose(k: usize, parts: &[Estimate], poses: &mut [Pose], inside: &Inside) {
    let mut normal = Matrix3::<f64>::identity() * 1e-6;
    let mut right = Vector3::<f64>::zeros();
    // Turned about the device's middle, so that turn and shift hardly depend on each other.
    let seen: Vec<(&Estimate, &Observation)> = parts
        .iter()
        .flat_map(|p| {
            p.observations
                .iter()
                .filter(|o| o.photo == k)
                .map(move |o| (p, o))
        })
        .collect();
    if seen.is_empty() {
        return;
    }
    let n = seen.len() as f64;
    let middle = seen.iter().fold(Vector::new(0.0, 0.0), |sum, (p, _)| {
        let c = p.spot.carried(poses[k]).centre;
        sum + Vector::new(c.x / n, c.y / n)
    });
    let middle = Point::new(middle.x, middle.y);
    for (part, o) in seen {
        let c = certainty(&o.held, part.outline_sigma_mm);
        let r = miss(part, o, poses[k], inside);
        let weight = o.weight * robust(&r, &c);
        let scale = inside.scale_at(part.top_mm);
        let arm = part.spot.carried(poses[k]).centre - middle;
        let radius = part.radius_mm.max(1.0);
        let j = nalgebra::Matrix4x3::new(
            scale,
            0.0,
            -scale * arm.y,
            0.0,
            scale,
            scale * arm.x,
            0.0,
            0.0,
            radius,
            0.0,
            0.0,
            0.0,
        );
        normal += j.transpose() * c * j * weight;
        right += j.transpose() * c * r * weight;
    }
    let Some(by) = normal.cholesky().map(|f| f.solve(&right)) else {
        return;
    };
    let turn = Pose::about(middle, by[2].to_degrees());
    let shift = Pose::new(by[0], by[1], 0.0);
    poses[k] = shift.after(turn).after(poses[k]);
}
