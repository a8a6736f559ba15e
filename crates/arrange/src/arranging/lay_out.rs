//! Places for the cells: spread as the device comes apart, composed in rows, or packed where nothing else fits.

use super::{Job, Layout, Room};
use crate::axes::Axes;
use crate::error::ArrangeError;
use crate::free::free_rectangles;
use crate::pack::{Choice, Taken, pack};
use crate::plan::Setting;
use crate::score::Score;
use crate::search::{Found, find_plan};
use crate::spacing::{CAPTION_CLEAR_MM, Spacing};
use piece::Style;
use shape::{Bounds, Point, Watch};

/// Free rectangles that a composition is tried in, the largest first.
const REGIONS: usize = 3;

/// More cells than this are composed or refused: packing them one by one would take minutes, and no
/// one hangs so many without rows.
const MOST_TO_PACK: usize = 150;

/// A part of the field, and what in it is taken.
#[derive(Debug, Clone)]
struct Place {
    region: Bounds,
    obstacles: Vec<Bounds>,
}

impl Job<'_> {
    /// Boxes that bodies must keep out of: pinned parts with their gap, their captions, keep-outs.
    pub(crate) fn obstacles(&self) -> Vec<Bounds> {
        let gap = self.spacing.gap_mm;
        let parts = self.board.parts.iter().map(|(_, t)| t.bounds().grown(gap));
        let captions = self
            .board
            .captions
            .iter()
            .map(|(_, b)| b.grown(self.spacing.beside_caption_mm()));
        let keep_outs = self.board.keep_outs.iter().map(|k| k.grown(gap));
        let blocks = self.held.blocks.iter().map(|b| b.grown(gap));
        parts
            .chain(captions)
            .chain(keep_outs)
            .chain(blocks)
            .collect()
    }

    pub(super) fn lay_out(&mut self, watch: &dyn Watch) -> Result<Option<Layout>, ArrangeError> {
        if self.piece.layout.style == Style::Exploded
            && let Some((cells, layout)) = self.spread_out(self.spacing, watch)
        {
            self.cells = cells;
            return Ok(Some(layout));
        }
        if self.cells.is_empty() {
            return Ok(Some(Layout {
                at: Vec::new(),
                room: Room::Composed,
                score: Score::default(),
                bands: 0,
                shared_stations: 0,
                stopped: false,
            }));
        }
        let field = self.piece.frame.field();
        let least_mm2: f64 = self.cells.iter().map(|c| c.weight).sum();
        if least_mm2 > field.width_mm() * field.height_mm() {
            return Ok(None);
        }
        let places = self.places_to_compose();
        let mut nearest: Option<Found> = None;
        for &captions in if self.options.captions {
            &[true, false][..]
        } else {
            &[false][..]
        } {
            let spacing = Spacing {
                captions,
                ..self.spacing
            };
            for place in &places {
                let Some(found) = self.compose(place.clone(), spacing, watch) else {
                    continue;
                };
                if found.fits() {
                    let room = if captions == self.options.captions {
                        Room::Composed
                    } else {
                        Room::Tight
                    };
                    return Ok(Some(self.layout_of(&found, room)));
                }
                if nearest.is_none() {
                    nearest = Some(found);
                }
            }
        }
        self.pack(nearest, field, watch)
    }

    /// Where a composition is tried, the best first: the whole field around what is pinned or kept
    /// free, then the largest free rectangles.
    fn places_to_compose(&self) -> Vec<Place> {
        let field = self.piece.frame.field();
        let obstacles: Vec<Bounds> = self
            .obstacles()
            .into_iter()
            .filter(|o| crate::board::overlap(*o, field))
            .collect();
        let free = free_rectangles(field, &obstacles)
            .into_iter()
            .take(REGIONS)
            .map(|region| Place {
                region,
                obstacles: Vec::new(),
            });
        if obstacles.is_empty() {
            return free.collect();
        }
        let around = Place {
            region: field,
            obstacles: obstacles.clone(),
        };
        std::iter::once(around).chain(free).collect()
    }

    fn compose(&self, place: Place, spacing: Spacing, watch: &dyn Watch) -> Option<Found> {
        let axes = Axes {
            spread: self.piece.layout.spread,
            region: place.region,
        };
        let mut setting = Setting::new(
            &self.cells,
            axes,
            spacing,
            self.options.weights,
            place.obstacles,
        );
        if self.piece.layout.style == Style::Knolled {
            setting.rows = true;
            let in_rows = find_plan(&setting, self.options.seed, self.steps(), watch);
            if in_rows.as_ref().is_some_and(|f| f.fits() || f.stopped) {
                return in_rows;
            }
            // Rows of single parts take more room than parts that are stacked where there is some.
            setting.rows = false;
        }
        find_plan(&setting, self.options.seed, self.steps(), watch)
    }

    /// Steps for so many cells. The work of one grows faster than their number, so beyond two dozen
    /// they become fewer: a piece of two thousand parts takes no longer than one of sixty.
    pub(crate) fn steps(&self) -> u32 {
        let n = self.cells.len().max(1) as f64;
        let share = (24.0 / n).min(1.0) * (60.0 / n).min(1.0);
        (f64::from(self.options.steps) * share) as u32
    }

    fn layout_of(&self, found: &Found, room: Room) -> Layout {
        let layers_count = self.piece.layout.style == Style::Exploded;
        let shared = found
            .plan
            .bands
            .iter()
            .flatten()
            .filter(|_| layers_count)
            .filter(|station| {
                let mut layers: Vec<u32> = station
                    .iter()
                    .flatten()
                    .map(|&c| self.cells[c].layer)
                    .collect();
                layers.sort_unstable();
                layers.dedup();
                layers.len() > 1
            })
            .count();
        Layout {
            at: found.composed.at.clone(),
            room,
            score: found.score,
            bands: found.plan.bands.len(),
            shared_stations: shared,
            stopped: found.stopped,
        }
    }

    /// Squeezes what does not fit as a composition into the free room.
    fn pack(
        &self,
        nearest: Option<Found>,
        field: Bounds,
        watch: &dyn Watch,
    ) -> Result<Option<Layout>, ArrangeError> {
        if self.cells.len() > MOST_TO_PACK {
            return Ok(None);
        }
        let wishes = match &nearest {
            Some(found) => squeezed(&found.composed.at, found.composed.extent, field),
            None => vec![field.min; self.cells.len()],
        };
        let taken = Taken {
            parts: self.board.parts.iter().map(|(_, t)| t.clone()).collect(),
            boxes: self
                .board
                .captions
                .iter()
                .map(|(_, b)| b.grown(CAPTION_CLEAR_MM))
                .chain(
                    self.board
                        .keep_outs
                        .iter()
                        .map(|k| k.grown(self.spacing.gap_mm)),
                )
                .chain(
                    self.held
                        .blocks
                        .iter()
                        .map(|b| b.grown(self.spacing.gap_mm)),
                )
                .collect(),
        };
        for choice in [Choice::Nearest, Choice::LowestLeft] {
            let at = pack(
                &self.cells,
                &wishes,
                field,
                &taken,
                &self.spacing,
                choice,
                self.piece.layout.nesting,
                watch,
            )
            .map_err(|_| ArrangeError::Cancelled)?;
            if let Some(at) = at {
                return Ok(Some(Layout {
                    at,
                    room: Room::Packed,
                    score: nearest.map(|f| f.score).unwrap_or_default(),
                    bands: 1,
                    shared_stations: 0,
                    stopped: false,
                }));
            }
        }
        Ok(None)
    }
}

/// Carries places from a composition that is too large into the field.
fn squeezed(at: &[Point], from: Bounds, field: Bounds) -> Vec<Point> {
    let scale = |have: f64, room: f64| if have > room { room / have } else { 1.0 };
    let (sx, sy) = (
        scale(from.width_mm(), field.width_mm()),
        scale(from.height_mm(), field.height_mm()),
    );
    let c = from.centre();
    let to = field.centre();
    at.iter()
        .map(|p| Point::new(to.x + sx * (p.x - c.x), to.y + sy * (p.y - c.y)))
        .collect()
}
