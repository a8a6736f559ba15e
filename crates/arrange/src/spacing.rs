//! The distances that a composition keeps.

/// Least distance of a caption from any part and any other caption, mm.
pub(crate) const CAPTION_CLEAR_MM: f64 = 1.0;

/// The distances that a composition keeps, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spacing {
    /// Asked of any two parts.
    pub(crate) gap_mm: f64,
    /// Height of capital letters.
    pub(crate) letter_mm: f64,
    /// Whether room is kept for captions below their parts.
    pub(crate) captions: bool,
}

impl Spacing {
    /// From a part down to its own caption: nearer than anything else, so that the eye joins them.
    pub(crate) fn own_caption_drop_mm(&self) -> f64 {
        (0.5 * self.letter_mm).clamp(CAPTION_CLEAR_MM + 0.25, 3.0)
    }

    /// From a caption to what comes below it.
    pub(crate) fn below_caption_mm(&self) -> f64 {
        self.gap_mm.max(self.letter_mm)
    }

    /// Between a caption and a part or caption at its side, so that two texts never read as one.
    pub(crate) fn beside_caption_mm(&self) -> f64 {
        self.letter_mm.max(CAPTION_CLEAR_MM + 0.25)
    }

    /// More room than this between two neighbours tears a composition apart: half the side of a
    /// middling part, and no more than a tenth of the field (both by eye, from looking at layouts).
    pub(crate) fn widest_gap_mm(&self, field_mm: f64, part_mm: f64) -> f64 {
        (0.1 * field_mm).min(0.5 * part_mm).max(3.0 * self.gap_mm)
    }
}
