//! Words set into the room that there is: cut, set smaller or broken into lines.

use crate::Ink;
use crate::drawing::{Align, Compose};
use lettering::{Face, SetLine, break_lines, set_line};
use shape::Point;

/// A line cut to a width, with an ellipsis where something is missing.
pub(crate) fn line_within(text: &str, face: Face, cap_mm: f64, width_mm: f64) -> SetLine {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let whole = set_line(&text, face, cap_mm);
    if whole.width_mm <= width_mm {
        return whole;
    }
    let ends: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
    // Widths grow with the text, so the last end that fits is found by halving.
    let cut = |end: usize| set_line(&format!("{}…", text[..end].trim_end()), face, cap_mm);
    let fitting = ends.partition_point(|&end| cut(end).width_mm <= width_mm);
    cut(ends.get(fitting.saturating_sub(1)).copied().unwrap_or(0))
}

/// A line as tall as fits a width, down to 0.7 of the height that is wished; cut where even that is too wide.
pub(crate) fn line_shrunk(text: &str, face: Face, cap_mm: f64, width_mm: f64) -> SetLine {
    let wide = set_line(text, face, cap_mm).width_mm;
    let share = (width_mm / wide.max(1e-9)).clamp(0.7, 1.0);
    line_within(text, face, share * cap_mm, width_mm)
}

/// Words broken into lines, each with its baseline's distance from the top of a box: smaller where they are many, down to
/// capitals of 1.4 mm, and never cut.
pub(crate) fn lines_in(
    text: &str,
    cap_mm: f64,
    [width_mm, height_mm]: [f64; 2],
) -> Vec<(f64, SetLine)> {
    const LEAST_MM: f64 = 1.4;
    let mut cap_mm = cap_mm;
    loop {
        let lines = break_lines(text, Face::Regular, cap_mm, width_mm);
        let pitch_mm = 1.66 * cap_mm;
        let needed_mm = cap_mm + pitch_mm * (lines.len() as f64 - 1.0);
        if needed_mm <= height_mm || cap_mm <= LEAST_MM {
            let rows = lines.into_iter().enumerate();
            return rows
                .map(|(row, line)| (cap_mm + pitch_mm * row as f64, line))
                .collect();
        }
        cap_mm = (cap_mm - 0.1).max(LEAST_MM);
    }
}

/// Draws words cut to a width.
pub(crate) fn draw_within(
    to: &mut impl Compose,
    (text, face, cap_mm): (&str, Face, f64),
    at: Point,
    width_mm: f64,
    ink: Ink,
) {
    to.text(
        line_within(text, face, cap_mm, width_mm),
        at,
        Align::Left,
        ink,
    );
}

/// A line set as much smaller as a width asks, never cut.
pub(crate) fn line_narrowed(text: &str, face: Face, cap_mm: f64, width_mm: f64) -> SetLine {
    let line = set_line(text, face, cap_mm);
    if line.width_mm <= width_mm {
        return line;
    }
    set_line(text, face, cap_mm * (width_mm / line.width_mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_cut_or_narrowed_to_its_room_and_else_stays() {
        let long = "x".repeat(400);
        let cut = line_within(&long, Face::Regular, 1.9, 50.0);
        assert!(cut.text.ends_with('…') && cut.width_mm <= 50.0);
        let narrow = line_narrowed(&long, Face::Regular, 1.9, 50.0);
        assert!(narrow.text == long && (narrow.width_mm - 50.0).abs() < 1e-6);
        let short = set_line("short", Face::Regular, 1.9);
        assert_eq!(line_within("short", Face::Regular, 1.9, 50.0), short);
        assert_eq!(line_narrowed("short", Face::Regular, 1.9, 50.0), short);
    }
}
