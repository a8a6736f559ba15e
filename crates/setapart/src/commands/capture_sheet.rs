//! `capture-sheet`: the sheet to print.

use super::{Outcome, press_paper, sheet_paper};
use crate::cli::{self, PaperName};
use crate::failure::Failure;
use crate::{files, say};
use capture::sheet::Sheet;
use capture::tags::tag_pattern;
use press::capture_sheet::{SheetDrawing, TagDrawing, lay_out};
use press::{DocumentInfo, to_pdf};
use std::path::PathBuf;

pub(crate) fn run(args: &cli::CaptureSheet) -> Result<Outcome, Failure> {
    let paper = sheet_paper(args.paper);
    if args.json {
        say::line(Sheet::ours(paper).to_json());
        return Ok(Outcome::Fine);
    }
    let pdf = pdf(args.paper)?;
    let out = args
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("capture-sheet-{}.pdf", paper.name())));
    files::write(&out, pdf)?;
    say::line(format_args!(
        "{}: print it at 100 % (no \"fit to page\"); both bars must measure 100 mm",
        out.display()
    ));
    Ok(Outcome::Fine)
}

/// The sheet on that paper, as a PDF.
pub(crate) fn pdf(paper: PaperName) -> Result<Vec<u8>, Failure> {
    let sheet = Sheet::ours(sheet_paper(paper));
    let name = press_paper(paper).name;
    let drawing = lay_out(&SheetDrawing {
        size_mm: sheet.size_mm,
        paper: name.to_string(),
        tags: sheet
            .tags
            .iter()
            .filter_map(|(id, corners)| {
                Some(TagDrawing {
                    corners: *corners,
                    white: tag_pattern(*id)?,
                })
            })
            .collect(),
        field: sheet.field,
    })?;
    let info = DocumentInfo {
        title: format!("Setapart capture sheet, {name}"),
        description: "Print at 100 %, lay parts on it, photograph it from above.".into(),
        language: "en".into(),
    };
    Ok(to_pdf(&[drawing], &info)?)
}
