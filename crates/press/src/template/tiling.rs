//! How a board is cut into pages.

use crate::{Paper, PressError};
use shape::{Bounds, Point};

/// Width of the strip that a neighbour is glued onto, mm.
pub const OVERLAP_MM: f64 = 10.0;

/// What a page shows beyond its own cut lines, mm, so that lines meet at the cut.
pub const CUT_WASTE_MM: f64 = 4.0;

/// Least side of a tile's own area, mm: below this the strips outweigh what they join.
const LEAST_TILE_MM: f64 = 50.0;

/// More pages than anyone would join.
const MOST_TILES: usize = 150;

/// What a page needs round its tile, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Border {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    /// Least width of the page for the words at its foot.
    pub(super) least_page_width: f64,
}

/// One page of a tiled template.
#[derive(Debug, Clone, PartialEq)]
pub struct Tile {
    /// From the top, 0 first.
    pub row: usize,
    /// From the left, 0 first.
    pub column: usize,
    /// The area between its cut lines, in board coordinates; those of all tiles fill the board without
    /// gap or overlap.
    pub own: Bounds,
    /// What is printed of the board: the own area, the strips for the neighbours to the right and
    /// below, and a little beyond the cut lines to the left and above.
    pub printed: Bounds,
}

impl Tile {
    /// Its code: a letter for the row, a number for the column.
    pub fn code(&self) -> String {
        code(self.row, self.column)
    }
}

pub(super) fn code(row: usize, column: usize) -> String {
    // Rows stay far below two alphabets: the limit of tiles sees to it.
    let letter = char::from(b'A' + (row % 26) as u8);
    let again = if row >= 26 {
        letter.to_string()
    } else {
        String::new()
    };
    format!("{letter}{again}{}", column + 1)
}

/// A board cut into pages.
#[derive(Debug, Clone, PartialEq)]
pub struct Tiling {
    /// Rows of pages.
    pub rows: usize,
    /// Columns of pages.
    pub columns: usize,
    /// Width and height of a page as it is used, mm: upright or on its side.
    pub page_size_mm: [f64; 2],
    /// The pages in the order in which they are joined: row by row from the top, each from the left.
    pub tiles: Vec<Tile>,
}

/// Cuts a region of the board into equal tiles on the paper, upright or on its side, whichever takes
/// fewer pages (upright where both take as many).
///
/// # Errors
/// - [`PressError::PaperTooSmall`]: no room for a tile and its strips.
/// - [`PressError::TooManyTiles`]: more than 150.
pub fn tile_board(region: Bounds, paper: &Paper) -> Result<Tiling, PressError> {
    tile_with_border(region, paper, super::tile_page::BORDER)
}

pub(super) fn tile_with_border(
    region: Bounds,
    paper: &Paper,
    border: Border,
) -> Result<Tiling, PressError> {
    let [w, h] = paper.size_mm;
    let upright = counts(region, [w, h], border);
    let sideways = counts(region, [h, w], border);
    let (page_size_mm, [columns, rows]) = match (upright, sideways) {
        (Some(u), Some(s)) if s[0] * s[1] < u[0] * u[1] => ([h, w], s),
        (Some(u), _) => ([w, h], u),
        (None, Some(s)) => ([h, w], s),
        (None, None) => {
            return Err(PressError::PaperTooSmall {
                paper: paper.name.to_string(),
                width_mm: (w - border.left - border.right).max(0.0),
                height_mm: (h - border.top - border.bottom).max(0.0),
                least_mm: LEAST_TILE_MM + OVERLAP_MM + CUT_WASTE_MM,
            });
        }
    };
    if columns.saturating_mul(rows) > MOST_TILES {
        return Err(PressError::TooManyTiles {
            tiles: columns.saturating_mul(rows),
            paper: paper.name.to_string(),
            limit: MOST_TILES,
        });
    }
    // The same expression gives a neighbour's edge, so that no gap can come of rounding.
    let x = |i: usize| region.min.x + region.width_mm() * i as f64 / columns as f64;
    let y = |i: usize| region.max.y - region.height_mm() * i as f64 / rows as f64;
    let mut tiles = Vec::with_capacity(columns * rows);
    for row in 0..rows {
        for column in 0..columns {
            let own = Bounds {
                min: Point::new(x(column), y(row + 1)),
                max: Point::new(x(column + 1), y(row)),
            };
            let beyond = |has: bool, by_mm: f64| if has { by_mm } else { 0.0 };
            let printed = Bounds {
                min: Point::new(
                    own.min.x - beyond(column > 0, CUT_WASTE_MM),
                    own.min.y - beyond(row + 1 < rows, OVERLAP_MM),
                ),
                max: Point::new(
                    own.max.x + beyond(column + 1 < columns, OVERLAP_MM),
                    own.max.y + beyond(row > 0, CUT_WASTE_MM),
                ),
            };
            tiles.push(Tile {
                row,
                column,
                own,
                printed,
            });
        }
    }
    Ok(Tiling {
        rows,
        columns,
        page_size_mm,
        tiles,
    })
}

/// Columns and rows on pages of a size; `None` where a page has no room for a tile.
fn counts(region: Bounds, [w, h]: [f64; 2], border: Border) -> Option<[usize; 2]> {
    if w < border.least_page_width {
        return None;
    }
    let room = [
        w - border.left - border.right,
        h - border.top - border.bottom,
    ];
    let along = |length_mm: f64, room_mm: f64| {
        if length_mm <= room_mm {
            return Some(1);
        }
        let tile_mm = room_mm - OVERLAP_MM - CUT_WASTE_MM;
        (tile_mm >= LEAST_TILE_MM).then(|| (length_mm / tile_mm).ceil().max(2.0) as usize)
    };
    Some([
        along(region.width_mm(), room[0])?,
        along(region.height_mm(), room[1])?,
    ])
}
