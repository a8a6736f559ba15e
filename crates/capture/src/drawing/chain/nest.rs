//! Closed traces checked as rings, and rings nested by containment into outlines.

use super::super::trace::Trace;
use super::super::{DrawingWarning, Drawn};
use shape::{Outline, OutlineError, Point, Ring, difference};
use std::collections::{BTreeMap, BTreeSet};

/// A sound ring and its name.
pub(super) struct Named {
    ring: Ring,
    pub(super) name: Option<String>,
}

/// The sound rings; the others are counted in `warnings`.
pub(super) fn rings_of(closed: Vec<Trace>, warnings: &mut Vec<DrawingWarning>) -> Vec<Named> {
    let mut rings = Vec::new();
    let mut bad: Option<(usize, Point, String)> = None;
    for trace in closed {
        let at = trace.points[0];
        match Ring::try_new(trace.points) {
            Ok(ring) => rings.push(Named {
                ring,
                name: trace.name,
            }),
            Err(e) => bad.get_or_insert((0, at, e.to_string())).0 += 1,
        }
    }
    if let Some((count, at, problem)) = bad {
        // The ring's own remedy, after a semicolon, would follow in the middle of the sentence.
        let problem = problem.split(';').next().unwrap_or_default().to_owned();
        warnings.push(DrawingWarning::UnusableRings { count, at, problem });
    }
    rings
}

/// The ring lies in the other one. Rings may touch, so that one point does not tell.
fn lies_in(inner: &Ring, outer: &Ring) -> bool {
    let points = inner.points();
    let votes = [0, points.len() / 3, 2 * points.len() / 3]
        .iter()
        .filter(|&&k| outer.contains(points[k]))
        .count();
    votes >= 2
}

/// Outlines of the rings: one that lies in an even number of others bounds a part, the next one inwards is a hole.
pub(super) fn nest(rings: Vec<Named>) -> Vec<Drawn> {
    let area = |k: usize| rings[k].ring.signed_area_mm2().abs();
    let areas: Vec<f64> = (0..rings.len()).map(area).collect();
    let bounds: Vec<_> = rings.iter().map(|r| r.ring.bounds()).collect();
    let mut by_area: Vec<usize> = (0..rings.len()).collect();
    by_area.sort_by(|&a, &b| areas[b].total_cmp(&areas[a]).then(a.cmp(&b)));
    let mut parent = vec![None; rings.len()];
    let mut depth = vec![0_usize; rings.len()];
    for (rank, &k) in by_area.iter().enumerate() {
        let around = by_area[..rank].iter().rev().copied().find(|&j| {
            bounds[j].contains(bounds[k].centre()) && lies_in(&rings[k].ring, &rings[j].ring)
        });
        parent[k] = around;
        depth[k] = around.map_or(0, |j| depth[j] + 1);
    }
    let mut holes: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for k in 0..rings.len() {
        if let (1, Some(j)) = (depth[k] % 2, parent[k]) {
            holes.entry(j).or_default().push(k);
        }
    }
    let outers: BTreeSet<usize> = (0..rings.len())
        .filter(|&k| depth[k].is_multiple_of(2))
        .collect();
    let none = Vec::new();
    outers
        .into_iter()
        .flat_map(|k| assemble(&rings[k], holes.get(&k).unwrap_or(&none), &rings))
        .collect()
}

/// An outline of its rings; where holes touch each other or the edge, their material is taken off.
fn assemble(outer: &Named, holes: &[usize], rings: &[Named]) -> Vec<Drawn> {
    let points = |r: &Ring| r.points().to_vec();
    let hole_points = holes.iter().map(|&h| points(&rings[h].ring)).collect();
    let whole = Outline::try_new(points(&outer.ring), hole_points);
    let drawn = |outline: Outline, warnings: Vec<DrawingWarning>| Drawn {
        outline,
        name: outer.name.clone(),
        warnings,
    };
    match whole {
        Ok(outline) => vec![drawn(outline, Vec::new())],
        Err(e) => {
            let at = match e {
                OutlineError::RingsCross { at } => at,
                _ => outer.ring.points()[0],
            };
            let alone = |r: &Ring| Outline::try_new(points(r), Vec::new()).ok();
            let cuts: Vec<Outline> = holes
                .iter()
                .filter_map(|&h| alone(&rings[h].ring))
                .collect();
            let warning = DrawingWarning::CutAtEdge {
                count: cuts.len(),
                at,
            };
            alone(&outer.ring)
                .map(|o| difference(&o, &cuts))
                .unwrap_or_default()
                .into_iter()
                .map(|o| drawn(o, vec![warning.clone()]))
                .collect()
        }
    }
}
