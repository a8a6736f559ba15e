//! What a printer does to lengths, undone.

use crate::{Affine, PressError};
use shape::Point;

/// What the 100 mm bars of an uncorrected print measured.
///
/// Printers stretch the two axes differently, so each has its own bar. A page's content is scaled by
/// 100 / measured about the page's middle; the page's size stays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrinterCorrection {
    printed_x_mm: f64,
    printed_y_mm: f64,
}

/// Beyond this share a print was scaled on purpose, not by the printer's tolerance.
const MOST_SHARE: f64 = 0.01;

impl PrinterCorrection {
    /// No correction.
    pub const NONE: Self = Self {
        printed_x_mm: 100.0,
        printed_y_mm: 100.0,
    };

    /// A correction from what the horizontal and the vertical bar measured, mm.
    ///
    /// # Errors
    /// [`PressError::Correction`] where one is more than 1 % off 100 mm.
    pub fn try_new(printed_x_mm: f64, printed_y_mm: f64) -> Result<Self, PressError> {
        for (axis, printed_mm) in [("horizontal", printed_x_mm), ("vertical", printed_y_mm)] {
            let off = (printed_mm / 100.0 - 1.0).abs();
            // A hair more, for 99 and 101 themselves.
            if off.is_nan() || off > MOST_SHARE + 1e-12 {
                return Err(PressError::Correction { axis, printed_mm });
            }
        }
        Ok(Self {
            printed_x_mm,
            printed_y_mm,
        })
    }

    /// Nothing is corrected.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// What the bars measured, mm: horizontal, vertical.
    pub fn printed_mm(self) -> [f64; 2] {
        [self.printed_x_mm, self.printed_y_mm]
    }

    /// Carries the content of a page so that it comes out of the printer true.
    pub(crate) fn page_from_content(self, page_size_mm: [f64; 2]) -> Affine {
        let [sx, sy] = [100.0 / self.printed_x_mm, 100.0 / self.printed_y_mm];
        let [w, h] = page_size_mm;
        let shift = Point::new(0.5 * w * (1.0 - sx), 0.5 * h * (1.0 - sy));
        Affine::scaled(sx, sy, shift)
    }
}

impl Default for PrinterCorrection {
    fn default() -> Self {
        Self::NONE
    }
}
