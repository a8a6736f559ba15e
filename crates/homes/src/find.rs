//! From photos to homes.

mod estimates;

use crate::body;
use crate::error::HomesError;
use crate::found::{Found, LEAST, Outcome, PhotoSeen, Place, SURE};
use crate::frame::{Frame, frame_of};
use crate::inside::{Inside, InsidePhoto};
use crate::joint::Estimate;
use crate::layers::{Shown, placed, stack};
use crate::look::{Seen, look_for_all};
use crate::places::{Chosen, choose};
use crate::register::{RimPlaces, Spot, Tie, filled, largest, tie};
use crate::rim::{Rim, look_for_rim};
use crate::sought::{Side, Sought, View};
use capture::Knowledge;
use estimates::{base_on_layers, estimates_of, leave_to_rim, see_again, settle_all, shown_in};
use piece::Home;
use shape::registration::{Options, register};
use shape::{Outline, Pose, Silent, Stage, Watch};

/// More inside photos than this are refused.
pub const MOST_PHOTOS: usize = 24;

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
    let mut views: Vec<View> = parts.iter().map(|p| View::of(p, opened_from)).collect();
    let radii: Vec<f64> = views.iter().map(|v| v.radius_mm).collect();
    let all: Vec<usize> = (0..parts.len()).collect();
    let mut insides = Vec::new();
    let mut seen: Vec<Vec<Vec<Seen>>> = Vec::new();
    for (n, &k) in order.iter().enumerate() {
        let count = order.len() as f64;
        let from = n as f64 / count;
        let part_of_all = Stage::new(watch, from, from + 0.9 / count);
        let inside = Inside::of(&photos[k], knowledge, &part_of_all).map_err(|e| e.in_photo(k))?;
        let looked = look_for_all(&inside, parts, &views, &all, opened_from, &part_of_all)
            .map_err(|e| e.in_photo(k))?;
        insides.push(inside);
        seen.push(looked);
    }
    watch.step("putting the photos together", 0.92)?;
    let bodies = body::bodies(&insides, &seen, &views);
    let stages: Vec<u32> = order.iter().map(|&k| photos[k].stage).collect();
    let rim = look_for_rim(parts, &views, &insides, &seen, &stages, watch)?;
    let ties = tie_all(&insides, &bodies, &seen, &radii, rim.as_ref(), watch)?;
    let stranger: Vec<bool> = ties.iter().map(|t| t.is_stranger(rim.is_some())).collect();
    let mut poses: Vec<Pose> = ties.iter().map(|t| t.pose).collect();
    if let Some(rim) = &rim {
        rim.place_shells(
            parts,
            &views,
            opened_from,
            &insides,
            &poses,
            &stranger,
            &mut seen,
        );
    }
    let is_shell = |part: usize| rim.as_ref().is_some_and(|r| r.is_shell(part));
    let mut chosen = choose(
        parts,
        &[],
        &views,
        &insides,
        &seen,
        &poses,
        &stranger,
        is_shell,
    );
    // The other side up: only for what was not found as it should lie.
    let missing: Vec<usize> = all
        .iter()
        .copied()
        .filter(|&i| chosen[i].as_ref().is_none_or(|c| c.confidence < LEAST))
        .collect();
    let beside = lying_beside(parts, &missing, &insides, &order, photos);
    let turned: Vec<usize> = missing
        .into_iter()
        .filter(|i| beside[*i].is_none())
        .collect();
    let mut sides = vec![opened_from; parts.len()];
    if !turned.is_empty() {
        look_turned_over(
            parts,
            &turned,
            opened_from,
            &insides,
            &mut seen,
            &poses,
            &stranger,
            &mut chosen,
            &mut sides,
            &mut views,
            is_shell,
            watch,
        )?;
    }
    if rim.is_some() {
        doubt_what_hangs_loose(&mut chosen, &ties);
    }
    watch.step("settling places and heights", 0.96)?;
    let by_rim = rim
        .as_ref()
        .and_then(|r| r.as_estimate(&insides, &poses, &stranger));
    let rim = rim.filter(|_| by_rim.is_some());
    let is_shell = |part: usize| rim.as_ref().is_some_and(|r| r.is_shell(part));
    let mut estimates = estimates_of(parts, &views, &insides, &poses, &chosen);
    leave_to_rim(&mut estimates, is_shell);
    let mut whole: Vec<Estimate> = by_rim
        .or_else(|| body::as_estimate(&bodies, &insides, &poses, &stranger))
        .into_iter()
        .collect();
    settle_all(&mut estimates, &mut whole, &mut poses, &insides);
    // What each photo shows of each part at the place that all photos tell.
    let shown = shown_in(
        &views, &sides, &insides, &stranger, &poses, &estimates, &chosen,
    );
    see_again(&mut estimates, &shown);
    leave_to_rim(&mut estimates, is_shell);
    settle_all(&mut estimates, &mut whole, &mut poses, &insides);
    let shown = shown_in(
        &views, &sides, &insides, &stranger, &poses, &estimates, &chosen,
    );
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

/// Ties all photos to the first.
fn tie_all(
    insides: &[Inside],
    bodies: &[Outline],
    seen: &[Vec<Vec<Seen>>],
    radii: &[f64],
    rim: Option<&Rim>,
    watch: &dyn Watch,
) -> Result<Vec<Tie>, HomesError> {
    let spots_in = |k: usize| -> Vec<Vec<(Spot, f64)>> {
        seen[k]
            .iter()
            .map(|all| {
                let spot = |(s, _, c): &Seen| (insides[k].spot(s), *c);
                all.iter().take(4).map(spot).collect()
            })
            .collect()
    };
    let spots: Vec<_> = (0..insides.len()).map(spots_in).collect();
    let rims = |k: usize| {
        rim.map(|r| RimPlaces {
            first: r.places(0),
            other: r.places(k),
            radius_mm: r.view.radius_mm,
        })
    };
    let mut ties = vec![Tie {
        pose: Pose::default(),
        parts: 0.0,
        silhouettes: 1.0,
        lead: f64::INFINITY,
    }];
    // What the photos before show, and then, where a photo's place is in doubt, what all others show.
    for again in [false, true] {
        for k in 1..insides.len() {
            if again && ties[k].is_plain() {
                continue;
            }
            let mut known = spots[0].clone();
            for (j, tie) in ties.iter().enumerate().skip(1) {
                if j == k || tie.is_stranger(rim.is_some()) {
                    continue;
                }
                let back = tie.pose.inverse();
                for (known, there) in known.iter_mut().zip(&spots[j]) {
                    known.extend(there.iter().map(|(s, c)| (s.carried(back), *c)));
                    known.sort_by(|a, b| b.1.total_cmp(&a.1));
                    known.truncate(8);
                }
            }
            let (first, other) = (&bodies[0], &bodies[k]);
            let places = rims(k);
            let tie = tie(
                first,
                other,
                &known,
                &spots[k],
                radii,
                places.as_ref(),
                watch,
            )?;
            if again {
                ties[k] = tie;
            } else {
                ties.push(tie);
            }
        }
    }
    Ok(ties)
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

/// Parts that lie on the sheet beside the device, by their outlines; the stage of the first photo that shows them so.
fn lying_beside(
    parts: &[Sought],
    missing: &[usize],
    insides: &[Inside],
    order: &[usize],
    photos: &[InsidePhoto<'_>],
) -> Vec<Option<u32>> {
    let mut found = vec![None; parts.len()];
    for (n, inside) in insides.iter().enumerate() {
        for lying in &inside.beside {
            let fits = |i: &&usize| {
                let a = &parts[**i].outline;
                let (x, y) = (a.area_mm2(), lying.area_mm2());
                // What is seen is enlarged by its height by some percent.
                if found[**i].is_some() || (x - y).abs() > 0.15 * x.max(y) {
                    return false;
                }
                let options = Options {
                    allow_flip: true,
                    ..Options::default()
                };
                register(a, lying, &options, &Silent)
                    .is_ok_and(|r| r.edge_share > 0.8 && r.edge_rms_mm < 0.5)
            };
            let fitting = missing.iter().find(fits).copied();
            if let Some(i) = fitting {
                found[i] = Some(photos[order[n]].stage);
            }
        }
    }
    found
}

/// Looks for parts with their other side up, and takes them over where they are found so.
#[allow(clippy::too_many_arguments, reason = "all of it belongs to one search")]
fn look_turned_over(
    parts: &[Sought],
    turned: &[usize],
    opened_from: Side,
    insides: &[Inside],
    seen: &mut [Vec<Vec<Seen>>],
    poses: &[Pose],
    stranger: &[bool],
    chosen: &mut [Option<Chosen>],
    sides: &mut [Side],
    views: &mut [View],
    is_shell: impl Fn(usize) -> bool,
    watch: &dyn Watch,
) -> Result<(), HomesError> {
    let other = opened_from.other();
    let mut asked = Vec::new();
    for &i in turned {
        // Where the outline is its own mirror image and no picture tells the faces apart, there is nothing new to see.
        let picture = match other {
            Side::Front => parts[i].front.is_some(),
            Side::Back => parts[i].back.is_some(),
        };
        if picture || parts[i].outline.area_mm2() > 40.0 {
            asked.push(i);
        }
    }
    let mut tried = views.to_vec();
    for &i in &asked {
        tried[i] = View::of(&parts[i], other);
    }
    let mut over: Vec<Vec<Vec<Seen>>> = Vec::new();
    for inside in insides {
        let looked = look_for_all(inside, parts, &tried, &asked, other, watch)?;
        let mut all: Vec<Vec<Seen>> = (0..parts.len()).map(|_| Vec::new()).collect();
        for (i, found) in asked.iter().zip(looked) {
            all[*i] = found;
        }
        over.push(all);
    }
    let held: Vec<Option<Chosen>> = (chosen.iter().enumerate())
        .map(|(i, c)| c.clone().filter(|_| !asked.contains(&i)))
        .collect();
    let found = choose(
        parts, &held, &tried, insides, &over, poses, stranger, is_shell,
    );
    for &i in &asked {
        let before = chosen[i].as_ref().map_or(0.0, |c| c.confidence);
        if let Some(c) = &found[i]
            && c.confidence > (before + 0.25).max(0.6)
        {
            chosen[i] = Some(c.clone());
            sides[i] = other;
            views[i] = tried[i].clone();
            for (k, all) in seen.iter_mut().enumerate() {
                all[i] = std::mem::take(&mut over[k][i]);
            }
        }
    }
    Ok(())
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
    match largest(shape::union(&within)) {
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
