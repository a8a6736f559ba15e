//! Places and heights of the parts, settled over all photos, and what each photo shows of a part at its place.

use crate::confidence::Kind;
use crate::inside::{Inside, Sighting};
use crate::joint::{Estimate, Observation, settle};
use crate::layers::{Shown, Stack};
use crate::places::Chosen;
use crate::sought::{Side, Sought, View};
use shape::Pose;

/// What a device's parts stand on before anything is known, mm over the sheet, and one sigma.
const BASE_MM: [f64; 2] = [2.5, 2.5];

/// The same once the other parts of the layer are known.
const LAYER_SIGMA_MM: f64 = 1.2;

/// What is seen of a shell counts no more than this beside its rim.
const OF_SHELL: f64 = 0.05;

pub(super) fn estimates_of(
    parts: &[Sought],
    views: &[View],
    insides: &[Inside],
    poses: &[Pose],
    chosen: &[Option<Chosen>],
) -> Vec<Option<Estimate>> {
    chosen
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let c = c.as_ref()?;
            let (k, first) = c.sightings.first()?;
            let thickness = parts[i].thickness_mm.unwrap_or(1.0);
            Some(Estimate {
                spot: insides[*k].spot(first).carried(poses[*k].inverse()),
                top_mm: BASE_MM[0] + thickness,
                top_sigma_mm: BASE_MM[1],
                radius_mm: views[i].radius_mm,
                outline_sigma_mm: parts[i].sigma_mm.unwrap_or(0.1),
                observations: c
                    .sightings
                    .iter()
                    .zip(&c.chances)
                    .enumerate()
                    .filter(|(n, (_, chance))| *n == 0 || **chance > 0.5)
                    .map(|(_, ((k, s), chance))| Observation {
                        photo: *k,
                        held: s.held,
                        weight: chance.clamp(0.05, 1.0),
                    })
                    .collect(),
                prior_mm: [BASE_MM[0] + thickness, BASE_MM[1]],
            })
        })
        .collect()
}

/// What each photo shows of a part at its place ties that photo too.
pub(super) fn see_again(estimates: &mut [Option<Estimate>], shown: &[Vec<Option<Shown>>]) {
    for (i, estimate) in estimates.iter_mut().enumerate() {
        let Some(estimate) = estimate else { continue };
        for (k, here) in shown.iter().enumerate() {
            let known = estimate.observations.iter().any(|o| o.photo == k);
            if let (false, Some(s)) = (known, &here[i])
                && s.there
            {
                estimate.observations.push(Observation {
                    photo: k,
                    held: s.sighting.held,
                    weight: s.seen.clamp(0.05, 1.0),
                });
            }
        }
    }
}

/// Settles all parts that have a place, and what all photos show: the device's body and its rim, which stand on the sheet.
pub(super) fn settle_all(
    estimates: &mut [Option<Estimate>],
    whole: &mut [Estimate],
    poses: &mut [Pose],
    insides: &[Inside],
) {
    let mut some: Vec<Estimate> = estimates
        .iter()
        .flatten()
        .chain(whole.iter())
        .cloned()
        .collect();
    settle(&mut some, poses, insides);
    for (to, from) in estimates.iter_mut().flatten().chain(whole).zip(some) {
        *to = from;
    }
}

/// Where the device's body lies in each photo its edge tells; what is seen of a shell besides, part of its face or of its edge, would
/// draw the photo aside.
pub(super) fn leave_to_rim(estimates: &mut [Option<Estimate>], is_shell: impl Fn(usize) -> bool) {
    let shells = estimates
        .iter_mut()
        .enumerate()
        .filter(|(i, _)| is_shell(*i));
    for observation in shells.flat_map(|(_, e)| e.iter_mut().flat_map(|e| &mut e.observations)) {
        observation.weight = observation.weight.min(OF_SHELL);
    }
}

/// What each photo shows of each part at the place that all photos together tell: `shown[k][i]`.
#[allow(clippy::too_many_arguments, reason = "one table over photos and parts")]
pub(super) fn shown_in(
    views: &[View],
    sides: &[Side],
    insides: &[Inside],
    stranger: &[bool],
    poses: &[Pose],
    estimates: &[Option<Estimate>],
    chosen: &[Option<Chosen>],
) -> Vec<Vec<Option<Shown>>> {
    let mut all = Vec::new();
    for (k, inside) in insides.iter().enumerate() {
        let mut here = Vec::new();
        for i in 0..views.len() {
            let (Some(estimate), Some(choice)) = (&estimates[i], &chosen[i]) else {
                here.push(None);
                continue;
            };
            if stranger[k] {
                here.push(None);
                continue;
            }
            let kind = Kind::of(choice.by_outline);
            let own = choice
                .sightings
                .iter()
                .find(|(n, _)| *n == k)
                .map(|(_, s)| s.clone());
            let sighting: Sighting = own.unwrap_or_else(|| {
                let stand = inside.stand_of(estimate.spot.carried(poses[k]), estimate.top_mm);
                inside.look_at(&views[i], sides[i], stand, 1.0)
            });
            let chance = kind.alone(&sighting);
            here.push(Some(Shown::of(sighting, chance)));
        }
        all.push(here);
    }
    all
}

/// Parts of one layer stand about as high as each other.
pub(super) fn base_on_layers(parts: &[Sought], stack: &Stack, estimates: &mut [Option<Estimate>]) {
    let bases: Vec<Option<(f64, f64)>> = estimates
        .iter()
        .zip(parts)
        .map(|(e, p)| {
            let e = e.as_ref()?;
            Some((
                e.top_mm - p.thickness_mm.unwrap_or(1.0),
                1.0 / (e.top_sigma_mm.powi(2) + 0.25),
            ))
        })
        .collect();
    for i in 0..parts.len() {
        let Some(own) = stack.rank[i] else { continue };
        let (mut sum, mut weight) = (BASE_MM[0] / BASE_MM[1].powi(2), 1.0 / BASE_MM[1].powi(2));
        for j in 0..parts.len() {
            if j != i
                && stack.rank[j] == Some(own)
                && let Some((base, w)) = bases[j]
            {
                sum += base * w;
                weight += w;
            }
        }
        if let Some(e) = &mut estimates[i] {
            let base = (sum / weight).max(0.0);
            let sigma = LAYER_SIGMA_MM.hypot((1.0 / weight).sqrt());
            e.prior_mm = [base + parts[i].thickness_mm.unwrap_or(1.0), sigma];
        }
    }
}
