//! Parts that are not sure, looked for again in what the sure ones leave unexplained.

use crate::alike::Parts;
use crate::confidence::Kind;
use crate::error::HomesError;
use crate::explained::Explained;
use crate::found::SURE;
use crate::inside::{Inside, Sighting};
use crate::look::{Seen, look_for_all, weighed};
use crate::places::{Chosen, choose};
use crate::sought::{Side, View};
use crate::tied::Tied;
use shape::{Pose, Stage, Watch};

/// A part that is seen in a photo with a smaller chance explains nothing of it.
const EXPLAINS: f64 = 0.5;

/// Looks again for the parts that are not sure, in what the sure ones do not explain, and chooses anew among all that was seen of them.
pub(super) fn look_at_the_rest(
    all: &Parts<'_>,
    views: &[View],
    seen: &[Vec<Vec<Seen>>],
    chosen: &mut [Option<Chosen>],
    side: Side,
    tied: Tied<'_>,
    watch: &dyn Watch,
) -> Result<(), HomesError> {
    let parts = all.sought;
    let is_sure = |c: &Chosen| c.confidence >= SURE;
    let sure: Vec<Option<Chosen>> = chosen.iter().map(|c| c.clone().filter(is_sure)).collect();
    let asked: Vec<usize> = (0..parts.len())
        .filter(|&i| sure[i].is_none() && !tied.is_shell(i))
        .collect();
    if asked.is_empty() || sure.iter().all(Option::is_none) {
        return Ok(());
    }
    let mut again = vec![vec![Vec::new(); parts.len()]; tied.insides.len()];
    let photos = tied.photos().count() as f64;
    for (n, (k, inside, pose)) in tied.photos().enumerate() {
        let mut explained = Explained::default();
        for (view, choice) in views.iter().zip(&sure) {
            let sighting = choice
                .as_ref()
                .and_then(|c| sighting_in(k, inside, pose, view, side, c, tied));
            if let Some(sighting) = sighting {
                explained.add(view, sighting);
            }
        }
        let rest = inside.without(&explained);
        let stage = Stage::new(watch, n as f64 / photos, (n + 1) as f64 / photos);
        let looked = look_for_all(&rest, parts, views, &asked, side, &stage)?;
        for (&i, found) in asked.iter().zip(looked) {
            let both = found.into_iter().chain(seen[k][i].iter().cloned());
            let both = both.map(|(sighting, _, _)| sighting).collect();
            let own = inside.own(&rest, &views[i], side, both);
            again[k][i] = weighed(own, &parts[i], side);
        }
    }
    let mut found = choose(all, views, &sure, &again, tied);
    for i in asked {
        chosen[i] = found[i].take();
    }
    Ok(())
}

/// A part that is found, as one photo shows it; `None` where that hardly shows it.
fn sighting_in(
    photo: usize,
    inside: &Inside,
    pose: Pose,
    view: &View,
    side: Side,
    choice: &Chosen,
    tied: Tied<'_>,
) -> Option<Sighting> {
    let own = choice.sightings.iter().find(|(n, _)| *n == photo);
    let sighting = match own {
        Some((_, sighting)) => sighting.clone(),
        None => {
            let (n, first) = choice.sightings.first()?;
            let top_mm = tied.insides[*n].height_at(first.held.stand.scale);
            let stand = inside.stand_of(choice.spot(tied)?.carried(pose), top_mm);
            inside.look_at(view, side, stand, 1.0)
        }
    };
    let chance = Kind::of(choice.by_outline).alone(&sighting);
    (chance > EXPLAINS).then_some(sighting)
}
