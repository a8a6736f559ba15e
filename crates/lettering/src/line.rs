//! One line of text, shaped.

use crate::Face;
use crate::face::FaceData;
use harfrust::{Direction, ShapeOptions, UnicodeBuffer};
use skrifa::MetadataProvider;
use std::ops::Range;

/// One shaped glyph of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// Its id in the face.
    pub id: u16,
    /// Where its own origin lies, mm right of the line's start.
    pub x_mm: f64,
    /// Where its own origin lies, mm above the baseline.
    pub y_mm: f64,
    /// How far the pen goes on after it, mm.
    pub advance_mm: f64,
    /// The bytes of the line's text that it stands for. Glyphs of one cluster share their range.
    pub text: Range<usize>,
}

/// A line of text that is ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct SetLine {
    /// What it says.
    pub text: String,
    /// Its face.
    pub face: Face,
    /// Height of its capital letters, mm.
    pub cap_height_mm: f64,
    /// Size of its em, mm: what renderers call the font size.
    pub font_size_mm: f64,
    /// From the first pen position to the last, mm.
    pub width_mm: f64,
    /// From the baseline to the top of the highest letters with accents, mm; the same for every line
    /// of the face and height.
    pub ascent_mm: f64,
    /// From the baseline down to the foot of the lowest letters, mm; the same for every line of the
    /// face and height.
    pub descent_mm: f64,
    /// The glyphs from left to right.
    pub glyphs: Vec<Glyph>,
    /// Characters that the face cannot draw, each once, in order of their first appearance. They
    /// stand in the line as the face's empty box.
    pub missing: Vec<char>,
}

/// Shapes one line, kerning and ligatures included; capitals come out `cap_height_mm` high.
///
/// Line breaks and other control characters are set as spaces: breaking is the business of
/// [`crate::break_lines`]. Text runs from left to right. A height that is not a number gives widths
/// that are not numbers.
pub fn set_line(text: &str, face: Face, cap_height_mm: f64) -> SetLine {
    let data = FaceData::of(face);
    let mm_per_unit = data.mm_per_unit(cap_height_mm);
    let charmap = data.font.charmap();

    let mut buffer = UnicodeBuffer::new();
    let mut missing: Vec<char> = Vec::new();
    for (at, c) in text.char_indices() {
        let c = if c.is_control() { ' ' } else { c };
        // Positions beyond 4 GB cannot be: documents are far smaller.
        buffer.add(c, at as u32);
        if charmap.map(c).is_none() && !is_invisible(c) && !missing.contains(&c) {
            missing.push(c);
        }
    }
    buffer.guess_segment_properties();
    buffer.set_direction(Direction::LeftToRight);
    let shaped = data
        .shaper
        .shaper(&data.font)
        .build()
        .shape(buffer, ShapeOptions::new());

    let infos = shaped.glyph_infos();
    let mut glyphs = Vec::with_capacity(infos.len());
    let mut pen_units = 0.0;
    for (i, (info, position)) in infos.iter().zip(shaped.glyph_positions()).enumerate() {
        let start = info.cluster as usize;
        let end = infos[i..]
            .iter()
            .map(|next| next.cluster as usize)
            .find(|&next| next > start)
            .unwrap_or(text.len());
        glyphs.push(Glyph {
            id: u16::try_from(info.glyph_id).unwrap_or(0),
            x_mm: (pen_units + f64::from(position.x_offset)) * mm_per_unit,
            y_mm: f64::from(position.y_offset) * mm_per_unit,
            advance_mm: f64::from(position.x_advance) * mm_per_unit,
            text: start..end,
        });
        pen_units += f64::from(position.x_advance);
    }
    SetLine {
        text: text.to_owned(),
        face,
        cap_height_mm,
        font_size_mm: data.units_per_em * mm_per_unit,
        width_mm: pen_units * mm_per_unit,
        ascent_mm: data.ascent_units * mm_per_unit,
        descent_mm: data.descent_units * mm_per_unit,
        glyphs,
        missing,
    }
}

/// Characters that say how to set others and are never drawn: soft hyphen, joiners, marks of
/// direction, variation selectors, byte order mark (Unicode: Default_Ignorable_Code_Point).
fn is_invisible(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{2064}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}
