//! The board's art: what stays visible behind the parts, for a print shop or to be looked at in the preview.
//!
//! The sheet is the board with a bleed of 3 mm and trim marks. All ink is clipped: under each part, less a rim, the
//! sheet stays bare, so that adhesive holds on board or paper and not on ink.

mod shade;
mod styles;
mod users_own;

pub use users_own::{MOST_SVG_BYTES, read_svg};

use crate::caption::{CaptionInks, draw_captions};
use crate::glue_zones::bare_zones;
use crate::marks::{GAP_MM, MARK_MM, draw_trim_marks};
use crate::plaque::{Plaque, room_on_board};
use crate::scale_bar::{Axis, bar_mm, draw_scale_bar};
use crate::{Affine, Drawing, Group, Ink, Item, Path, Picture, PressError, Speech, Trim};
use piece::{PartId, Piece};
use shape::{Bounds, Outline, Point};
use std::collections::BTreeMap;

/// How far ink reaches beyond the cut, mm (common practice of print shops, no source).
pub const BLEED_MM: f64 = 3.0;

/// White round the bleed, mm: trim marks and bars stand in it.
const ROUND_MM: f64 = GAP_MM + MARK_MM + 6.0;

/// How the art looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Style {
    /// Bare board, soft shadows, dark words.
    #[default]
    Quiet,
    /// Terraces of warm tone that step down from the parts.
    Terraces,
    /// A drawing: a field of crosses, centre lines, axes and outlines in blue.
    Draught,
    /// Dark ink with light words and hairlines.
    Night,
}

/// How the parts show on the art.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Silhouettes {
    /// As a soft shadow beside and below the part.
    Shadow,
    /// As a thin line round the part.
    Hairline,
    /// As an even tone that shows a little round the part.
    Fill,
    /// Not at all.
    None,
}

/// What lies behind.
#[derive(Debug, Clone, PartialEq)]
pub enum Background {
    /// One of ours.
    Style(Style),
    /// The user's own picture, stretched evenly to cover the board with its bleed; the words are drawn in this ink.
    Own {
        /// Its pixels; where they lie is worked out.
        picture: Picture,
        /// The words are light, for a dark picture.
        light_words: bool,
    },
}

/// What the art is to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Art {
    /// What lies behind.
    pub background: Background,
    /// How the parts show; `None` for what suits the style.
    pub silhouettes: Option<Silhouettes>,
    /// The plaque's words; `None` leaves them out.
    pub plaque: Option<Plaque>,
}

/// Inks of a style's words and lines.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Palette {
    pub(crate) words: Ink,
    pub(crate) quiet: Ink,
    pub(crate) leader: Ink,
    pub(crate) silhouette: Ink,
    /// The board between the parts, for whoever needs one colour of it.
    pub(crate) ground: Ink,
}

impl Art {
    /// Our own style with its own silhouettes.
    pub fn of(style: Style, plaque: Option<Plaque>) -> Self {
        Self {
            background: Background::Style(style),
            silhouettes: None,
            plaque,
        }
    }

    pub(crate) fn palette(&self) -> Palette {
        match &self.background {
            Background::Style(style) => styles::palette(*style),
            Background::Own {
                light_words: true, ..
            } => styles::palette(Style::Night),
            Background::Own { .. } => styles::palette(Style::Quiet),
        }
    }

    fn silhouettes(&self) -> Silhouettes {
        self.silhouettes.unwrap_or(match self.background {
            Background::Style(Style::Quiet) | Background::Own { .. } => Silhouettes::Shadow,
            Background::Style(Style::Terraces) => Silhouettes::Fill,
            Background::Style(Style::Draught | Style::Night) => Silhouettes::Hairline,
        })
    }

    /// Everything that is ink on the board, in board coordinates, bleed included, not yet clipped.
    ///
    /// # Errors
    /// Those of captions and pictures.
    pub(crate) fn draw(&self, piece: &Piece, paint_words: bool) -> Result<Vec<Item>, PressError> {
        let outlines = piece.outlines_on_board();
        let inked = piece.frame.board().grown(BLEED_MM);
        let mut items = Vec::new();
        let palette = self.palette();
        match &self.background {
            Background::Style(style) => styles::draw(&mut items, *style, piece, &outlines, inked),
            Background::Own { picture, .. } => items.push(users_own::cover(picture, inked)?),
        }
        styles::draw_silhouettes(&mut items, self.silhouettes(), palette, &outlines, inked);
        if paint_words {
            let by_id: BTreeMap<&PartId, &Outline> =
                outlines.iter().map(|(p, o)| (&p.id, o)).collect();
            let inks = CaptionInks {
                number: palette.words,
                words: palette.words,
                leader: palette.leader,
            };
            draw_captions(&mut items, piece, &by_id, inks)?;
            if let Some(plaque) = &self.plaque {
                plaque.draw(
                    &mut items,
                    room_on_board(piece),
                    palette.words,
                    palette.quiet,
                );
            }
        }
        Ok(items)
    }
}

/// The inked stretch of the board less the bare zones, in board coordinates, by the even-odd rule.
pub(crate) fn ink_clip(piece: &Piece, inked: Bounds) -> Path {
    let mut clip = Path::rectangle(inked);
    for zone in bare_zones(piece) {
        clip.append(Path::outline(&zone));
    }
    clip
}

/// Lays out the board's art at 1:1: trim marks, a bar along each axis, and the sheet's name outside the cut.
///
/// # Errors
/// - [`PressError::Length`]: a board of no sensible size, or a caption's letters out of range.
/// - [`PressError::MissingGlyphs`]: a caption that cannot be set.
/// - [`PressError::Art`]: a picture that is none.
pub fn lay_out(piece: &Piece, art: &Art, speech: Speech) -> Result<Drawing, PressError> {
    let bar_mm = bar_mm(speech.units);
    let board = piece.frame.board();
    let round_mm = BLEED_MM + ROUND_MM;
    let (width_mm, height_mm) = (
        (board.width_mm() + 2.0 * round_mm).max(bar_mm + 2.0 * round_mm),
        (board.height_mm() + 2.0 * round_mm).max(bar_mm + 2.0 * round_mm),
    );
    let mut page = Drawing::new(
        format!("{}, {}", piece.name, speech.sheets().board_art),
        width_mm,
        height_mm,
    )?;
    let corner = Point::new(
        0.5 * (width_mm - board.width_mm()),
        0.5 * (height_mm - board.height_mm()),
    );
    let page_from_board = corner - board.min;
    let sheet = board.shifted(page_from_board);
    page.trim = Some(Trim {
        sheet,
        bleed_mm: BLEED_MM,
    });
    page.items.push(Item::Group(Group {
        outer_from_inner: Affine::shifted(Point::default() + page_from_board),
        clip: Some(ink_clip(piece, board.grown(BLEED_MM))),
        opacity: 1.0,
        id: None,
        items: art.draw(piece, true)?,
    }));
    draw_trim_marks(&mut page, sheet, BLEED_MM);
    let off_mm = BLEED_MM + GAP_MM + 3.4;
    let start = Point::new(sheet.centre().x - 0.5 * bar_mm, sheet.min.y - off_mm);
    draw_scale_bar(&mut page, start, Axis::Horizontal, speech, 2.5);
    let start = Point::new(sheet.min.x - off_mm, sheet.centre().y - 0.5 * bar_mm);
    draw_scale_bar(&mut page, start, Axis::Vertical, speech, 2.5);
    Ok(page)
}
