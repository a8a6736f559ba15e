//! Parts of one group: one block that is moved as one, its captions inside.

use crate::axes::{Axes, Extent, Way, aligned, in_a_row};
use crate::cell::{Cell, HomeBox, InnerCaption, TextBlock};
use crate::spacing::Spacing;
use piece::Spread;
use shape::{Bounds, Point, Vector};

/// Makes one cell of a group's cells: rows that keep the order of the device, feet on one line. Of the numbers of
/// rows the one that makes the smallest block which fits the field.
pub(crate) fn make_group(
    name: &str,
    mut members: Vec<Cell>,
    field: Bounds,
    spacing: &Spacing,
) -> Cell {
    let centre = |c: &Cell| c.home.map(|h| h.bounds.centre());
    // From the top downwards; parts without a home behind, as they come.
    members.sort_by(|a, b| match (centre(a), centre(b)) {
        (Some(p), Some(q)) => q.y.total_cmp(&p.y),
        (p, q) => q.is_some().cmp(&p.is_some()),
    });
    let block = (1..=members.len())
        .map(|n_rows| Block::of_rows(&members, n_rows, field, spacing))
        .min_by(|a, b| a.price(field).total_cmp(&b.price(field)))
        .unwrap_or_default();
    let mut parts = Vec::new();
    let mut inner = Vec::new();
    for (k, cell) in members.iter().enumerate() {
        let at = block.at[k];
        parts.extend(
            cell.members
                .iter()
                .map(|(part, by)| (part.clone(), at + *by)),
        );
        if spacing.captions && cell.is_captioned() {
            let [w, h] = cell.body;
            let corner = Vector::new(
                at.x + 0.5 * (w - cell.caption.w),
                at.y - spacing.own_caption_drop_mm() - cell.caption.h,
            );
            let low = Point::default() + at;
            inner.push(InnerCaption {
                block: cell.caption.clone(),
                at: corner,
                names: Bounds::between(low, Point::new(low.x + w, low.y + h)),
            });
        }
    }
    let first = members.iter().map(|c| c.caption.part).min().unwrap_or(0);
    Cell {
        weight: members.iter().map(|c| c.weight).sum(),
        members: parts,
        body: block.size,
        caption: TextBlock::none(first),
        inner,
        group: Some(name.to_owned()),
        home: members
            .iter()
            .filter_map(|c| c.home.map(|h| h.bounds))
            .reduce(Bounds::joined)
            .map(|bounds| HomeBox { bounds }),
        layer: members.iter().map(|c| c.layer).min().unwrap_or(0),
    }
}

/// Where the cells of a group lie in its block.
#[derive(Debug, Default)]
struct Block {
    /// Lower-left corner of each cell's body.
    at: Vec<Vector>,
    size: [f64; 2],
}

impl Block {
    fn of_rows(members: &[Cell], n_rows: usize, field: Bounds, spacing: &Spacing) -> Self {
        let axes = Axes {
            spread: Spread::Right,
            region: field,
        };
        let per_row = members.len().div_ceil(n_rows);
        let mut rows: Vec<Vec<usize>> = (0..members.len())
            .collect::<Vec<_>>()
            .chunks(per_row)
            .map(<[usize]>::to_vec)
            .collect();
        for row in &mut rows {
            row.sort_by(|&a, &b| {
                let x = |c: usize| {
                    members[c]
                        .home
                        .map_or(f64::INFINITY, |h| h.bounds.centre().x)
                };
                x(a).total_cmp(&x(b)).then(a.cmp(&b))
            });
        }
        let extent = |c: usize, way| axes.extent(&members[c], way, spacing);
        // Each row's extent downwards, feet on one line.
        let downwards: Vec<Extent> = rows
            .iter()
            .map(|row| aligned(row.iter().map(|&c| extent(c, Way::Downwards)), 1.0))
            .collect();
        let (tops, whole_down) = in_a_row(&downwards, Way::Downwards, spacing, 0.0);
        let placed: Vec<(Vec<f64>, Extent)> = rows
            .iter()
            .map(|row| {
                let items: Vec<Extent> = row.iter().map(|&c| extent(c, Way::Sideways)).collect();
                in_a_row(&items, Way::Sideways, spacing, 0.0)
            })
            .collect();
        let width = placed.iter().map(|(_, e)| e.whole_mm()).fold(0.0, f64::max);
        let height = whole_down.whole_mm();
        let mut at = vec![Vector::default(); members.len()];
        for (r, row) in rows.iter().enumerate() {
            let (starts, whole) = &placed[r];
            let left = 0.5 * (width - whole.whole_mm()) + whole.before;
            // Down from the block's top to the row's feet.
            let feet = whole_down.before + tops[r] + downwards[r].body;
            for (k, &c) in row.iter().enumerate() {
                at[c] = Vector::new(left + starts[k], height - feet);
            }
        }
        Self {
            at,
            size: [width, height],
        }
    }

    /// Half the block's girth; far more where it does not fit the field.
    fn price(&self, field: Bounds) -> f64 {
        let [w, h] = self.size;
        let over = (w - field.width_mm()).max(0.0) + (h - field.height_mm()).max(0.0);
        w + h + 100.0 * over
    }
}
