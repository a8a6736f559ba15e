//! The fonts in the binary; text measured, shaped and broken into lines.
//!
//! Sizes are heights of capital letters in mm, as technical drawings give them (ISO 3098), never
//! points. A line's origin is its pen's start on the baseline, x right, y up. The fonts are part of
//! the program and no font of the system is ever asked, so the same text is set alike everywhere.
//!
//! ```
//! use lettering::{Face, set_line};
//! let line = set_line("Main board", Face::Regular, 3.5);
//! assert!(line.width_mm > 20.0 && line.missing.is_empty());
//! ```

mod face;
mod line;
mod paragraph;

pub use face::{
    Face, PathStep, WEB_FAMILY, cap_height_per_em, font_bytes, outline_glyph, web_font_bytes,
};
pub use line::{Glyph, SetLine, set_line};
pub use paragraph::{LINE_SPACING, break_lines, line_pitch_mm};

/// Heights of capital letters that drawings use, mm (ISO 3098-1:2015, nominal sizes).
pub const LETTER_HEIGHTS_MM: [f64; 7] = [2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0];
