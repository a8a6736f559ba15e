//! Money: whole minor units and their currency, never a floating-point number.

use crate::{LedgerError, Share};
use iso_currency::Currency as Iso;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Largest amount, minor units: sums of thousands of them still fit.
const MOST_MINOR: i64 = 1_000_000_000_000_000;

/// A currency of ISO 4217, by its three letters. Its exponent says how many decimals its minor unit is: EUR 2,
/// JPY 0, KWD 3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency(Iso);

impl JsonSchema for Currency {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Currency".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "string", "pattern": "^[A-Z]{3}$", "description": "ISO 4217"})
    }
}

impl Currency {
    /// The currency of that code.
    ///
    /// # Errors
    /// [`LedgerError::Range`] for letters that are no currency with a minor unit.
    pub fn try_new(code: &str) -> Result<Self, LedgerError> {
        let found = Iso::from_code(code).filter(|c| c.exponent().is_some());
        found.map(Self).ok_or_else(|| LedgerError::Range {
            what: "the currency".into(),
            found: format!("{:?}", code.chars().take(12).collect::<String>()),
            allowed: "a code of ISO 4217 in capitals, such as EUR, USD or JPY",
        })
    }

    /// For tables without money.
    pub(crate) fn any() -> Self {
        Self(Iso::XXX)
    }

    /// Its code.
    pub fn code(self) -> &'static str {
        self.0.code()
    }

    /// Decimals of its minor unit.
    pub fn exponent(self) -> u32 {
        u32::from(self.0.exponent().unwrap_or(2))
    }
}

impl TryFrom<String> for Currency {
    type Error = LedgerError;
    fn try_from(code: String) -> Result<Self, LedgerError> {
        Self::try_new(&code)
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.code().into()
    }
}

impl std::fmt::Display for Currency {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.code())
    }
}

/// An amount in minor units of a currency that its document names once: not negative, and bounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(try_from = "i64", into = "i64")]
pub struct Minor(i64);

impl JsonSchema for Minor {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Minor".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"type": "integer", "minimum": 0, "maximum": MOST_MINOR})
    }
}

impl Minor {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// Checks an amount.
    ///
    /// # Errors
    /// [`LedgerError::Range`] where it is negative or beyond counting.
    pub fn try_new(minor: i64) -> Result<Self, LedgerError> {
        if (0..=MOST_MINOR).contains(&minor) {
            Ok(Self(minor))
        } else {
            Err(LedgerError::Range {
                what: "the amount".into(),
                found: minor.to_string(),
                allowed: "0 or more, in whole minor units such as cents, up to 10^15",
            })
        }
    }

    /// As a number of minor units.
    pub fn get(self) -> i64 {
        self.0
    }

    /// Reads an amount in major units, such as `12.50`.
    ///
    /// # Errors
    /// What is wrong, in words: a comma, a minus, more decimals than the currency has.
    pub fn from_decimal(text: &str, currency: Currency) -> Result<Self, String> {
        let text = text.trim();
        crate::number::decimal(text)?;
        if text.starts_with('-') {
            return Err(format!("{text} is negative; an amount is 0 or more"));
        }
        let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
        let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if !digits(whole) || !digits(fraction) || (whole.is_empty() && fraction.is_empty()) {
            return Err(format!("{text:?} is no amount; write it as in 12.50"));
        }
        let exponent = currency.exponent() as usize;
        if fraction.len() > exponent {
            return Err(format!(
                "{text} has {} decimals; {currency} has {exponent}",
                fraction.len()
            ));
        }
        let all = format!("{whole}{fraction:0<exponent$}");
        let minor = all.parse::<i64>().ok().filter(|&m| m <= MOST_MINOR);
        minor
            .map(Self)
            .ok_or_else(|| format!("{text} is more than can be counted"))
    }
}

impl TryFrom<i64> for Minor {
    type Error = LedgerError;
    fn try_from(minor: i64) -> Result<Self, LedgerError> {
        Self::try_new(minor)
    }
}

impl From<Minor> for i64 {
    fn from(minor: Minor) -> Self {
        minor.0
    }
}

/// An amount with its currency; may be negative (a loss).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Money {
    /// Minor units.
    pub minor: i64,
    /// Of this currency.
    pub currency: Currency,
}

impl Money {
    /// So many minor units.
    pub fn new(minor: i64, currency: Currency) -> Self {
        Self { minor, currency }
    }
}

/// As people write it: `1,234.50 EUR`.
impl std::fmt::Display for Money {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = if self.minor < 0 { "-" } else { "" };
        let text = plain(self.minor.unsigned_abs(), self.currency);
        let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
        let mut grouped = String::new();
        for (k, digit) in whole.chars().enumerate() {
            if k > 0 && (whole.len() - k).is_multiple_of(3) {
                grouped.push(',');
            }
            grouped.push(digit);
        }
        let point = if fraction.is_empty() { "" } else { "." };
        f.pad(&format!(
            "{sign}{grouped}{point}{fraction} {}",
            self.currency
        ))
    }
}

/// Digits and a decimal point alone, for tables: `1234.50`.
pub(crate) fn plain(minor: u64, currency: Currency) -> String {
    let exponent = currency.exponent() as usize;
    if exponent == 0 {
        return minor.to_string();
    }
    let digits = format!("{minor:0>width$}", width = exponent + 1);
    let (whole, fraction) = digits.split_at(digits.len() - exponent);
    format!("{whole}.{fraction}")
}

/// The same with a sign.
pub(crate) fn plain_signed(minor: i64, currency: Currency) -> String {
    let sign = if minor < 0 { "-" } else { "" };
    format!("{sign}{}", plain(minor.unsigned_abs(), currency))
}

/// Which way fractions of a minor unit go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rounding {
    /// To the next larger: for costs.
    Up,
    /// To the next smaller: for income.
    Down,
}

/// `amount * numerator / denominator`, rounded.
///
/// # Errors
/// [`LedgerError::TooMuch`] where it is beyond counting, or the denominator is 0.
pub(crate) fn scaled(
    amount: i64,
    numerator: i64,
    denominator: i64,
    rounding: Rounding,
    what: &'static str,
) -> Result<i64, LedgerError> {
    if denominator <= 0 {
        return Err(LedgerError::TooMuch { what });
    }
    let product = i128::from(amount) * i128::from(numerator);
    let d = i128::from(denominator);
    let floor = product.div_euclid(d);
    let rest = product.rem_euclid(d);
    let value = match rounding {
        Rounding::Down => floor,
        Rounding::Up => floor + i128::from(rest > 0),
    };
    bounded(value, what)
}

/// A share of an amount.
///
/// # Errors
/// [`LedgerError::TooMuch`] where it is beyond counting.
pub(crate) fn share_of(
    amount: i64,
    share: Share,
    rounding: Rounding,
    what: &'static str,
) -> Result<i64, LedgerError> {
    let whole = Share::ALL.billionths();
    scaled(amount, share.billionths(), whole, rounding, what)
}

/// The sum of amounts.
///
/// # Errors
/// [`LedgerError::TooMuch`] where it is beyond counting.
pub(crate) fn sum(
    amounts: impl IntoIterator<Item = i64>,
    what: &'static str,
) -> Result<i64, LedgerError> {
    bounded(amounts.into_iter().map(i128::from).sum(), what)
}

fn bounded(value: i128, what: &'static str) -> Result<i64, LedgerError> {
    i64::try_from(value)
        .ok()
        .filter(|v| v.abs() <= 1000 * MOST_MINOR)
        .ok_or(LedgerError::TooMuch { what })
}
