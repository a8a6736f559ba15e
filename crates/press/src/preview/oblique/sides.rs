//! Sides of the frame, lighter towards the light and darker towards their feet.

use super::super::frame_of;
use super::super::moulding::{LIGHT, METAL, WOOD};
use super::view::{BEHIND_MM, Depths, View};
use crate::drawing::Compose;
use crate::{Ink, Item, Path, Shape, Stroke};
use piece::Piece;
use shape::{Bounds, Point, Vector};

pub(super) fn shade(colour: [f64; 3], by: f64) -> Ink {
    let [r, g, b] = colour.map(|v| (v * by).round().clamp(0.0, 255.0) as u8);
    Ink::rgb(r, g, b)
}

/// How bright a side is whose face looks along the board that way.
pub(super) fn light_on(normal: Vector) -> f64 {
    0.50 + 0.62 * (normal.x * LIGHT[0] + normal.y * LIGHT[1]).max(0.0)
}

/// A side that turns darker towards its foot.
fn draw_banded(
    items: &mut Vec<Item>,
    view: &View,
    line: &[Point],
    [from_mm, to_mm]: [f64; 2],
    colour: [f64; 3],
    [foot, top]: [f64; 2],
) {
    // Each tone is drawn up to the top and covered by the next, so that no seam shows.
    const BANDS: u32 = 24;
    for k in 0..BANDS {
        let t = f64::from(k) / f64::from(BANDS);
        let ink = shade(colour, foot + (top - foot) * t);
        items.fill(view.side(line, from_mm + (to_mm - from_mm) * t, to_mm), ink);
    }
}

/// A filled path with a hair of line of the same ink, so that no seam shows beside its neighbours.
pub(super) fn closed(path: Path, ink: Ink) -> Item {
    Item::Shape(Shape {
        path,
        fill: Some(ink),
        stroke: Some(Stroke::continuous(0.08, ink).rounded()),
        id: None,
        title: None,
    })
}

/// The moulding's left and upper outer sides.
pub(super) fn draw_outer_sides(items: &mut Vec<Item>, piece: &Piece, view: &View, depths: Depths) {
    let f = frame_of(piece);
    let corner = Point::new(f.min.x, f.max.y);
    for (from, to, normal) in [
        (f.min, corner, Vector::new(-1.0, 0.0)),
        (corner, f.max, Vector::new(0.0, 1.0)),
    ] {
        let light = 0.72 * light_on(normal);
        let heights = [-BEHIND_MM, depths.front_mm];
        draw_banded(
            items,
            view,
            &[from, to],
            heights,
            WOOD.map(f64::from),
            [0.8 * light, light],
        );
    }
}

/// The spacer's right and lower inner faces, which look to the left and up.
pub(super) fn draw_inner_walls(
    items: &mut Vec<Item>,
    inner: Bounds,
    view: &View,
    from_mm: f64,
    to_mm: f64,
) {
    const PAPER: [f64; 3] = [240.0, 235.0, 225.0];
    let corner = Point::new(inner.max.x, inner.min.y);
    for (from, to, normal) in [
        (inner.max, corner, Vector::new(-1.0, 0.0)),
        (corner, inner.min, Vector::new(0.0, 1.0)),
    ] {
        // Paper board scatters light into its own corners: softer than wood.
        let light = 0.56 + 0.48 * light_on(normal);
        draw_banded(
            items,
            view,
            &[from, to],
            [from_mm, to_mm],
            PAPER,
            [0.86 * light, light],
        );
    }
}

/// What is seen of the spacer from the front, under the glazing.
pub(super) fn draw_spacer_tops(
    items: &mut Vec<Item>,
    window: Bounds,
    inner: Bounds,
    view: &View,
    z: f64,
) {
    if inner == window {
        return;
    }
    let mut ring = Path::rectangle(window);
    ring.append(Path::rectangle(inner));
    items.fill(ring.mapped(|p| view.at(p, z)), Ink::rgb(228, 222, 211));
}

/// The lip's right and lower inner edges, of metal.
pub(super) fn draw_lip(items: &mut Vec<Item>, window: Bounds, view: &View, depths: Depths) {
    let corner = Point::new(window.max.x, window.min.y);
    for (from, to, normal) in [
        (window.max, corner, Vector::new(-1.0, 0.0)),
        (corner, window.min, Vector::new(0.0, 1.0)),
    ] {
        let light = light_on(normal);
        let heights = [depths.glazing_mm, depths.front_mm];
        draw_banded(
            items,
            view,
            &[from, to],
            heights,
            METAL.map(f64::from),
            [0.55 * light, 0.95 * light],
        );
    }
}
