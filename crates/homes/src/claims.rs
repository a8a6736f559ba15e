//! What of a photo is claimed by parts that have their places.

use crate::inside::{Inside, Sighting};
use crate::sought::View;
use shape::Vector;
use std::collections::BTreeMap;

/// Of a face that is seen in a smaller share than this, what is seen says little.
const LEAST_CLAIMED: f64 = 0.25;

/// An outline of which a larger share is seen is seen all round; an outline of so many times another's area is much larger.
const OUTLINED: f64 = 0.6;
const MUCH_LARGER: f64 = 2.0;

/// Cells of claims, mm.
const CELL_MM: f64 = 1.0;

/// What of a photo is explained by parts already: by which, and whether by a pattern.
#[derive(Default)]
pub(crate) struct Claims(BTreeMap<[i64; 2], (usize, bool)>);

impl Claims {
    /// Cells that show what the part looks like there, each with whether that is a pattern.
    fn cells(inside: &Inside, sighting: &Sighting) -> Vec<([i64; 2], bool)> {
        let to_plate = sighting.held.stand.to_plate();
        let n = (sighting.evidence.side_mm / CELL_MM).round().max(1.0) as i64;
        let mut all = Vec::new();
        for tile in sighting.evidence.tiles.iter().filter(|t| t.seen) {
            for v in 0..n {
                for u in 0..n {
                    let off =
                        |k: i64| ((k as f64 + 0.5) / n as f64 - 0.5) * sighting.evidence.side_mm;
                    let p = [tile.at[0] + off(u), tile.at[1] + off(v)];
                    let [x, y] = to_plate(p);
                    let at = inside.origin + Vector::new(x, y);
                    let cell = [at.x, at.y].map(|v| (v / CELL_MM).floor() as i64);
                    all.push((cell, tile.patterned));
                }
            }
        }
        // Of a cell that two tiles share, a pattern counts.
        all.sort_unstable_by_key(|(cell, patterned)| (*cell, !patterned));
        all.dedup_by_key(|(cell, _)| *cell);
        all
    }

    /// What the part shows there.
    pub(crate) fn add(&mut self, part: usize, inside: &Inside, sighting: &Sighting) {
        for (cell, patterned) in Self::cells(inside, sighting) {
            self.0.entry(cell).or_insert((part, patterned));
        }
    }

    /// Share of what a sighting claims that another part claims too.
    ///
    /// A part whose outline is seen all round lies on a much larger one: that one's plain face round it says nothing against it, however
    /// alike both look, but its print does.
    pub(crate) fn shared(
        &self,
        part: usize,
        views: &[View],
        inside: &Inside,
        sighting: &Sighting,
    ) -> f64 {
        let cells = Self::cells(inside, sighting);
        let own_mm2 = views[part].outline.area_mm2();
        let lies_on = |other: usize| {
            sighting.evidence.rim_share > OUTLINED
                && views[other].outline.area_mm2() > MUCH_LARGER * own_mm2
        };
        let claimed = |(cell, _): &&([i64; 2], bool)| {
            let other = self.0.get(cell).filter(|(other, _)| *other != part);
            other.is_some_and(|(other, patterned)| *patterned || !lies_on(*other))
        };
        let others = cells.iter().filter(claimed).count();
        // Where little of the face is seen, the outline holds the part, and a few cells say nothing against it.
        let all =
            sighting.evidence.tiles.len() as f64 * (sighting.evidence.side_mm / CELL_MM).powi(2);
        others as f64 / (cells.len() as f64).max(LEAST_CLAIMED * all).max(6.0)
    }
}
