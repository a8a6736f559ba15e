//! Where the parts sit in the device: one panel a layer, front first, every part in its own colours.

use crate::drawing::{Align, Compose};
use crate::fitting::line_narrowed;
use crate::preview::{CutoutImage, checked_picture};
use crate::{Affine, Drawing, Ink, Item, Path, Picture, PressError, Shape, Stroke, width_mm};
use lettering::Face;
use piece::Home;
use shape::{Bounds, Outline, Point, Vector};

/// A part at its home.
#[derive(Debug, Clone)]
pub struct HomePart {
    /// What people call it.
    pub name: String,
    /// Its item number.
    pub number: usize,
    /// Its outline in its own coordinates, as it is seen from the device's front.
    pub outline: Outline,
    /// Where it sits.
    pub home: Home,
    /// How sure that is, 0 to 1.
    pub confidence: f64,
    /// Somebody should look at it.
    pub unsure: bool,
    /// Its picture, in the outline's coordinates.
    pub picture: Option<CutoutImage>,
}

/// What the picture shows.
#[derive(Debug, Clone)]
pub struct HomesPicture {
    /// Its title.
    pub title: String,
    /// The device's outline, mm from its lower left.
    pub device: Outline,
    /// The parts that have a home.
    pub parts: Vec<HomePart>,
    /// The names of those that have none.
    pub without: Vec<String>,
}

const MARGIN_MM: f64 = 8.0;
const GAP_MM: f64 = 8.0;
const LETTER_MM: f64 = 2.5;
const LINE_MM: f64 = 4.6;
/// Panels side by side before a new row begins.
const MOST_IN_ROW: usize = 4;

const GROUND: Ink = Ink::rgb(247, 245, 240);
const FLOOR: Ink = Ink::rgb(233, 229, 220);
const FAINT: Ink = Ink::rgb(176, 170, 158);
const TEXT: Ink = Ink::rgb(40, 38, 34);
const UNSURE: Ink = Ink::rgb(176, 58, 26);
const PLAIN: Ink = Ink::rgb(198, 192, 180);

/// Lays the picture out at life size. The outline of an unsure part is dashed, red, and named with its confidence; parts of other
/// layers are hairlines.
///
/// # Errors
/// [`PressError::Length`] for a device too large for a page, or a picture of no sensible scale; [`PressError::Pixels`] for
/// a picture whose data do not fit its size.
pub fn lay_out(picture: &HomesPicture) -> Result<Drawing, PressError> {
    let mut layers: Vec<u32> = picture.parts.iter().map(|p| p.home.layer).collect();
    layers.sort_unstable();
    layers.dedup();
    let bounds = picture
        .parts
        .iter()
        .map(|p| p.outline.placed(p.home.device_from_part()).bounds())
        .fold(picture.device.bounds(), Bounds::joined);
    let columns = layers.len().clamp(1, MOST_IN_ROW);
    let rows = layers.len().div_ceil(columns).max(1);
    let names = |layer: u32| {
        picture
            .parts
            .iter()
            .filter(|p| p.home.layer == layer)
            .count()
    };
    let most_names = layers.iter().map(|l| names(*l)).max().unwrap_or(0);
    let panel_w = bounds.width_mm().max(44.0);
    let panel_h = bounds.height_mm() + LINE_MM * (1.4 + most_names as f64) + 2.0;
    let foot = LINE_MM * (1.0 + picture.without.len().div_ceil(6) as f64);
    let width = 2.0 * MARGIN_MM + columns as f64 * panel_w + (columns - 1) as f64 * GAP_MM;
    let height =
        2.0 * MARGIN_MM + rows as f64 * panel_h + (rows - 1) as f64 * GAP_MM + 2.0 * LINE_MM + foot;
    let mut page = Drawing::new(picture.title.clone(), width, height)?;
    page.fill(Path::rectangle(page.page()), GROUND);
    let top = height - MARGIN_MM - LINE_MM;
    let line = line_narrowed(&picture.title, Face::SemiBold, 3.5, width - 2.0 * MARGIN_MM);
    page.text(line, Point::new(MARGIN_MM, top), Align::Left, TEXT);
    for (k, &layer) in layers.iter().enumerate() {
        let x = MARGIN_MM + (k % columns) as f64 * (panel_w + GAP_MM);
        let upper = top - LINE_MM - (k / columns) as f64 * (panel_h + GAP_MM);
        panel(
            &mut page,
            picture,
            layer,
            bounds,
            Point::new(x, upper),
            panel_w,
        )?;
    }
    let mut y = MARGIN_MM + foot - LINE_MM;
    let legend =
        "dashed red: to be looked at, with how sure it is; hairlines: parts of other layers";
    let line = line_narrowed(legend, Face::Regular, LETTER_MM, width - 2.0 * MARGIN_MM);
    page.text(line, Point::new(MARGIN_MM, y), Align::Left, TEXT);
    for (n, names) in picture.without.chunks(6).enumerate() {
        y -= LINE_MM;
        let lead = if n == 0 { "no home: " } else { "" };
        let words = format!("{lead}{}", names.join(", "));
        let line = line_narrowed(&words, Face::Regular, LETTER_MM, width - 2.0 * MARGIN_MM);
        page.text(line, Point::new(MARGIN_MM, y), Align::Left, UNSURE);
    }
    Ok(page)
}

/// One layer: the device, the layer's parts in colour, their names below.
fn panel(
    page: &mut Drawing,
    picture: &HomesPicture,
    layer: u32,
    bounds: Bounds,
    upper_left: Point,
    width: f64,
) -> Result<(), PressError> {
    let heading = if layer == 0 {
        "layer 0, front".into()
    } else {
        format!("layer {layer}")
    };
    page.words(
        &heading,
        Face::SemiBold,
        LETTER_MM,
        Point::new(upper_left.x, upper_left.y - LETTER_MM),
        Align::Left,
        TEXT,
    );
    let lower = upper_left.y - 1.4 * LINE_MM - bounds.height_mm();
    let shift = Vector::new(upper_left.x - bounds.min.x, lower - bounds.min.y);
    page.fill(Path::outline(&picture.device).shifted(shift), FLOOR);
    page.stroke(
        Path::outline(&picture.device).shifted(shift),
        Stroke::continuous(width_mm::NARROW, FAINT),
    );
    let at_home = |p: &HomePart| p.outline.placed(p.home.device_from_part());
    for part in picture.parts.iter().filter(|p| p.home.layer != layer) {
        page.stroke(
            Path::outline(&at_home(part)).shifted(shift),
            Stroke::continuous(width_mm::FAINT, FAINT),
        );
    }
    let mut here: Vec<&HomePart> = picture
        .parts
        .iter()
        .filter(|p| p.home.layer == layer)
        .collect();
    here.sort_by(|a, b| b.outline.area_mm2().total_cmp(&a.outline.area_mm2()));
    for part in &here {
        let outline = at_home(part);
        match &part.picture {
            Some(image) => page.push(Item::Picture(placed(part, image, shift)?)),
            None => page.fill(Path::outline(&outline).shifted(shift), PLAIN),
        }
        let stroke = if part.unsure {
            Stroke::dashed(width_mm::EXTRA_WIDE, UNSURE)
        } else {
            Stroke::continuous(width_mm::FAINT, TEXT)
        };
        page.push(Item::Shape(Shape {
            path: Path::outline(&outline).shifted(shift),
            fill: None,
            stroke: Some(stroke),
            id: None,
            title: Some(part.name.clone()),
        }));
    }
    here.sort_by_key(|p| p.number);
    for (n, part) in here.iter().enumerate() {
        let y = lower - 2.0 - LETTER_MM - n as f64 * LINE_MM;
        let (words, ink) = if part.unsure {
            let percent = (100.0 * part.confidence).floor();
            (
                format!("{}  {}: {percent:.0} % sure", part.number, part.name),
                UNSURE,
            )
        } else {
            (format!("{}  {}", part.number, part.name), TEXT)
        };
        let line = line_narrowed(&words, Face::Regular, LETTER_MM, width);
        page.text(line, Point::new(upper_left.x, y), Align::Left, ink);
    }
    Ok(())
}

fn placed(part: &HomePart, image: &CutoutImage, shift: Vector) -> Result<Picture, PressError> {
    let at = Point::new(part.home.x, part.home.y) + shift;
    checked_picture(image, Affine::turned(part.home.turn_deg, at))
}
