//! Captions and leaders as they stand on the board.

use crate::drawing::Compose;
use crate::{Ink, Item, Path, PressError, Stroke, Text, width_mm};
use lettering::{Face, SetLine, break_lines, line_pitch_mm, set_line};
use piece::{Caption, Piece};
use shape::{Outline, Point};
use std::collections::BTreeMap;

/// Height of capitals where a caption does not give it, mm.
const DEFAULT_LETTER_MM: f64 = 3.5;

/// Heights that a caption may ask for, mm.
const LETTER_LIMITS_MM: (f64, f64) = (1.0, 100.0);

/// Between the item number and the words, as a share of the letters' height: two spaces.
const NUMBER_GAP: f64 = 0.61;

/// How far a line may run over its caption's box before it is broken anew, mm.
const OVERRUN_MM: f64 = 0.5;

/// Radius of the dot that ends a leader inside an outline, mm.
const DOT_MM: f64 = 0.45;

/// Inks of a caption.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CaptionInks {
    pub(crate) number: Ink,
    pub(crate) words: Ink,
    pub(crate) leader: Ink,
}

impl CaptionInks {
    pub(crate) const BLACK: Self = Self {
        number: Ink::BLACK,
        words: Ink::BLACK,
        leader: Ink::BLACK,
    };
}

/// Draws every caption with its item number and its leader, in board coordinates.
///
/// A caption's box holds its lines flush left, the first line's capitals at its top; the item number
/// stands before the first line, two spaces away.
///
/// # Errors
/// [`PressError::MissingGlyphs`], [`PressError::CaptionTooLong`] and [`PressError::Length`] with the place of the bad caption.
pub(crate) fn draw_captions(
    to: &mut Vec<Item>,
    piece: &Piece,
    outlines: &BTreeMap<&piece::PartId, &Outline>,
    inks: CaptionInks,
) -> Result<(), PressError> {
    let numbers = piece.item_numbers();
    for (index, caption) in piece.captions.iter().enumerate() {
        let number = numbers.get(&caption.part).copied().unwrap_or(0);
        for text in set_caption(index, caption, number, inks)? {
            to.push(Item::Text(text));
        }
        draw_leader(to, caption, outlines.get(&caption.part).copied(), inks);
    }
    Ok(())
}

/// Draws the assembly axes as thin long-dashed dotted lines, in board coordinates.
pub(crate) fn draw_axes(to: &mut Vec<Item>, piece: &Piece, ink: Ink) {
    for [from, end] in piece.axes.iter().flat_map(|axis| &axis.lines) {
        let line = Stroke::long_dash_dot(width_mm::NARROW, ink);
        to.stroke(Path::line(*from, *end), line);
    }
}

/// What a caption's first line begins with.
#[derive(Debug, Clone)]
pub struct CaptionStart {
    /// Height of the caption's capitals, mm.
    pub letter_mm: f64,
    /// How far the words of its first line stand behind its left edge, mm: the item number and two spaces.
    pub indent_mm: f64,
    mark: SetLine,
}

impl CaptionStart {
    /// The start of a caption whose part has this item number.
    pub fn of(caption: &Caption, number: usize) -> Self {
        let letter_mm = caption.letter_mm.unwrap_or(DEFAULT_LETTER_MM);
        let mark = set_line(&number.to_string(), Face::Medium, letter_mm);
        Self {
            letter_mm,
            indent_mm: mark.width_mm + NUMBER_GAP * letter_mm,
            mark,
        }
    }
}

pub(crate) fn set_caption(
    index: usize,
    caption: &Caption,
    number: usize,
    inks: CaptionInks,
) -> Result<Vec<Text>, PressError> {
    let CaptionStart {
        letter_mm,
        indent_mm,
        mark,
    } = CaptionStart::of(caption, number);
    let (least_mm, most_mm) = LETTER_LIMITS_MM;
    if !(least_mm..=most_mm).contains(&letter_mm) {
        return Err(PressError::Length {
            what: "a caption's letter height",
            found_mm: letter_mm,
            least_mm,
            most_mm,
        });
    }
    let lines = lines_of(caption, indent_mm, letter_mm);
    let missing: String = lines.iter().flat_map(|l| l.missing.iter()).collect();
    if !missing.is_empty() {
        return Err(PressError::MissingGlyphs {
            place: format!("captions[{index}].text"),
            characters: missing,
        });
    }
    let wide_mm = |(row, line): (usize, &SetLine)| {
        let indent_mm = if row == 0 { indent_mm } else { 0.0 };
        indent_mm + line.width_mm
    };
    let across = lines.iter().enumerate().map(wide_mm).fold(0.0, f64::max);
    let down = line_pitch_mm(letter_mm) * (lines.len().max(1) - 1) as f64 + letter_mm;
    // A word or a line more than was arranged is no harm; more lies on other things.
    for (along, needed_mm, has_mm, spare_mm) in [
        ("across", across, caption.w, 6.0 * letter_mm),
        ("down", down, caption.h, 1.5 * line_pitch_mm(letter_mm)),
    ] {
        if needed_mm > has_mm + spare_mm {
            return Err(PressError::CaptionTooLong {
                place: format!("captions[{index}].text"),
                needed_mm,
                has_mm,
                along,
            });
        }
    }
    let first = Point::new(caption.x, caption.y + caption.h - letter_mm);
    let mut texts = vec![Text {
        line: mark,
        at: first,
        turn_deg: 0.0,
        ink: inks.number,
    }];
    for (row, line) in lines.into_iter().enumerate() {
        let dx = if row == 0 { indent_mm } else { 0.0 };
        let dy = line_pitch_mm(letter_mm) * row as f64;
        texts.push(Text {
            line,
            at: Point::new(first.x + dx, first.y - dy),
            turn_deg: 0.0,
            ink: inks.words,
        });
    }
    Ok(texts)
}

/// The caption's lines as its text breaks them; broken anew where they would run out of the box.
fn lines_of(caption: &Caption, indent_mm: f64, letter_mm: f64) -> Vec<SetLine> {
    let given: Vec<SetLine> = caption
        .text
        .lines()
        .map(|l| set_line(l, Face::Regular, letter_mm))
        .collect();
    let overruns = given.iter().enumerate().any(|(row, line)| {
        let indent_mm = if row == 0 { indent_mm } else { 0.0 };
        indent_mm + line.width_mm > caption.w + OVERRUN_MM
    });
    let room_mm = caption.w - indent_mm;
    if !overruns || room_mm < 2.0 * letter_mm {
        return given;
    }
    // The first line is the shorter one; what is left of the text has the whole width.
    let narrow = break_lines(&caption.text, Face::Regular, letter_mm, room_mm);
    let Some(first) = narrow.first() else {
        return given;
    };
    let rest = caption.text.get(first.text.len()..).unwrap_or_default();
    let mut lines = vec![first.clone()];
    if !rest.trim().is_empty() {
        let rest = rest.trim_start();
        lines.extend(break_lines(rest, Face::Regular, letter_mm, caption.w));
    }
    lines
}

/// A leader is a narrow line; it ends in a dot inside an outline and in an arrowhead on its edge
/// (ISO 128-2 practice).
fn draw_leader(
    to: &mut Vec<Item>,
    caption: &Caption,
    outline: Option<&Outline>,
    inks: CaptionInks,
) {
    let [.., before, end] = caption.leader.as_slice() else {
        return;
    };
    let stroke = Stroke::continuous(width_mm::NARROW, inks.leader);
    to.stroke(Path::polyline(&caption.leader), stroke);
    let inside = outline.is_some_and(|o| o.contains(*end));
    let back = *before - *end;
    let length_mm = back.length_mm();
    if inside || length_mm < 1e-9 {
        to.fill(Path::circle(*end, DOT_MM), inks.leader);
    } else {
        // 2 mm long, 15 degrees wide.
        let along = back * (2.0 / length_mm);
        let across = along.turned_left() * 7.5_f64.to_radians().tan();
        let head = [*end, *end + along + across, *end + along - across];
        to.fill(Path::polygon(&head), inks.leader);
    }
}
