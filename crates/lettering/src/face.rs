//! The faces and their own measures.

use harfrust::ShaperData;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};
use std::sync::LazyLock;

/// A face of the one family that the program carries.
///
/// The family is Source Sans 3 (SIL Open Font License, beside the fonts): its 1, l and I differ, its
/// figures are of one width, and it is narrow enough for captions beside small parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Face {
    /// For running words.
    #[default]
    Regular,
    /// For numbers and short emphasis.
    Medium,
    /// For titles.
    SemiBold,
}

impl Face {
    /// Every face.
    pub const ALL: [Self; 3] = [Self::Regular, Self::Medium, Self::SemiBold];
}

/// A step of a glyph's outline, mm from the pen on the baseline, x right, y up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PathStep {
    /// Starts a contour.
    Move([f64; 2]),
    /// A straight line to the point.
    Line([f64; 2]),
    /// A quadratic curve: control point, end.
    Quad([f64; 2], [f64; 2]),
    /// A cubic curve: two control points, end.
    Cubic([f64; 2], [f64; 2], [f64; 2]),
    /// Closes the contour.
    Close,
}

/// Letters whose tops and feet are the line's: no European capital with its accent stands higher, no
/// letter hangs lower.
const TALLEST: &str = "ÅÂŐŘÄbdfhklß|";
const LOWEST: &str = "gjpqyçþQ,;()|";

/// What of a face is read once.
pub(crate) struct FaceData {
    pub(crate) font: FontRef<'static>,
    pub(crate) shaper: ShaperData,
    pub(crate) units_per_em: f64,
    /// Height of H, font units. The font's own note of it (OS/2) is rounded up by 0.6 %.
    pub(crate) cap_units: f64,
    pub(crate) ascent_units: f64,
    pub(crate) descent_units: f64,
}

static REGULAR: LazyLock<FaceData> = LazyLock::new(|| FaceData::read(Face::Regular));
static MEDIUM: LazyLock<FaceData> = LazyLock::new(|| FaceData::read(Face::Medium));
static SEMI_BOLD: LazyLock<FaceData> = LazyLock::new(|| FaceData::read(Face::SemiBold));

impl FaceData {
    pub(crate) fn of(face: Face) -> &'static Self {
        match face {
            Face::Regular => &REGULAR,
            Face::Medium => &MEDIUM,
            Face::SemiBold => &SEMI_BOLD,
        }
    }

    fn read(face: Face) -> Self {
        // The bytes are part of the program and the tests read all of them: not outside data.
        let font = FontRef::new(font_bytes(face)).expect("the shipped font is whole");
        let metrics = GlyphMetrics::new(&font, Size::unscaled(), LocationRef::default());
        let charmap = font.charmap();
        let extent = |letters: &str, side: fn(skrifa::metrics::BoundingBox) -> f32| {
            letters
                .chars()
                .filter_map(|c| metrics.bounds(charmap.map(c)?))
                .map(|b| f64::from(side(b)))
                .fold(0.0, f64::max)
        };
        Self {
            shaper: ShaperData::new(&font),
            units_per_em: f64::from(
                font.metrics(Size::unscaled(), LocationRef::default())
                    .units_per_em,
            ),
            cap_units: extent("H", |b| b.y_max),
            ascent_units: extent(TALLEST, |b| b.y_max),
            descent_units: extent(LOWEST, |b| -b.y_min),
            font,
        }
    }

    /// mm per font unit where capitals are `cap_height_mm` high.
    pub(crate) fn mm_per_unit(&self, cap_height_mm: f64) -> f64 {
        cap_height_mm / self.cap_units
    }
}

/// What a face is called on pages of the web: the family is renamed there, as its licence asks of what was cut down.
pub const WEB_FAMILY: &str = "Setapart Text";

/// The face as WOFF2 with the letters of Latin alone, for pages; the medium face, which pages do without, is the regular one.
pub const fn web_font_bytes(face: Face) -> &'static [u8] {
    match face {
        Face::Regular | Face::Medium => include_bytes!("../fonts/setapart-text-regular.woff2"),
        Face::SemiBold => include_bytes!("../fonts/setapart-text-semibold.woff2"),
    }
}

/// The face as a TrueType font.
pub fn font_bytes(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => include_bytes!("../fonts/SourceSans3-Regular.ttf"),
        Face::Medium => include_bytes!("../fonts/SourceSans3-Medium.ttf"),
        Face::SemiBold => include_bytes!("../fonts/SourceSans3-SemiBold.ttf"),
    }
}

/// Height of the capital H as a share of the em, which is what font sizes count.
pub fn cap_height_per_em(face: Face) -> f64 {
    let data = FaceData::of(face);
    data.cap_units / data.units_per_em
}

/// A glyph's outline (non-zero winding), mm from its pen where capitals are `cap_height_mm` high;
/// empty for a space and for an id that the face does not have.
pub fn outline_glyph(face: Face, glyph_id: u16, cap_height_mm: f64) -> Vec<PathStep> {
    let data = FaceData::of(face);
    let mut pen = Pen {
        steps: Vec::new(),
        mm_per_unit: data.mm_per_unit(cap_height_mm),
    };
    if let Some(glyph) = data
        .font
        .outline_glyphs()
        .get(GlyphId::from(u32::from(glyph_id)))
    {
        let settings = DrawSettings::unhinted(Size::unscaled(), LocationRef::default());
        if glyph.draw(settings, &mut pen).is_err() {
            pen.steps.clear();
        }
    }
    pen.steps
}

struct Pen {
    steps: Vec<PathStep>,
    mm_per_unit: f64,
}

impl Pen {
    fn at(&self, x: f32, y: f32) -> [f64; 2] {
        [x, y].map(|v| f64::from(v) * self.mm_per_unit)
    }
}

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.steps.push(PathStep::Move(self.at(x, y)));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.steps.push(PathStep::Line(self.at(x, y)));
    }
    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.steps
            .push(PathStep::Quad(self.at(cx, cy), self.at(x, y)));
    }
    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        self.steps.push(PathStep::Cubic(
            self.at(ax, ay),
            self.at(bx, by),
            self.at(x, y),
        ));
    }
    fn close(&mut self) {
        self.steps.push(PathStep::Close);
    }
}
