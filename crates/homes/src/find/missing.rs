//! Parts that were not found as they should lie: beside the device, or the other side up.

use crate::confidence::Kind;
use crate::error::HomesError;
use crate::explained::Explained;
use crate::found::SURE;
use crate::inside::Inside;
use crate::look::{Seen, look_for_all, weighed};
use crate::places::{Chosen, choose};
use crate::sought::{Side, Sought, View};
use crate::tied::Tied;
use shape::registration::{Options, register};
use shape::{Pose, Silent, Watch};

/// Smaller parts without a picture of that side are not looked for the other side up, mm2.
const LEAST_PLAIN_MM2: f64 = 40.0;

/// So much surer than as it should lie, and so sure, a part must be to lie the other side up.
const SURER_BY: f64 = 0.25;
const LEAST_TURNED: f64 = 0.6;

/// A part that is seen in a photo with a smaller chance explains nothing of it.
const EXPLAINS: f64 = 0.5;

/// Parts that lie on the sheet beside the device, by their outlines; the stage of the first photo that shows them so.
pub(super) fn lying_beside(
    parts: &[Sought],
    missing: &[usize],
    insides: &[Inside],
    stages: &[u32],
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
                found[i] = Some(stages[n]);
            }
        }
    }
    found
}

/// Looks again for the parts that are not sure, in what the sure ones do not explain, and chooses among what is found so.
pub(super) fn look_at_the_rest(
    parts: &[Sought],
    views: &[View],
    seen: &[Vec<Vec<Seen>>],
    chosen: &mut [Option<Chosen>],
    side: Side,
    tied: Tied<'_>,
    watch: &dyn Watch,
) -> Result<(), HomesError> {
    let is_sure = |i: usize| chosen[i].as_ref().is_some_and(|c| c.confidence >= SURE);
    let (sure, asked): (Vec<usize>, Vec<usize>) = (0..parts.len()).partition(|&i| is_sure(i));
    let asked: Vec<usize> = asked.into_iter().filter(|&i| !tied.is_shell(i)).collect();
    if sure.is_empty() || asked.is_empty() {
        return Ok(());
    }
    let photos: Vec<(usize, &Inside, Pose)> = tied.photos().collect();
    let mut again: Vec<Vec<Vec<Seen>>> = tied
        .insides
        .iter()
        .map(|_| vec![Vec::new(); parts.len()])
        .collect();
    for (k, inside, pose) in photos {
        let mut explained = Explained::default();
        for choice in sure
            .iter()
            .filter_map(|&i| chosen[i].as_ref().map(|c| (i, c)))
        {
            let (i, choice) = choice;
            let own = choice.sightings.iter().find(|(n, _)| *n == k);
            let sighting = match (own, choice.spot(tied), choice.sightings.first()) {
                (Some((_, sighting)), _, _) => sighting.clone(),
                (None, Some(spot), Some((n, first))) => {
                    let top_mm = tied.insides[*n].height_at(first.held.stand.scale);
                    let stand = inside.stand_of(spot.carried(pose), top_mm);
                    inside.look_at(&views[i], side, stand, 1.0)
                }
                _ => continue,
            };
            if Kind::of(choice.by_outline).alone(&sighting) > EXPLAINS {
                explained.add(&views[i], sighting);
            }
        }
        let rest = inside.without(&explained);
        let looked = look_for_all(&rest, parts, views, &asked, side, watch)?;
        for (&i, found) in asked.iter().zip(looked) {
            let both = found.into_iter().chain(seen[k][i].iter().cloned());
            let both = both.map(|(sighting, _, _)| sighting).collect();
            let own = inside.own(&rest, &views[i], side, both);
            again[k][i] = weighed(own, &parts[i], side);
        }
    }
    let held: Vec<Option<Chosen>> = (chosen.iter().enumerate())
        .map(|(i, c)| c.clone().filter(|_| !asked.contains(&i)))
        .collect();
    let mut found = choose(parts, views, &held, &again, tied);
    for i in asked {
        chosen[i] = found[i].take();
    }
    Ok(())
}

/// A part that is found the other side up.
pub(super) struct TurnedOver {
    pub(super) part: usize,
    pub(super) view: View,
    pub(super) chosen: Chosen,
}

/// Looks for parts with that side up, and gives those that are found so.
pub(super) fn look_turned_over(
    parts: &[Sought],
    views: &[View],
    chosen: &[Option<Chosen>],
    turned: &[usize],
    side: Side,
    tied: Tied<'_>,
    watch: &dyn Watch,
) -> Result<Vec<TurnedOver>, HomesError> {
    // Where the outline is its own mirror image and no picture tells the faces apart, there is nothing new to see.
    let may_tell = |i: &usize| {
        let picture = match side {
            Side::Front => parts[*i].front.is_some(),
            Side::Back => parts[*i].back.is_some(),
        };
        picture || parts[*i].outline.area_mm2() > LEAST_PLAIN_MM2
    };
    let asked: Vec<usize> = turned.iter().copied().filter(may_tell).collect();
    let mut tried = views.to_vec();
    for &i in &asked {
        tried[i] = View::of(&parts[i], side);
    }
    let mut over: Vec<Vec<Vec<Seen>>> = Vec::new();
    for inside in tied.insides {
        let looked = look_for_all(inside, parts, &tried, &asked, side, watch)?;
        let mut all: Vec<Vec<Seen>> = (0..parts.len()).map(|_| Vec::new()).collect();
        for (i, found) in asked.iter().zip(looked) {
            all[*i] = found;
        }
        over.push(all);
    }
    let held: Vec<Option<Chosen>> = (chosen.iter().enumerate())
        .map(|(i, c)| c.clone().filter(|_| !asked.contains(&i)))
        .collect();
    let mut found = choose(parts, &tried, &held, &over, tied);
    let surer = asked.into_iter().filter_map(|part| {
        let before = chosen[part].as_ref().map_or(0.0, |c| c.confidence);
        let least = (before + SURER_BY).max(LEAST_TURNED);
        let chosen = found[part].take().filter(|c| c.confidence > least)?;
        let view = tried[part].clone();
        Some(TurnedOver { part, view, chosen })
    });
    Ok(surer.collect())
}
