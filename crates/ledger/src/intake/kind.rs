//! What is known of a kind of device.

use crate::sheet::{read_json, unsound};
use crate::{Chance, LedgerError, Share};
use piece::{PartKind, Standing};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

const MAX_BYTES: usize = 1 << 20;
const MOST: usize = 40;

/// A kind of device, as an editable document. What comes with the program is recalled: estimates of its makers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DeviceKind {
    /// Always `setapart-device-kind`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// Names it, as intake forms do.
    pub id: String,
    /// What it is.
    pub title: String,
    /// How many of the shop's own devices the numbers are worth.
    pub strength: f64,
    /// Where the numbers are from.
    pub source: String,
    /// How far they can be trusted.
    pub standing: Standing,
    /// From this chance of repair on, taking the device apart is warned of.
    pub warn_from: Chance,
    /// The share of its worth as donor or display that a device keeps after a repair that failed.
    pub kept_after_repair: Share,
    /// Hours of taking it apart for its parts.
    pub teardown_hours: f64,
    /// The chance that a piece made of it sells at its price.
    pub piece_sells: Chance,
    /// What it can have.
    pub conditions: Vec<DeviceCondition>,
    /// What can be seen or tried.
    pub signs: Vec<Sign>,
}

/// Something that a device can have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DeviceCondition {
    /// Names it.
    pub id: String,
    /// What it is.
    pub title: String,
    /// How often devices that come in have it; all together 1.
    pub share: f64,
    /// The chance that a repair succeeds.
    pub repair: Chance,
    /// Hours that a repair takes.
    pub hours: f64,
    /// What its parts cost, as a share of what the device is worth repaired.
    pub parts_share: Share,
    /// What parts are good for, when it is taken apart.
    pub yields: Yields,
    /// How far its chances can be trusted; left out: as the kind's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
}

/// Chances that parts come out good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Yields {
    /// Of a kind that is not listed.
    pub usual: Chance,
    /// Of kinds that differ.
    #[serde(default)]
    pub kinds: BTreeMap<PartKind, Chance>,
}

impl Yields {
    /// The chance of a kind of part.
    pub fn of(&self, kind: PartKind) -> Chance {
        self.kinds.get(&kind).copied().unwrap_or(self.usual)
    }
}

/// Something that can be seen or tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sign {
    /// Names it, as intake forms do.
    pub id: String,
    /// What is looked at.
    pub title: String,
    /// How.
    pub how: String,
    /// What can hurt, and what to do about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution: Option<String>,
    /// How long it takes.
    pub minutes: f64,
    /// What can be seen.
    pub values: Vec<SignValue>,
    /// For each condition: how likely each of the values is; together 1.
    pub likelihood: BTreeMap<String, Vec<f64>>,
    /// How far its likelihoods can be trusted; left out: as the kind's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
}

/// One thing that can be seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SignValue {
    /// Names it, as intake forms do.
    pub id: String,
    /// What it is.
    pub title: String,
}

impl DeviceKind {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-device-kind";

    /// The kinds that come with the program.
    ///
    /// # Errors
    /// Never, as a test holds; the reader's own error otherwise.
    pub fn built_in() -> Result<Vec<Self>, LedgerError> {
        const KINDS: [&[u8]; 3] = [
            include_bytes!("kinds/handheld.json"),
            include_bytes!("kinds/notebook.json"),
            include_bytes!("kinds/mains.json"),
        ];
        KINDS.into_iter().map(Self::from_json).collect()
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let kind: Self = read_json(bytes, MAX_BYTES)?;
        kind.check()?;
        Ok(kind)
    }

    /// The document as JSON.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    fn check(&self) -> Result<(), LedgerError> {
        if self.format != DeviceKind::FORMAT || self.version != 1 {
            return Err(unsound(
                "format",
                format!("is not {:?}, version 1", DeviceKind::FORMAT),
            ));
        }
        let within = |path: &str, value: f64, most: f64| {
            if value > 0.0 && value <= most {
                Ok(())
            } else {
                Err(unsound(path, format!("must be above 0 and at most {most}")))
            }
        };
        within("strength", self.strength, 1e6)?;
        within("teardown_hours", self.teardown_hours, 1000.0)?;
        for (path, found) in [
            ("conditions", self.conditions.len()),
            ("signs", self.signs.len()),
        ] {
            if found == 0 || found > MOST {
                return Err(unsound(
                    path,
                    format!("has {found}; it must be 1 to {MOST}"),
                ));
            }
        }
        let shares: Vec<f64> = self.conditions.iter().map(|c| c.share).collect();
        adds_up("conditions[].share", &shares)?;
        for (i, c) in self.conditions.iter().enumerate() {
            within(&format!("conditions[{i}].hours"), c.hours, 1000.0)?;
            if self.conditions[..i].iter().any(|d| d.id == c.id) {
                return Err(unsound(
                    format!("conditions[{i}].id"),
                    format!("{:?} is there twice", c.id),
                ));
            }
        }
        for (i, sign) in self.signs.iter().enumerate() {
            within(&format!("signs[{i}].minutes"), sign.minutes, 10_000.0)?;
            if self.signs[..i].iter().any(|s| s.id == sign.id) {
                return Err(unsound(
                    format!("signs[{i}].id"),
                    format!("{:?} is there twice", sign.id),
                ));
            }
            if !(2..=MOST).contains(&sign.values.len()) {
                return Err(unsound(
                    format!("signs[{i}].values"),
                    format!("has {}; it must be 2 to {MOST}", sign.values.len()),
                ));
            }
            for c in &self.conditions {
                let path = format!("signs[{i}].likelihood.{}", c.id);
                let Some(row) = sign.likelihood.get(&c.id) else {
                    return Err(unsound(
                        path,
                        "is missing: each condition needs its likelihoods",
                    ));
                };
                if row.len() != sign.values.len() {
                    return Err(unsound(
                        path,
                        format!("has {} numbers for {} values", row.len(), sign.values.len()),
                    ));
                }
                adds_up(&path, row)?;
            }
            if let Some(other) = sign
                .likelihood
                .keys()
                .find(|k| !self.conditions.iter().any(|c| c.id == **k))
            {
                return Err(unsound(
                    format!("signs[{i}].likelihood"),
                    format!("has {other:?}, which is no condition"),
                ));
            }
        }
        Ok(())
    }

    /// A sign by its name.
    pub fn sign(&self, id: &str) -> Option<&Sign> {
        self.signs.iter().find(|s| s.id == id)
    }
}

fn adds_up(path: &str, chances: &[f64]) -> Result<(), LedgerError> {
    if let Some(bad) = chances.iter().find(|c| !(0.0..=1.0).contains(*c)) {
        return Err(unsound(path, format!("has {bad}; a chance is 0 to 1")));
    }
    let sum: f64 = chances.iter().sum();
    if (sum - 1.0).abs() > 1e-6 {
        return Err(unsound(path, format!("adds up to {sum}, not to 1")));
    }
    Ok(())
}
