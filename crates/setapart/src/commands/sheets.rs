//! `sheets`: everything that is printed or shown.

use super::{Outcome, press_paper, read_piece};
use crate::cli::{self, PaperName, Printed};
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use crate::{files, say};
use piece::{PartId, Piece};
use press::preview::{self, CutoutImage};
use press::{DocumentInfo, PrinterCorrection, to_pdf, to_png, to_svg};
use serde_json::json;
use shape::Watch;
use std::path::Path;

/// Largest cut-out file, bytes.
const MOST_CUTOUT_BYTES: u64 = 64 << 20;

pub(crate) fn run(args: &cli::Sheets) -> Result<Outcome, Failure> {
    let piece = read_piece(&args.piece)?;
    let folder = args
        .piece
        .input
        .as_deref()
        .and_then(Path::parent)
        .unwrap_or(Path::new("."));
    let progress = Progress::new();
    let cutouts = read_cutouts(&piece, folder)?;
    let mut outputs = Outputs::default();
    let correction = correction_of(args.printed)?;
    draw(
        &piece,
        &cutouts,
        args.paper,
        correction,
        &progress,
        &args.out,
        &mut outputs,
    )?;
    outputs.write()?;
    drop(progress);
    if args.json {
        say::json(&json!({ "files": outputs.paths().collect::<Vec<_>>() }));
    } else {
        for path in outputs.paths() {
            say::line(path.display());
        }
    }
    Ok(Outcome::of(&arrange::check(&piece)))
}

/// Draws all sheets of a piece.
pub(crate) fn draw(
    piece: &Piece,
    cutouts: &[CutoutImage],
    paper: PaperName,
    correction: PrinterCorrection,
    watch: &dyn Watch,
    folder: &Path,
    outputs: &mut Outputs,
) -> Result<(), Failure> {
    // Nobody can cancel a sheet halfway: the watch only shows where the work is.
    let tell = |what: &str, share: f64| {
        let _ = watch.step(what, share);
    };
    let press_paper = press_paper(paper);
    let info = |what: &str| DocumentInfo {
        title: format!("{}, {what}", piece.name),
        description: format!("{what} at 1:1, made by Setapart"),
        language: "en".into(),
    };
    tell("drawing the outlines", 0.0);
    outputs.add(
        folder.join("outlines.svg"),
        to_svg(&press::outlines::lay_out(piece)?),
    );
    tell("drawing the template", 0.1);
    let tiles = press::template::tiled(piece, &press_paper, correction)?;
    let name = format!("template-{}.pdf", press_paper.name.to_lowercase());
    outputs.add(folder.join(name), to_pdf(&tiles, &info("tiled template"))?);
    let whole = press::template::whole(piece, correction)?;
    outputs.add(
        folder.join("template-whole.pdf"),
        to_pdf(&[whole], &info("template"))?,
    );
    tell("painting the preview", 0.3);
    let px_per_mm = preview::px_per_mm(piece);
    let page = preview::lay_out(piece, cutouts, px_per_mm)?;
    outputs.add(folder.join("preview.png"), to_png(&page, px_per_mm)?);
    tell("sheets drawn", 1.0);
    Ok(())
}

/// The correction that undoes what the printed bars measured.
pub(crate) fn correction_of(printed: Printed) -> Result<PrinterCorrection, Failure> {
    Ok(PrinterCorrection::try_new(
        printed.printed_x.unwrap_or(100.0),
        printed.printed_y.unwrap_or(100.0),
    )?)
}

/// Reads the cut-outs that a piece names, from the folder of its document and below.
fn read_cutouts(piece: &Piece, folder: &Path) -> Result<Vec<CutoutImage>, Failure> {
    let mut cutouts = Vec::new();
    for part in &piece.parts {
        let Some(cutout) = &part.cutout else { continue };
        let bad = |problem: String| Failure::Cutout {
            part: part.id.to_string(),
            image: cutout.image.clone(),
            problem,
        };
        let path = files::path_inside(folder, &cutout.image)
            .ok_or_else(|| bad("its path must lead into the piece's own folder".into()))?;
        let bytes = files::read(&path, MOST_CUTOUT_BYTES, "a cut-out")?;
        let mut reader =
            image::ImageReader::with_format(std::io::Cursor::new(&bytes), image::ImageFormat::Png);
        let mut limits = image::Limits::default();
        limits.max_image_width = Some(8_000);
        limits.max_image_height = Some(8_000);
        limits.max_alloc = Some(512 << 20);
        reader.limits(limits);
        let pixels = reader
            .decode()
            .map_err(|e| bad(e.to_string()))?
            .into_rgba8();
        cutouts.push(cutout_image(
            part.id.clone(),
            pixels,
            cutout.px_per_mm,
            cutout.origin_mm,
        ));
    }
    Ok(cutouts)
}

/// A picture as the preview takes it.
pub(crate) fn cutout_image(
    part: PartId,
    pixels: image::RgbaImage,
    px_per_mm: f64,
    origin_mm: [f64; 2],
) -> CutoutImage {
    CutoutImage {
        part,
        width_px: pixels.width(),
        height_px: pixels.height(),
        rgba: pixels.into_raw().into(),
        px_per_mm,
        origin_mm,
    }
}
