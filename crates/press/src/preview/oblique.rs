//! The framed piece seen from the left and a little above, so that its depth shows.
//!
//! Parallel projection: every plane along the board is carried by one affine map, so that cut-outs and art stay true
//! pictures. Walls and sides stand between two such planes. What is farther from the eye is drawn first.

mod parts;
mod sides;
mod view;

use super::canvas::Canvas;
use super::moulding::{Moulding, face_colour};
use super::shadow::{Cast, soft_patch};
use super::{CutoutImage, frame_of, glazing_sheen, heights, lay_art, scene_of};
use crate::art::Art;
use crate::drawing::Compose;
use crate::raster::pixel_size;
use crate::{Affine, Drawing, Group, Item, Path, Picture, PressError};
use parts::draw_parts;
use piece::Piece;
use shape::{Bounds, Outline, Point, Vector, on_rows};
use sides::{draw_inner_walls, draw_lip, draw_outer_sides, draw_spacer_tops};
use view::{BEHIND_MM, Depths, View, view_of};

/// The scale at which the picture is [`super::LONG_SIDE_PX`] long.
pub fn px_per_mm(piece: &Piece) -> f64 {
    let (_, _, [w, h]) = view_of(piece);
    super::LONG_SIDE_PX / w.max(h)
}

/// Lays out the picture for a scale at which it will be written.
///
/// # Errors
/// Those of [`super::lay_out_on`].
pub fn lay_out(
    piece: &Piece,
    cutouts: &[CutoutImage],
    art: &Art,
    px_per_mm: f64,
) -> Result<Drawing, PressError> {
    let (view, depths, size_mm) = view_of(piece);
    let [w, h] = size_mm;
    let mut page = Drawing::new(format!("{}, seen from the side", piece.name), w, h)?;
    let size_px = pixel_size(size_mm, px_per_mm)?;
    page.push(Item::Picture(wall(piece, &view, depths, size_mm, size_px)));
    draw_outer_sides(&mut page.items, piece, &view, depths);

    let window = piece.frame.window();
    let inner = window.grown(-piece.frame.spacer_width_mm);
    let mut inside = vec![board(piece, art, &view, px_per_mm)?];
    draw_inner_walls(&mut inside, inner, &view, 0.0, depths.glazing_mm);
    draw_spacer_tops(&mut inside, window, inner, &view, depths.glazing_mm);
    draw_parts(&mut inside, piece, cutouts, &view)?;
    if let Some(Item::Picture(sheen)) = glazing_sheen(window) {
        let map = view.plane(depths.glazing_mm);
        inside.push(Item::Picture(Picture {
            page_from_unit: map.after(sheen.page_from_unit),
            ..sheen
        }));
    }
    draw_lip(&mut inside, window, &view, depths);
    // Through the moulding's opening only.
    let opening = Path::rectangle(window).mapped(|p| view.at(p, depths.front_mm));
    page.push(Item::Group(Group {
        outer_from_inner: Affine::IDENTITY,
        clip: Some(opening),
        opacity: 1.0,
        id: None,
        items: inside,
    }));
    page.push(Item::Picture(moulding(piece, &view, depths, px_per_mm)));
    Ok(page)
}

/// The wall with the frame's shadow, which falls down to the right.
fn wall(
    piece: &Piece,
    view: &View,
    depths: Depths,
    [w_mm, h_mm]: [f64; 2],
    [w, h]: [u32; 2],
) -> Picture {
    const WALL: [f32; 3] = [229.0, 226.0, 220.0];
    let scale = f64::from(w) / w_mm;
    let mut pixels = vec![[0.0_f32; 3]; w as usize * h as usize];
    on_rows(&mut pixels, w as usize, |y, row| {
        for (x, pixel) in row.iter_mut().enumerate() {
            let (u, v) = (x as f64 / f64::from(w), y as f64 / f64::from(h));
            let light = 1.03 - 0.08 * u - 0.09 * v;
            let grain = 0.9 * (super::canvas::noise(x as u32, y as u32) - 0.5);
            *pixel = WALL.map(|c| c * light as f32 + grain);
        }
    });
    let frame = frame_of(piece);
    let tall_mm = depths.front_mm + BEHIND_MM;
    let back = |b: Bounds| {
        let corners = [
            b.min,
            Point::new(b.max.x, b.min.y),
            b.max,
            Point::new(b.min.x, b.max.y),
        ];
        Outline::try_new(corners.map(|p| view.at(p, -BEHIND_MM)).to_vec(), Vec::new())
    };
    let fall = Vector::new(0.42 * tall_mm, -0.58 * tall_mm);
    let stretched = Bounds {
        min: frame.min + Vector::new(0.0, fall.y),
        max: frame.max + Vector::new(fall.x, 0.0),
    };
    let casts = [
        (back(stretched), 0.30 * tall_mm, 0.34),
        (back(frame.grown(0.6)), 0.07 * tall_mm, 0.40),
    ];
    let pixels_from_page = Affine {
        xx: scale,
        xy: 0.0,
        x0: 0.0,
        yx: 0.0,
        yy: -scale,
        y0: h_mm * scale,
    };
    for (outline, blur_mm, strength) in casts {
        let Ok(outline) = outline else { continue };
        let cast = Cast {
            offset: Vector::default(),
            blur_mm,
            strength,
        };
        let Some(patch) = soft_patch(&outline, &cast, pixels_from_page, [w, h]) else {
            continue;
        };
        for (row, line) in patch.cover.chunks_exact(patch.width).enumerate() {
            let start = (patch.top + row) * w as usize + patch.left;
            let target = &mut pixels[start..start + patch.width];
            for (pixel, cover) in target.iter_mut().zip(line) {
                for v in pixel.iter_mut() {
                    *v *= 1.0 - strength as f32 * cover;
                }
            }
        }
    }
    let rgba: Vec<u8> = pixels
        .iter()
        .flat_map(|p| {
            let [r, g, b] = p.map(|v| v.round().clamp(0.0, 255.0) as u8);
            [r, g, b, 255]
        })
        .collect();
    Picture {
        width_px: w,
        height_px: h,
        rgba: rgba.into(),
        page_from_unit: Affine::scaled(w_mm, h_mm, Point::default()),
    }
}

/// The board with its art and the shadows on it.
fn board(piece: &Piece, art: &Art, view: &View, px_per_mm: f64) -> Result<Item, PressError> {
    let window = piece.frame.window();
    let size_px = pixel_size([window.width_mm(), window.height_mm()], px_per_mm)?;
    let mut canvas = Canvas::new(size_px, window, px_per_mm);
    canvas.paint_scene(&scene_of(piece));
    lay_art(&mut canvas, piece, art, window, px_per_mm)?;
    let outlines = piece.outlines_on_board();
    canvas.cast_shadows(&heights(piece, &outlines));
    let flat = canvas.into_picture();
    let window_from_unit = Affine::scaled(window.width_mm(), window.height_mm(), window.min);
    Ok(Item::Picture(Picture {
        page_from_unit: view.plane(0.0).after(window_from_unit),
        ..flat
    }))
}

/// The moulding's face, its opening clear.
fn moulding(piece: &Piece, view: &View, depths: Depths, px_per_mm: f64) -> Picture {
    let (frame, window) = (frame_of(piece), piece.frame.window());
    let px = |mm: f64| (mm * px_per_mm).round().max(1.0) as u32;
    let (w, h) = (px(frame.width_mm()), px(frame.height_mm()));
    let moulding = Moulding::between(frame, window);
    let mut rgba = vec![0_u8; w as usize * h as usize * 4];
    on_rows(&mut rgba, 4 * w as usize, |y, row| {
        for (x, pixel) in row.chunks_exact_mut(4).enumerate() {
            let p = Point::new(
                frame.min.x + (x as f64 + 0.5) * frame.width_mm() / f64::from(w),
                frame.max.y - (y as f64 + 0.5) * frame.height_mm() / f64::from(h),
            );
            if window.contains(p) {
                continue;
            }
            let colour = face_colour(&moulding, p);
            for (to, v) in pixel.iter_mut().zip(colour) {
                *to = v.round().clamp(0.0, 255.0) as u8;
            }
            pixel[3] = 255;
        }
    });
    let frame_from_unit = Affine::scaled(frame.width_mm(), frame.height_mm(), frame.min);
    Picture {
        width_px: w,
        height_px: h,
        rgba: rgba.into(),
        page_from_unit: view.plane(depths.front_mm).after(frame_from_unit),
    }
}
