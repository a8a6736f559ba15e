//! From photos to homes.

mod estimates;
mod missing;
mod rest;

use crate::alike::Parts;
use crate::body;
use crate::error::HomesError;
use crate::found::{Found, LEAST, Outcome, PhotoSeen, Place, SURE};
use crate::frame::{Frame, frame_of};
use crate::inside::{Inside, InsidePhoto};
use crate::joint::Estimate;
use crate::layers::{Shown, placed, stack};
use crate::look::{Seen, look_for_all};
use crate::places::{Chosen, choose};
use crate::register::{Tie, filled};
use crate::rim::look_for_rim;
use crate::sought::{Side, Sought, View};
use crate::tied::{Tied, tie_all};
use capture::Knowledge;
use estimates::{base_on_layers, estimates_of, leave_to_rim, see_again, settle_all, shown_in};
use missing::{look_turned_over, lying_beside};
use piece::Home;
use rest::look_at_the_rest;
use shape::{Abreast, Outline, Pose, Stage, Watch, mapped_by};

/// More inside photos than this are refused.
pub const MOST_PHOTOS: usize = 24;

/// Photos that are looked at side by side, as much of the work on one goes on one core. Each of 12 megapixels takes some 250 MB meanwhile,
/// so larger ones than this go one by one.
const AT_ONCE: usize = 2;
const MOST_PX_AT_ONCE: u64 = 25_000_000;

/// A shell that is seen so near to where the device's body lies is where its outline lies on the body's, mm in its middle and at its
/// outline: its face is seen past what lies in it.
const SHELL_MM: [f64; 2] = [4.0, 6.0];

/// A sighting with a smaller chance holds no part.
const COUNTS: f64 = 0.3;

/// No part is surer than this by photos that hang loose: less than [`SURE`].
const MOST_OF_LOOSE: f64 = 0.75;

/// Finds the parts' homes in photos of the opened device.
///
/// `opened_from` is the side of the device that looks up. `knowledge` is about the sheet alone; thicknesses in it are not used.
///
/// # Errors
/// [`HomesError`], with the photo and what to do.
pub fn find_homes(
    parts: &[Sought],
    photos: &[InsidePhoto<'_>],
    knowledge: &Knowledge,
    opened_from: Side,
    watch: &dyn Watch,
) -> Result<Found, HomesError> {
    if parts.is_empty() {
        return Err(HomesError::NoParts);
    }
    if photos.is_empty() {
        return Err(HomesError::NoPhotos);
    }
    if photos.len() > MOST_PHOTOS {
        return Err(HomesError::TooManyPhotos {
            found: photos.len(),
            most: MOST_PHOTOS,
        });
    }
    let mut order: Vec<usize> = (0..photos.len()).collect();
    order.sort_by_key(|&k| photos[k].stage);
    // Drawn once for all photos, from the side that was asked, and again where a part turns out to lie the other way up.
    let mut views = View::of_all(parts, opened_from);
    let radii: Vec<f64> = views.iter().map(|v| v.radius_mm).collect();
    let all: Vec<usize> = (0..parts.len()).collect();
    let part_of_all = Stage::new(watch, 0.0, 0.9);
    let abreast = Abreast::new(&part_of_all, photos.len());
    let looked = mapped_by(at_once(photos), &order, |&k| {
        let own = abreast.piece(k);
        let look = || {
            let taking = Stage::new(&own, 0.0, 0.4);
            let inside = Inside::of(&photos[k], knowledge, &taking)?;
            let looking = Stage::new(&own, 0.4, 1.0);
            let seen = look_for_all(&inside, parts, &views, &all, opened_from, &looking)?;
            Ok((inside, seen))
        };
        look().map_err(|e: HomesError| e.in_photo(k))
    });
    let mut insides = Vec::new();
    let mut seen: Vec<Vec<Vec<Seen>>> = Vec::new();
    for looked in looked {
        let (inside, in_it) = looked?;
        insides.push(inside);
        seen.push(in_it);
    }
    watch.step("putting the photos together", 0.92)?;
    let bodies = body::bodies(&insides, &seen, &views);
    let stages: Vec<u32> = order.iter().map(|&k| photos[k].stage).collect();
    let rim = look_for_rim(parts, &views, &insides, &seen, &stages, watch)?;
    let ties = tie_all(&insides, &bodies, &seen, &radii, rim.as_ref(), watch)?;
    let stranger: Vec<bool> = ties.iter().map(|t| t.is_stranger(rim.is_some())).collect();
    let mut poses: Vec<Pose> = ties.iter().map(|t| t.pose).collect();
    let shells = rim.as_ref().map(|r| r.shells()).unwrap_or_default();
    let tied = Tied::new(&insides, &poses, &stranger, &shells);
    let body = rim.as_ref().and_then(|r| r.outline(tied));
    let tied = tied.with_body(body.as_ref());
    if let Some(rim) = &rim {
        rim.place_shells(parts, &views, opened_from, tied, &mut seen);
    }
    let looked_for = Parts::of(parts);
    let mut chosen = choose(&looked_for, &views, &[], &seen, tied);
    let again = Stage::new(watch, 0.92, 0.95);
    look_at_the_rest(
        &looked_for,
        &views,
        &seen,
        &mut chosen,
        opened_from,
        tied,
        &again,
    )?;
    // The other side up: only for what was not found as it should lie.
    let missing: Vec<usize> = all
        .iter()
        .copied()
        .filter(|&i| chosen[i].as_ref().is_none_or(|c| c.confidence < LEAST))
        .collect();
    let beside = lying_beside(parts, &missing, &insides, &stages);
    let turned: Vec<usize> = missing
        .into_iter()
        .filter(|i| beside[*i].is_none())
        .collect();
    let mut sides = vec![opened_from; parts.len()];
    if !turned.is_empty() {
        let side = opened_from.other();
        let again = Stage::new(watch, 0.95, 0.96);
        let over = look_turned_over(&looked_for, &views, &chosen, &turned, side, tied, &again)?;
        for found in over {
            sides[found.part] = side;
            views[found.part] = found.view;
            chosen[found.part] = Some(found.chosen);
        }
    }
    if rim.is_some() {
        doubt_what_hangs_loose(&mut chosen, &ties);
    }
    watch.step("settling places and heights", 0.96)?;
    let by_rim = rim.as_ref().and_then(|r| r.as_estimate(tied));
    let rim = rim.filter(|_| by_rim.is_some());
    let shells = rim.as_ref().map(|r| r.shells()).unwrap_or_default();
    let mut estimates = estimates_of(parts, &views, tied, &chosen);
    leave_to_rim(&mut estimates, &shells);
    let mut whole: Vec<Estimate> = by_rim
        .or_else(|| body::as_estimate(&bodies, tied))
        .into_iter()
        .collect();
    settle_all(&mut estimates, &mut whole, &mut poses, &insides);
    // What each photo shows of each part at the place that all photos tell.
    let settled = Tied::new(&insides, &poses, &stranger, &shells);
    let shown = shown_in(&views, &sides, settled, &estimates, &chosen);
    see_again(&mut estimates, &shown);
    leave_to_rim(&mut estimates, &shells);
    settle_all(&mut estimates, &mut whole, &mut poses, &insides);
    let settled = Tied::new(&insides, &poses, &stranger, &shells);
    let shown = shown_in(&views, &sides, settled, &estimates, &chosen);
    let stack = stack(&views, &estimates, &shown, &stages);
    let mut again = estimates;
    base_on_layers(parts, &stack, &mut again);
    settle_all(&mut again, &mut whole, &mut poses, &insides);

    if let (Some(rim), Some(whole)) = (&rim, whole.first()) {
        for (part, spot) in rim.shells_at(whole.spot, &views) {
            if let Some(shell) = &mut again[part]
                && sides[part] == opened_from
                && shell.spot.is_near(spot, views[part].radius_mm, SHELL_MM)
            {
                shell.spot = spot;
            }
        }
    }
    let device = match (&rim, whole.first()) {
        (Some(rim), Some(whole)) => rim.outline_at(whole.spot),
        _ => device_outline(&bodies[0], &again, &chosen, &views),
    };
    let (device_from_sheet, size_mm) = frame_of(&device);
    let frame = Frame {
        device_from_sheet,
        width_mm: size_mm[0],
        opened_from,
    };
    let layers = stack.layers(opened_from);
    let mut outcomes: Vec<Outcome> = Vec::new();
    for i in 0..parts.len() {
        let outcome = match (&again[i], &chosen[i], beside[i]) {
            (Some(estimate), Some(choice), None) if choice.confidence >= LEAST => {
                let home = frame.home(estimate.spot, &views[i], layers[i]);
                Outcome::Found(Box::new(Place {
                    home,
                    confidence: choice.confidence,
                    front_is: if sides[i] == opened_from {
                        Side::Front
                    } else {
                        Side::Back
                    },
                    top_mm: estimate.top_mm,
                    top_sigma_mm: estimate.top_sigma_mm,
                    stages: stack.stages(i, &stages),
                    whole_at: stack.whole_at[i].map(|k| stages[k]),
                    hidden_by: stack.hidden_by[i].clone(),
                    as_well_at: Vec::new(),
                    alike: choice.alike.clone(),
                    turns_alike: choice.turns_alike.iter().map(|t| t.to_degrees()).collect(),
                    by_outline: choice.by_outline,
                }))
            }
            (_, _, Some(stage)) => Outcome::Beside { stage },
            _ => Outcome::NotFound,
        };
        outcomes.push(outcome);
    }
    offer_both(&mut outcomes);
    Ok(Found {
        device: frame.device(&device),
        size_mm,
        photos: order
            .iter()
            .enumerate()
            .map(|(n, &k)| {
                photo_seen(
                    n,
                    photos[k].stage,
                    &insides[n],
                    &ties[n],
                    poses[n],
                    stranger[n],
                    &frame,
                    &shown,
                )
            })
            .collect(),
        parts: outcomes,
    })
}

/// How many of these photos are looked at side by side.
fn at_once(photos: &[InsidePhoto<'_>]) -> usize {
    let is_large = |inside: &InsidePhoto<'_>| {
        let [width, height] = inside.photo.size_px().map(u64::from);
        width * height > MOST_PX_AT_ONCE
    };
    if photos.iter().any(is_large) {
        1
    } else {
        AT_ONCE
    }
}

/// No part is sure that only photos show which could lie elsewhere on the first one as well: however well it fits there, its home may be
/// off by as much.
fn doubt_what_hangs_loose(chosen: &mut [Option<Chosen>], ties: &[Tie]) {
    for choice in chosen.iter_mut().flatten() {
        let sightings = choice.sightings.iter().zip(&choice.chances);
        let held = sightings
            .filter(|(_, chance)| **chance > COUNTS)
            .any(|((photo, _), _)| ties[*photo].is_plain());
        if !held {
            choice.confidence = choice.confidence.min(MOST_OF_LOOSE);
        }
    }
}

/// The device's outline on the first photo's sheet.
///
/// The silhouette says how far the device reaches; where the parts that are surely found fill it, shells foremost, they say
/// it better: their outlines were captured lying flat, and their heights are known from all photos.
fn device_outline(
    body: &Outline,
    estimates: &[Option<Estimate>],
    chosen: &[Option<Chosen>],
    views: &[View],
) -> Outline {
    let sure = |i: usize| chosen[i].as_ref().is_some_and(|c| c.confidence > SURE);
    let reach = shape::offset(std::slice::from_ref(body), 2.0);
    let within: Vec<Outline> = (0..estimates.len())
        .filter(|&i| sure(i))
        .filter_map(|i| {
            estimates[i]
                .as_ref()
                .map(|e| filled(&placed(&views[i], e.spot)))
        })
        .filter(|o| {
            shape::difference(o, &reach)
                .iter()
                .map(Outline::area_mm2)
                .sum::<f64>()
                < 0.01 * o.area_mm2()
        })
        .collect();
    match shape::largest(shape::union(&within)) {
        Some(all) if all.area_mm2() > 0.95 * body.area_mm2() => filled(&all),
        _ => body.clone(),
    }
}

/// Fills in where parts that look the same could as well be.
fn offer_both(outcomes: &mut [Outcome]) {
    let homes: Vec<Option<Home>> = outcomes.iter().map(|o| o.place().map(|p| p.home)).collect();
    for outcome in outcomes {
        if let Outcome::Found(place) = outcome {
            place.as_well_at = place.alike.iter().filter_map(|&j| homes[j]).collect();
        }
    }
}

#[allow(clippy::too_many_arguments, reason = "one record of many sources")]
fn photo_seen(
    n: usize,
    stage: u32,
    inside: &Inside,
    tie: &Tie,
    pose: Pose,
    stranger: bool,
    frame: &Frame,
    shown: &[Vec<Option<Shown>>],
) -> PhotoSeen {
    PhotoSeen {
        stage,
        sheet_from_device: pose.after(frame.device_from_sheet.inverse()),
        silhouette: inside.silhouette.clone(),
        camera_height_mm: inside.height_mm,
        nadir_mm: [inside.nadir.x, inside.nadir.y],
        parts_seen: shown[n].iter().flatten().filter(|s| s.there).count(),
        silhouettes_agree: tie.silhouettes,
        stranger,
        warnings: inside
            .taken
            .solved()
            .map(|s| s.warnings.clone())
            .unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tie(lead: f64) -> Tie {
        Tie {
            pose: Pose::default(),
            parts: 0.0,
            silhouettes: 1.0,
            lead,
        }
    }

    #[test]
    fn what_only_a_loose_photo_shows_is_told_and_not_sure() {
        let ties = [tie(f64::INFINITY), tie(0.2), tie(4.0)];
        let confidence = |photos: &[(usize, f64)]| {
            let mut chosen = [Some(Chosen::seen_in(0.98, photos))];
            doubt_what_hangs_loose(&mut chosen, &ties);
            chosen[0].as_ref().expect("still there").confidence
        };
        assert_eq!(confidence(&[(1, 0.9)]), MOST_OF_LOOSE);
        assert_eq!(confidence(&[(1, 0.9), (2, 0.1)]), MOST_OF_LOOSE);
        assert_eq!(confidence(&[(1, 0.9), (2, 0.6)]), 0.98);
        assert_eq!(confidence(&[(0, 0.5)]), 0.98);
        assert!((LEAST..SURE).contains(&MOST_OF_LOOSE));
    }
}
