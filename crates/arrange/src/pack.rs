//! Room for parts that no composition fits: each in the free place nearest to where it should be.
//!
//! Used where a composition of rows does not fit, because the board is tight or pinned parts stand in
//! the way. True outlines decide, so parts may reach into each other's notches. Captions find their
//! places afterwards.

use crate::board::box_tree;
use crate::cell::Cell;
use crate::hull::hull;
use crate::spacing::Spacing;
use shape::{Bounds, Cancelled, EdgeTree, Point, Pose, Watch};

/// Places tried along the field's longer side.
const GRID: f64 = 140.0;

/// How the next place is chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Choice {
    /// Nearest to where the part should be.
    Nearest,
    /// As far down and to the left as it goes: packs tighter.
    LowestLeft,
}

/// What must be kept clear.
#[derive(Debug)]
pub(crate) struct Taken {
    pub(crate) parts: Vec<EdgeTree>,
    /// Boxes that parts keep out of.
    pub(crate) boxes: Vec<Bounds>,
}

/// Lower-left corners for all cells' bodies in the field, or `None` where one finds no room.
///
/// # Errors
/// [`Cancelled`] where the watch asks for it.
#[allow(clippy::too_many_arguments, reason = "one caller, all of it needed")]
pub(crate) fn pack(
    cells: &[Cell],
    wishes: &[Point],
    field: Bounds,
    taken: &Taken,
    spacing: &Spacing,
    choice: Choice,
    nesting: bool,
    watch: &dyn Watch,
) -> Result<Option<Vec<Point>>, Cancelled> {
    let mut order: Vec<usize> = (0..cells.len()).collect();
    let area = |c: usize| cells[c].body[0] * cells[c].body[1];
    order.sort_by(|&a, &b| area(b).total_cmp(&area(a)).then(a.cmp(&b)));
    let solid_part = |t: &EdgeTree| {
        if nesting {
            t.clone()
        } else {
            EdgeTree::new(hull(t.outline()))
        }
    };
    let mut placed: Vec<EdgeTree> = taken.parts.iter().map(solid_part).collect();
    let mut at = vec![Point::default(); cells.len()];
    for (k, &c) in order.iter().enumerate() {
        watch.step("fitting parts in", k as f64 / order.len() as f64)?;
        let members = solid(&cells[c], nesting);
        let Some(found) = find_room(
            &members,
            cells[c].body,
            wishes[c],
            field,
            taken,
            &placed,
            spacing,
            choice,
        ) else {
            return Ok(None);
        };
        at[c] = found;
        placed.extend(
            members
                .iter()
                .map(|m| m.placed(Pose::new(found.x, found.y, 0.0))),
        );
    }
    Ok(Some(at))
}

/// What nothing else may reach into: the outlines of a cell at the origin, the whole block of a group, and with no
/// nesting the outlines' hulls.
pub(crate) fn solid(cell: &Cell, nesting: bool) -> Vec<EdgeTree> {
    if cell.group.is_some() {
        let [w, h] = cell.body;
        let block = Bounds::between(Point::default(), Point::new(w, h));
        return box_tree(block).into_iter().collect();
    }
    cell.members_at(Point::default())
        .map(|(part, corner)| {
            let outline = part.outline.shifted(corner - part.bounds.min);
            EdgeTree::new(if nesting { outline } else { hull(&outline) })
        })
        .collect()
}

#[allow(clippy::too_many_arguments, reason = "one caller, all of it needed")]
fn find_room(
    members: &[EdgeTree],
    [w, h]: [f64; 2],
    wish: Point,
    field: Bounds,
    taken: &Taken,
    placed: &[EdgeTree],
    spacing: &Spacing,
    choice: Choice,
) -> Option<Point> {
    let (room_x, room_y) = (field.width_mm() - w, field.height_mm() - h);
    if room_x < 0.0 || room_y < 0.0 {
        return None;
    }
    let step = (field.width_mm().max(field.height_mm()) / GRID).max(0.5);
    let ticks = |room: f64| -> Vec<f64> {
        let n = (room / step) as usize;
        (0..=n).map(|k| k as f64 * step).chain([room]).collect()
    };
    let (xs, ys) = (ticks(room_x), ticks(room_y));
    let mut spots: Vec<(f64, Point)> = xs
        .iter()
        .flat_map(|&x| ys.iter().map(move |&y| (x, y)))
        .map(|(x, y)| {
            let p = Point::new(field.min.x + x, field.min.y + y);
            let price = match choice {
                Choice::Nearest => p.distance_mm(wish),
                Choice::LowestLeft => y + x * 0.01,
            };
            (price, p)
        })
        .collect();
    if choice == Choice::Nearest
        && field.holds(Bounds::between(wish, Point::new(wish.x + w, wish.y + h)))
    {
        spots.push((-1.0, wish));
    }
    spots.sort_by(|a, b| a.0.total_cmp(&b.0));
    spots
        .into_iter()
        .map(|(_, p)| p)
        .find(|&p| is_free(members, p, taken, placed, spacing.gap_mm))
}

fn is_free(members: &[EdgeTree], p: Point, taken: &Taken, placed: &[EdgeTree], gap: f64) -> bool {
    let by = p - Point::default();
    let in_a_box = members.iter().any(|member| {
        let moved = member.bounds().shifted(by);
        taken.boxes.iter().any(|o| crate::board::overlap(*o, moved))
    });
    !in_a_box && clear_of(members, p, placed.iter(), gap)
}

/// The members, moved to `p`, keep the gap from all others.
pub(crate) fn clear_of<'a>(
    members: &[EdgeTree],
    p: Point,
    others: impl Iterator<Item = &'a EdgeTree> + Clone,
    gap: f64,
) -> bool {
    let by = p - Point::default();
    members.iter().all(|member| {
        let bounds = member.bounds().shifted(by);
        let mut near = others
            .clone()
            .filter(|o| o.bounds().distance_mm(bounds) < gap.max(1e-6))
            .peekable();
        if near.peek().is_none() {
            return true;
        }
        let moved = member.placed(Pose::new(p.x, p.y, 0.0));
        near.all(|o| {
            let clearance = moved.clearance_mm(o, gap.max(1e-6) + 1e-6);
            clearance >= gap && clearance > 0.0
        })
    })
}
