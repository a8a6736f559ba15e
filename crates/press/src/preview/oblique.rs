//! The framed piece seen from the left and a little above, so that its depth shows.
//!
//! Parallel projection: every plane along the board is carried by one affine map, so that cut-outs and art stay true
//! pictures. Walls and sides stand between two such planes. What is farther from the eye is drawn first.

use super::canvas::Canvas;
use super::moulding::{LIGHT, METAL, Moulding, WOOD, face_colour};
use super::shadow::{Cast, soft_patch};
use super::{
    CutoutImage, checked_picture, foot_mm, frame_of, glazing_sheen, height_mm_of, heights,
    inside_mm, lay_art, scene_of, tone,
};
use crate::art::Art;
use crate::drawing::Compose;
use crate::raster::pixel_size;
use crate::{Affine, Drawing, Group, Ink, Item, Path, Picture, PressError, Shape, Stroke};
use piece::{Part, PartId, Piece};
use shape::on_rows;
use shape::{Bounds, Outline, Point, Vector};
use std::collections::BTreeMap;

/// How far the eye stands to the left and above, degrees.
const LEFT_DEG: f64 = 27.0;
const ABOVE_DEG: f64 = 6.0;

/// What the moulding stands in front of the glazing, and what lies behind the board's face, mm.
const LIP_FRONT_MM: f64 = 5.0;
const BEHIND_MM: f64 = 7.0;

/// Wall round the frame as a share of its longer side.
const WALL_SHARE: f64 = 0.10;

/// From points of the piece, z in front of the board's face, to the page.
#[derive(Debug, Clone, Copy)]
struct View {
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
    fn to_eye() -> Vector {
        let (sl, _) = LEFT_DEG.to_radians().sin_cos();
        let (sa, ca) = ABOVE_DEG.to_radians().sin_cos();
        Vector::new(-sl * ca, sa)
    }

    /// The map of the plane that stands `z` in front of the board.
    fn plane(&self, z: f64) -> Affine {
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

    fn at(&self, p: Point, z: f64) -> Point {
        self.plane(z).apply(p)
    }

    /// A side that stands on a line between two heights.
    fn side(&self, line: &[Point], from_mm: f64, to_mm: f64) -> Path {
        let foot = line.iter().map(|&p| self.at(p, from_mm));
        let top = line.iter().rev().map(|&p| self.at(p, to_mm));
        Path::polygon(&foot.chain(top).collect::<Vec<_>>())
    }
}

/// Heights in the frame, from the board's face towards the eye, mm.
#[derive(Debug, Clone, Copy)]
struct Depths {
    glazing_mm: f64,
    front_mm: f64,
}

/// Where everything lies on the page.
fn view_of(piece: &Piece) -> (View, Depths, [f64; 2]) {
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

fn shade(colour: [f64; 3], by: f64) -> Ink {
    let [r, g, b] = colour.map(|v| (v * by).round().clamp(0.0, 255.0) as u8);
    Ink::rgb(r, g, b)
}

/// How bright a side is whose face looks along the board that way.
fn light_on(normal: Vector) -> f64 {
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
fn closed(path: Path, ink: Ink) -> Item {
    Item::Shape(Shape {
        path,
        fill: Some(ink),
        stroke: Some(Stroke::continuous(0.08, ink).rounded()),
        id: None,
        title: None,
    })
}

/// The moulding's left and upper outer sides.
fn draw_outer_sides(items: &mut Vec<Item>, piece: &Piece, view: &View, depths: Depths) {
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
fn draw_inner_walls(items: &mut Vec<Item>, inner: Bounds, view: &View, from_mm: f64, to_mm: f64) {
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
fn draw_spacer_tops(items: &mut Vec<Item>, window: Bounds, inner: Bounds, view: &View, z: f64) {
    if inner == window {
        return;
    }
    let mut ring = Path::rectangle(window);
    ring.append(Path::rectangle(inner));
    items.fill(ring.mapped(|p| view.at(p, z)), Ink::rgb(228, 222, 211));
}

/// The lip's right and lower inner edges, of metal.
fn draw_lip(items: &mut Vec<Item>, window: Bounds, view: &View, depths: Depths) {
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

/// The parts, the farthest first: sides, then the face.
fn draw_parts(
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
