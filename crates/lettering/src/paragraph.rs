//! Text broken into lines.

use crate::{Face, SetLine, set_line};
use unicode_linebreak::{BreakOpportunity, linebreaks};

/// From one baseline to the next as a multiple of the capitals' height: 1.8 leaves descenders and
/// accents apart and is 118 % of this family's em (common practice for short texts, no source).
pub const LINE_SPACING: f64 = 1.8;

/// From one baseline to the next, mm.
pub fn line_pitch_mm(cap_height_mm: f64) -> f64 {
    LINE_SPACING * cap_height_mm
}

/// Breaks text into lines no wider than `max_width_mm`, and sets them.
///
/// Lines break at every line break of the text, and otherwise where the Unicode line breaking
/// algorithm (UAX 14) allows, each line as long as it can be. A word that is wider than a whole line
/// is broken between letters; a single letter that is wider stays whole, so a line is too wide only
/// where one letter is. Spaces at a line's end are dropped; an empty line of the text stays.
pub fn break_lines(text: &str, face: Face, cap_height_mm: f64, max_width_mm: f64) -> Vec<SetLine> {
    let mut lines = Vec::new();
    for paragraph in paragraphs(text) {
        break_paragraph(paragraph, face, cap_height_mm, max_width_mm, &mut lines);
    }
    lines
}

/// The stretches between mandatory breaks, without the characters that make the break.
fn paragraphs(text: &str) -> Vec<&str> {
    let mut found = Vec::new();
    let mut start = 0;
    for (end, opportunity) in linebreaks(text) {
        if opportunity == BreakOpportunity::Mandatory {
            found.push(text[start..end].trim_end());
            start = end;
        }
    }
    found
}

fn break_paragraph(
    paragraph: &str,
    face: Face,
    cap_height_mm: f64,
    max_width_mm: f64,
    lines: &mut Vec<SetLine>,
) {
    let mut start = 0;
    // Pen positions of the whole paragraph find each break in one pass; the line is then set anew.
    let whole = set_line(paragraph, face, cap_height_mm);
    if paragraph.is_empty() || whole.width_mm <= max_width_mm {
        lines.push(whole);
        return;
    }
    let pen_at = pens(&whole);
    let allowed: Vec<usize> = linebreaks(paragraph).map(|(end, _)| end).collect();
    while start < paragraph.len() {
        let fits = |end: usize| {
            let end = start + paragraph[start..end].trim_end().len();
            pen_at[end] - pen_at[start] <= max_width_mm
        };
        let next = allowed.partition_point(|&end| end <= start);
        let count = allowed[next..].iter().take_while(|&&end| fits(end)).count();
        let mut end = match count {
            0 => last_letter_that_fits(paragraph, start, fits),
            _ => allowed[next + count - 1],
        };
        let mut line = set_line(paragraph[start..end].trim_end(), face, cap_height_mm);
        // Set alone, a line can differ from its stretch of the paragraph by a kern at its ends.
        while line.width_mm > max_width_mm {
            let Some((shorter, _)) = paragraph[start..end].char_indices().next_back() else {
                break;
            };
            let shorter = allowed
                .iter()
                .copied()
                .rfind(|&at| at > start && at < end)
                .unwrap_or(start + shorter);
            if shorter <= start {
                break;
            }
            end = shorter;
            line = set_line(paragraph[start..end].trim_end(), face, cap_height_mm);
        }
        lines.push(line);
        start = end;
        // Spaces that wrap belong to no line.
        start += paragraph[start..].len() - paragraph[start..].trim_start().len();
    }
}

/// Pen position before each byte of the text, and after the last, mm.
fn pens(line: &SetLine) -> Vec<f64> {
    let mut pen_at = vec![0.0; line.text.len() + 1];
    let mut pen = 0.0;
    for glyph in &line.glyphs {
        pen += glyph.advance_mm;
        // Inside a ligature the pen counts as behind it: a break there is never too wide.
        for at in &mut pen_at[glyph.text.start + 1..=glyph.text.end] {
            *at = pen;
        }
    }
    pen_at
}

/// Where to break a word that is wider than a line: after one letter or more.
fn last_letter_that_fits(text: &str, start: usize, fits: impl Fn(usize) -> bool) -> usize {
    let ends = text[start..]
        .char_indices()
        .map(|(at, c)| start + at + c.len_utf8());
    let mut best = None;
    for end in ends {
        if best.is_some() && !fits(end) {
            break;
        }
        best = Some(end);
    }
    best.unwrap_or(text.len())
}
