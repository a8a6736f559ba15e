//! What a printer does to lengths, undone.

use crate::words::filled;
use crate::{Affine, PressError, Speech, Units, bar_mm};
use shape::Point;

/// What the bars of an uncorrected print measured.
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
                return Err(PressError::Correction {
                    axis,
                    printed: format!("{printed_mm} mm"),
                    wanted: "100 mm",
                });
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

    /// A correction from what the bars of sheets in these units measured, in these units: of 100 mm, or of 4 in.
    ///
    /// # Errors
    /// [`PressError::Correction`] where one is more than 1 % off.
    pub fn measured([x, y]: [f64; 2], units: Units) -> Result<Self, PressError> {
        let wanted = match units {
            Units::Metric => return Self::try_new(x, y),
            Units::Inch => bar_mm(units) / 25.4,
        };
        let of_hundred = |v: f64| 100.0 * v / wanted;
        Self::try_new(of_hundred(x), of_hundred(y)).map_err(|e| match e {
            PressError::Correction { axis, .. } => PressError::Correction {
                axis,
                printed: format!("{} in", if axis == "horizontal" { x } else { y }),
                wanted: "4 in",
            },
            other => other,
        })
    }

    /// What a page says about it; nothing where there is none.
    pub(crate) fn in_words(self, speech: Speech) -> Option<String> {
        if self.is_none() {
            return None;
        }
        let said = |printed_mm: f64| match speech.units {
            Units::Metric => format!("{}\u{a0}mm", speech.number(printed_mm, 2)),
            Units::Inch => format!("{}\u{a0}in", speech.number(printed_mm / 25.0, 3)),
        };
        let (x, y) = (said(self.printed_x_mm), said(self.printed_y_mm));
        let bar = speech.bar().replace(' ', "\u{a0}");
        Some(filled(speech.sheets().corrected, &[&x, &y, &bar]))
    }

    /// What a page says of printing it: its correction, or that it is to be printed as it is.
    pub(crate) fn printing_in_words(self, speech: Speech) -> String {
        self.in_words(speech).unwrap_or_else(|| {
            let bar = speech.bar().replace(' ', "\u{a0}");
            filled(speech.sheets().print_true, &[&bar])
        })
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
