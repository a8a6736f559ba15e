//! The piece as on a light table: outlines only, for a page to show.

use crate::outlines::unique_id;
use crate::{Drawing, Ink, Item, Path, PressError, Shape, Speech, Stroke};
use piece::Piece;
use shape::Point;
use std::collections::BTreeSet;

/// The table's light, and what stands on it.
const LIGHT: Ink = Ink::rgb(247, 248, 244);
const RIM: Ink = Ink::rgb(206, 210, 204);
const LINE: Ink = Ink::rgb(56, 66, 72);

/// Lays out the window with every placed part as a clear shape, named by the part's id and titled with its number and
/// name; the page is the window.
///
/// # Errors
/// [`PressError::Length`] for a window of no sensible size.
pub fn lay_out(piece: &Piece, speech: Speech) -> Result<Drawing, PressError> {
    let window = piece.frame.window();
    let title = format!("{}, {}", piece.name, speech.sheets().light_table);
    let mut page = Drawing::new(title, window.width_mm(), window.height_mm())?;
    let to_page = Point::default() - window.min;
    let table = window.shifted(to_page).grown(-0.5);
    page.items.push(Item::Shape(Shape {
        path: Path::rounded_rectangle(table, 3.0),
        fill: Some(LIGHT),
        stroke: Some(Stroke::continuous(0.6, RIM)),
        id: None,
        title: None,
    }));
    let mut taken = BTreeSet::new();
    // A line that is fine on the window as a whole, whatever its size.
    let line_mm = (0.0016 * window.width_mm().max(window.height_mm())).clamp(0.25, 1.2);
    for (part, outline) in piece.outlines_on_board() {
        page.items.push(Item::Shape(Shape {
            path: Path::outline(&outline).shifted(to_page),
            fill: Some(LINE.at(0.07)),
            stroke: Some(Stroke::continuous(line_mm, LINE).rounded()),
            id: Some(unique_id(part.id.as_str(), &mut taken)),
            title: Some(piece.item_label(part)),
        }));
    }
    Ok(page)
}
