//! Strips: all pieces, the least length.

use crate::budget::{Budget, StoppedBy};
use crate::construct::first_layout;
use crate::item::{Item, Placement, Strip};
use crate::kinds::Kinds;
use crate::lanes::{Found, shorten};
use crate::layout::{Job, Spot};
use crate::{NestError, verify};
use shape::{Pose, Vector, Watch};

/// A filled strip.
#[derive(Debug, Clone, PartialEq)]
pub struct StripLayout {
    /// Length that the pieces need, mm, with the distance from both ends.
    pub length_mm: f64,
    /// Area of the pieces over the strip's area, 0 to 1.
    pub density: f64,
    /// Every piece, in the order of the items as given.
    pub placements: Vec<Placement>,
    /// Steps that were done.
    pub steps: u64,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
}

/// Places all items on a strip so that it becomes short.
///
/// # Errors
/// Any [`NestError`]; [`NestError::ItemTooLarge`] where an item is higher than the strip in every turn.
pub fn fill_strip(
    items: &[Item],
    strip: &Strip,
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<StripLayout, NestError> {
    let spacing = strip.spacing();
    let kinds = Kinds::try_new(items, &[], spacing.gap_mm)?;
    let height_mm = strip.height_mm() - 2.0 * spacing.edge_mm;
    let (owners, pieces) = pieces_of(items, &kinds);
    let job = Job {
        kinds: &kinds,
        pieces,
        keep_outs: Vec::new(),
        height_mm,
    };
    all_have_room(items, &job, f64::INFINITY)?;
    if watch.step("filling the strip", 0.0).is_err() {
        return Err(NestError::Cancelled);
    }
    let spots = first_layout(&job);
    let first = Found {
        length_mm: job.length_of(&spots),
        spots,
    };
    let goal_mm = job.least_length_mm() * (1.0 + 1e-9);
    let done = shorten(&job, first, goal_mm, budget, watch, "filling the strip");
    let found = done.best;
    let placements = placements_of(&job, &owners, &found.spots, spacing.edge_mm);
    verify::no_overlaps(items, &placements, &[], spacing.gap_mm)?;
    let length_mm = found.length_mm + 2.0 * spacing.edge_mm;
    let area_mm2: f64 = job.pieces.iter().map(|&k| kinds.kinds[k].area_mm2).sum();
    Ok(StripLayout {
        length_mm,
        density: area_mm2 / (length_mm * strip.height_mm()),
        placements,
        steps: done.steps,
        stopped_by: done.stopped_by,
    })
}

/// Every copy of every item: whose it is, and its kind.
pub(crate) fn pieces_of(items: &[Item], kinds: &Kinds) -> (Vec<usize>, Vec<usize>) {
    let owners: Vec<usize> = items
        .iter()
        .enumerate()
        .flat_map(|(k, item)| std::iter::repeat_n(k, item.demand))
        .collect();
    let pieces = owners.iter().map(|&k| kinds.kind_of_item[k]).collect();
    (owners, pieces)
}

/// Each item that is asked for has a turn in which it fits alone.
pub(crate) fn all_have_room(
    items: &[Item],
    job: &Job<'_>,
    length_mm: f64,
) -> Result<(), NestError> {
    for (item, asked) in items.iter().enumerate() {
        let kind = job.kinds.kind_of_item[item];
        if asked.demand == 0 || !job.forms_with_room(kind, length_mm).is_empty() {
            continue;
        }
        let has_mm = [length_mm, job.height_mm];
        let lacks = |f: usize| {
            let b = job.form(f).bounds;
            (b.width_mm() - length_mm).max(b.height_mm() - job.height_mm)
        };
        let nearest = job.kinds.kinds[kind]
            .forms
            .clone()
            .min_by(|&f, &g| lacks(f).total_cmp(&lacks(g)));
        let needs_mm = nearest.map_or([0.0; 2], |f| {
            let b = job.form(f).bounds;
            [b.width_mm(), b.height_mm()]
        });
        return Err(NestError::ItemTooLarge {
            item,
            needs_mm,
            has_mm,
        });
    }
    Ok(())
}

/// Spots as placements; the search's field starts `edge_mm` right of and above the corner.
pub(crate) fn placements_of(
    job: &Job<'_>,
    owners: &[usize],
    spots: &[Spot],
    edge_mm: f64,
) -> Vec<Placement> {
    owners
        .iter()
        .zip(spots)
        .map(|(&item, &(form, at))| {
            let at = at + Vector::new(edge_mm, edge_mm);
            Placement {
                item,
                strip_from_item: Pose::new(at.x, at.y, job.form(form).turn_deg),
            }
        })
        .collect()
}
