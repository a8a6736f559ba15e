//! Findings as they are collected.

use crate::subject::Subject;
use piece::{Finding, Level, PartId, Phrase};

/// Findings as they are collected.
#[derive(Debug, Default)]
pub(crate) struct Findings(Vec<Finding>);

impl Findings {
    /// Something that is worth knowing, in English: guides do not show it.
    pub(crate) fn note(
        &mut self,
        code: &str,
        parts: Vec<PartId>,
        text: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.0
            .push(Finding::new(Level::Note, code, parts, text, remedy));
    }

    /// The same of one part.
    pub(crate) fn note_about(
        &mut self,
        subject: &Subject<'_>,
        code: &str,
        text: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.note(code, vec![subject.part.id.clone()], text, remedy);
    }

    /// Tells what is the case, sentence by sentence, and what to do, so that it can be told in another language.
    pub(crate) fn tell(
        &mut self,
        level: Level,
        code: &str,
        parts: Vec<PartId>,
        case: Vec<Phrase>,
        remedy: Phrase,
    ) {
        let texts: Vec<&str> = case.iter().map(|p| p.text.as_str()).collect();
        self.0.push(Finding {
            level,
            code: code.into(),
            parts,
            text: texts.join(" "),
            remedy: remedy.text.clone(),
            phrases: case.into_iter().chain([remedy]).collect(),
        });
    }

    /// The same of one part.
    pub(crate) fn tell_about(
        &mut self,
        subject: &Subject<'_>,
        level: Level,
        code: &str,
        case: Vec<Phrase>,
        remedy: Phrase,
    ) {
        self.tell(level, code, vec![subject.part.id.clone()], case, remedy);
    }

    pub(crate) fn join(&mut self, other: Self) {
        self.0.extend(other.0);
    }

    /// How many of them stop the work.
    pub(crate) fn stops(&self) -> usize {
        self.0.iter().filter(|f| f.level == Level::Stop).count()
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
    format!("{:.1}", down_to_tenth(mm))
}

/// Rounded down to a tenth of a millimetre.
pub(crate) fn down_to_tenth(mm: f64) -> f64 {
    (mm * 10.0 + 1e-9).floor() / 10.0
}

/// A length with one decimal, rounded up: a need never looks smaller than it is.
pub(crate) fn up(mm: f64) -> String {
    format!("{:.1}", up_to_tenth(mm))
}

/// Rounded up to a tenth of a millimetre.
pub(crate) fn up_to_tenth(mm: f64) -> f64 {
    (mm * 10.0 - 1e-9).ceil() / 10.0
}
