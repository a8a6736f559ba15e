//! Rectangles of the field that nothing is in.

use shape::{Bounds, Point};

/// More obstacles than this are left to the packer: the search below grows with their fourth power.
const MOST_OBSTACLES: usize = 12;

/// The largest rectangles of the field that no obstacle reaches into, largest first, none inside
/// another.
pub(crate) fn free_rectangles(field: Bounds, obstacles: &[Bounds]) -> Vec<Bounds> {
    let near: Vec<Bounds> = obstacles
        .iter()
        .copied()
        .filter(|o| crate::board::overlap(*o, field))
        .collect();
    if near.is_empty() {
        return vec![field];
    }
    if near.len() > MOST_OBSTACLES {
        return Vec::new();
    }
    let lines = |low: f64, high: f64, edges: Vec<f64>| {
        let mut lines: Vec<f64> = edges
            .into_iter()
            .filter(|v| *v > low && *v < high)
            .chain([low, high])
            .collect();
        lines.sort_by(f64::total_cmp);
        lines.dedup();
        lines
    };
    let xs = lines(
        field.min.x,
        field.max.x,
        near.iter().flat_map(|o| [o.min.x, o.max.x]).collect(),
    );
    let ys = lines(
        field.min.y,
        field.max.y,
        near.iter().flat_map(|o| [o.min.y, o.max.y]).collect(),
    );
    let mut found: Vec<Bounds> = Vec::new();
    for (i, &x0) in xs.iter().enumerate() {
        for &x1 in &xs[i + 1..] {
            for (j, &y0) in ys.iter().enumerate() {
                for &y1 in &ys[j + 1..] {
                    let b = Bounds::between(Point::new(x0, y0), Point::new(x1, y1));
                    if !near.iter().any(|o| crate::board::overlap(*o, b)) {
                        found.push(b);
                    }
                }
            }
        }
    }
    let area = |b: &Bounds| b.width_mm() * b.height_mm();
    found.sort_by(|a, b| area(b).total_cmp(&area(a)));
    let mut kept: Vec<Bounds> = Vec::new();
    for b in found {
        if !kept.iter().any(|k| k.holds(b)) {
            kept.push(b);
        }
    }
    kept
}
