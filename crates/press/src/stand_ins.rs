//! Stand-ins at 1:1: the printed face, or the blank outline, of parts that are not shown themselves.

use crate::drawing::{Align, Compose};
use crate::fitting::line_shrunk;
use crate::preview::{CutoutImage, checked_picture};
use crate::printed_page::{BoxPages, Head, QUIET, SMALL_MM};
use crate::words::filled;
use crate::{
    Affine, Drawing, Group, Ink, Item, Paper, Path, PressError, PrinterCorrection, Speech, Stroke,
    width_mm,
};
use lettering::Face;
use piece::{Part, Piece, StandInForm};
use shape::Point;
use std::collections::BTreeMap;

/// Room for the words below a stand-in, mm.
const WORDS_MM: f64 = 17.4;

/// Least width for the words, mm.
const LEAST_WIDTH_MM: f64 = 48.0;

/// Lays out every part that has a stand-in: at 1:1, the face that is shown, with a line to cut along. Parts that are
/// larger than the paper come on larger paper. None where no part has one.
///
/// # Errors
/// - [`PressError::DoesNotFit`]: larger than A0.
/// - [`PressError::Pixels`]: a picture whose data do not fit its size.
pub fn lay_out(
    piece: &Piece,
    cutouts: &[CutoutImage],
    paper: &Paper,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Vec<Drawing>, PressError> {
    let pictures: BTreeMap<_, _> = cutouts.iter().map(|c| (&c.part, c)).collect();
    let numbers = piece.item_numbers();
    let mut pages = BoxPages::on(paper);
    for part in piece.parts.iter().filter(|p| p.stand_in.is_some()) {
        let outline = part.shown_outline();
        let b = outline.bounds();
        let size = [b.width_mm().max(LEAST_WIDTH_MM), b.height_mm() + WORDS_MM];
        let what = format!("the stand-in of part {:?}", part.id.as_str());
        let (items, place) = pages.next(size, &what)?;
        let corner = Point::new(place.min.x, place.max.y - b.height_mm());
        let number = numbers.get(&part.id).copied().unwrap_or(0);
        draw(items, part, number, pictures.get(&part.id).copied(), corner)?;
        let words = words_of(piece, part, speech);
        for (row, (text, face, ink)) in words.iter().enumerate() {
            let line = line_shrunk(text, *face, SMALL_MM, size[0]);
            let y = corner.y - 2.2 - SMALL_MM - 4.4 * row as f64;
            let at = Point::new(place.min.x, y);
            items.text(line, at, Align::Left, *ink);
        }
    }
    let head = Head {
        piece: &piece.name,
        sheet: speech.sheets().stand_ins,
        what_to_do: speech.sheets().stand_ins_what_to_do,
        speech,
    };
    pages.drawn(head, correction)
}

fn words_of(piece: &Piece, part: &Part, speech: Speech) -> Vec<(String, Face, Ink)> {
    let words = speech.sheets();
    let form = match part.stand_in.as_ref().map(|s| s.form) {
        Some(StandInForm::Print) => words.printed_face,
        Some(StandInForm::InertCopy) => words.inert_outline,
        _ => words.card,
    };
    let mut rows = vec![
        (piece.item_label(part), Face::Medium, Ink::BLACK),
        (form.to_owned(), Face::Regular, QUIET),
    ];
    if let Some(mm) = part.thickness_mm {
        let thick = filled(words.thickness, &[&speech.length(mm)]);
        rows.push((thick, Face::Regular, QUIET));
    }
    rows
}

fn draw(
    items: &mut Vec<Item>,
    part: &Part,
    number: usize,
    image: Option<&CutoutImage>,
    corner: Point,
) -> Result<(), PressError> {
    let outline = part.shown_outline();
    let page_from_part = corner - outline.bounds().min;
    let path = Path::outline(&outline).shifted(page_from_part);
    let shows_face = part
        .stand_in
        .as_ref()
        .is_some_and(|s| s.form != StandInForm::InertCopy);
    match image {
        Some(image) if shows_face => {
            let shift = Affine::shifted(Point::default() + page_from_part);
            items.push(Item::Group(Group {
                outer_from_inner: Affine::IDENTITY,
                clip: Some(path.clone()),
                opacity: 1.0,
                id: None,
                items: vec![Item::Picture(checked_picture(image, shift)?)],
            }));
        }
        _ => {
            let line = lettering::set_line(&number.to_string(), Face::Medium, 5.0);
            let c = outline.centroid() + page_from_part;
            let at = Point::new(c.x, c.y - 2.5);
            items.text(line, at, Align::Centre, QUIET);
        }
    }
    items.stroke(path, Stroke::continuous(width_mm::NARROW, Ink::BLACK));
    Ok(())
}
