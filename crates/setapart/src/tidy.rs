//! Outlines as few straight lines and arcs, where a capture is written as JSON or becomes a piece.

use crate::failure::Failure;
use serde_json::json;
use shape::Outline;
use shape::tidy::{TOLERANCE_LIMITS_MM, TidyError, USUAL_TOLERANCE_MM, tidy};

/// How outlines are written.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tidy {
    /// Tolerance, mm; nothing for outlines as measured.
    tolerance_mm: Option<f64>,
}

impl Tidy {
    /// Where nobody says otherwise.
    pub(crate) const USUAL: Self = Self {
        tolerance_mm: Some(USUAL_TOLERANCE_MM),
    };

    /// Outlines stay as they are.
    pub(crate) const AS_MEASURED: Self = Self { tolerance_mm: None };

    /// What `--tidy` says: a tolerance, or 0 for outlines as measured.
    pub(crate) fn try_new(mm: f64) -> Result<Self, Failure> {
        if mm == 0.0 {
            return Ok(Self::AS_MEASURED);
        }
        let (least, most) = TOLERANCE_LIMITS_MM;
        if !(least..=most).contains(&mm) {
            return Err(Failure::Argument {
                option: "--tidy",
                problem: format!(
                    "is {mm}; it must be {least} to {most} mm, or 0 for outlines as measured"
                ),
            });
        }
        Ok(Self {
            tolerance_mm: Some(mm),
        })
    }

    /// An outline as it goes into a piece document.
    pub(crate) fn outline(self, measured: &Outline) -> Result<Outline, Failure> {
        match self.tolerance_mm {
            None => Ok(measured.clone()),
            Some(mm) => Ok(tidy(measured, mm)?.outline),
        }
    }

    /// An outline's JSON with its rings tidied: `exact` beside `outer` and `holes`, which are the same
    /// rings as polygons, and what distance from the measured outline was reached.
    pub(crate) fn write(
        self,
        measured: &Outline,
        mut json: serde_json::Value,
    ) -> Result<serde_json::Value, Failure> {
        let Some(tolerance_mm) = self.tolerance_mm else {
            return Ok(json);
        };
        let tidied = tidy(measured, tolerance_mm)?;
        let rings = serde_json::to_value(&tidied.outline).unwrap_or_default();
        for field in ["outer", "holes", "exact"] {
            json[field] = rings[field].clone();
        }
        json["tidy"] = json!({ "tolerance_mm": tolerance_mm, "reached_mm": tidied.reached_mm });
        Ok(json)
    }
}

impl From<TidyError> for Failure {
    fn from(e: TidyError) -> Self {
        Self::Argument {
            option: "--tidy",
            problem: e.to_string(),
        }
    }
}
