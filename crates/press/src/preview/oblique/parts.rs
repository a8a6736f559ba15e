//! Parts that stand on the board: their sides in their own colours, and their faces.

use super::super::{CutoutImage, checked_picture, foot_mm, height_mm_of, tone};
use super::sides::{closed, light_on, shade};
use super::view::View;
use crate::drawing::Compose;
use crate::{Affine, Ink, Item, Path, PressError};
use piece::{Part, PartId, Piece};
use shape::{Outline, Point, Vector};
use std::collections::BTreeMap;

/// The parts, the farthest first: sides, then the face.
pub(super) fn draw_parts(
    items: &mut Vec<Item>,
    piece: &Piece,
    cutouts: &[CutoutImage],
    view: &View,
) -> Result<(), PressError> {
    let pictures: BTreeMap<&PartId, &CutoutImage> = cutouts.iter().map(|c| (&c.part, c)).collect();
    let mut outlines = piece.outlines_on_board();
    let eye = View::to_eye();
    let near = |o: &Outline| eye.dot(o.bounds().centre() - Point::default());
    outlines.sort_by(|a, b| near(&a.1).total_cmp(&near(&b.1)));
    for (part, outline) in &outlines {
        let image = pictures.get(&part.id).copied();
        let (foot, top) = (
            foot_mm(piece, part),
            foot_mm(piece, part) + height_mm_of(part),
        );
        draw_sides(items, piece, part, outline, image, view, [foot, top]);
        let map = view.plane(top);
        match image {
            Some(image) => {
                let place = piece.placement(&part.id).map_or_else(
                    || shape::Pose::new(0.0, 0.0, 0.0),
                    piece::Placement::board_from_part,
                );
                let turned = Affine::turned(place.turn_deg, place.apply(Point::default()));
                items.push(Item::Picture(checked_picture(image, map.after(turned))?));
            }
            None => {
                let face = Path::outline(outline).mapped(|p| map.apply(p));
                let [r, g, b] = tone(part.kind);
                items.fill(face, Ink::rgb(r, g, b));
            }
        }
    }
    Ok(())
}

/// Sides whose face looks at the eye, in runs that turn by less than 8 degrees.
fn draw_sides(
    items: &mut Vec<Item>,
    piece: &Piece,
    part: &Part,
    outline: &Outline,
    image: Option<&CutoutImage>,
    view: &View,
    [foot, top]: [f64; 2],
) {
    const RUN_COS: f64 = 0.99;
    let eye = View::to_eye();
    let place = piece
        .placement(&part.id)
        .map(|p| p.board_from_part().inverse());
    for ring in outline.rings() {
        let mut run: Vec<Point> = Vec::new();
        let mut facing = Vector::default();
        let finish = |run: &mut Vec<Point>, facing: Vector, items: &mut Vec<Item>| {
            if run.len() > 1 {
                let middle = run[run.len() / 2] - facing * 0.8;
                let own = match (image, place) {
                    (Some(image), Some(part_from_board)) => {
                        colour_at(image, part_from_board.apply(middle))
                    }
                    _ => tone(part.kind).map(f64::from),
                };
                let light = 0.80 * light_on(facing);
                items.push(closed(view.side(run, foot, top), shade(own, light)));
            }
            run.clear();
        };
        for (a, b) in ring.sides() {
            let along = b - a;
            let length = along.length_mm();
            if length < 1e-9 {
                continue;
            }
            // Material lies on the left of a ring's sides.
            let normal = Vector::new(along.y, -along.x) * (1.0 / length);
            if normal.dot(eye) <= 0.0 {
                finish(&mut run, facing, items);
                continue;
            }
            let goes_on = run.last().is_some_and(|&p| p == a) && facing.dot(normal) > RUN_COS;
            if !goes_on {
                finish(&mut run, facing, items);
                run.push(a);
                facing = normal;
            }
            run.push(b);
        }
        finish(&mut run, facing, items);
    }
}

/// The colour of a cut-out at a point of the part, the mean of what is solid round it.
fn colour_at(image: &CutoutImage, at: Point) -> [f64; 3] {
    let (w, h) = (i64::from(image.width_px), i64::from(image.height_px));
    let cx = ((at.x - image.origin_mm[0]) * image.px_per_mm) as i64;
    let cy = h - 1 - ((at.y - image.origin_mm[1]) * image.px_per_mm) as i64;
    let reach = (0.8 * image.px_per_mm).ceil() as i64;
    let mut sum = [0.0; 3];
    let mut count = 0.0;
    for y in (cy - reach).max(0)..=(cy + reach).min(h - 1) {
        for x in (cx - reach).max(0)..=(cx + reach).min(w - 1) {
            let i = 4 * (y * w + x) as usize;
            if let Some([r, g, b, a]) = image.rgba.get(i..i + 4)
                && *a >= 200
            {
                for (s, v) in sum.iter_mut().zip([r, g, b]) {
                    *s += f64::from(*v);
                }
                count += 1.0;
            }
        }
    }
    if count == 0.0 {
        return [120.0; 3];
    }
    sum.map(|s| s / count)
}
