//! What came of devices that the shop had: how its numbers learn.

use crate::LedgerError;
use crate::belief::{Belief, learned};
use crate::intake::DeviceKind;
use crate::sheet::{Sheet, part_kind};
use piece::PartKind;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What came of one device.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Case {
    /// What turned out to be wrong with it: name of a condition of its kind.
    pub condition: String,
    /// Whether its repair succeeded; `None` where nobody tried.
    pub repaired: Option<bool>,
    /// What had been seen: value by sign.
    pub signs: BTreeMap<String, String>,
    /// Parts that were taken out, and whether they came out good.
    pub parts: Vec<(PartKind, bool)>,
}

/// Counts of the shop's own devices of one kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Experience {
    /// Devices by condition.
    conditions: Vec<u32>,
    /// For each condition: repairs that succeeded, and that failed.
    repairs: Vec<[u32; 2]>,
    /// For each sign and condition: how often each value was seen.
    signs: Vec<Vec<Vec<u32>>>,
    /// For each condition and kind of part: good ones and bad ones.
    parts: Vec<BTreeMap<PartKind, [u32; 2]>>,
}

impl Experience {
    /// Nothing yet.
    pub fn none(kind: &DeviceKind) -> Self {
        let n = kind.conditions.len();
        Self {
            conditions: vec![0; n],
            repairs: vec![[0; 2]; n],
            signs: kind
                .signs
                .iter()
                .map(|s| vec![vec![0; s.values.len()]; n])
                .collect(),
            parts: vec![BTreeMap::new(); n],
        }
    }

    /// Counts a table, one device a line: `kind,condition` (what turned out to be wrong), `repaired` (yes, no, or empty
    /// where nobody tried), `sign:ID` columns with what was seen, and `part:KIND` columns (yes where it came out good,
    /// no where not). Lines of other kinds are passed over.
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn from_csv(csv: &[u8], kind: &DeviceKind) -> Result<Self, LedgerError> {
        let sheet = Sheet::read(
            csv,
            &["kind", "condition"],
            &["repaired", "device", "date"],
            &["sign:", "part:"],
        )?;
        let mut counts = Self::none(kind);
        let mut part_kinds = Vec::new();
        for name in sheet.open_columns("part:") {
            let part = part_kind(name).map_err(|problem| LedgerError::Table {
                line: None,
                column: Some(format!("part:{name}")),
                problem,
            })?;
            part_kinds.push((format!("part:{name}"), part));
        }
        let sign_columns: Vec<String> = sheet.open_columns("sign:").map(str::to_owned).collect();
        for line in sheet.lines() {
            if line.needed("kind")? != kind.id {
                continue;
            }
            let condition = line.needed("condition")?;
            if !kind.conditions.iter().any(|c| c.id == condition) {
                let known: Vec<&str> = kind.conditions.iter().map(|c| c.id.as_str()).collect();
                return Err(line.wrong(
                    "condition",
                    format!("{condition:?} is none of: {}", known.join(", ")),
                ));
            }
            let mut case = Case {
                condition: condition.to_owned(),
                repaired: line.yes_or_no("repaired")?,
                ..Case::default()
            };
            for column in &sign_columns {
                let place = format!("sign:{column}");
                let Some(value) = line.cell(&place) else {
                    continue;
                };
                let Some(sign) = kind.sign(column) else {
                    return Err(
                        line.wrong(&place, format!("the kind {:?} has no such sign", kind.id))
                    );
                };
                if !sign.values.iter().any(|v| v.id == value) {
                    let known: Vec<&str> = sign.values.iter().map(|v| v.id.as_str()).collect();
                    return Err(line.wrong(
                        &place,
                        format!("{value:?} is none of: {}", known.join(", ")),
                    ));
                }
                case.signs.insert(column.clone(), value.to_owned());
            }
            for (column, part) in &part_kinds {
                if let Some(good) = line.yes_or_no(column)? {
                    case.parts.push((*part, good));
                }
            }
            counts.count(kind, &case);
        }
        Ok(counts)
    }

    /// Counts one more device. What the kind does not know (any more) is passed over: a device whose condition is unknown
    /// tells nothing.
    pub fn count(&mut self, kind: &DeviceKind, case: &Case) {
        let Some(c) = kind.conditions.iter().position(|c| c.id == case.condition) else {
            return;
        };
        self.conditions[c] += 1;
        if let Some(repaired) = case.repaired {
            self.repairs[c][usize::from(!repaired)] += 1;
        }
        for (id, value) in &case.signs {
            let at = kind.signs.iter().position(|s| s.id == *id);
            let place = at.and_then(|s| {
                let v = kind.signs[s].values.iter().position(|v| v.id == *value)?;
                Some((s, v))
            });
            if let Some((s, v)) = place {
                self.signs[s][c][v] += 1;
            }
        }
        for (part, good) in &case.parts {
            self.parts[c].entry(*part).or_default()[usize::from(!good)] += 1;
        }
    }

    /// Devices in all.
    pub fn n(&self) -> u32 {
        self.conditions.iter().sum()
    }

    /// Devices of a condition.
    pub fn n_of(&self, condition: usize) -> u32 {
        self.conditions[condition]
    }

    /// How often each condition is met.
    pub(super) fn shares(&self, kind: &DeviceKind) -> Vec<f64> {
        let prior: Vec<f64> = kind.conditions.iter().map(|c| c.share).collect();
        learned(&prior, kind.strength, &self.conditions)
    }

    /// What is believed of a repair in a condition. The kind's strength is shared out by how often conditions are met.
    pub fn repair(&self, kind: &DeviceKind, condition: usize) -> Belief {
        let c = &kind.conditions[condition];
        let [good, bad] = self.repairs[condition];
        Belief::prior(c.repair, kind.strength * c.share).after(good, bad)
    }

    /// What is believed of a part's kind in a condition.
    pub fn part(&self, kind: &DeviceKind, condition: usize, part: PartKind) -> Belief {
        let c = &kind.conditions[condition];
        let [good, bad] = self.parts[condition]
            .get(&part)
            .copied()
            .unwrap_or_default();
        Belief::prior(c.yields.of(part), kind.strength * c.share).after(good, bad)
    }

    /// How likely each value of a sign is in a condition.
    pub(super) fn likelihood(&self, kind: &DeviceKind, sign: usize, condition: usize) -> Vec<f64> {
        let c = &kind.conditions[condition];
        let prior = kind.signs[sign]
            .likelihood
            .get(&c.id)
            .cloned()
            .unwrap_or_default();
        learned(
            &prior,
            kind.strength * c.share,
            &self.signs[sign][condition],
        )
    }
}
