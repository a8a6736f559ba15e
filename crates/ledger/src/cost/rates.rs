//! Rates and prices.

use crate::cost::LearningModel;
use crate::sheet::{Sheet, read_json, unsound};
use crate::{Currency, LedgerError, Minor, Share};
use piece::{Stage, Standing};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The largest document of rates that is read, bytes.
const MAX_RATES_BYTES: usize = 4 << 20;

/// What work, material and selling cost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rates {
    /// Always `setapart-rates`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// All amounts are in it.
    pub currency: Currency,
    /// Where the numbers are from.
    #[serde(default)]
    pub source: String,
    /// How far they can be trusted.
    #[serde(default = "own")]
    pub standing: Standing,
    /// What an hour of work costs.
    pub labour_per_hour_minor: Minor,
    /// Work beside the build plan's steps, or all of it where there is no plan.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labour: Vec<Labour>,
    /// Rent, tools, light and so on, as a share of labour.
    #[serde(default)]
    pub overhead_on_labour: Share,
    /// The same for each piece, whatever its labour.
    #[serde(default)]
    pub overhead_per_piece_minor: Minor,
    /// What is lost of materials and parts: cut wrong, broken, glued askew.
    #[serde(default)]
    pub scrap: Share,
    /// What selling takes of what the customer pays, tax included.
    #[serde(default)]
    pub fee_on_price: Share,
    /// What selling takes of each sale beside that.
    #[serde(default)]
    pub fee_fixed_minor: Minor,
    /// Tax on the price.
    #[serde(default)]
    pub tax: Share,
    /// Box, cushions, tape.
    #[serde(default)]
    pub packing_minor: Minor,
    /// Carriage, where the seller pays it.
    #[serde(default)]
    pub freight_minor: Minor,
    /// How the price is made.
    pub pricing: Pricing,
    /// The customer's price is rounded up to a multiple of it; 0 or 1: not rounded.
    #[serde(default)]
    pub round_to_minor: Minor,
    /// What is spent once for a design: photos, layout, listing.
    #[serde(default)]
    pub set_up_minor: Minor,
    /// Materials count by whole packs, as for a single piece whose rests nobody uses.
    #[serde(default)]
    pub whole_packs: bool,
    /// Prices by item of the bill of materials, or of a whole sort of it as `kind:glazing`, for the unit that the sort usually has;
    /// for another one as `kind:hanger:mm`.
    #[serde(default)]
    pub prices: BTreeMap<String, Price>,
    /// Parts and whatever else is bought for each piece.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<Extra>,
    /// Other frames to compare: prices that then hold instead.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub what_if: Vec<WhatIf>,
    /// The piece as a kit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit: Option<Kit>,
    /// Several pieces one after the other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<Batch>,
}

fn own() -> Standing {
    Standing::Own
}

/// How the price is made: one of the three.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Pricing {
    /// Profit as a share of the price without tax.
    Margin(Share),
    /// Profit as a share of all costs.
    Markup(Share),
    /// The customer's price, tax included.
    PriceMinor(Minor),
}

/// A price of so much of a thing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// What it costs.
    pub minor: Minor,
    /// For so much, in the bill's unit (pieces, ml, mm, mm2, g).
    #[serde(default = "one")]
    pub per: f64,
}

fn one() -> f64 {
    1.0
}

/// Work beside the build plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Labour {
    /// What is done.
    pub what: String,
    /// How long.
    pub minutes: f64,
}

/// Something that is bought for each piece.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Extra {
    /// What it is.
    pub what: String,
    /// What it costs.
    pub minor: Minor,
}

/// Prices that hold instead.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WhatIf {
    /// What is different.
    pub title: String,
    /// By item or `kind:…`.
    pub prices: BTreeMap<String, Price>,
}

/// A piece that its recipient puts together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Kit {
    /// Stages of the work that are done before it leaves; the rest is the recipient's.
    pub stages: Vec<Stage>,
    /// Picking and packing it.
    pub picking_minutes: f64,
    /// Items or `kind:…` that are not in it, such as the frame.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<String>,
    /// What it has beside: printed guide, bags.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub extra: Vec<Extra>,
}

/// Several pieces one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// How many.
    pub size: u32,
    /// Pieces of the kind that were made before.
    #[serde(default)]
    pub done: u32,
    /// What each doubling takes of the time, such as 0.85.
    pub learning: f64,
    /// What the curve is of.
    #[serde(default)]
    pub model: LearningModel,
}

impl Rates {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-rates";

    /// Rates that come with the program, in euros: recalled, to be replaced by one's own.
    ///
    /// # Errors
    /// Never, as a test holds; the reader's own error otherwise.
    pub fn built_in() -> Result<Self, LedgerError> {
        Self::from_json(include_bytes!("rates.json"))
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let rates: Self = read_json(bytes, MAX_RATES_BYTES)?;
        rates.check()?;
        Ok(rates)
    }

    /// The document as JSON.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// Prices from a table with the columns `item,price,per` and perhaps `currency`; they take the place of those there.
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn with_prices_from_csv(mut self, csv: &[u8]) -> Result<Self, LedgerError> {
        let sheet = Sheet::read(csv, &["item", "price"], &["per", "currency"], &[])?;
        for line in sheet.lines() {
            if let Some(code) = line.cell("currency")
                && code != self.currency.code()
            {
                return Err(LedgerError::Currencies {
                    place: format!("line {}", line.number),
                    found: code.chars().take(12).collect(),
                    expected: self.currency.to_string(),
                });
            }
            let minor = line
                .money("price", self.currency)?
                .ok_or_else(|| line.wrong("price", "is empty"))?;
            let per = line.number("per")?.unwrap_or(1.0);
            if !is_amount(per) {
                return Err(line.wrong("per", "must be above 0 and at most 10^9"));
            }
            self.prices
                .insert(line.needed("item")?, Price { minor, per });
        }
        Ok(self)
    }

    fn check(&self) -> Result<(), LedgerError> {
        if self.format != Rates::FORMAT || self.version != 1 {
            return Err(unsound(
                "format",
                format!("is not {:?}, version 1", Rates::FORMAT),
            ));
        }
        let below_one = |path: &str, share: Share| {
            if share < Share::ALL {
                Ok(())
            } else {
                Err(unsound(path, "must be below 1; write 0.12 for 12 %"))
            }
        };
        below_one("scrap", self.scrap)?;
        below_one("fee_on_price", self.fee_on_price)?;
        if let Pricing::Margin(margin) = self.pricing {
            below_one("pricing.margin", margin)?;
        }
        let minutes = |path: String, m: f64| {
            if (0.0..=100_000.0).contains(&m) {
                Ok(())
            } else {
                Err(unsound(path, "must be 0 to 100000 minutes"))
            }
        };
        for (i, l) in self.labour.iter().enumerate() {
            minutes(format!("labour[{i}].minutes"), l.minutes)?;
        }
        let what_if = self.what_if.iter().flat_map(|w| &w.prices);
        for (item, price) in self.prices.iter().chain(what_if) {
            if !is_amount(price.per) {
                return Err(unsound(
                    format!("prices.{item}.per"),
                    "must be above 0 and at most 10^9",
                ));
            }
        }
        if let Some(kit) = &self.kit {
            minutes("kit.picking_minutes".into(), kit.picking_minutes)?;
        }
        if let Some(batch) = &self.batch {
            if !(1..=100_000).contains(&batch.size) || batch.done > 1_000_000 {
                return Err(unsound(
                    "batch.size",
                    "must be 1 to 100000, and done at most a million",
                ));
            }
            if !(0.5..=1.0).contains(&batch.learning) {
                return Err(unsound(
                    "batch.learning",
                    "must be 0.5 to 1; write 0.85 where each doubling takes 85 % of the time",
                ));
            }
        }
        Ok(())
    }
}

fn is_amount(per: f64) -> bool {
    (1e-6..=1e9).contains(&per)
}
