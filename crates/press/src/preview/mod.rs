//! The framed piece as it will hang: a picture, not a drawing.
//!
//! Light comes from the upper left. Wall, moulding, board and every shadow are painted as one picture
//! ([`canvas`](self)); the parts' own pictures, captions and the plaque lie on it as items.

mod canvas;
mod moulding;
mod shadow;

use crate::caption::{CaptionInks, draw_axes, draw_captions, line_within};
use crate::drawing::{Align, Compose};
use crate::raster::pixel_size;
use crate::{Affine, Drawing, Ink, Item, Path, Picture, PressError, Shape, Stroke, width_mm};
use canvas::{Canvas, Scene};
use lettering::Face;
use piece::{Face as Side, Part, PartId, PartKind, Piece};
use shape::{Bounds, Outline, Point, Vector};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Pixels along the longer side of a preview.
pub const LONG_SIDE_PX: f64 = 2000.0;

/// Width of the moulding that is seen from the front, mm.
const MOULDING_MM: f64 = 19.0;

/// Wall round the frame as a share of its longer side.
const WALL_SHARE: f64 = 0.085;

/// Height that a part is thought to have where nobody measured it, mm.
const UNKNOWN_HEIGHT_MM: f64 = 2.0;

const DARK: Ink = Ink::rgb(52, 47, 41);
const SOFT: Ink = Ink::rgb(104, 97, 88);

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
    /// Where its lower-left corner lies in the part's own coordinates, mm.
    pub origin_mm: [f64; 2],
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

/// Lays out the preview for a scale at which it will be written. Parts without a picture, and those that
/// show the face that was not captured, get a quiet tone of their kind.
///
/// # Errors
/// - [`PressError::Pixels`]: a picture whose data do not fit its size.
/// - [`PressError::TooManyPixels`], [`PressError::Length`]: a scale or page of no sensible size.
/// - [`PressError::MissingGlyphs`]: a caption that cannot be set.
pub fn lay_out(
    piece: &Piece,
    cutouts: &[CutoutImage],
    px_per_mm: f64,
) -> Result<Drawing, PressError> {
    let page = page_of(piece);
    let (width_mm, height_mm) = (page.width_mm(), page.height_mm());
    let mut drawing = Drawing::new(format!("{}, preview", piece.name), width_mm, height_mm)?;
    let size_px = pixel_size([width_mm, height_mm], px_per_mm)?;
    let outlines = piece.outlines_on_board();

    let mut canvas = Canvas::new(size_px, page, px_per_mm);
    canvas.paint_scene(&Scene {
        frame: frame_of(piece),
        window: piece.frame.window(),
        spacer_mm: piece.frame.spacer_width_mm,
        depth_mm: piece.frame.rebate_depth_mm.unwrap_or(30.0),
    });
    for (part, outline) in &outlines {
        let height_mm = part.thickness_mm.unwrap_or(UNKNOWN_HEIGHT_MM);
        canvas.cast_shadow(outline, height_mm);
    }
    drawing.push(Item::Picture(canvas.into_picture()));

    let mut items = Vec::new();
    let pictures: BTreeMap<&PartId, &CutoutImage> = cutouts.iter().map(|c| (&c.part, c)).collect();
    for (part, outline) in &outlines {
        match pictures.get(&part.id) {
            Some(image) if part.face_shown == Side::Front => {
                items.push(Item::Picture(placed_picture(piece, part, image)?));
            }
            _ => draw_plain_part(&mut items, part, outline),
        }
    }
    let by_id: BTreeMap<&PartId, &Outline> = outlines.iter().map(|(p, o)| (&p.id, o)).collect();
    let inks = CaptionInks {
        number: DARK,
        words: DARK,
        leader: SOFT,
    };
    draw_axes(&mut items, piece, SOFT.at(0.55));
    draw_captions(&mut items, piece, &by_id, inks)?;
    draw_plaque(&mut items, piece);
    drawing.push(Item::Group(crate::Group {
        outer_from_inner: Affine::shifted(Point::new(-page.min.x, -page.min.y)),
        clip: None,
        opacity: 1.0,
        id: None,
        items,
    }));
    Ok(drawing)
}

fn placed_picture(piece: &Piece, part: &Part, image: &CutoutImage) -> Result<Picture, PressError> {
    let needed = u64::from(image.width_px) * u64::from(image.height_px) * 4;
    if image.rgba.len() as u64 != needed || needed == 0 {
        return Err(PressError::Pixels {
            part: part.id.to_string(),
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
    let board_from_part = piece.placement(&part.id).map_or_else(
        || shape::Pose::new(0.0, 0.0, 0.0),
        piece::Placement::board_from_part,
    );
    let mm = |px: u32| f64::from(px) / image.px_per_mm;
    let part_from_unit = Affine::scaled(
        mm(image.width_px),
        mm(image.height_px),
        Point::from(image.origin_mm),
    );
    let turned = Affine::turned(
        board_from_part.turn_deg,
        board_from_part.apply(Point::default()),
    );
    Ok(Picture {
        width_px: image.width_px,
        height_px: image.height_px,
        rgba: image.rgba.clone(),
        page_from_unit: turned.after(part_from_unit),
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
fn tone(kind: PartKind) -> [u8; 3] {
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

/// The piece's name and its device, centred in the margin below the parts.
fn draw_plaque(items: &mut Vec<Item>, piece: &Piece) {
    let window = piece.frame.window();
    let spacer_mm = piece.frame.spacer_width_mm;
    let room_mm = piece.frame.margin_mm.bottom;
    let mut words = Vec::new();
    if let Some(device) = &piece.device {
        words.push(device.name.as_str());
        words.extend(device.maker.as_deref());
        words.extend(device.year.as_deref());
    }
    // Two lines where the margin has room for them, else the name alone.
    let two = !words.is_empty() && room_mm >= 13.0;
    let name_mm = (0.24 * room_mm).clamp(2.5, 5.0);
    let width_mm = window.width_mm() - 2.0 * spacer_mm - 10.0;
    let middle = Point::new(window.centre().x, spacer_mm + 0.5 * room_mm);
    let name = line_within(&piece.name, Face::SemiBold, name_mm, width_mm);
    if !two {
        let at = middle - Vector::new(0.0, 0.5 * name_mm);
        items.text(name, at, Align::Centre, DARK);
        return;
    }
    let device_mm = 0.68 * name_mm;
    let device = line_within(&words.join(", "), Face::Regular, device_mm, width_mm);
    let gap_mm = 0.75 * name_mm;
    let height_mm = name_mm + gap_mm + device_mm;
    let foot = middle.y - 0.5 * height_mm;
    let at = Point::new(middle.x, foot + device_mm + gap_mm);
    items.text(name, at, Align::Centre, DARK);
    items.text(device, Point::new(middle.x, foot), Align::Centre, SOFT);
}
