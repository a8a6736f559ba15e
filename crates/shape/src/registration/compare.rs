//! What one outline has that another has not, and how far it reaches.

use crate::{Bounds, EdgeTree, Outline, Point, Ring, difference};

/// A place where one outline reaches out of the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Misfit {
    /// Where it reaches farthest.
    pub at: Point,
    /// How far that is from the other's material, mm.
    pub depth_mm: f64,
    /// Area outside there, mm2.
    pub area_mm2: f64,
    /// What bounds that area.
    pub bounds: Bounds,
}

/// All that one outline has outside of another.
pub(super) struct Outside {
    /// The greatest reach, mm; 0 where there is none.
    pub(super) depth_mm: f64,
    /// In all, mm2.
    pub(super) area_mm2: f64,
    /// What reaches beyond the tolerance, deepest first.
    pub(super) places: Vec<Misfit>,
}

/// What `outline` has outside of the tree's material.
pub(super) fn compare(outline: &Outline, other: &EdgeTree, tolerance_mm: f64) -> Outside {
    let pieces = difference(outline, std::slice::from_ref(other.outline()));
    let mut outside = Outside {
        depth_mm: 0.0,
        area_mm2: 0.0,
        places: Vec::new(),
    };
    for piece in pieces {
        let (at, depth_mm) = deepest(&piece, other);
        let area_mm2 = piece.area_mm2();
        outside.depth_mm = outside.depth_mm.max(depth_mm);
        outside.area_mm2 += area_mm2;
        if depth_mm > tolerance_mm {
            outside.places.push(Misfit {
                at,
                depth_mm,
                area_mm2,
                bounds: piece.bounds(),
            });
        }
    }
    outside.places.sort_by(|a, b| {
        b.depth_mm
            .total_cmp(&a.depth_mm)
            .then(a.at.x.total_cmp(&b.at.x))
            .then(a.at.y.total_cmp(&b.at.y))
    });
    outside
}

/// The search for the deepest place ends this near to it, mm, and on pieces larger than any part's at this
/// share of their size.
const SEARCH_MM: f64 = 0.001;
const SEARCH_SHARE: f64 = 1e-5;

/// Squares that are looked at for one piece at most; what is missed then is far below a hundredth.
const MOST_SQUARES: usize = 300_000;

/// The deepest place so far.
struct Deepest<'a> {
    other: &'a EdgeTree,
    at: Point,
    depth_mm: f64,
    search_mm: f64,
}

impl Deepest<'_> {
    fn depth(&self, p: Point) -> f64 {
        self.other.signed_distance_mm(p).max(0.0)
    }

    fn look(&mut self, p: Point) -> f64 {
        let depth_mm = self.depth(p);
        if depth_mm > self.depth_mm {
            (self.at, self.depth_mm) = (p, depth_mm);
        }
        depth_mm
    }

    /// The edge: corners that stick out are the usual case.
    fn along_edge(&mut self, piece: &Outline) {
        for (a, b) in piece.rings().flat_map(Ring::sides) {
            let mut stack = vec![(a, self.look(a), b, self.look(b))];
            while let Some((p, dp, q, dq)) = stack.pop() {
                // Along a line the depth changes by no more than the way.
                if 0.5 * (dp + dq + p.distance_mm(q)) <= self.depth_mm + self.search_mm {
                    continue;
                }
                let middle = p.lerp(q, 0.5);
                let dm = self.look(middle);
                stack.push((p, dp, middle, dm));
                stack.push((middle, dm, q, dq));
            }
        }
    }

    /// The inside, where a piece covers an opening of the other: squares, halved while they may hold
    /// something deeper.
    fn within(&mut self, piece: &Outline) {
        let own = EdgeTree::new(piece.clone());
        let bounds = piece.bounds();
        let size = bounds.width_mm().max(bounds.height_mm());
        let mut squares = vec![(bounds.centre(), 0.5 * size)];
        for _ in 0..MOST_SQUARES {
            let Some((centre, half)) = squares.pop() else {
                return;
            };
            let reach = half * std::f64::consts::SQRT_2;
            let from_piece = own.signed_distance_mm(centre);
            if from_piece > reach {
                continue;
            }
            let depth = if from_piece <= 0.0 {
                self.look(centre)
            } else {
                self.depth(centre)
            };
            if depth + reach <= self.depth_mm + self.search_mm {
                continue;
            }
            let quarter = 0.5 * half;
            for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
                let at = Point::new(centre.x + x * quarter, centre.y + y * quarter);
                squares.push((at, quarter));
            }
        }
    }
}

/// The place of a piece that is farthest from the tree's material, and how far, mm.
fn deepest(piece: &Outline, other: &EdgeTree) -> (Point, f64) {
    let size = piece.bounds().width_mm().max(piece.bounds().height_mm());
    let mut found = Deepest {
        other,
        at: piece.outer().points()[0],
        depth_mm: 0.0,
        search_mm: SEARCH_MM.max(SEARCH_SHARE * size),
    };
    found.along_edge(piece);
    found.within(piece);
    (found.at, found.depth_mm)
}
