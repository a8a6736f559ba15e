//! Drawings as a way in: SVG, DXF and the profile layers of Gerber files, as outlines in mm.
//!
//! Bytes in, outlines out. Drawing coordinates: mm, x right, y up; the origin is the drawing's own (SVG,
//! whose y runs down, is turned over about the lower edge of its page). Curves become chords that miss
//! them by no more than [`CHORD_ERROR_MM`].
//!
//! What a reader draws is a set of traces, open or closed. Open traces whose ends meet are chained into
//! rings; rings are nested by containment, the outermost an outline, the next ones its holes, what lies in
//! a hole an outline again. Whatever does not end in an outline is named in a warning.

mod chain;
mod curve;
mod dxf;
mod error;
mod gerber;
mod svg;
mod trace;

pub use error::{DrawingError, DrawingWarning};

use shape::Outline;
use std::borrow::Cow;
use std::fmt;

/// Chords miss the curves they stand for by this much at most, mm.
pub const CHORD_ERROR_MM: f64 = 0.005;

/// Ends of open traces that lie this near to each other meet, mm: what a program loses that writes
/// hundredths.
pub(crate) const ENDS_MEET_MM: f64 = 0.02;

/// The kinds of drawings that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DrawingFormat {
    /// Scalable Vector Graphics 1.1 and 2 (W3C).
    Svg,
    /// DXF as text.
    Dxf,
    /// Gerber RS-274X, with or without X2 attributes: the profile layer.
    Gerber,
}

impl fmt::Display for DrawingFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Svg => "SVG",
            Self::Dxf => "DXF",
            Self::Gerber => "Gerber",
        })
    }
}

impl DrawingFormat {
    /// What the file's own bytes say, or, where they say nothing, the end of its name (no dot, any case).
    /// `None`: not a drawing.
    pub fn of(bytes: &[u8], extension: Option<&str>) -> Option<Self> {
        let head = String::from_utf8_lossy(&bytes[..bytes.len().min(64 << 10)]);
        let text = head.trim_start_matches('\u{feff}').trim_start();
        if text.starts_with('<') && text.contains("<svg") {
            return Some(Self::Svg);
        }
        if dxf::looks_like(text) {
            return Some(Self::Dxf);
        }
        if text.starts_with(['%', 'G', 'N', 'D']) && (text.contains("%FS") || text.contains("%MO"))
        {
            return Some(Self::Gerber);
        }
        match extension?.to_ascii_lowercase().as_str() {
            "svg" => Some(Self::Svg),
            "dxf" => Some(Self::Dxf),
            "gbr" | "ger" | "gko" | "gml" | "gm1" => Some(Self::Gerber),
            _ => None,
        }
    }
}

/// Units for drawings that state none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DrawingUnit {
    /// Millimetres.
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Inches of 25.4 mm.
    Inch,
    /// Thousandths of an inch.
    Mil,
    /// Points, 72 to the inch.
    Point,
    /// Pixels of CSS, 96 to the inch.
    Pixel,
}

impl DrawingUnit {
    /// Its length, mm.
    pub fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Inch => 25.4,
            Self::Mil => 0.0254,
            Self::Point => 25.4 / 72.0,
            Self::Pixel => 25.4 / 96.0,
        }
    }
}

/// What a drawing may ask for before it is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DrawingLimits {
    /// Largest file, bytes.
    pub bytes: usize,
    /// Most entities, those of repeated blocks counted each time.
    pub entities: usize,
    /// Most points of all traces together.
    pub points: usize,
    /// Most closed rings.
    pub rings: usize,
    /// Deepest nesting of groups, blocks and references.
    pub depth: usize,
}

impl Default for DrawingLimits {
    fn default() -> Self {
        Self {
            bytes: 32 << 20,
            entities: 200_000,
            points: 300_000,
            rings: 2_000,
            depth: 32,
        }
    }
}

/// One outline of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// The outline, mm, in drawing coordinates.
    pub outline: Outline,
    /// The name that the drawing gives it: a label or id (SVG), a layer (DXF).
    pub name: Option<String>,
    /// What to know of it.
    pub warnings: Vec<DrawingWarning>,
}

/// A drawing, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What kind of drawing it was.
    pub format: DrawingFormat,
    /// Length of the drawing's unit, mm.
    pub unit_mm: f64,
    /// The drawing states its unit itself.
    pub unit_stated: bool,
    /// The outlines, in the order in which the file draws their edges.
    pub outlines: Vec<Drawn>,
    /// What was left out or assumed.
    pub warnings: Vec<DrawingWarning>,
}

impl Drawing {
    /// Reads a drawing. `unit` counts where the drawing states none; without either a unit is assumed
    /// and a warning says which.
    ///
    /// # Errors
    /// [`DrawingError`], with the remedy; also where not one outline is left.
    pub fn read(
        bytes: &[u8],
        format: DrawingFormat,
        unit: Option<DrawingUnit>,
        limits: &DrawingLimits,
    ) -> Result<Self, DrawingError> {
        Self::read_so(bytes, format, unit, limits, chain::Nesting::All)
    }

    /// The same for an assembly, whose parts lie over each other: rings become holes only of rings of the same name.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn read_assembly(
        bytes: &[u8],
        format: DrawingFormat,
        unit: Option<DrawingUnit>,
        limits: &DrawingLimits,
    ) -> Result<Self, DrawingError> {
        Self::read_so(bytes, format, unit, limits, chain::Nesting::ByName)
    }

    fn read_so(
        bytes: &[u8],
        format: DrawingFormat,
        unit: Option<DrawingUnit>,
        limits: &DrawingLimits,
        nesting: chain::Nesting,
    ) -> Result<Self, DrawingError> {
        if bytes.len() > limits.bytes {
            return Err(DrawingError::FileTooLarge {
                bytes: bytes.len(),
                limit: limits.bytes,
            });
        }
        if bytes.iter().all(u8::is_ascii_whitespace) {
            return Err(DrawingError::Empty { format });
        }
        let mut sink = trace::Traces::new(format, *limits);
        let scale = match format {
            DrawingFormat::Svg => svg::read(bytes, unit, &mut sink)?,
            DrawingFormat::Dxf => dxf::read(bytes, unit, &mut sink)?,
            DrawingFormat::Gerber => gerber::read(bytes, unit, &mut sink)?,
        };
        if !scale.stated && unit.is_none() {
            sink.warn(DrawingWarning::UnitAssumed {
                unit_mm: scale.unit_mm,
            });
        }
        let (traces, mut warnings) = sink.into_parts();
        let outlines = chain::outlines_of(traces, limits, nesting, &mut warnings)?;
        if outlines.is_empty() {
            return Err(DrawingError::NoOutline {
                format,
                left_out: warnings,
            });
        }
        Ok(Self {
            format,
            unit_mm: scale.unit_mm,
            unit_stated: scale.stated,
            outlines,
            warnings,
        })
    }
}

/// What a reader found out about lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scale {
    unit_mm: f64,
    stated: bool,
}

/// The file's text: UTF-8, or, as older programs write, one byte a letter (only names differ then).
fn text_of(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text.trim_start_matches('\u{feff}')),
        Err(_) => Cow::Owned(bytes.iter().map(|&b| char::from(b)).collect()),
    }
}
