//! How high the captions' letters are, and how large a text becomes.

use lettering::{Face, LETTER_HEIGHTS_MM, line_pitch_mm, set_line};

/// Least angle that a letter's height must fill in the eye, minutes of arc. Source: NUREG-0700
/// rev. 3 (16 minutes at the greatest viewing distance).
const LEAST_ARC_MINUTES: f64 = 16.0;

/// Height of capitals that can be read from a distance, mm: 16 minutes of arc, rounded up to the ISO
/// 3098 series (2.5 mm at least, 20 mm at most).
///
/// ```
/// assert_eq!(arrange::letter_height_mm(0.7), 3.5);
/// assert_eq!(arrange::letter_height_mm(1.0), 5.0);
/// ```
pub fn letter_height_mm(viewing_distance_m: f64) -> f64 {
    let half_angle = (LEAST_ARC_MINUTES / 60.0 / 2.0).to_radians();
    let needed_mm = 2.0 * 1000.0 * viewing_distance_m * half_angle.tan();
    LETTER_HEIGHTS_MM
        .into_iter()
        .find(|h| *h >= needed_mm)
        .unwrap_or(20.0)
}

/// Measures text as it will be set. The binary uses the real font; tests may use
/// [`FixedWidth`].
pub trait MeasureText {
    /// Width of one line, mm, at a height of capitals of `letter_mm`.
    fn line_width_mm(&self, line: &str, letter_mm: f64) -> f64;

    /// Height from the top of the first line's capitals to the bottom of the last line's descenders,
    /// mm.
    fn block_height_mm(&self, lines: usize, letter_mm: f64) -> f64;
}

/// The program's own font. Item number and name are measured in the medium face, the wider of the two
/// that captions are set in, so that the box is never too small.
#[derive(Debug, Clone, Copy, Default)]
pub struct RealFont;

impl MeasureText for RealFont {
    fn line_width_mm(&self, line: &str, letter_mm: f64) -> f64 {
        set_line(line, Face::Medium, letter_mm).width_mm
    }

    fn block_height_mm(&self, lines: usize, letter_mm: f64) -> f64 {
        let descent_mm = set_line("", Face::Medium, letter_mm).descent_mm;
        letter_mm + descent_mm + line_pitch_mm(letter_mm) * lines.saturating_sub(1) as f64
    }
}

/// Text whose characters are all three quarters of a capital's height wide: about what a plain sans
/// takes on average (measured by eye, no source).
#[derive(Debug, Clone, Copy, Default)]
pub struct FixedWidth;

impl MeasureText for FixedWidth {
    fn line_width_mm(&self, line: &str, letter_mm: f64) -> f64 {
        0.75 * letter_mm * line.chars().count() as f64
    }

    fn block_height_mm(&self, lines: usize, letter_mm: f64) -> f64 {
        letter_mm * (1.3 + 1.7 * lines.saturating_sub(1) as f64)
    }
}
