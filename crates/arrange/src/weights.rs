//! How much the terms of a score weigh.

use crate::Score;
use serde::{Deserialize, Serialize};
use shape::BadField;

/// How much each term of [`Score`] weighs; the terms' names are the fields' names. Data: a caller may hand in its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "each weighs the term of its name")]
pub struct Weights {
    pub order: f64,
    pub gaps: f64,
    pub alignment: f64,
    pub balance: f64,
    pub voids: f64,
    pub window_use: f64,
    pub margins: f64,
    pub loners: f64,
    pub folds: f64,
    pub leaders: f64,
}

/// Chosen by looking at layouts.
pub const WEIGHTS: Weights = Weights {
    order: 10.0,
    gaps: 0.5,
    alignment: 1.0,
    balance: 1.0,
    voids: 0.8,
    window_use: 0.7,
    margins: 0.8,
    loners: 1.5,
    folds: 2.0,
    leaders: 4.0,
};

impl Default for Weights {
    fn default() -> Self {
        WEIGHTS
    }
}

/// Why a text gives no weights.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum WeightsError {
    /// A field that is no weight, or a text that is no JSON.
    #[error("{path}: {problem}")]
    Malformed {
        /// Which field; `.` is the text itself.
        path: String,
        /// What is wrong there.
        problem: String,
    },
    /// A weight out of range.
    #[error("{name} must be a number of 0 to 10000")]
    OutOfRange {
        /// Which one.
        name: &'static str,
    },
}

impl Weights {
    /// Reads weights from JSON: `{"order": 10, "alignment": 1}`. What is left out weighs as usual.
    ///
    /// # Errors
    /// [`WeightsError`], with the name of the first bad weight.
    pub fn from_json(bytes: &[u8]) -> Result<Self, WeightsError> {
        let weights: Self = shape::from_json(bytes)
            .map_err(|BadField { path, problem }| WeightsError::Malformed { path, problem })?;
        match weights.bad_one() {
            Some(name) => Err(WeightsError::OutOfRange { name }),
            None => Ok(weights),
        }
    }

    /// The first weight that is no number of 0 to 10,000, by name.
    pub fn bad_one(&self) -> Option<&'static str> {
        Score::default()
            .terms(self)
            .into_iter()
            .find(|(_, _, weight)| !(0.0..=10_000.0).contains(weight))
            .map(|(name, ..)| name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> String {
        Weights::from_json(text.as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn what_is_left_out_weighs_as_usual() {
        let read = Weights::from_json(br#"{"order": 3, "folds": 0}"#).unwrap();
        let expected = Weights {
            order: 3.0,
            folds: 0.0,
            ..WEIGHTS
        };
        assert_eq!(read, expected);
        assert_eq!(Weights::from_json(b"{}"), Ok(WEIGHTS));
    }

    #[test]
    fn bad_weights_are_refused_by_their_names() {
        for weight in ["-1", "10000.1", "1e300"] {
            let said = told(&format!(r#"{{"order": 1, "voids": {weight}}}"#));
            assert_eq!(said, "voids must be a number of 0 to 10000");
        }
        assert!(told(r#"{"order": 1, "voids": "many"}"#).starts_with("voids: "));
        assert!(told(r#"{"odrer": 1}"#).contains("unknown field `odrer`"));
        assert!(told(r#"{"order": 1, "order": 2}"#).contains("duplicate field `order`"));
        assert!(told(r#"{"order": 1} {}"#).contains("more follows"));
        assert!(told(r#"{"order": 1"#).contains("EOF"));
    }
}
