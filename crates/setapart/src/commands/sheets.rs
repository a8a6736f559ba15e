//! `sheets`: everything that is printed, cut or shown.

mod look;

pub(crate) use look::Request;

use super::{Outcome, findings_in_words, findings_of, picture, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use crate::{files, say};
use piece::{PartId, Piece};
use press::cut::{Lost, LostBecause};
use press::guide::{guide_of, to_html, typeset};
use press::plaque::Plaque;
use press::preview::{self, CutoutImage, oblique};
use press::{
    DocumentInfo, Drawing, MissingLetters, art, caption_strips, cut, glue_sheet, light_table,
    outlines, plaque, stand_ins, support_sheet, template, to_dxf, to_pdf, to_pdf_with, to_picture,
    to_svg,
};
use serde_json::json;
use shape::Watch;
use std::fmt;
use std::path::Path;

/// Largest cut-out file, bytes.
const MOST_CUTOUT_BYTES: u64 = 64 << 20;

/// Scale of the preview in the guide, px/mm.
const COVER_PX: f64 = 1100.0;

pub(crate) fn run(args: &cli::Sheets) -> Result<Outcome, Failure> {
    // Told before the work, not after it.
    files::folder_can_be(&args.out)?;
    let piece = read_piece(&args.piece)?;
    let folder = args
        .piece
        .input
        .as_deref()
        .and_then(Path::parent)
        .unwrap_or(Path::new("."));
    let request = Request::new(&piece, args.paper, args.printed, &args.look)?;
    let progress = Progress::new();
    let cutouts = read_cutouts(&piece, folder)?;
    let mut outputs = Outputs::default();
    let Drawn { notes, .. } = draw(
        &piece,
        &cutouts,
        &request,
        &progress,
        &args.out,
        &mut outputs,
    )?;
    outputs.write()?;
    drop(progress);
    let findings = findings_of(&piece);
    if args.json {
        say::json(&json!({
            "files": outputs.paths().collect::<Vec<_>>(),
            "notes": notes.iter().map(Note::to_string).collect::<Vec<_>>(),
            "findings": findings,
        }));
    } else {
        for path in outputs.paths() {
            say::line(path.display());
        }
        for note in &notes {
            say::line(format_args!("note: {note}"));
        }
        say::note(findings_in_words(&findings));
    }
    Ok(Outcome::of(&findings))
}

/// What was left out of the sheets or is worth knowing.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Note {
    /// A line that the cutting tool cannot follow.
    ToolTooWide { what: String, layer: &'static str },
    /// A cut whose outline in the build plan is none.
    NoOutline { what: String, layer: &'static str },
    /// A text on a sheet that no font can write in full.
    Letters(MissingLetters),
    /// Nobody worked the build out.
    NoPlan,
    /// The piece was changed after its build was worked out.
    PlanOutdated,
}

impl Note {
    fn of_lost(lost: Lost) -> Self {
        let Lost { layer, what, why } = lost;
        match why {
            LostBecause::ToolTooWide => Self::ToolTooWide { what, layer },
            LostBecause::NoOutline => Self::NoOutline { what, layer },
        }
    }

    /// In words; `remedy` says how a build is worked out here.
    pub(crate) fn told(&self, remedy: &str) -> String {
        match self {
            Self::ToolTooWide { what, layer } => format!(
                "the tool is too wide for a cut of {what:?} on the layer {layer}; take a narrower one"
            ),
            Self::NoOutline { what, layer } => format!(
                "{what:?} has no outline for the layer {layer}, and is left out there; {remedy} again"
            ),
            Self::Letters(missing) => picture::in_words(missing),
            Self::NoPlan => format!(
                "the piece has no build plan: glue sheet, supports and guide are left out; {remedy} first"
            ),
            Self::PlanOutdated => format!(
                "the piece was changed after its build plan was made: glue sheet, supports and guide may be wrong; {remedy} again"
            ),
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told("run `setapart mount`"))
    }
}

type Named = Vec<(String, Vec<u8>)>;

/// What drawing all sheets gave besides their files.
pub(crate) struct Drawn {
    /// What was left out or is worth knowing.
    pub(crate) notes: Vec<Note>,
    /// The template's pages to be joined, as they are in its file.
    pub(crate) template_pages: Vec<Drawing>,
}

/// Draws all sheets of a piece.
pub(crate) fn draw(
    piece: &Piece,
    cutouts: &[CutoutImage],
    request: &Request,
    watch: &dyn Watch,
    folder: &Path,
    outputs: &mut Outputs,
) -> Result<Drawn, Failure> {
    // Nobody can cancel a sheet halfway: the watch only shows where the work is.
    let tell = |what: &str, share: f64| {
        let _ = watch.step(what, share);
    };
    tell("drawing the sheets", 0.0);
    let mut notes = Vec::new();
    // Pictures on one thread, pages on the other.
    let (pictures, pages) = std::thread::scope(|scope| {
        let pictures = scope.spawn(|| draw_pictures(piece, cutouts, request));
        let pages = draw_pages(piece, cutouts, request, &mut notes);
        (pictures.join(), pages)
    });
    let (mut named, cover) = pictures.map_err(|_| Failure::Cancelled)??;
    let (pages, template_pages) = pages?;
    named.extend(pages);
    tell("writing the guide", 0.8);
    named.extend(draw_guide(piece, cutouts, request, &cover, &mut notes)?);
    named.sort_by(|a, b| a.0.cmp(&b.0));
    for (name, bytes) in named {
        outputs.add(folder.join(name), bytes);
    }
    tell("sheets drawn", 1.0);
    Ok(Drawn {
        notes,
        template_pages,
    })
}

/// Both previews, each on a thread of its own, and the guide's cover.
fn draw_pictures(
    piece: &Piece,
    cutouts: &[CutoutImage],
    request: &Request,
) -> Result<(Named, press::Picture), Failure> {
    let draw_side = || -> Result<Vec<u8>, Failure> {
        let scale = oblique::px_per_mm(piece);
        let side = oblique::lay_out(piece, cutouts, &request.art, scale)?;
        Ok(to_picture(&side, scale)?.to_png(Some(scale))?)
    };
    let draw_front = || -> Result<(Vec<u8>, press::Picture), Failure> {
        let scale = preview::px_per_mm(piece);
        let front = preview::lay_out_on(piece, cutouts, &request.art, scale)?;
        let front = to_picture(&front, scale)?;
        let cover = front.shrunk(COVER_PX as u32);
        Ok((front.to_png(Some(scale))?, cover))
    };
    let (side, front) = std::thread::scope(|scope| {
        let side = scope.spawn(draw_side);
        let front = draw_front();
        (side.join(), front)
    });
    let (front, cover) = front?;
    let side = side.map_err(|_| Failure::Cancelled)??;
    let named = vec![
        ("preview.png".to_owned(), front),
        ("preview-side.png".to_owned(), side),
    ];
    Ok((named, cover))
}

/// All sheets but the guide and the previews; and the template's pages.
fn draw_pages(
    piece: &Piece,
    cutouts: &[CutoutImage],
    request: &Request,
    notes: &mut Vec<Note>,
) -> Result<(Named, Vec<Drawing>), Failure> {
    let (paper, correction) = (&request.paper, request.correction);
    let speech = request.guide.speech();
    let words = &speech.language.words().sheet;
    let short = paper.name.to_lowercase();
    let info = |what: &str| DocumentInfo {
        title: format!("{}, {what}", piece.name),
        description: words.true_to_scale.replace("{}", what),
        language: speech.language.tag().into(),
    };
    let mut named: Named = Vec::new();
    let text = |named: &mut Named, name: &str, text: String| {
        named.push((name.to_owned(), text.into_bytes()));
    };
    text(
        &mut named,
        "outlines.svg",
        to_svg(&outlines::lay_out(piece, speech)?),
    );
    text(
        &mut named,
        "light-table.svg",
        to_svg(&light_table::lay_out(piece, speech)?),
    );

    let whole = template::whole(piece, correction, speech)?;
    let tiles = template::tiled(piece, paper, correction, speech)?;
    let board_art = art::lay_out(piece, &request.art, speech)?;
    let strips = caption_strips::lay_out(piece, paper, correction, speech)?;
    let stand_in_pages = stand_ins::lay_out(piece, cutouts, paper, correction, speech)?;
    let glue_pages = glue_sheet::lay_out(piece, paper, correction, speech)?;
    let patterns = support_sheet::patterns(piece, paper, correction, speech)?;
    let plaque = Plaque::of(piece, request.edition.as_deref())?;
    let sign = plaque::lay_out(piece, &plaque, speech)?;
    text(&mut named, "plaque.svg", to_svg(&sign));
    let one = std::slice::from_ref;
    let mut documents: Vec<(String, &str, &[Drawing])> = vec![
        ("template-whole.pdf".into(), words.template, one(&whole)),
        (
            format!("template-{short}.pdf"),
            words.tiled_template,
            tiles.as_slice(),
        ),
        ("board-art.pdf".into(), words.board_art, one(&board_art)),
        ("plaque.pdf".into(), words.plaque, one(&sign)),
    ];
    for (name, what, pages) in [
        ("captions", words.caption_strips, &strips),
        ("stand-ins", words.stand_ins, &stand_in_pages),
        ("glue", words.glue_sheet, &glue_pages),
        ("supports", words.supports, &patterns),
    ] {
        if !pages.is_empty() {
            documents.push((format!("{name}-{short}.pdf"), what, pages));
        }
    }
    for (name, what, pages) in documents {
        for missing in pages.iter().flat_map(Drawing::missing_letters) {
            let note = Note::Letters(missing);
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
        named.push((name, to_pdf(pages, &info(what))?));
    }

    let (cuts, lost) = cut::lay_out(piece, request.tool, speech)?;
    text(&mut named, "cut.svg", to_svg(&cuts));
    text(&mut named, "cut.dxf", to_dxf(&cuts));
    notes.extend(lost.into_iter().map(Note::of_lost));
    if let Some((nested, lost)) = support_sheet::nested(piece, request.tool, speech)? {
        text(&mut named, "supports.svg", to_svg(&nested));
        text(&mut named, "supports.dxf", to_dxf(&nested));
        notes.extend(lost.into_iter().map(Note::of_lost));
    }
    Ok((named, tiles))
}

fn draw_guide(
    piece: &Piece,
    cutouts: &[CutoutImage],
    request: &Request,
    cover: &press::Picture,
    notes: &mut Vec<Note>,
) -> Result<Named, Failure> {
    let guide = guide_of(piece, request.edition.as_deref(), request.guide)?;
    let Some(guide) = guide else {
        notes.push(Note::NoPlan);
        return Ok(Vec::new());
    };
    if !press::guide::is_current(piece) {
        notes.push(Note::PlanOutdated);
    }
    let html = to_html(&guide, piece, cutouts, Some(cover));
    let set = typeset(&guide, piece, cutouts, Some(cover), &request.paper)?;
    let pdf = to_pdf_with(&set.pages, &set.info, &set.bookmarks)?;
    Ok(vec![
        ("guide.html".to_owned(), html.into_bytes()),
        ("guide.pdf".to_owned(), pdf),
    ])
}

/// Reads the pictures of the faces that a piece shows, from the folder of its document and below.
pub(crate) fn read_cutouts(piece: &Piece, folder: &Path) -> Result<Vec<CutoutImage>, Failure> {
    let mut cutouts = Vec::new();
    for part in &piece.parts {
        let Some(cutout) = part.shown_cutout() else {
            continue;
        };
        let pixels = read_png(folder, part, &cutout.image)?;
        cutouts.push(cutout_image(
            part.id.clone(),
            pixels,
            cutout.px_per_mm,
            cutout.origin_mm,
        ));
    }
    Ok(cutouts)
}

/// Longest side of a part's picture, pixels.
const MOST_CUTOUT_SIDE: u32 = 8_000;

/// Reads one picture of a part, from the folder of the piece's document or below.
pub(super) fn read_png(
    folder: &Path,
    part: &piece::Part,
    image: &str,
) -> Result<image::RgbaImage, Failure> {
    let bad = |problem: String| Failure::Cutout {
        part: part.id.to_string(),
        image: image.into(),
        problem,
    };
    let path = files::path_inside(folder, image)
        .ok_or_else(|| bad("its path must lead into the piece's own folder".into()))?;
    let bytes = files::read(&path, MOST_CUTOUT_BYTES, "a cut-out")?;
    look::read_png(&bytes, MOST_CUTOUT_SIDE).map_err(bad)
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
