//! Findings as they are collected.

use crate::subject::Subject;
use piece::{Finding, Level, PartId};

/// Findings as they are collected.
#[derive(Debug, Default)]
pub(crate) struct Findings(Vec<Finding>);

impl Findings {
    pub(crate) fn add(
        &mut self,
        level: Level,
        code: &str,
        parts: Vec<PartId>,
        text: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.0.push(Finding {
            level,
            code: code.into(),
            parts,
            text: text.into(),
            remedy: remedy.into(),
        });
    }

    pub(crate) fn about(
        &mut self,
        subject: &Subject<'_>,
        level: Level,
        code: &str,
        text: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.add(level, code, vec![subject.part.id.clone()], text, remedy);
    }

    pub(crate) fn join(&mut self, other: Self) {
        self.0.extend(other.0);
    }

    /// Sorted for people.
    pub(crate) fn sorted(mut self) -> Vec<Finding> {
        Finding::sort(&mut self.0);
        self.0.dedup();
        self.0
    }
}

/// A length with one decimal, rounded down: a clearance never looks larger than it is.
pub(crate) fn down(mm: f64) -> String {
    format!("{:.1}", (mm * 10.0 + 1e-9).floor() / 10.0)
}

/// A length with one decimal, rounded up: a need never looks smaller than it is.
pub(crate) fn up(mm: f64) -> String {
    format!("{:.1}", up_to_tenth(mm))
}

/// Rounded up to a tenth of a millimetre.
pub(crate) fn up_to_tenth(mm: f64) -> f64 {
    (mm * 10.0 - 1e-9).ceil() / 10.0
}
