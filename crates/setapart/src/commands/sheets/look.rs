//! What the user asks of sheets and guide, checked.

use crate::cli::{
    ArtName, GuideFor, LanguageName, PaperName, Printed, SheetLook, SilhouettesName, UnitsName,
};
use crate::commands::press_paper;
use crate::failure::Failure;
use crate::files;
use piece::Piece;
use press::art::{Art, BLEED_MM, Background, MOST_SVG_BYTES, Silhouettes, Style, read_svg};
use press::cut::ToolWidth;
use press::guide::{Edition, Language, Options, Units};
use press::plaque::Plaque;
use press::{Affine, Paper, Picture, PrinterCorrection};
use std::path::Path;

/// Largest PNG behind the parts, bytes, and its longest side.
const MOST_PNG_BYTES: u64 = 128 << 20;
const MOST_PNG_SIDE: u32 = 16_000;

/// What is to be drawn and how.
pub(crate) struct Request {
    pub(crate) paper: Paper,
    pub(crate) correction: PrinterCorrection,
    pub(crate) art: Art,
    pub(crate) edition: Option<String>,
    pub(crate) tool: ToolWidth,
    pub(crate) guide: Options,
}

impl Request {
    /// Checks what was asked, and reads the art.
    pub(crate) fn new(
        piece: &Piece,
        paper: PaperName,
        printed: Printed,
        look: &SheetLook,
    ) -> Result<Self, Failure> {
        let background = match &look.art_file {
            Some(path) => Background::Own {
                picture: read_art(piece, path)?,
                light_words: look.light_words,
            },
            None => Background::Style(match look.art {
                ArtName::Quiet => Style::Quiet,
                ArtName::Terraces => Style::Terraces,
                ArtName::Draught => Style::Draught,
                ArtName::Night => Style::Night,
            }),
        };
        let silhouettes = look.silhouettes.map(|s| match s {
            SilhouettesName::Shadow => Silhouettes::Shadow,
            SilhouettesName::Hairline => Silhouettes::Hairline,
            SilhouettesName::Fill => Silhouettes::Fill,
            SilhouettesName::None => Silhouettes::None,
        });
        let guide = Options {
            language: match look.language {
                LanguageName::En => Language::English,
                LanguageName::De => Language::German,
            },
            units: match look.units {
                UnitsName::Metric => Units::Metric,
                UnitsName::Inch => Units::Inch,
            },
            edition: match look.guide_for {
                GuideFor::Maker => Edition::Maker,
                GuideFor::Kit => Edition::KitWithParts,
                GuideFor::KitToFind => Edition::KitToFind,
            },
        };
        // What nobody measured is taken to be right.
        let right = match guide.units {
            Units::Metric => 100.0,
            Units::Inch => 4.0,
        };
        Ok(Self {
            paper: press_paper(paper),
            correction: PrinterCorrection::measured(
                [printed.printed_x, printed.printed_y].map(|v| v.unwrap_or(right)),
                guide.units,
            )?,
            art: Art {
                background,
                silhouettes,
                plaque: Some(Plaque::of(piece, look.edition.as_deref())?),
            },
            edition: look.edition.clone(),
            tool: ToolWidth::try_new(look.tool)?,
            guide,
        })
    }

    /// What the demo draws.
    pub(crate) fn plain(piece: &Piece) -> Result<Self, Failure> {
        Self::new(
            piece,
            PaperName::A4,
            Printed::default(),
            &SheetLook::default(),
        )
    }
}

/// Reads an SVG or PNG, told apart by its first bytes.
fn read_art(piece: &Piece, path: &Path) -> Result<Picture, Failure> {
    let bytes = files::read(path, MOST_PNG_BYTES, "art")?;
    let bad = |problem: String| Failure::Art {
        path: path.into(),
        problem,
    };
    if !bytes.starts_with(b"\x89PNG") {
        if bytes.len() > MOST_SVG_BYTES {
            return Err(bad("is no PNG, and too large for an SVG (16 MB)".into()));
        }
        if std::str::from_utf8(&bytes).is_err() {
            return Err(bad("is neither a PNG nor an SVG".into()));
        }
        let sheet = piece.frame.board().grown(BLEED_MM);
        return read_svg(&bytes, [sheet.width_mm(), sheet.height_mm()])
            .map_err(|e| bad(e.to_string()));
    }
    let pixels = read_png(&bytes, MOST_PNG_SIDE).map_err(bad)?;
    Ok(Picture {
        width_px: pixels.width(),
        height_px: pixels.height(),
        rgba: pixels.into_raw().into(),
        page_from_unit: Affine::IDENTITY,
    })
}

/// Decodes a PNG under limits.
pub(super) fn read_png(bytes: &[u8], most_side: u32) -> Result<image::RgbaImage, String> {
    let mut reader =
        image::ImageReader::with_format(std::io::Cursor::new(bytes), image::ImageFormat::Png);
    let mut limits = image::Limits::default();
    limits.max_image_width = Some(most_side);
    limits.max_image_height = Some(most_side);
    limits.max_alloc = Some(512 << 20);
    reader.limits(limits);
    let decoded = reader.decode().map_err(|e| e.to_string())?;
    Ok(decoded.into_rgba8())
}
