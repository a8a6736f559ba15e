//! Chances and rates, read exactly and kept within their ranges.

use crate::LedgerError;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A chance: 0 never, 1 always.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Chance(f64);

impl JsonSchema for Chance {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Chance".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "number", "minimum": 0, "maximum": 1})
    }
}

impl Chance {
    /// Never.
    pub const NEVER: Self = Self(0.0);
    /// Always.
    pub const SURE: Self = Self(1.0);

    /// Checks a number.
    ///
    /// # Errors
    /// [`LedgerError::Range`] where it is not 0 to 1, or no number.
    pub fn try_new(value: f64) -> Result<Self, LedgerError> {
        if (0.0..=1.0).contains(&value) {
            // -0.0 is 0.
            Ok(Self(value + 0.0))
        } else {
            Err(LedgerError::Range {
                what: "the chance".into(),
                found: value.to_string(),
                allowed: "0 to 1 (write 0.7 for 70 %)",
            })
        }
    }

    /// What arithmetic on chances gave: rounding beyond the ends is taken off.
    pub(crate) fn of(value: f64) -> Self {
        debug_assert!((-1e-9..=1.0 + 1e-9).contains(&value), "{value}");
        Self(value.clamp(0.0, 1.0))
    }

    /// As a number.
    pub fn get(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for Chance {
    type Error = LedgerError;
    fn try_from(value: f64) -> Result<Self, LedgerError> {
        Self::try_new(value)
    }
}

impl From<Chance> for f64 {
    fn from(chance: Chance) -> Self {
        chance.0
    }
}

/// In percent, rounded down, so that no chance looks better than it is.
impl std::fmt::Display for Chance {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = (self.0 * 1000.0 + 1e-6).floor() / 10.0;
        write!(f, "{percent:.1} %")
    }
}

/// A share of an amount of money, in billionths: 0.19 is 190,000,000. So shares of money are whole numbers too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Share(i64);

/// What 1 is in a [`Share`].
const WHOLE: i64 = 1_000_000_000;

impl JsonSchema for Share {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Share".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "number", "minimum": 0, "maximum": 1000})
    }
}

impl Share {
    /// Nothing.
    pub const NONE: Self = Self(0);
    /// All of it.
    pub const ALL: Self = Self(WHOLE);

    /// Checks a number and rounds it to a billionth.
    ///
    /// # Errors
    /// [`LedgerError::Range`] where it is not 0 to 1000, or no number.
    pub fn try_new(value: f64) -> Result<Self, LedgerError> {
        if (0.0..=1000.0).contains(&value) {
            Ok(Self((value * WHOLE as f64).round() as i64))
        } else {
            Err(LedgerError::Range {
                what: "the share".into(),
                found: value.to_string(),
                allowed: "0 to 1000 (write 0.19 for 19 %)",
            })
        }
    }

    /// In billionths.
    pub const fn billionths(self) -> i64 {
        self.0
    }
}

impl TryFrom<f64> for Share {
    type Error = LedgerError;
    fn try_from(value: f64) -> Result<Self, LedgerError> {
        Self::try_new(value)
    }
}

impl From<Share> for f64 {
    fn from(share: Share) -> Self {
        share.0 as f64 / WHOLE as f64
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = self.0 as f64 / (WHOLE as f64 / 100.0);
        write!(f, "{} %", (percent * 100.0).round() / 100.0)
    }
}

/// Reads a number as JSON and CSV write it, with a decimal point.
///
/// # Errors
/// What is wrong, in words; a comma is told by name.
pub(crate) fn decimal(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if text.contains(',') {
        return Err(format!(
            "{text:?} has a comma; write decimals with a point, as in 12.50, and no thousands separators"
        ));
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("{text:?} is no number")),
    }
}
