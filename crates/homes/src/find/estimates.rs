//! Places and heights of the parts, settled over all photos, and what each photo shows of a part at its place.

use crate::confidence::Kind;
use crate::inside::Inside;
use crate::joint::{Estimate, Observation, settle};
use crate::layers::{Shown, Stack};
use crate::places::Chosen;
use crate::sought::{Side, Sought, View};
use crate::tied::Tied;
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
    tied: Tied<'_>,
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
                spot: tied.insides[*k]
                    .spot(first)
                    .carried(tied.poses[*k].inverse()),
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
pub(super) fn leave_to_rim(estimates: &mut [Option<Estimate>], shells: &[usize]) {
    let shells = estimates
        .iter_mut()
        .enumerate()
        .filter(|(i, _)| shells.contains(i));
    for observation in shells.flat_map(|(_, e)| e.iter_mut().flat_map(|e| &mut e.observations)) {
        observation.weight = observation.weight.min(OF_SHELL);
    }
}

/// What each photo shows of each part at the place that all photos together tell: `shown[k][i]`.
pub(super) fn shown_in(
    views: &[View],
    sides: &[Side],
    tied: Tied<'_>,
    estimates: &[Option<Estimate>],
    chosen: &[Option<Chosen>],
) -> Vec<Vec<Option<Shown>>> {
    let nothing = || vec![None; views.len()];
    let mut all: Vec<Vec<Option<Shown>>> = tied.insides.iter().map(|_| nothing()).collect();
    for (k, inside, pose) in tied.photos() {
        for (i, here) in all[k].iter_mut().enumerate() {
            let (Some(estimate), Some(choice)) = (&estimates[i], &chosen[i]) else {
                continue;
            };
            let own = choice.sightings.iter().find(|(n, _)| *n == k);
            let sighting = own.map_or_else(
                || {
                    let stand = inside.stand_of(estimate.spot.carried(pose), estimate.top_mm);
                    inside.look_at(&views[i], sides[i], stand, 1.0)
                },
                |(_, s)| s.clone(),
            );
            let chance = Kind::of(choice.by_outline).alone(&sighting);
            *here = Some(Shown::of(sighting, chance));
        }
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
