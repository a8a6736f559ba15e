//! Printed square tags of the family 36h11: their patterns, and finding them in a photo.
//!
//! Finding goes from coarse to fine: dark regions at half size (`regions`), the four-sided ones
//! among them (`quad`), those whose cells spell an id (`decode`), and last their corners from the
//! blurred edge of each side at full size (`sides`).

mod codes;
mod decode;
mod detect;
mod half_size;
mod quad;
mod regions;
mod sides;

pub use detect::{DetectedTag, TagsSeen, detect};

/// Number of ids in the family.
pub const TAG_COUNT: u32 = codes::CODES_36H11.len() as u32;

/// Cells along a tag's side, its black border included.
pub const TAG_CELLS: usize = 8;

/// The printed pattern of a tag: rows from the top, `true` = white; `None` for an id that the family
/// does not have. The outermost cells are the black border; a white rim of one cell belongs round it.
pub fn tag_pattern(id: u32) -> Option<[[bool; TAG_CELLS]; TAG_CELLS]> {
    let code = *codes::CODES_36H11.get(id as usize)?;
    let mut rows = [[false; TAG_CELLS]; TAG_CELLS];
    for (r, row) in rows.iter_mut().enumerate().skip(1).take(6) {
        for (c, cell) in row.iter_mut().enumerate().skip(1).take(6) {
            *cell = code >> (35 - (6 * (r - 1) + (c - 1))) & 1 == 1;
        }
    }
    Some(rows)
}
