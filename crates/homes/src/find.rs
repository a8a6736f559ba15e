//! From photos to homes.

use crate::body;
use crate::confidence::Kind;
use crate::error::HomesError;
use crate::found::{Found, LEAST, Outcome, PhotoSeen, Place, SURE};
use crate::frame::frame_of;
use crate::inside::{Inside, InsidePhoto, Sighting};
use crate::joint::{Estimate, Observation, settle};
use crate::layers::{Shown, Stack, placed, stack};
use crate::look::{Seen, look_for_all};
use crate::places::{Chosen, choose};
use crate::register::{RimPlaces, Spot, Tie, filled, largest, tie};
use crate::rim::{Rim, look_for_rim};
use crate::sought::{Side, Sought, View};
use capture::Knowledge;
use piece::Home;
use shape::registration::{Options, register};
use shape::{Outline, Point, Pose, Silent, Stage, Watch};

/// More inside photos than this are refused.
pub const MOST_PHOTOS: usize = 24;

/// What a device's parts stand on before anything is known, mm over the sheet, and one sigma.
const BASE_MM: [f64; 2] = [2.5, 2.5];

/// The same once the other parts of the layer are known.
const LAYER_SIGMA_MM: f64 = 1.2;

/// A shell that is seen so near to where the device's body lies is where its outline lies on the body's, mm in its middle and at its
/// outline: its face is seen past what lies in it.
const SHELL_MM: [f64; 2] = [4.0, 6.0];

/// A photo in which the silhouette agrees less and fewer parts are seen shows something else.
const STRANGER: [f64; 2] = [0.62, 1.2];

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
    let stranger: Vec<bool> = ties
        .iter()
        .map(|t| t.silhouettes < STRANGER[0] && t.parts < STRANGER[1])
        .collect();
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
    let mut chosen = choose(parts, &views, &insides, &seen, &poses, &stranger, is_shell);
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
    watch.step("settling places and heights", 0.96)?;
    let mut estimates = estimates_of(parts, &views, &insides, &poses, &chosen);
    let by_rim = rim
        .as_ref()
        .and_then(|r| r.as_estimate(&insides, &poses, &stranger));
    let rim = rim.filter(|_| by_rim.is_some());
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
    let spots = |k: usize| -> Vec<Vec<(Spot, f64)>> {
        seen[k]
            .iter()
            .map(|all| {
                let spot = |(s, _, c): &Seen| (insides[k].spot(s), *c);
                all.iter().take(4).map(spot).collect()
            })
            .collect()
    };
    let mut known = spots(0);
    let mut ties = vec![Tie {
        pose: Pose::default(),
        parts: 0.0,
        silhouettes: 1.0,
    }];
    for k in 1..insides.len() {
        let here = spots(k);
        let rim = rim.map(|r| RimPlaces {
            first: r.places(0),
            other: r.places(k),
            radius_mm: r.view.radius_mm,
        });
        let (first, other) = (&bodies[0], &bodies[k]);
        let tie = tie(first, other, &known, &here, radii, rim.as_ref(), watch)?;
        if tie.silhouettes >= STRANGER[0] || tie.parts >= STRANGER[1] {
            let back = tie.pose.inverse();
            for (known, here) in known.iter_mut().zip(&here) {
                known.extend(here.iter().map(|(s, c)| (s.carried(back), *c)));
                known.sort_by(|a, b| b.1.total_cmp(&a.1));
                known.truncate(8);
            }
        }
        ties.push(tie);
    }
    Ok(ties)
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
    let found = choose(parts, &tried, insides, &over, poses, stranger, is_shell);
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

fn estimates_of(
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
fn see_again(estimates: &mut [Option<Estimate>], shown: &[Vec<Option<Shown>>]) {
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
fn settle_all(
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

/// What each photo shows of each part at the place that all photos together tell: `shown[k][i]`.
#[allow(clippy::too_many_arguments, reason = "one table over photos and parts")]
fn shown_in(
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
fn base_on_layers(parts: &[Sought], stack: &Stack, estimates: &mut [Option<Estimate>]) {
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

/// The way from the first photo's sheet to homes.
struct Frame {
    device_from_sheet: Pose,
    width_mm: f64,
    opened_from: Side,
}

impl Frame {
    /// A place as it is seen from the device's front.
    fn seen_from_front(&self, p: Point) -> Point {
        let at = self.device_from_sheet.apply(p);
        match self.opened_from {
            Side::Front => at,
            Side::Back => Point::new(self.width_mm - at.x, at.y),
        }
    }

    fn device(&self, on_sheet: &Outline) -> Outline {
        let placed = on_sheet.placed(self.device_from_sheet);
        match self.opened_from {
            Side::Front => placed,
            // Its own vertical centre line is the device's.
            Side::Back => placed.mirrored(),
        }
    }

    /// The home of a part seen at a spot of the first photo's sheet.
    fn home(&self, spot: Spot, view: &View, layer: u32) -> Home {
        let centre = self.seen_from_front(spot.centre);
        let turn = spot.turn + self.device_from_sheet.turn_deg.to_radians();
        let turn = if self.opened_from == Side::Front {
            turn
        } else {
            -turn
        };
        // From the front the part is seen as its outline says, or mirrored; its middle is that of the one seen.
        let bounds = view.outline.bounds();
        let middle = if self.opened_from == Side::Front {
            view.centre
        } else {
            Point::new(bounds.min.x + bounds.max.x - view.centre.x, view.centre.y)
        };
        let turn_deg = (turn.to_degrees() + 180.0).rem_euclid(360.0) - 180.0;
        let Pose { x, y, turn_deg } = Pose::bringing(middle, centre, turn_deg);
        Home {
            x,
            y,
            turn_deg,
            layer,
        }
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
