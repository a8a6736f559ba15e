//! One lot on offer, one part that is needed, and models whose parts fit.

use crate::{Chance, LedgerError, Minor};
use piece::{PartId, PartKind};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A part that the piece needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Need {
    /// Its id in the piece.
    pub part: PartId,
    /// What people call it; the piece's name where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What it is, for chances by condition; the piece's where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<PartKind>,
    /// How many good ones.
    #[serde(default = "one")]
    pub quantity: u32,
    /// How many a whole device has; as many as are needed where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_device: Option<u32>,
    /// How sure it is to be there; the document's confidence where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<Chance>,
    /// What a stand-in for it costs; left out: the part itself must be there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stand_in_minor: Option<Minor>,
}

fn one() -> u32 {
    1
}

impl Need {
    /// One good one of a part.
    pub fn new(part: PartId) -> Self {
        Self {
            part,
            name: None,
            kind: None,
            quantity: 1,
            per_device: None,
            confidence: None,
            stand_in_minor: None,
        }
    }

    /// What people call it.
    pub fn title(&self) -> &str {
        self.name.as_deref().unwrap_or(self.part.as_str())
    }
}

/// Whether a part of another model fits: one fact for all lots of that model, which is not known for sure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sibling {
    /// The other model.
    pub model: String,
    /// The part.
    pub part: PartId,
    /// The chance that it fits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chance: Option<Chance>,
    /// What `fit` said; then no chance is needed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<FitWord>,
}

/// The verdicts of `fit`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FitWord {
    /// It fits.
    Fit,
    /// It fits when it is trimmed.
    Trim,
    /// It does not fit.
    No,
}

/// The chance that a part which has to be trimmed comes out right. Recalled: an estimate of ours, to be set to the
/// shop's own (`chance`).
const TRIM_CHANCE: f64 = 0.85;

impl Sibling {
    /// The chance that it fits.
    pub fn fits(&self) -> Chance {
        match (self.chance, self.fit) {
            (Some(chance), _) => chance,
            (None, Some(FitWord::Fit)) => Chance::SURE,
            (None, Some(FitWord::Trim)) => Chance::of(TRIM_CHANCE),
            (None, Some(FitWord::No) | None) => Chance::NEVER,
        }
    }
}

/// A device, or a box of parts, that is for sale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Names it in this document.
    pub id: String,
    /// What people call it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its model, where it is not the piece's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// Price of one.
    pub price_minor: Minor,
    /// Carriage of the first one.
    #[serde(default)]
    pub shipping_minor: Minor,
    /// Carriage of each further one in the same parcel; as the first where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub more_shipping_minor: Option<Minor>,
    /// How many of it can be bought.
    #[serde(default = "one")]
    pub available: u32,
    /// Its condition: an entry of the table of chances.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// Chance that nothing of it is any good; what its condition says where it is left out, else 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dead: Option<Chance>,
    /// The parts that are in it. Left out: it is a whole device and has them all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parts: Option<BTreeMap<PartId, LotPart>>,
    /// Parts of a whole device that are not in it.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub lacks: BTreeSet<PartId>,
}

/// What a lot has of a part.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LotPart {
    /// Chance that each of them comes out whole, where the lot is not dead as a whole; by its condition where it is
    /// left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chance: Option<Chance>,
    /// How many of it are in one lot; as many as a whole device has where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
}

impl Lot {
    /// What people call it.
    pub fn title(&self) -> &str {
        self.title.as_deref().unwrap_or(&self.id)
    }

    /// Whether it has a part at all.
    pub fn has(&self, part: &PartId) -> bool {
        match &self.parts {
            Some(parts) => parts.contains_key(part),
            None => !self.lacks.contains(part),
        }
    }

    /// What so many of it cost with their carriage.
    ///
    /// # Errors
    /// [`LedgerError::TooMuch`] where that is beyond counting.
    pub fn cost_minor(&self, count: u32) -> Result<i64, LedgerError> {
        if count == 0 {
            return Ok(0);
        }
        let more = self.more_shipping_minor.unwrap_or(self.shipping_minor);
        let times = |amount: Minor, n: u32| {
            crate::money::scaled(amount.get(), n.into(), 1, crate::money::Rounding::Up, COST)
        };
        crate::money::sum(
            [
                times(self.price_minor, count)?,
                self.shipping_minor.get(),
                times(more, count - 1)?,
            ],
            COST,
        )
    }
}

const COST: &str = "the cost of a lot";
