//! The exact check on a finished layout: the outlines as given, and `shape`'s own measures.

use crate::NestError;
use crate::item::{Item, Placement};
use shape::{EdgeTree, Outline, intersection_area_mm2};

/// How deep two pieces may lie on each other along their longer sides and still only touch, as a share of the larger one's
/// size; of pieces below a millimetre, in mm.
const ROUNDING: f64 = 1e-9;

/// Finds what overlaps, or lies nearer than the gap.
pub(crate) fn no_overlaps(
    items: &[Item],
    placements: &[Placement],
    keep_outs: &[Outline],
    gap_mm: f64,
) -> Result<(), NestError> {
    let mut trees: Vec<EdgeTree> = placements
        .iter()
        .map(|p| EdgeTree::new(items[p.item].outline.placed(p.strip_from_item)))
        .collect();
    trees.extend(keep_outs.iter().map(|k| EdgeTree::new(k.clone())));
    let mut order: Vec<usize> = (0..trees.len()).collect();
    order.sort_by(|&i, &j| trees[i].bounds().min.x.total_cmp(&trees[j].bounds().min.x));
    for (at, &i) in order.iter().enumerate() {
        for &j in &order[at + 1..] {
            if trees[j].bounds().min.x > trees[i].bounds().max.x + gap_mm {
                break;
            }
            if i >= placements.len() && j >= placements.len() {
                continue;
            }
            if overlap(&trees[i], &trees[j], gap_mm) {
                return Err(NestError::Faulty {
                    first: i.min(j),
                    second: i.max(j),
                });
            }
        }
    }
    Ok(())
}

fn overlap(a: &EdgeTree, b: &EdgeTree, gap_mm: f64) -> bool {
    if gap_mm > 0.0 {
        return a.clearance_mm(b, gap_mm) < gap_mm;
    }
    let size = |t: &EdgeTree| t.bounds().width_mm().max(t.bounds().height_mm());
    let touches = a.clearance_mm(b, 1e-12) == 0.0;
    touches && {
        let shared = intersection_area_mm2(a.outline(), b.outline());
        // A touch along the whole length, as deep as rounding goes.
        shared > ROUNDING * size(a).min(size(b)) * size(a).max(size(b)).max(1.0) + 1e-6
    }
}
