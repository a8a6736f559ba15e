//! A part's upper face as the camera sees it, laid flat.

use crate::height::Standpoint;
use crate::light::Light;
use crate::plane::SheetPlane;
use crate::segment::eye::round::{Answer, Asked, FROM_FOOT, FROM_RIM, RAYS, Ray, answer, ray};
use shape::{Bounds, Point, Vector, on_rows};

/// Side of a face's cells, mm.
pub(super) const CELL_MM: f64 = 0.2;

/// Cells between places whose way into the photo is worked out; between them it is straight.
const EVERY: usize = 16;

/// A face of more cells is not looked at: an A3 sheet has three millions.
const MOST_CELLS: f64 = 4e6;

/// Light beyond this, natural logarithm over paper's, says nothing more.
const LIGHT: std::ops::RangeInclusive<f32> = -4.0..=1.0;

/// A circle on a face, mm, as a hole's rim would lie there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Circle {
    pub(super) centre: Point,
    pub(super) radius_mm: f64,
}

/// The light of the plane in which a part's upper face lies, where the part has its own millimetres: what lies in that plane appears
/// where it is.
pub(super) struct Face {
    origin: Point,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Light over paper, natural logarithm per channel; rows from the lowest y.
    pub(super) light: Vec<[f32; 3]>,
    from: Standpoint,
    h_mm: f64,
}

impl Face {
    /// The plane at a height over `bounds`; `None` where some of it cannot be seen, or it is too large.
    pub(super) fn of(
        bounds: Bounds,
        light: &Light<'_, impl SheetPlane>,
        from: Standpoint,
        h_mm: f64,
    ) -> Option<Self> {
        // Cells lie where they lie on the sheet: what is found must not hang on a hair's breadth of an outline.
        let pace = EVERY as f64 * CELL_MM;
        let before = |v: f64| (v / pace).floor() * pace;
        let origin = Point::new(before(bounds.min.x), before(bounds.min.y));
        let bounds = Bounds::between(origin, bounds.max);
        let area_mm2 = bounds.width_mm() * bounds.height_mm();
        if area_mm2.is_nan() || area_mm2 > MOST_CELLS * CELL_MM * CELL_MM {
            return None;
        }
        let cells = |mm: f64| (mm / CELL_MM) as usize + 1;
        let (width, height) = (cells(bounds.width_mm()), cells(bounds.height_mm()));
        let nodes = [width, height].map(|n| n.div_ceil(EVERY) + 1);
        let node = |i: usize| {
            let at = Vector::new((i % nodes[0]) as f64, (i / nodes[0]) as f64);
            let p = origin + at * (EVERY as f64 * CELL_MM);
            light.cell_of(from.appears_at(p, h_mm))
        };
        let lattice: Vec<[f64; 2]> = (0..nodes[0] * nodes[1]).map(node).collect::<Option<_>>()?;
        let unit = light.unit();
        let mut seen = vec![[0.0f32; 3]; width * height];
        on_rows(&mut seen, width, |y, row| {
            let v = (y % EVERY) as f64 / EVERY as f64;
            for (x, cell) in row.iter_mut().enumerate() {
                let u = (x % EVERY) as f64 / EVERY as f64;
                let first = y / EVERY * nodes[0] + x / EVERY;
                let corner = |i: usize, k: usize| lattice[first + i][k];
                let at = [0, 1].map(|k| {
                    let low = corner(0, k) * (1.0 - u) + corner(1, k) * u;
                    let high = corner(nodes[0], k) * (1.0 - u) + corner(nodes[0] + 1, k) * u;
                    low * (1.0 - v) + high * v
                });
                *cell = light
                    .joined(at, unit)
                    .map(|l| l.clamp(*LIGHT.start(), *LIGHT.end()));
            }
        });
        Some(Self {
            origin,
            width,
            height,
            light: seen,
            from,
            h_mm,
        })
    }

    /// The point, mm, of a cell.
    pub(super) fn point_of(&self, x: usize, y: usize) -> Point {
        self.origin + Vector::new(x as f64, y as f64) * CELL_MM
    }

    /// How far a hole's foot appears moved against its rim, and its size as a share of the rim's.
    fn foot_of(&self, rim: Circle) -> (Vector, f64) {
        let lowered = self.h_mm / self.from.height_mm;
        ((self.from.nadir - rim.centre) * lowered, 1.0 - lowered)
    }

    /// Light between cells, the border repeated outside.
    fn at(&self, p: Point) -> [f32; 3] {
        let at = (p - self.origin) * (1.0 / CELL_MM);
        let place = |v: f64, n: usize| {
            let v = v.clamp(0.0, n as f64 - 1.001);
            (v as usize, v.fract() as f32)
        };
        let ((i, u), (j, v)) = (place(at.x, self.width), place(at.y, self.height));
        let first = j * self.width + i;
        let [a, b, c, d] = [0, 1, self.width, self.width + 1].map(|k| self.light[first + k]);
        std::array::from_fn(|k| {
            (a[k] * (1.0 - u) + b[k] * u) * (1.0 - v) + (c[k] * (1.0 - u) + d[k] * u) * v
        })
    }

    /// Asks the round eye about a circle: how surely it is a rim, and where the rim lies then.
    pub(super) fn ask(&self, circle: Circle) -> (f32, Circle) {
        let (shift, smaller) = self.foot_of(circle);
        let shift_mm = shift.length_mm();
        let first = if shift_mm > 0.0 {
            shift * (1.0 / shift_mm)
        } else {
            Vector::new(1.0, 0.0)
        };
        let turned = |[along, left]: [f64; 2]| first * along + first.turned_left() * left;
        let light: [Ray; RAYS] = std::array::from_fn(|k| {
            let way = turned(ray(k)) * circle.radius_mm;
            let mut seen: Ray = Default::default();
            let places = FROM_RIM.map(|s| circle.centre + way * s);
            let foot = FROM_FOOT.map(|s| circle.centre + shift + way * (s * smaller));
            for (own, p) in seen.iter_mut().zip(places.iter().chain(&foot)) {
                *own = self.at(*p);
            }
            seen
        });
        let asked = Asked {
            radius_mm: circle.radius_mm,
            shift_mm,
            height_mm: self.h_mm,
        };
        let Answer { odds, off, wider } = answer(asked, &light);
        let rim = Circle {
            centre: circle.centre + turned(off) * circle.radius_mm,
            radius_mm: circle.radius_mm * (1.0 + wider),
        };
        (odds, rim)
    }
}
