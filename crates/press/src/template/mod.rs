//! Life-size templates of a piece: one whole sheet, or tiles to be joined.
//!
//! The content of every page is the board as it is, scale 1:1, with a bar of 100 mm (or 4 in) along each axis. A
//! [`PrinterCorrection`] scales content and bars alike.

mod board;
mod tile_page;
mod tiling;
mod whole;

pub use tile_page::tiled;
pub use tiling::{CUT_WASTE_MM, OVERLAP_MM, Tile, Tiling, tile_board};
pub use whole::whole;

use crate::{Drawing, Group, Item, PressError, PrinterCorrection};

/// Puts a page's content on its page, corrected for the printer.
fn page_of(
    title: String,
    size_mm: [f64; 2],
    content: Vec<Item>,
    correction: PrinterCorrection,
) -> Result<Drawing, PressError> {
    let mut page = Drawing::new(title, size_mm[0], size_mm[1])?;
    if correction.is_none() {
        page.items = content;
    } else {
        page.items.push(Item::Group(Group {
            outer_from_inner: correction.page_from_content(size_mm),
            clip: None,
            opacity: 1.0,
            id: None,
            items: content,
        }));
    }
    Ok(page)
}
