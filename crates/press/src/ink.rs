//! Colours, and the line widths and line types of drawings.

/// A colour with its opacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    /// Its colour.
    pub colour: Colour,
    /// 0 clear to 1 solid.
    pub opacity: f64,
}

/// A colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// A grey, 0 black to 255 white. In PDF it is a grey of its own, so a printer uses black alone.
    Grey(u8),
    /// Red, green, blue (sRGB).
    Rgb(u8, u8, u8),
}

impl Ink {
    /// Solid black.
    pub const BLACK: Self = Self::grey(0);
    /// Paper.
    pub const WHITE: Self = Self::grey(255);

    /// A solid grey, 0 black to 255 white.
    pub const fn grey(value: u8) -> Self {
        Self {
            colour: Colour::Grey(value),
            opacity: 1.0,
        }
    }

    /// A solid colour (sRGB).
    pub const fn rgb(red: u8, green: u8, blue: u8) -> Self {
        Self {
            colour: Colour::Rgb(red, green, blue),
            opacity: 1.0,
        }
    }

    /// This colour at another opacity.
    pub const fn at(self, opacity: f64) -> Self {
        Self { opacity, ..self }
    }

    /// Red, green, blue.
    pub fn to_rgb(self) -> [u8; 3] {
        match self.colour {
            Colour::Grey(v) => [v, v, v],
            Colour::Rgb(r, g, b) => [r, g, b],
        }
    }
}

/// Line widths of drawings, mm (series of ISO 128-2:2020, root of two apart).
pub mod width_mm {
    /// 0.13 mm: hints.
    pub const FAINT: f64 = 0.13;
    /// 0.18 mm: leaders, frames, ticks.
    pub const NARROW: f64 = 0.18;
    /// 0.25 mm: narrow lines beside wide lines of 0.5 mm.
    pub const MEDIUM: f64 = 0.25;
    /// 0.35 mm: outlines.
    pub const WIDE: f64 = 0.35;
    /// 0.5 mm: what must be seen first.
    pub const EXTRA_WIDE: f64 = 0.5;
}

/// How a line is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub ink: Ink,
    /// Its width, mm.
    pub width_mm: f64,
    /// Lengths of dash, gap, dash, gap …, mm; empty for a continuous line. An even count.
    pub dash_mm: Vec<f64>,
    /// Ends and corners are round; otherwise ends are cut square at the end and corners are sharp.
    pub round: bool,
}

impl Stroke {
    /// A continuous line (ISO 128-2, line type 01).
    pub fn continuous(width_mm: f64, ink: Ink) -> Self {
        Self {
            ink,
            width_mm,
            dash_mm: Vec::new(),
            round: false,
        }
    }

    /// A dashed line (ISO 128-2, line type 02: dash 12 d, gap 3 d; lengths from memory).
    pub fn dashed(width_mm: f64, ink: Ink) -> Self {
        Self::with_elements(width_mm, ink, &[12.0, 3.0])
    }

    /// A long-dashed dotted line (ISO 128-2, line type 04: dash 24 d, gap 3 d, dot, gap 3 d; a dot is
    /// at most half a d long; lengths from memory).
    pub fn long_dash_dot(width_mm: f64, ink: Ink) -> Self {
        Self::with_elements(width_mm, ink, &[24.0, 3.0, 0.5, 3.0])
    }

    /// A long-dashed double-dotted line (ISO 128-2, line type 05; lengths from memory).
    pub fn long_dash_double_dot(width_mm: f64, ink: Ink) -> Self {
        Self::with_elements(width_mm, ink, &[24.0, 3.0, 0.5, 3.0, 0.5, 3.0])
    }

    fn with_elements(width_mm: f64, ink: Ink, widths: &[f64]) -> Self {
        Self {
            dash_mm: widths.iter().map(|w| w * width_mm).collect(),
            ..Self::continuous(width_mm, ink)
        }
    }

    /// The same with round ends and corners.
    pub fn rounded(self) -> Self {
        Self {
            round: true,
            ..self
        }
    }
}
