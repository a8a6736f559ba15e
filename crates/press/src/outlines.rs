//! All outlines on the board as one drawing, for machines and for other programs.

use crate::drawing::Compose;
use crate::{Drawing, Ink, Item, Path, PressError, Shape, Speech, Stroke, width_mm};
use piece::Piece;
use shape::Point;
use std::collections::BTreeSet;

/// Lays out the board as a page of its own size: the board's edge (`board`), the window (`window`), and
/// one path per placed part, of straight lines and arcs where its outline has them, named by the part's id and titled
/// with its number and name.
///
/// # Errors
/// [`PressError::Length`] for a board of no sensible size.
pub fn lay_out(piece: &Piece, speech: Speech) -> Result<Drawing, PressError> {
    let words = speech.sheets();
    let board = piece.frame.board();
    let title = format!("{}, {}", piece.name, words.outlines);
    let mut page = Drawing::new(title, board.width_mm(), board.height_mm())?;
    let to_page = Point::default() - board.min;
    let edge = |b| Path::rectangle(b).shifted(to_page);
    let named = |path: Path, stroke: Stroke, id: &str, title: String| {
        Item::Shape(Shape {
            path,
            fill: None,
            stroke: Some(stroke),
            id: Some(id.to_owned()),
            title: Some(title),
        })
    };
    let fine = Stroke::continuous(width_mm::MEDIUM, Ink::BLACK);
    page.push(named(
        edge(board),
        fine,
        "board",
        words.edge_of_board.into(),
    ));
    let thin = Stroke::long_dash_double_dot(width_mm::NARROW, Ink::BLACK);
    let window = edge(piece.frame.window());
    page.push(named(window, thin, "window", words.window_of_frame.into()));
    let mut taken = BTreeSet::from(["board".to_owned(), "window".to_owned()]);
    for (part, outline) in piece.outlines_on_board() {
        let id = unique_id(part.id.as_str(), &mut taken);
        page.push(named(
            Path::outline(&outline).shifted(to_page),
            Stroke::continuous(width_mm::WIDE, Ink::BLACK),
            &id,
            piece.item_label(part),
        ));
    }
    Ok(page)
}

/// A part's id may hold spaces and start with a digit, which an XML name may not; the number of a part
/// that comes to the same name makes it another.
pub(crate) fn unique_id(id: &str, taken: &mut BTreeSet<String>) -> String {
    let mut name: String = id
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "-_.".contains(c) {
                c
            } else {
                '_'
            }
        })
        .collect();
    if !name.starts_with(|c: char| c.is_alphabetic() || c == '_') {
        name.insert(0, '_');
    }
    let plain = name.clone();
    let mut n = 1;
    while !taken.insert(name.clone()) {
        n += 1;
        name = format!("{plain}-{n}");
    }
    name
}
