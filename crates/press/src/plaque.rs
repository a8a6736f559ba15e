//! What the piece says about itself: title, device, maker, year, number in an edition.

use crate::drawing::{Align, Compose};
use crate::fitting::line_within;
use crate::marks::draw_trim_marks;
use crate::{Drawing, Ink, Item, Path, PressError, Speech, Stroke, Trim, width_mm};
use lettering::{Face, set_line};
use piece::Piece;
use shape::{Bounds, Point, Vector};

/// White round a plaque on its sheet, mm: the marks stand in it.
const ROUND_MM: f64 = 12.0;

/// How far a border reaches in from the spacer, with white beside it, mm.
const BORDER_MM: f64 = 4.2;

/// Longest text of an edition's number, characters.
const MOST_EDITION: usize = 24;

/// The words of a plaque.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plaque {
    /// The piece's name.
    pub title: String,
    /// Device, maker and year, where they are known and say more than the title.
    pub about: String,
    /// Number in an edition, such as `3/25`.
    pub edition: Option<String>,
}

impl Plaque {
    /// The words for a piece.
    ///
    /// # Errors
    /// - [`PressError::TooLong`]: an edition's number of more than 24 characters.
    /// - [`PressError::MissingGlyphs`]: characters that the fonts cannot draw.
    pub fn of(piece: &Piece, edition: Option<&str>) -> Result<Self, PressError> {
        if let Some(text) = edition
            && text.chars().count() > MOST_EDITION
        {
            return Err(PressError::TooLong {
                place: "the edition's number".into(),
                found: text.chars().count(),
                most: MOST_EDITION,
            });
        }
        let mut about = Vec::new();
        if let Some(device) = &piece.device {
            // A piece is mostly called after its device: once is enough.
            if device.name.trim() != piece.name.trim() {
                about.push(device.name.as_str());
            }
            about.extend(device.maker.as_deref());
            about.extend(device.year.as_deref());
        }
        let plaque = Self {
            title: piece.name.clone(),
            about: about.join(", "),
            edition: edition.map(str::to_owned),
        };
        for (place, text, face) in [
            ("the piece's name", plaque.title.as_str(), Face::SemiBold),
            (
                "the device's name, maker or year",
                &plaque.about,
                Face::Regular,
            ),
            (
                "the edition's number",
                plaque.edition.as_deref().unwrap_or_default(),
                Face::Regular,
            ),
        ] {
            let missing: String = set_line(text, face, 2.5).missing.into_iter().collect();
            if !missing.is_empty() {
                return Err(PressError::MissingGlyphs {
                    place: place.into(),
                    characters: missing,
                });
            }
        }
        Ok(plaque)
    }

    /// The second line: what the device is, and the number.
    fn second_line(&self) -> String {
        let edition = self.edition.as_deref();
        let mut words: Vec<&str> = Vec::new();
        if !self.about.is_empty() {
            words.push(&self.about);
        }
        words.extend(edition);
        words.join("  ·  ")
    }

    /// Draws the words centred in a box, the title above.
    pub(crate) fn draw(&self, to: &mut impl Compose, room: Bounds, title_ink: Ink, quiet_ink: Ink) {
        let second = self.second_line();
        let title_mm = (0.26 * room.height_mm()).clamp(2.5, 7.0);
        let width_mm = room.width_mm();
        let title = line_within(&self.title, Face::SemiBold, title_mm, width_mm);
        let middle = room.centre();
        // Two lines where there is room for them, else the title alone.
        if second.is_empty() || room.height_mm() < 9.0 {
            let at = middle - Vector::new(0.0, 0.5 * title_mm);
            to.text(title, at, Align::Centre, title_ink);
            return;
        }
        let second_mm = (0.68 * title_mm).max(2.2);
        let gap_mm = 0.75 * title_mm;
        let foot = middle.y - 0.5 * (title_mm + gap_mm + second_mm);
        let at = Point::new(middle.x, foot + second_mm + gap_mm);
        to.text(title, at, Align::Centre, title_ink);
        let second = line_within(&second, Face::Regular, second_mm, width_mm);
        to.text(second, Point::new(middle.x, foot), Align::Centre, quiet_ink);
    }
}

/// Where a plaque stands on the board: in the margin below the parts.
pub(crate) fn room_on_board(piece: &Piece) -> Bounds {
    let window = piece.frame.window();
    let spacer_mm = piece.frame.spacer_width_mm;
    let bottom_mm = piece.frame.margin_mm.bottom;
    // Clear of the border that some styles draw along the window's edge.
    let foot_mm = spacer_mm + BORDER_MM.min(0.3 * bottom_mm);
    Bounds {
        min: Point::new(window.min.x + spacer_mm + 5.0, foot_mm),
        max: Point::new(window.max.x - spacer_mm - 5.0, spacer_mm + bottom_mm),
    }
}

/// Lays out a plaque as a sheet of its own, to be engraved or to be printed on card and cut out: a third of the
/// window's width, 60 to 140 mm.
///
/// # Errors
/// [`PressError::Length`] for a page of no sensible size.
pub fn lay_out(piece: &Piece, plaque: &Plaque, speech: Speech) -> Result<Drawing, PressError> {
    let width_mm = (piece.frame.window().width_mm() / 3.0)
        .clamp(60.0, 140.0)
        .round();
    let height_mm = (0.26 * width_mm).round();
    let (page_w, page_h) = (width_mm + 2.0 * ROUND_MM, height_mm + 2.0 * ROUND_MM);
    let mut page = Drawing::new(
        format!("{}, {}", piece.name, speech.sheets().plaque),
        page_w,
        page_h,
    )?;
    let sheet = page.page().grown(-ROUND_MM);
    page.trim = Some(Trim {
        sheet,
        bleed_mm: 0.0,
    });
    draw_trim_marks(&mut page, sheet, 0.0);
    let rule = Path::rounded_rectangle(sheet.grown(-2.0), 1.2);
    page.stroke(rule, Stroke::continuous(width_mm::NARROW, Ink::BLACK));
    let mut items: Vec<Item> = Vec::new();
    plaque.draw(&mut items, sheet.grown(-4.5), Ink::BLACK, Ink::BLACK);
    page.items.extend(items);
    Ok(page)
}
