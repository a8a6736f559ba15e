//! Supports nested on stock sheets.

use crate::MountError;
use crate::catalogue::Catalogue;
use crate::say::Findings;
use crate::texts::{params, say};
use nest::{Budget, Item, NestError, Sheet, Spacing, StoppedBy, Turns, fill_sheets};
use piece::{CutPlacement, CutSheet, Level, Support};
use shape::Watch;
use std::collections::BTreeMap;

/// Between two pieces and from the sheet's edge, mm: room for the knife.
const GAP_MM: f64 = 2.0;
const EDGE_MM: f64 = 5.0;
/// Moves of one piece that each sheet's packing may take.
const STEPS: u64 = 600;
/// Most sheets of one thickness.
const MOST_SHEETS: usize = 13;

/// Sheets with what is cut from each, by material and thickness.
pub(crate) fn plan(
    supports: &[Support],
    catalogue: &Catalogue,
    findings: &mut Findings,
    watch: &dyn Watch,
) -> Result<Vec<CutSheet>, MountError> {
    // Thickness in micrometres, so that it can be a key.
    let mut layers: BTreeMap<(&str, u64), Vec<(usize, usize)>> = BTreeMap::new();
    for (i, s) in supports.iter().enumerate() {
        for (k, (t, m)) in s.layers_mm.iter().zip(&s.materials).enumerate() {
            layers
                .entry((m, (t * 1000.0).round() as u64))
                .or_default()
                .push((i, k));
        }
    }
    let mut sheets = Vec::new();
    for ((material, micrometres), pieces) in layers {
        let Some(foam) = catalogue.foams.get(material) else {
            continue;
        };
        let thickness_mm = micrometres as f64 / 1000.0;
        let size_mm = foam.sheet_mm.value;
        let (pieces, items): (Vec<(usize, usize)>, Vec<Item>) = pieces
            .into_iter()
            .filter_map(|piece| {
                let item = Item {
                    outline: supports[piece.0].outline().ok()?,
                    demand: 1,
                    turns: Turns::quarters(),
                };
                Some((piece, item))
            })
            .unzip();
        match on_sheets(&items, size_mm, watch) {
            Ok(Some(found)) => sheets.extend(found.into_iter().map(|placements| {
                CutSheet {
                    material: material.into(),
                    thickness_mm,
                    size_mm,
                    used: placements
                        .iter()
                        .map(|(item, _)| items[*item].outline.area_mm2())
                        .sum::<f64>()
                        / (size_mm[0] * size_mm[1]),
                    placements: placements
                        .into_iter()
                        .map(|(item, pose)| CutPlacement {
                            support: pieces[item].0,
                            layer: pieces[item].1,
                            x: pose.x,
                            y: pose.y,
                            turn_deg: pose.turn_deg,
                        })
                        .collect(),
                }
            })),
            Err(NestError::Cancelled) => return Err(MountError::Cancelled),
            failed => {
                let mut parts: Vec<_> = pieces
                    .iter()
                    .map(|(i, _)| supports[*i].part.clone())
                    .collect();
                parts.dedup();
                // A sheet that its own edges leave nothing of is a length that cannot be.
                let (why, remedy) = match failed {
                    Err(NestError::ItemTooLarge { .. } | NestError::BadLength { .. }) => {
                        ("why-sheet.too-small", "remedy.support.no-sheet")
                    }
                    _ => ("why-sheet.too-many", "remedy.support.too-many"),
                };
                findings.tell(
                    Level::Fix,
                    "support.no-sheet",
                    parts,
                    vec![
                        say(
                            "case.support.no-sheet",
                            params!(
                                "foam": foam.name.clone(), "thickness_mm": thickness_mm,
                                "width_mm": size_mm[0], "height_mm": size_mm[1]
                            ),
                        ),
                        say(why, &[]),
                    ],
                    say(remedy, &[]),
                );
            }
        }
    }
    Ok(sheets)
}

type OnSheet = Vec<(usize, shape::Pose)>;

/// What lies on each sheet; `None` where the most sheets do not hold all.
fn on_sheets(
    items: &[Item],
    size_mm: [f64; 2],
    watch: &dyn Watch,
) -> Result<Option<Vec<OnSheet>>, NestError> {
    let spacing = Spacing {
        gap_mm: GAP_MM,
        edge_mm: EDGE_MM,
    };
    let sheet = Sheet::try_new(size_mm[0], size_mm[1], vec![], spacing)?;
    let budget = Budget {
        steps: STEPS,
        ..Budget::default()
    };
    let laid = fill_sheets(items, &vec![sheet; MOST_SHEETS], &budget, watch)?;
    if laid.stopped_by == StoppedBy::Watch {
        return Err(NestError::Cancelled);
    }
    let sheets = laid.sheets.into_iter().map(|(_, placements)| {
        placements
            .into_iter()
            .map(|p| (p.item, p.strip_from_item))
            .collect()
    });
    Ok(laid.left_over.is_empty().then(|| sheets.collect()))
}
