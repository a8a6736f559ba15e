//! From where the piece is seen, and where everything lies on the page.

use super::super::{frame_of, inside_mm};
use crate::{Affine, Path};
use piece::Piece;
use shape::{Bounds, Point, Vector};

/// How far the eye stands to the left and above, degrees.
const LEFT_DEG: f64 = 27.0;
const ABOVE_DEG: f64 = 6.0;

/// What the moulding stands in front of the glazing, and what lies behind the board's face, mm.
const LIP_FRONT_MM: f64 = 5.0;
pub(super) const BEHIND_MM: f64 = 7.0;

/// Wall round the frame as a share of its longer side.
const WALL_SHARE: f64 = 0.10;

/// From points of the piece, z in front of the board's face, to the page.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    across: [f64; 3],
    up: [f64; 3],
    shift: Vector,
}

impl View {
    fn new() -> Self {
        let (sl, cl) = LEFT_DEG.to_radians().sin_cos();
        let (sa, ca) = ABOVE_DEG.to_radians().sin_cos();
        Self {
            across: [cl, 0.0, sl],
            up: [sa * sl, ca, -sa * cl],
            shift: Vector::default(),
        }
    }

    /// Towards the eye, along the board.
    pub(super) fn to_eye() -> Vector {
        let (sl, _) = LEFT_DEG.to_radians().sin_cos();
        let (sa, ca) = ABOVE_DEG.to_radians().sin_cos();
        Vector::new(-sl * ca, sa)
    }

    /// The map of the plane that stands `z` in front of the board.
    pub(super) fn plane(&self, z: f64) -> Affine {
        let [ax, ay, az] = self.across;
        let [ux, uy, uz] = self.up;
        Affine {
            xx: ax,
            xy: ay,
            x0: az * z + self.shift.x,
            yx: ux,
            yy: uy,
            y0: uz * z + self.shift.y,
        }
    }

    pub(super) fn at(&self, p: Point, z: f64) -> Point {
        self.plane(z).apply(p)
    }

    /// A side that stands on a line between two heights.
    pub(super) fn side(&self, line: &[Point], from_mm: f64, to_mm: f64) -> Path {
        let foot = line.iter().map(|&p| self.at(p, from_mm));
        let top = line.iter().rev().map(|&p| self.at(p, to_mm));
        Path::polygon(&foot.chain(top).collect::<Vec<_>>())
    }
}

/// Heights in the frame, from the board's face towards the eye, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Depths {
    pub(super) glazing_mm: f64,
    pub(super) front_mm: f64,
}

/// Where everything lies on the page.
pub(super) fn view_of(piece: &Piece) -> (View, Depths, [f64; 2]) {
    let depths = Depths {
        glazing_mm: inside_mm(piece),
        front_mm: inside_mm(piece) + LIP_FRONT_MM,
    };
    let frame = frame_of(piece);
    let mut view = View::new();
    let corners = [
        frame.min,
        Point::new(frame.max.x, frame.min.y),
        frame.max,
        Point::new(frame.min.x, frame.max.y),
    ];
    let points = corners
        .iter()
        .flat_map(|&p| [-BEHIND_MM, depths.front_mm].map(|z| view.at(p, z)));
    let around = Bounds::around(points.collect::<Vec<_>>()).unwrap_or(frame);
    let wall_mm = WALL_SHARE * around.width_mm().max(around.height_mm());
    let page = around.grown(wall_mm);
    view.shift = Point::default() - page.min;
    (view, depths, [page.width_mm(), page.height_mm()])
}
