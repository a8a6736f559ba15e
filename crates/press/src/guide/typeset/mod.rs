//! The guide as a typeset document: pages, text layer, list of contents.

mod blocks;
mod cover;
mod flow;
mod schedule;
mod steps;

pub(crate) use schedule::stage_tone;

use super::board_picture::Board;
use super::{Block, Guide, GuideStep};
use crate::drawing::add_missing;
use crate::preview::CutoutImage;
use crate::words::filled;
use crate::{Bookmark, DocumentInfo, Drawing, Paper, Picture, PressError};
use flow::Flow;
use piece::Piece;
use shape::mapped;
use steps::Row;

/// Scale of the parts' pictures, px/mm: on the largest picture of the board that is about 250 dpi.
const PX_PER_MM: f64 = 6.0;

/// A typeset guide: hand its parts to [`crate::to_pdf_with`].
#[derive(Debug, Clone, PartialEq)]
pub struct Typeset {
    /// Its pages.
    pub pages: Vec<Drawing>,
    /// Its list of contents.
    pub bookmarks: Vec<Bookmark>,
    /// What it says about itself.
    pub info: DocumentInfo,
}

/// Sets the guide on A4, or on Letter where the paper is Letter or Tabloid. `cover` is the preview.
///
/// # Errors
/// - [`PressError::MissingGlyphs`]: text that the fonts cannot draw, with its place.
/// - [`PressError::Pixels`]: a cut-out whose data do not fit its size.
pub fn typeset(
    guide: &Guide,
    piece: &Piece,
    cutouts: &[CutoutImage],
    cover: Option<&Picture>,
    paper: &Paper,
) -> Result<Typeset, PressError> {
    let paper = if paper == &Paper::LETTER || paper == &Paper::TABLOID {
        Paper::LETTER
    } else {
        Paper::A4
    };
    // Finer than print shows them, pictures only make the file large.
    let small: Vec<CutoutImage> = mapped(cutouts, |c| c.shrunk(PX_PER_MM));
    let board = Board::new(piece, &small);
    let mut flow = Flow::new(paper.size_mm);
    // Cover and contents first; the contents are filled in when the pages are known.
    flow.start_page();
    flow.start_page();
    for chapter in &guide.chapters {
        let steps: Vec<&GuideStep> = chapter.blocks.iter().map_while(Block::as_step).collect();
        let rows = steps::rows(&steps, flow.width_mm(), guide, &board)?;
        flow.chapter(&chapter.title, rows.first().map_or(0.0, Row::height_mm));
        for row in rows {
            row.put(&mut flow);
        }
        let rest = &chapter.blocks[steps.len()..];
        for (n, block) in rest.iter().enumerate() {
            blocks::set(&mut flow, block, rest.get(n + 1), guide, &board)?;
        }
    }
    let words = guide.language.words();
    let (mut pages, bookmarks) = flow.finish();
    cover::draw(&mut pages[0], guide, cover, paper.size_mm);
    cover::draw_contents(&mut pages[1], words.contents, &bookmarks, paper.size_mm);
    let mut missing = Vec::new();
    pages
        .iter()
        .for_each(|items| add_missing(items, &mut missing));
    if let Some(first) = missing.into_iter().next() {
        return Err(PressError::MissingGlyphs {
            place: format!("the guide's text {:?}", first.text),
            characters: first.letters,
        });
    }
    let count = pages.len();
    let title = format!("{}, {}", guide.plaque.title, guide.kind);
    let mut drawings = Vec::with_capacity(count);
    for (n, mut items) in pages.into_iter().enumerate() {
        if n > 0 {
            let number = filled(words.page_of, &[&(n + 1).to_string(), &count.to_string()]);
            cover::draw_foot(&mut items, &guide.plaque.title, &number, paper.size_mm);
        }
        let mut page = Drawing::new(title.clone(), paper.size_mm[0], paper.size_mm[1])?;
        page.items = items;
        drawings.push(page);
    }
    let info = DocumentInfo {
        title,
        description: guide.plaque.about.clone(),
        language: guide.language.tag().to_owned(),
    };
    Ok(Typeset {
        pages: drawings,
        bookmarks,
        info,
    })
}
