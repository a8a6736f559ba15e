//! What comes whole out of a lot, by its condition: usual chances, and what the shop's own lots taught.

use crate::belief::Belief;
use crate::sheet::{Sheet, read_json, unsound};
use crate::{Chance, LedgerError};
use piece::{PartKind, Standing};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The largest table of chances that is read, bytes.
const MAX_BYTES: usize = 1 << 20;

/// Chances by the condition that a lot is sold in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LotChances {
    /// Always `setapart-lot-chances`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// How many of the shop's own cases a chance of this table is worth.
    pub strength: f64,
    /// Where the numbers are from.
    pub source: String,
    /// How far they can be trusted.
    pub standing: Standing,
    /// The conditions.
    pub conditions: Vec<LotCondition>,
    /// The shop's own cases, counted from its outcomes: not written in the document.
    #[serde(skip)]
    own: BTreeMap<(String, Option<PartKind>), [u32; 2]>,
}

/// One condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LotCondition {
    /// As lots name it.
    pub id: String,
    /// What it means.
    pub title: String,
    /// Chance that nothing of such a lot is any good.
    pub dead: Chance,
    /// Chance of a part of a kind that is not listed.
    pub usual: Chance,
    /// Chances of kinds that differ.
    #[serde(default)]
    pub kinds: BTreeMap<PartKind, Chance>,
}

impl LotChances {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-lot-chances";

    /// The table that comes with the program.
    ///
    /// # Errors
    /// Never, as a test holds; the reader's own error otherwise.
    pub fn built_in() -> Result<Self, LedgerError> {
        Self::from_json(include_bytes!("lot-chances.json"))
    }

    /// Reads and checks a table.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let table: Self = read_json(bytes, MAX_BYTES)?;
        if table.format != Self::FORMAT || table.version != 1 {
            return Err(unsound(
                "format",
                "is not \"setapart-lot-chances\", version 1",
            ));
        }
        if !(0.0..=1e6).contains(&table.strength) || table.strength == 0.0 {
            return Err(unsound(
                "strength",
                "must be above 0 and at most a million cases",
            ));
        }
        for (i, c) in table.conditions.iter().enumerate() {
            if table.conditions[..i].iter().any(|d| d.id == c.id) {
                return Err(unsound(
                    format!("conditions[{i}].id"),
                    format!("{:?} is there twice", c.id),
                ));
            }
        }
        Ok(table)
    }

    /// The table as JSON.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Names of the conditions.
    pub fn conditions(&self) -> Vec<&str> {
        self.conditions.iter().map(|c| c.id.as_str()).collect()
    }

    /// Counts the shop's own lots, a table with the columns `condition,kind,good,dead`: a line for a part that was
    /// taken out (`kind`, and `good`: yes or no), or for a whole lot (`dead`: yes or no).
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn learn(&mut self, csv: &[u8]) -> Result<(), LedgerError> {
        let sheet = Sheet::read(csv, &["condition"], &["kind", "good", "dead"], &[])?;
        for line in sheet.lines() {
            let condition = line.needed("condition")?;
            if !self.conditions.iter().any(|c| c.id == condition) {
                return Err(line.wrong(
                    "condition",
                    format!("{condition:?} is none of: {}", self.conditions().join(", ")),
                ));
            }
            let kind = line.kind("kind")?;
            let outcome = match kind {
                Some(_) => line.yes_or_no("good")?.ok_or_else(|| line.wrong("good", "is empty; it says whether the part was good: yes or no"))?,
                None => !line.yes_or_no("dead")?.ok_or_else(|| line.wrong("dead", "is empty, and no kind of part is named; it says whether the lot was dead as a whole: yes or no"))?,
            };
            let counted = self.own.entry((condition, kind)).or_default();
            counted[usize::from(!outcome)] = counted[usize::from(!outcome)].saturating_add(1);
        }
        Ok(())
    }

    /// What is believed of a kind of part in a lot of a condition; `None` for an unknown condition.
    pub fn belief(&self, condition: &str, kind: Option<PartKind>) -> Option<Belief> {
        let c = self.conditions.iter().find(|c| c.id == condition)?;
        let prior = kind
            .and_then(|k| c.kinds.get(&k))
            .copied()
            .unwrap_or(c.usual);
        let [good, bad] = kind
            .and_then(|k| self.own.get(&(condition.to_owned(), Some(k))))
            .copied()
            .unwrap_or_default();
        Some(Belief::prior(prior, self.strength).after(good, bad))
    }

    /// Its chance.
    pub fn chance(&self, condition: &str, kind: Option<PartKind>) -> Option<Chance> {
        Some(self.belief(condition, kind)?.mean())
    }

    /// What is believed of a lot being dead as a whole.
    pub fn dead(&self, condition: &str) -> Option<Belief> {
        let c = self.conditions.iter().find(|c| c.id == condition)?;
        let [alive, dead] = self
            .own
            .get(&(condition.to_owned(), None))
            .copied()
            .unwrap_or_default();
        Some(Belief::prior(c.dead, self.strength).after(dead, alive))
    }
}
