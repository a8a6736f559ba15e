//! All places where parts could be in one photo.

use crate::confidence::{Kind, features};
use crate::error::HomesError;
use crate::inside::{Inside, InsidePhoto, Sighting};
use crate::sought::{Side, Sought, View};
use capture::Knowledge;
use shape::{Abreast, Point, Watch, mapped};

/// Coarsest photo in which parts are looked for, px/mm of the sheet.
pub const LEAST_PX_PER_MM: f64 = 2.5;

/// A place where a part could be in one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Possible {
    /// The middle of the outline's area, mm of the sheet, freed of what the part's height enlarges.
    pub centre: Point,
    /// Turn of the outline as seen from this side, degrees counter-clockwise on the sheet.
    pub turn_deg: f64,
    /// Height of its top as its size tells it, mm.
    pub top_mm: f64,
    /// What speaks for it ([`crate::FEATURES`]).
    pub features: [f64; 8],
    /// The chance that it is right, as far as this photo tells.
    pub confidence: f64,
}

/// All places where parts could be in one photo, the likeliest first.
///
/// # Errors
/// [`HomesError`], with what to do.
pub fn look(
    parts: &[Sought],
    side: Side,
    photo: &InsidePhoto<'_>,
    knowledge: &Knowledge,
    watch: &dyn Watch,
) -> Result<Vec<Vec<Possible>>, HomesError> {
    let inside = Inside::of(photo, knowledge, watch)?;
    let asked: Vec<usize> = (0..parts.len()).collect();
    let views = View::of_all(parts, side);
    let seen = look_for_all(&inside, parts, &views, &asked, side, watch)?;
    let possible = |(sighting, features, confidence): Seen| {
        let spot = inside.spot(&sighting);
        Possible {
            centre: spot.centre,
            turn_deg: spot.turn.to_degrees(),
            top_mm: inside.height_at(sighting.held.stand.scale),
            features,
            confidence,
        }
    };
    Ok(seen
        .into_iter()
        .map(|all| all.into_iter().map(possible).collect())
        .collect())
}

/// A sighting, what speaks for it, and the chance that it is right.
pub(crate) type Seen = (Sighting, [f64; 8], f64);

/// Looks for some of the parts in one photo, each by its view from that side, several at a time; likeliest places first.
pub(crate) fn look_for_all(
    inside: &Inside,
    parts: &[Sought],
    views: &[View],
    asked: &[usize],
    side: Side,
    watch: &dyn Watch,
) -> Result<Vec<Vec<Seen>>, HomesError> {
    if inside.px_per_mm < LEAST_PX_PER_MM {
        return Err(HomesError::TooCoarse {
            px_per_mm: inside.px_per_mm,
            photo: 0,
            least: LEAST_PX_PER_MM,
        });
    }
    let abreast = Abreast::new(watch, asked.len());
    let numbered: Vec<(usize, usize)> = asked.iter().copied().enumerate().collect();
    mapped(&numbered, |&(n, part)| {
        let own = abreast.piece(n);
        let seen = inside.look_for(&views[part], side, parts[part].thickness_mm, &own);
        own.step("looking for parts", 1.0)?;
        Ok(weighed(seen?, &parts[part], side))
    })
    .into_iter()
    .collect()
}

/// Adds the chances, and sorts by them.
pub(crate) fn weighed(sightings: Vec<Sighting>, sought: &Sought, side: Side) -> Vec<Seen> {
    let kind = Kind::of(!has_picture(sought, side));
    let scores: Vec<f64> = sightings.iter().map(|s| s.score).collect();
    let mut all: Vec<Seen> = sightings
        .into_iter()
        .enumerate()
        .map(|(k, s)| {
            let next = scores
                .iter()
                .enumerate()
                .filter(|(n, _)| *n != k)
                .map(|(_, v)| *v)
                .fold(0.0, f64::max);
            let f = features(&s, next);
            let chance = kind.of_sighting(&s, &f);
            (s, f, chance)
        })
        .collect();
    all.sort_by(|a, b| b.2.total_cmp(&a.2));
    all
}

pub(crate) fn has_picture(sought: &Sought, side: Side) -> bool {
    match side {
        Side::Front => sought.front.is_some(),
        Side::Back => sought.back.is_some(),
    }
}
