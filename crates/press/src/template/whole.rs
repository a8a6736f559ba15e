//! The template on one sheet, for a print shop or a large printer.

use super::board::draw_board;
use super::page_of;
use crate::art::BLEED_MM;
use crate::drawing::{Align, Compose};
use crate::fitting::{draw_within, line_shrunk, lines_in};
use crate::marks::draw_trim_marks;
use crate::scale_bar::{Axis, bar_mm, draw_scale_bar};
use crate::{
    Affine, Drawing, Group, Ink, Item, Path, PressError, PrinterCorrection, Speech, Stroke, Trim,
    width_mm,
};
use lettering::Face;
use piece::Piece;
use shape::{Bounds, Point, Vector};

/// White round the board, mm: crop marks and the vertical bar stand in it.
const ROUND_BOARD_MM: f64 = 18.0;

/// Height of the title block and the horizontal bar below the board, mm.
const FOOT_MM: f64 = 40.0;

/// Least width of the page, for the title block, mm.
const LEAST_WIDTH_MM: f64 = 210.0;

/// Heights of labels and of values in the title block, mm (ISO 3098).
const LABEL_MM: f64 = 2.5;
const VALUE_MM: f64 = 3.5;

/// Grey of words that only explain.
const QUIET: Ink = Ink::grey(90);

/// Lays out the template as one page: the board at 1:1 with marks at its corners, a title block, and a
/// bar along each axis.
///
/// # Errors
/// - [`PressError::Length`]: a page larger than PDF can say, or a caption's letters out of range.
/// - [`PressError::MissingGlyphs`]: a caption that cannot be set.
pub fn whole(
    piece: &Piece,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Drawing, PressError> {
    let bar_mm = bar_mm(speech.units);
    let board = piece.frame.board();
    let width = (board.width_mm() + 2.0 * ROUND_BOARD_MM).max(LEAST_WIDTH_MM);
    let height =
        (board.height_mm() + 2.0 * ROUND_BOARD_MM).max(bar_mm + 2.0 * ROUND_BOARD_MM) + FOOT_MM;
    let mut page = Vec::new();
    let corner = Point::new(
        0.5 * (width - board.width_mm()),
        height - ROUND_BOARD_MM - board.height_mm(),
    );
    let on_page = Bounds {
        min: corner,
        max: corner + Vector::new(board.width_mm(), board.height_mm()),
    };
    page.push(Item::Group(Group {
        outer_from_inner: Affine::shifted(Point::new(
            corner.x - board.min.x,
            corner.y - board.min.y,
        )),
        clip: None,
        opacity: 1.0,
        id: None,
        items: draw_board(piece, speech)?,
    }));
    draw_trim_marks(&mut page, on_page, BLEED_MM);
    let bar = Point::new(on_page.min.x - 9.0, on_page.centre().y - 0.5 * bar_mm);
    draw_scale_bar(&mut page, bar, Axis::Vertical, speech, LABEL_MM);
    draw_foot(&mut page, piece, width, correction, speech);
    let title = format!("{}, {}", piece.name, speech.sheets().template);
    let mut page = page_of(title, [width, height], page, correction)?;
    // Where a corrected print comes out as the board, the page before it is larger or smaller.
    let page_from_content = correction.page_from_content([width, height]);
    page.trim = Some(Trim {
        sheet: Bounds {
            min: page_from_content.apply(on_page.min),
            max: page_from_content.apply(on_page.max),
        },
        bleed_mm: BLEED_MM,
    });
    Ok(page)
}

/// The title block along the foot, the horizontal bar at its right.
fn draw_foot(
    page: &mut Vec<Item>,
    piece: &Piece,
    width: f64,
    correction: PrinterCorrection,
    speech: Speech,
) {
    let words = speech.sheets();
    let (left, right) = (ROUND_BOARD_MM, width - ROUND_BOARD_MM);
    let rule = |page: &mut Vec<Item>, y: f64, w: f64| {
        let line = Path::line(Point::new(left, y), Point::new(right, y));
        page.stroke(line, Stroke::continuous(w, Ink::BLACK));
    };
    rule(page, 43.0, width_mm::WIDE);
    rule(page, 29.0, width_mm::FAINT);
    let board = piece.frame.board();
    let device = piece.device.as_ref();
    let device = device.map_or_else(
        || words.not_named.to_owned(),
        |d| {
            // A piece is mostly called after its device: once is enough.
            let own = (d.name.trim() != piece.name.trim()).then_some(d.name.as_str());
            let said = [own, d.maker.as_deref(), d.year.as_deref()];
            let said: Vec<&str> = said.into_iter().flatten().collect();
            if said.is_empty() {
                d.name.clone()
            } else {
                said.join(", ")
            }
        },
    );
    let fields = [
        (words.piece, piece.name.clone(), 0.29),
        (words.device, device, 0.25),
        (words.glazing_size, speech.size(&piece.frame.size_mm), 0.18),
        (
            words.board,
            speech.size(&[board.width_mm(), board.height_mm()]),
            0.15,
        ),
        (words.scale, "1:1".into(), 0.07),
        (words.sheet, words.one_of_one.into(), 0.06),
    ];
    let mut x = left;
    for (i, (label, value, share)) in fields.into_iter().enumerate() {
        let column = share * (right - left);
        let room = column - 3.0;
        draw_within(
            page,
            (label, Face::Regular, LABEL_MM),
            Point::new(x, 38.6),
            room,
            QUIET,
        );
        let face = if i == 0 {
            Face::SemiBold
        } else {
            Face::Regular
        };
        let value = line_shrunk(&value, face, VALUE_MM, room);
        page.text(value, Point::new(x, 32.2), Align::Left, Ink::BLACK);
        x += column;
    }
    let said = correction.printing_in_words(speech);
    let bar_mm = bar_mm(speech.units);
    let room = right - left - bar_mm - 6.0;
    for (down, line) in lines_in(&said, LABEL_MM, [room, 16.0]) {
        let at = Point::new(left, 25.9 - down);
        page.text(line, at, Align::Left, Ink::BLACK);
    }
    let bar = Point::new(right - bar_mm, 22.0);
    draw_scale_bar(page, bar, Axis::Horizontal, speech, LABEL_MM);
}
