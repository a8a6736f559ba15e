//! The framed piece as it will hang: a picture, not a drawing.
//!
//! Light comes from the upper left. Wall, moulding, board and every shadow are painted as one picture
//! ([`canvas`](self)); the parts' own pictures, captions and the plaque lie on it as items.

mod canvas;
mod moulding;
pub mod oblique;
pub(crate) mod shadow;

use crate::art::{Art, BLEED_MM, Style, ink_clip};
use crate::drawing::Compose;
use crate::plaque::Plaque;
use crate::raster::pixel_size;
use crate::write::png::to_pixels;
use crate::{
    Affine, Drawing, Group, Ink, Item, Path, Picture, PressError, Shape, Stroke, width_mm,
};
use canvas::{Canvas, Scene};
use piece::{Part, PartId, PartKind, Piece};
use shape::{Bounds, Outline, Point, Vector};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Pixels along the longer side of a preview.
pub const LONG_SIDE_PX: f64 = 2400.0;

/// Width of the moulding that is seen from the front, mm.
const MOULDING_MM: f64 = 19.0;

/// Wall round the frame as a share of its longer side.
const WALL_SHARE: f64 = 0.085;

/// Height that a part is thought to have where nobody measured it, mm.
const UNKNOWN_HEIGHT_MM: f64 = 2.0;

/// A part's own picture with its background gone.
#[derive(Debug, Clone, PartialEq)]
pub struct CutoutImage {
    /// Whose picture it is.
    pub part: PartId,
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Rows from the top, RGBA with straight alpha, sRGB.
    pub rgba: Arc<[u8]>,
    /// Its scale, pixels per mm.
    pub px_per_mm: f64,
    /// Where its lower-left corner lies, mm, in the coordinates of [`piece::Part::shown_outline`]: it shows the face that is
    /// seen in the frame.
    pub origin_mm: [f64; 2],
}

impl CutoutImage {
    /// The picture at about that scale, not finer: each pixel the mean of a block, weighted by how solid it is. A picture
    /// whose data do not fit its size stays as it is.
    #[must_use]
    pub fn shrunk(&self, px_per_mm: f64) -> Self {
        let by = (self.px_per_mm / px_per_mm).floor().clamp(1.0, 1e4) as u32;
        let (w, h) = (self.width_px, self.height_px);
        let whole = self.rgba.len() as u64 == u64::from(w) * u64::from(h) * 4;
        if by == 1 || !whole || w == 0 || h == 0 {
            return self.clone();
        }
        let (sw, sh) = (w.div_ceil(by), h.div_ceil(by));
        let mut rgba = Vec::with_capacity(sw as usize * sh as usize * 4);
        // Rows are taken from the foot, where the origin is; the last block of each axis reaches over the edge, into
        // nothing.
        let over = sh * by - h;
        for y in 0..sh {
            let rows = (y * by).saturating_sub(over)..((y + 1) * by).saturating_sub(over);
            for x in 0..sw {
                let (mut sum, mut alpha) = ([0_u64; 3], 0_u64);
                for py in rows.clone() {
                    for px in x * by..((x + 1) * by).min(w) {
                        let i = 4 * (py as usize * w as usize + px as usize);
                        let a = u64::from(self.rgba[i + 3]);
                        for (s, v) in sum.iter_mut().zip(&self.rgba[i..i + 3]) {
                            *s += a * u64::from(*v);
                        }
                        alpha += a;
                    }
                }
                let solid = alpha.max(1);
                rgba.extend(sum.map(|s| ((s + solid / 2) / solid) as u8));
                rgba.push((alpha / u64::from(by * by)) as u8);
            }
        }
        Self {
            part: self.part.clone(),
            width_px: sw,
            height_px: sh,
            rgba: rgba.into(),
            px_per_mm: self.px_per_mm / f64::from(by),
            origin_mm: self.origin_mm,
        }
    }
}

/// The scale at which a preview of this piece is [`LONG_SIDE_PX`] long.
pub fn px_per_mm(piece: &Piece) -> f64 {
    let page = page_of(piece);
    LONG_SIDE_PX / page.width_mm().max(page.height_mm())
}

/// The page round the frame, in board coordinates.
fn page_of(piece: &Piece) -> Bounds {
    let frame = frame_of(piece);
    let wall_mm = WALL_SHARE * frame.width_mm().max(frame.height_mm());
    frame.grown(wall_mm)
}

/// The frame's outer edge, in board coordinates.
fn frame_of(piece: &Piece) -> Bounds {
    piece.frame.window().grown(MOULDING_MM)
}

/// Lays out the preview for a scale at which it will be written, on the quiet board. Parts without a picture, and those
/// that show the face that was not captured, get a quiet tone of their kind.
///
/// # Errors
/// Those of [`lay_out_on`].
pub fn lay_out(
    piece: &Piece,
    cutouts: &[CutoutImage],
    px_per_mm: f64,
) -> Result<Drawing, PressError> {
    let art = Art::of(Style::Quiet, Some(Plaque::of(piece, None)?));
    lay_out_on(piece, cutouts, &art, px_per_mm)
}

/// The same on the board's own art.
///
/// # Errors
/// - [`PressError::Pixels`]: a picture whose data do not fit its size.
/// - [`PressError::TooManyPixels`], [`PressError::Length`]: a scale or page of no sensible size.
/// - [`PressError::MissingGlyphs`]: a caption that cannot be set.
pub fn lay_out_on(
    piece: &Piece,
    cutouts: &[CutoutImage],
    art: &Art,
    px_per_mm: f64,
) -> Result<Drawing, PressError> {
    let page = page_of(piece);
    let (width_mm, height_mm) = (page.width_mm(), page.height_mm());
    let mut drawing = Drawing::new(format!("{}, preview", piece.name), width_mm, height_mm)?;
    let size_px = pixel_size([width_mm, height_mm], px_per_mm)?;
    let outlines = piece.outlines_on_board();

    let mut canvas = Canvas::new(size_px, page, px_per_mm);
    canvas.paint_scene(&scene_of(piece));
    lay_art(&mut canvas, piece, art, page, px_per_mm)?;
    canvas.cast_shadows(&heights(piece, &outlines));
    drawing.push(Item::Picture(canvas.into_picture()));

    let mut items = Vec::new();
    let pictures: BTreeMap<&PartId, &CutoutImage> = cutouts.iter().map(|c| (&c.part, c)).collect();
    for (part, outline) in &outlines {
        match pictures.get(&part.id) {
            Some(image) => {
                items.push(Item::Picture(placed_picture(piece, part, image)?));
            }
            None => draw_plain_part(&mut items, part, outline),
        }
    }
    items.extend(glazing_sheen(piece.frame.window()));
    drawing.push(Item::Group(Group {
        outer_from_inner: Affine::shifted(Point::new(-page.min.x, -page.min.y)),
        clip: None,
        opacity: 1.0,
        id: None,
        items,
    }));
    Ok(drawing)
}

fn scene_of(piece: &Piece) -> Scene {
    Scene {
        frame: frame_of(piece),
        window: piece.frame.window(),
        spacer_mm: piece.frame.spacer_width_mm,
        depth_mm: inside_mm(piece),
    }
}

/// From the board's face to the glazing, mm: as the build plan says, else what the rebate has less 8 mm for glazing,
/// board and backing.
fn inside_mm(piece: &Piece) -> f64 {
    if let Some(plan) = &piece.build {
        return plan.depth.inside_mm.clamp(5.0, 120.0);
    }
    let rebate_mm = piece.frame.rebate_depth_mm.unwrap_or(30.0);
    (rebate_mm - 8.0).clamp(5.0, 120.0)
}

/// Outlines with the height of their foot and their own, mm.
fn heights<'a>(piece: &Piece, outlines: &'a [(&Part, Outline)]) -> Vec<(&'a Outline, f64, f64)> {
    outlines
        .iter()
        .map(|(part, outline)| (outline, foot_mm(piece, part), height_mm_of(part)))
        .collect()
}

fn height_mm_of(part: &Part) -> f64 {
    part.thickness_mm.unwrap_or(UNKNOWN_HEIGHT_MM)
}

/// Height of a part's lowest face above the board, mm: as the build plan says, else its lift.
fn foot_mm(piece: &Piece, part: &Part) -> f64 {
    let plan = piece.build.as_ref().map(|plan| &plan.depth.parts);
    plan.and_then(|parts| parts.iter().find(|p| p.part == part.id))
        .map_or(part.lift_mm.unwrap_or(0.0), |p| p.foot_mm)
}

/// Prints the art on the board: ink takes light away, so that it multiplies.
fn lay_art(
    canvas: &mut Canvas,
    piece: &Piece,
    art: &Art,
    page: Bounds,
    px_per_mm: f64,
) -> Result<(), PressError> {
    let mut sheet = Drawing::new("", page.width_mm(), page.height_mm())?;
    sheet.push(Item::Group(Group {
        outer_from_inner: Affine::shifted(Point::new(-page.min.x, -page.min.y)),
        clip: Some(ink_clip(piece, piece.frame.board().grown(BLEED_MM))),
        opacity: 1.0,
        id: None,
        items: art.draw(piece, true)?,
    }));
    let printed = to_pixels(&sheet, px_per_mm)?;
    let spacer_mm = piece.frame.spacer_width_mm;
    canvas.multiply(printed.data(), piece.frame.window().grown(-spacer_mm));
    Ok(())
}

/// Two broad slanting lights on the glass, hardly there.
fn glazing_sheen(window: Bounds) -> Option<Item> {
    let (w, h) = (window.width_mm(), window.height_mm());
    let (px, py) = (
        (w / 2.0).ceil().max(1.0) as u32,
        (h / 2.0).ceil().max(1.0) as u32,
    );
    if u64::from(px) * u64::from(py) > 4_000_000 {
        return None;
    }
    let bell = |t: f64, at: f64, width: f64| (-((t - at) / width).powi(2)).exp();
    let mut rgba = Vec::with_capacity(px as usize * py as usize * 4);
    for y in 0..py {
        for x in 0..px {
            let (u, v) = (f64::from(x) / f64::from(px), f64::from(y) / f64::from(py));
            // Across the diagonal, 0 in the upper left corner.
            let t = 0.62 * u + 0.38 * v;
            let light = 0.060 * bell(t, 0.20, 0.11) + 0.034 * bell(t, 0.44, 0.045);
            let alpha = 255.0 * light + f64::from(canvas::noise(x, y)) - 0.5;
            rgba.extend([255, 255, 255, alpha.round().clamp(0.0, 255.0) as u8]);
        }
    }
    Some(Item::Picture(Picture {
        width_px: px,
        height_px: py,
        rgba: rgba.into(),
        page_from_unit: Affine::scaled(w, h, window.min),
    }))
}

fn placed_picture(piece: &Piece, part: &Part, image: &CutoutImage) -> Result<Picture, PressError> {
    let board_from_part = piece.placement(&part.id).map_or_else(
        || shape::Pose::new(0.0, 0.0, 0.0),
        piece::Placement::board_from_part,
    );
    let turned = Affine::turned(
        board_from_part.turn_deg,
        board_from_part.apply(Point::default()),
    );
    checked_picture(image, turned)
}

/// A cut-out where a map carries the part's own coordinates.
pub(crate) fn checked_picture(
    image: &CutoutImage,
    page_from_part: Affine,
) -> Result<Picture, PressError> {
    let needed = u64::from(image.width_px) * u64::from(image.height_px) * 4;
    if image.rgba.len() as u64 != needed || needed == 0 {
        return Err(PressError::Pixels {
            part: image.part.to_string(),
            found: image.rgba.len(),
            width: image.width_px,
            height: image.height_px,
            needed,
        });
    }
    if !(1e-3..=1e4).contains(&image.px_per_mm) {
        return Err(PressError::Length {
            what: "the side of a cut-out's pixel",
            found_mm: 1.0 / image.px_per_mm,
            least_mm: 1e-4,
            most_mm: 1e3,
        });
    }
    let mm = |px: u32| f64::from(px) / image.px_per_mm;
    let part_from_unit = Affine::scaled(
        mm(image.width_px),
        mm(image.height_px),
        Point::from(image.origin_mm),
    );
    Ok(Picture {
        width_px: image.width_px,
        height_px: image.height_px,
        rgba: image.rgba.clone(),
        page_from_unit: page_from_part.after(part_from_unit),
    })
}

/// A tone of the part's kind, a light upper-left edge and a darker rim.
fn draw_plain_part(items: &mut Vec<Item>, part: &Part, outline: &Outline) {
    let [r, g, b] = tone(part.kind);
    let path = Path::outline(outline);
    items.fill(path.clone(), Ink::rgb(r, g, b));
    // The light edge is a line shifted towards the light that only shows inside the part.
    let towards_light = Vector::new(0.35, -0.35);
    let lit = path.shifted(towards_light);
    items.push(Item::Group(crate::Group {
        outer_from_inner: Affine::IDENTITY,
        clip: Some(path.clone()),
        opacity: 1.0,
        id: None,
        items: vec![Item::Shape(Shape {
            path: lit,
            fill: None,
            stroke: Some(Stroke::continuous(0.45, Ink::WHITE.at(0.28)).rounded()),
            id: None,
            title: None,
        })],
    }));
    let rim = [r, g, b].map(|v| (f64::from(v) * 0.62) as u8);
    let rim = Ink::rgb(rim[0], rim[1], rim[2]);
    items.stroke(path, Stroke::continuous(width_mm::NARROW, rim).rounded());
}

/// Muted tones, so that a board without pictures still tells glass from tin.
pub(crate) fn tone(kind: PartKind) -> [u8; 3] {
    match kind {
        PartKind::Shell | PartKind::Keys => [196, 193, 186],
        PartKind::Display | PartKind::Camera => [70, 78, 86],
        PartKind::Board => [92, 118, 104],
        PartKind::Ribbon => [201, 157, 98],
        PartKind::Bracket | PartKind::Shield | PartKind::Screw => [178, 181, 184],
        PartKind::Antenna | PartKind::Connector => [190, 172, 132],
        PartKind::Cell => [150, 158, 170],
        PartKind::Speaker | PartKind::Microphone | PartKind::Motor | PartKind::Wheel => {
            [112, 112, 116]
        }
        PartKind::Other => [184, 176, 164],
    }
}
