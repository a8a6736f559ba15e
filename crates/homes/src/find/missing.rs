//! Parts that were not found as they should lie: beside the device, or the other side up.

use crate::alike::Parts;
use crate::error::HomesError;
use crate::inside::Inside;
use crate::look::{Seen, look_for_all};
use crate::places::{Chosen, choose};
use crate::sought::{Side, Sought, View};
use crate::tied::Tied;
use shape::registration::{Options, register};
use shape::{Silent, Watch};

/// Smaller parts without a picture of that side are not looked for the other side up, mm2.
const LEAST_PLAIN_MM2: f64 = 40.0;

/// So much surer than as it should lie, and so sure, a part must be to lie the other side up.
const SURER_BY: f64 = 0.25;
const LEAST_TURNED: f64 = 0.6;

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

/// A part that is found the other side up.
pub(super) struct TurnedOver {
    pub(super) part: usize,
    pub(super) view: View,
    pub(super) chosen: Chosen,
}

/// Looks for parts with that side up, and gives those that are found so.
pub(super) fn look_turned_over(
    all: &Parts<'_>,
    views: &[View],
    chosen: &[Option<Chosen>],
    turned: &[usize],
    side: Side,
    tied: Tied<'_>,
    watch: &dyn Watch,
) -> Result<Vec<TurnedOver>, HomesError> {
    let parts = all.sought;
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
        let mut here: Vec<Vec<Seen>> = (0..parts.len()).map(|_| Vec::new()).collect();
        for (i, found) in asked.iter().zip(looked) {
            here[*i] = found;
        }
        over.push(here);
    }
    let held: Vec<Option<Chosen>> = (chosen.iter().enumerate())
        .map(|(i, c)| c.clone().filter(|_| !asked.contains(&i)))
        .collect();
    let mut found = choose(all, &tried, &held, &over, tied);
    let surer = asked.into_iter().filter_map(|part| {
        let before = chosen[part].as_ref().map_or(0.0, |c| c.confidence);
        let least = (before + SURER_BY).max(LEAST_TURNED);
        let chosen = found[part].take().filter(|c| c.confidence > least)?;
        let view = tried[part].clone();
        Some(TurnedOver { part, view, chosen })
    });
    Ok(surer.collect())
}
