//! Outlines made lean, and shrunk without needless work.

use shape::{Bounds, EdgeTree, Outline, Point, Pose, Ring, Vector, offset, thinned};
use std::cell::RefCell;
use std::collections::{BTreeMap, BinaryHeap};
use std::rc::Rc;

/// How far a lean outline may lie from the one it stands for, mm; whoever keeps a distance keeps so much more.
pub(crate) const LEAN_MM: f64 = 0.02;

/// Shrinks outlines by a distance. What surely vanishes is left out beforehand: its sides would all cross each other,
/// which takes long and gives nothing.
pub(crate) fn inset(outlines: &[Outline], by_mm: f64) -> Vec<Outline> {
    let may_stay: Vec<Outline> = outlines
        .iter()
        .filter(|o| widest_disc_at_most_mm(o) > by_mm)
        .cloned()
        .collect();
    if may_stay.is_empty() {
        return Vec::new();
    }
    offset(&may_stay, -by_mm)
}

/// No disc of a larger radius fits into the outline.
fn widest_disc_at_most_mm(outline: &Outline) -> f64 {
    let b = outline.bounds();
    let by_area = (outline.area_mm2() / std::f64::consts::PI).sqrt();
    (b.width_mm().min(b.height_mm()) / 2.0).min(by_area)
}

/// A face that is to be glued, with what several adhesives ask of it; clones share what was worked out.
#[derive(Clone)]
pub(crate) struct Face {
    outline: Outline,
    /// No disc of a larger radius fits, mm.
    widest_mm: f64,
    /// The shorter side of the smallest rectangle round it, mm.
    breadth_mm: f64,
    insets: Rc<RefCell<BTreeMap<u64, Rc<[Outline]>>>>,
}

impl Face {
    pub(crate) fn new(outline: Outline) -> Self {
        Self {
            widest_mm: widest_disc_mm(&outline),
            breadth_mm: breadth_mm(&outline),
            insets: Rc::default(),
            outline,
        }
    }

    pub(crate) fn outline(&self) -> &Outline {
        &self.outline
    }

    pub(crate) fn breadth_mm(&self) -> f64 {
        self.breadth_mm
    }

    /// The face shrunk by a distance; worked out once for each distance.
    pub(crate) fn inset(&self, by_mm: f64) -> Rc<[Outline]> {
        if by_mm >= self.widest_mm {
            return Rc::from(Vec::new());
        }
        self.insets
            .borrow_mut()
            .entry(by_mm.to_bits())
            .or_insert_with(|| offset(std::slice::from_ref(&self.outline), -by_mm).into())
            .clone()
    }
}

/// Faces of one part: planned anew, it mostly has the same.
#[derive(Default)]
pub(crate) struct Faces(Vec<Face>);

impl Faces {
    /// The face of an outline, with all that was worked out of it before.
    pub(crate) fn of(&mut self, outline: Outline) -> Face {
        if let Some(face) = self.0.iter().find(|f| f.outline == outline) {
            return face.clone();
        }
        let face = Face::new(outline);
        self.0.push(face.clone());
        face
    }
}

/// A square of the search for the widest disc.
struct Cell {
    /// No point of the square is deeper inside than this, mm.
    at_most_mm: f64,
    middle: Point,
    half_mm: f64,
}

impl PartialEq for Cell {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Cell {}

impl PartialOrd for Cell {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Cell {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.at_most_mm.total_cmp(&other.at_most_mm)
    }
}

/// A radius, at most a twentieth of a millimetre more than that of the widest disc that fits into the outline: squares
/// are halved where they may hold a deeper point than was found.
fn widest_disc_mm(outline: &Outline) -> f64 {
    const ENOUGH_MM: f64 = 0.05;
    const MOST_CELLS: usize = 5_000;
    let tree = EdgeTree::new(outline.clone());
    let Bounds { min, max } = outline.bounds();
    let half = 0.5 * (max.x - min.x).min(max.y - min.y).max(1e-3);
    let mut best = 0.0f64;
    let mut found = 0.0f64;
    let mut open = BinaryHeap::new();
    let mut look = |middle: Point, half_mm: f64, open: &mut BinaryHeap<Cell>| {
        let depth = -tree.signed_distance_mm(middle);
        best = best.max(depth);
        open.push(Cell {
            at_most_mm: depth + half_mm * std::f64::consts::SQRT_2,
            middle,
            half_mm,
        });
        best
    };
    let (nx, ny) = (
        ((max.x - min.x) / (2.0 * half)).ceil().min(200.0) as usize,
        ((max.y - min.y) / (2.0 * half)).ceil().min(200.0) as usize,
    );
    for i in 0..nx.max(1) {
        for k in 0..ny.max(1) {
            let middle = min + Vector::new(half * (2 * i + 1) as f64, half * (2 * k + 1) as f64);
            found = look(middle, half, &mut open);
        }
    }
    for _ in 0..MOST_CELLS {
        let Some(cell) = open.pop() else { break };
        if cell.at_most_mm <= found + ENOUGH_MM {
            return found + ENOUGH_MM;
        }
        let h = cell.half_mm / 2.0;
        for (dx, dy) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
            found = look(cell.middle + Vector::new(dx, dy), h, &mut open);
        }
    }
    open.peek()
        .map_or(found, |c| c.at_most_mm)
        .min(widest_disc_at_most_mm(outline))
}

/// The shorter side of the smallest rectangle round the outline, mm.
fn breadth_mm(outline: &Outline) -> f64 {
    let along = crate::tape::long_axis_deg(outline);
    let b = outline.placed(Pose::new(0.0, 0.0, -along)).bounds();
    b.width_mm().min(b.height_mm())
}

/// The outline with fewer points, none of the former ones farther than [`LEAN_MM`] from it (Ramer 1972, Douglas and
/// Peucker 1973); as it was where that would make rings cross.
pub(crate) fn lean(outline: &Outline) -> Outline {
    let thin = |ring: &Ring| thinned(ring.points(), LEAN_MM);
    Outline::try_new(
        thin(outline.outer()),
        outline.holes().iter().map(thin).collect(),
    )
    .unwrap_or_else(|_| outline.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle of radius 20 mm whose chords may be off by 0.02 mm needs about 70 points.
    #[test]
    fn a_lean_circle_keeps_its_distance_with_fewer_points() {
        let ring = (0..1000)
            .map(|k| {
                let (s, c) = (f64::from(k) * std::f64::consts::TAU / 1000.0).sin_cos();
                Point::new(20.0 * c, 20.0 * s)
            })
            .collect();
        let whole = Outline::try_new(ring, vec![]).unwrap();
        let thin = lean(&whole);
        let n = thin.outer().points().len();
        assert!((40..150).contains(&n), "{n}");
        let tree = EdgeTree::new(thin);
        for p in whole.outer().points() {
            assert!(tree.signed_distance_mm(*p).abs() <= LEAN_MM + 1e-9);
        }
    }

    /// By construction: a strip of 40 x 4 mm holds a disc of radius 2, an L of 10 mm arms one of 10 (2 - sqrt 2).
    #[test]
    fn the_widest_disc_is_found_to_a_twentieth_of_a_millimetre() {
        let strip = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 4.0)).unwrap();
        let r = widest_disc_mm(&strip);
        assert!((2.0..=2.051).contains(&r), "{r}");
        let l = [
            (0.0, 0.0),
            (40.0, 0.0),
            (40.0, 10.0),
            (10.0, 10.0),
            (10.0, 40.0),
            (0.0, 40.0),
        ];
        let l = Outline::try_new(l.map(|(x, y)| Point::new(x, y)).to_vec(), vec![]).unwrap();
        let r = widest_disc_mm(&l);
        let by_hand = 10.0 * (2.0 - std::f64::consts::SQRT_2);
        assert!(r >= by_hand - 1e-9 && r <= by_hand + 0.051, "{r} {by_hand}");
    }

    #[test]
    fn what_vanishes_is_nothing() {
        let o = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 4.0)).unwrap();
        assert!(inset(std::slice::from_ref(&o), 2.0).is_empty());
        assert_eq!(inset(&[o], 1.0).len(), 1);
    }
}
