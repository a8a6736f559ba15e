//! The intake form.

use crate::intake::DeviceKind;
use crate::sheet::{read_json, unsound};
use crate::{Chance, Currency, LedgerError, Minor, Share};
use piece::PartKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The largest form that is read, bytes.
const MAX_INTAKE_BYTES: usize = 1 << 20;

const MOST_PARTS: usize = 500;

/// What is known of a device that came in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Intake {
    /// Always `setapart-intake`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// What the device is called.
    pub device: String,
    /// Its kind, which says what signs there are.
    pub kind: String,
    /// All amounts are in it.
    pub currency: Currency,
    /// What was seen: value by sign. A sign that was not looked at is left out, or null.
    #[serde(default)]
    pub signs: BTreeMap<String, Option<String>>,
    /// Its parts, as far as they are worth something or are damaged.
    #[serde(default)]
    pub parts: Vec<IntakePart>,
    /// Prices and rates.
    pub money: IntakeMoney,
}

/// A part of the device.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntakePart {
    /// What people call it.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// What it brings when it is sold as a good one; left out: nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value_minor: Option<Minor>,
    /// In what state it is.
    #[serde(default)]
    pub state: PartState,
    /// It works only with its own board: sold alone it is worth nothing to a repairer, though it can be shown.
    #[serde(default)]
    pub paired: bool,
}

/// In what state a part is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PartState {
    /// Nothing seems wrong with it.
    #[default]
    Whole,
    /// It was tried with a known-good counterpart, and works.
    Works,
    /// It was tried with a known-good counterpart, and does not.
    Fails,
    /// It is cracked.
    Cracked,
    /// It is rusty or corroded.
    Rusty,
    /// Chips are lifted off it, or broken.
    ChipsLifted,
    /// It is not there.
    Missing,
}

/// Prices and rates of an intake; what is left out is not known, and what rests on it is not weighed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IntakeMoney {
    /// What the device is worth repaired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repaired_minor: Option<Minor>,
    /// What the parts of a repair cost; left out: the kind's share of the repaired worth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repair_parts_minor: Option<Minor>,
    /// What an hour of work costs.
    #[serde(default)]
    pub labour_per_hour_minor: Minor,
    /// What selling takes, as a share of the price.
    #[serde(default)]
    pub selling_fee: Share,
    /// The price of a piece made of it, without tax.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece_price_minor: Option<Minor>,
    /// What making the piece costs, donors included (`cost` and `donors` tell).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece_cost_minor: Option<Minor>,
    /// The chance that the piece sells; left out: the kind's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece_sells: Option<Chance>,
}

impl Intake {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-intake";

    /// An empty form for a kind of device: every sign there is, none looked at.
    pub fn blank(kind: &DeviceKind, currency: Currency) -> Self {
        Self {
            format: Intake::FORMAT.into(),
            version: 1,
            device: "name of the device".into(),
            kind: kind.id.clone(),
            currency,
            signs: kind.signs.iter().map(|s| (s.id.clone(), None)).collect(),
            parts: Vec::new(),
            money: IntakeMoney::default(),
        }
    }

    /// Reads and checks a form.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let intake: Self = read_json(bytes, MAX_INTAKE_BYTES)?;
        if intake.format != Intake::FORMAT || intake.version != 1 {
            return Err(unsound(
                "format",
                format!("is not {:?}, version 1", Intake::FORMAT),
            ));
        }
        if intake.parts.len() > MOST_PARTS {
            return Err(unsound(
                "parts",
                format!("has {}, limit {MOST_PARTS}", intake.parts.len()),
            ));
        }
        if intake.money.selling_fee > Share::ALL {
            return Err(unsound(
                "money.selling_fee",
                "is above 1; write 0.12 for 12 %",
            ));
        }
        Ok(intake)
    }

    /// The form as JSON.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// For each sign that was seen, its place in the kind's list and the value's place.
    ///
    /// # Errors
    /// [`LedgerError`] for a sign or value that the kind does not know.
    pub(super) fn seen(&self, kind: &DeviceKind) -> Result<Vec<(usize, usize)>, LedgerError> {
        let mut seen = Vec::new();
        for (name, value) in &self.signs {
            let path = format!("signs.{name}");
            let Some(sign) = kind.signs.iter().position(|s| s.id == *name) else {
                let known: Vec<&str> = kind.signs.iter().map(|s| s.id.as_str()).collect();
                return Err(unsound(
                    path,
                    format!(
                        "is no sign of the kind {:?}; it has: {}",
                        kind.id,
                        known.join(", ")
                    ),
                ));
            };
            let Some(value) = value else { continue };
            let values = &kind.signs[sign].values;
            let Some(place) = values.iter().position(|v| v.id == *value) else {
                let known: Vec<&str> = values.iter().map(|v| v.id.as_str()).collect();
                return Err(unsound(
                    path,
                    format!(
                        "is {value:?}; it can be: {}, or null where nobody looked",
                        known.join(", ")
                    ),
                ));
            };
            seen.push((sign, place));
        }
        Ok(seen)
    }
}
