//! Captions to be cut out and glued beside their parts, for a board without printed art.

use crate::caption::{CaptionInks, set_caption};
use crate::drawing::Compose;
use crate::printed_page::{Head, Shelves, content_of, page};
use crate::{
    Drawing, Ink, Item, Paper, Path, PressError, PrinterCorrection, Speech, Stroke, width_mm,
};
use piece::{Caption, Piece};
use shape::Point;

/// White round the words of a strip, mm.
const ROUND_MM: f64 = 1.5;

/// Lays out the captions as strips, in the order of their numbers; none where there are no captions.
///
/// # Errors
/// - [`PressError::DoesNotFit`]: a caption longer than the paper.
/// - [`PressError::MissingGlyphs`], [`PressError::Length`]: a caption that cannot be set.
pub fn lay_out(
    piece: &Piece,
    paper: &Paper,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Vec<Drawing>, PressError> {
    let numbers = piece.item_numbers();
    let room = content_of(paper.size_mm);
    let mut shelves = Shelves::new(room, 0.0);
    let mut pages: Vec<Vec<Item>> = Vec::new();
    let mut order: Vec<(usize, usize, &Caption)> = piece
        .captions
        .iter()
        .enumerate()
        .map(|(index, c)| (numbers.get(&c.part).copied().unwrap_or(0), index, c))
        .collect();
    order.sort_by_key(|&(number, index, _)| (number, index));
    // Strips of one height stand in rows that share their cuts.
    order.sort_by(|a, b| a.2.h.total_cmp(&b.2.h));
    for (number, index, caption) in order {
        let size = [caption.w + 2.0 * ROUND_MM, caption.h + 2.0 * ROUND_MM];
        if size[0] > room.width_mm() || size[1] > room.height_mm() {
            return Err(PressError::DoesNotFit {
                what: format!("captions[{index}]"),
                width_mm: size[0],
                height_mm: size[1],
                paper: paper.name.to_string(),
            });
        }
        let (n, place) = shelves.next(size);
        while pages.len() <= n {
            pages.push(Vec::new());
        }
        let items = &mut pages[n];
        items.stroke(
            Path::rectangle(place),
            Stroke::continuous(width_mm::FAINT, Ink::grey(120)),
        );
        let moved = Caption {
            x: place.min.x + ROUND_MM,
            y: place.min.y + ROUND_MM,
            leader: Vec::<Point>::new(),
            ..caption.clone()
        };
        for text in set_caption(index, &moved, number, CaptionInks::BLACK)? {
            items.push(Item::Text(text));
        }
    }
    let count = pages.len();
    let head = Head {
        piece: &piece.name,
        sheet: speech.sheets().caption_strips,
        what_to_do: speech.sheets().strips_what_to_do,
        speech,
    };
    pages
        .into_iter()
        .enumerate()
        .map(|(n, items)| page(head, [n, count], paper.size_mm, items, correction))
        .collect()
}
