//! The template on one sheet, for a print shop or a large printer.

use super::board::draw_board;
use super::{correction_words, page_of};
use crate::art::BLEED_MM;
use crate::caption::draw_within;
use crate::drawing::{Align, Compose};
use crate::marks::draw_trim_marks;
use crate::scale_bar::{Axis, BAR_MM, draw_scale_bar};
use crate::{
    Affine, Drawing, Group, Ink, Item, Path, PressError, PrinterCorrection, Stroke, Trim, width_mm,
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
pub fn whole(piece: &Piece, correction: PrinterCorrection) -> Result<Drawing, PressError> {
    let board = piece.frame.board();
    let width = (board.width_mm() + 2.0 * ROUND_BOARD_MM).max(LEAST_WIDTH_MM);
    let height =
        (board.height_mm() + 2.0 * ROUND_BOARD_MM).max(BAR_MM + 2.0 * ROUND_BOARD_MM) + FOOT_MM;
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
        items: draw_board(piece)?,
    }));
    draw_trim_marks(&mut page, on_page, BLEED_MM);
    let bar = Point::new(on_page.min.x - 9.0, on_page.centre().y - 0.5 * BAR_MM);
    draw_scale_bar(
        &mut page,
        bar,
        Axis::Vertical,
        "100 mm: measure me",
        LABEL_MM,
    );
    draw_foot(&mut page, piece, width, correction);
    let title = format!("{}, template", piece.name);
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
fn draw_foot(page: &mut Vec<Item>, piece: &Piece, width: f64, correction: PrinterCorrection) {
    let (left, right) = (ROUND_BOARD_MM, width - ROUND_BOARD_MM);
    let rule = |page: &mut Vec<Item>, y: f64, w: f64| {
        let line = Path::line(Point::new(left, y), Point::new(right, y));
        page.stroke(line, Stroke::continuous(w, Ink::BLACK));
    };
    rule(page, 43.0, width_mm::WIDE);
    rule(page, 29.0, width_mm::FAINT);
    let [fw, fh] = piece.frame.size_mm;
    let board = piece.frame.board();
    let device = piece.device.as_ref();
    let device = device.map_or_else(
        || "not named".to_owned(),
        |d| {
            let more = [d.maker.as_deref(), d.year.as_deref()];
            let mut words = vec![d.name.as_str()];
            words.extend(more.into_iter().flatten());
            words.join(", ")
        },
    );
    let size = |w: f64, h: f64| format!("{} × {} mm", short(w), short(h));
    let fields = [
        ("Piece", piece.name.clone(), 0.30),
        ("Device", device, 0.26),
        ("Frame, glazing size", size(fw, fh), 0.17),
        ("Board", size(board.width_mm(), board.height_mm()), 0.15),
        ("Scale", "1:1".into(), 0.06),
        ("Sheet", "1 of 1".into(), 0.06),
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
        draw_within(
            page,
            (&value, face, VALUE_MM),
            Point::new(x, 32.2),
            room,
            Ink::BLACK,
        );
        x += column;
    }
    let words = correction_words(correction)
        .unwrap_or_else(|| "Print at 100\u{a0}%. Both bars must measure 100\u{a0}mm.".into());
    let room = right - left - BAR_MM - 6.0;
    for (row, line) in lettering::break_lines(&words, Face::Regular, LABEL_MM, room)
        .into_iter()
        .take(3)
        .enumerate()
    {
        let at = Point::new(left, 23.4 - 4.5 * row as f64);
        page.text(line, at, Align::Left, Ink::BLACK);
    }
    let bar = Point::new(right - BAR_MM, 22.0);
    draw_scale_bar(page, bar, Axis::Horizontal, "100 mm: measure me", LABEL_MM);
}

/// A length without needless decimals.
fn short(mm: f64) -> String {
    let text = format!("{mm:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}
