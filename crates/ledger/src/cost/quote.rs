//! What a piece costs and brings, as it is told.

use crate::Currency;
use crate::cost::LearningModel;
use serde::Serialize;

/// Where money goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CostGroup {
    /// Frame, glazing, board, adhesive and so on.
    Material,
    /// Donors, and what else is bought for the piece.
    Parts,
    /// Hours.
    Labour,
    /// Rent, tools, light.
    Overhead,
    /// What is lost of materials and parts.
    Scrap,
    /// A share of what is spent once.
    SetUp,
    /// Box and cushions.
    Packing,
    /// Carriage.
    Freight,
    /// What selling takes.
    Fees,
}

impl CostGroup {
    /// In words.
    pub fn title(self) -> &'static str {
        match self {
            Self::Material => "material",
            Self::Parts => "parts",
            Self::Labour => "labour",
            Self::Overhead => "overhead",
            Self::Scrap => "scrap",
            Self::SetUp => "set-up",
            Self::Packing => "packing",
            Self::Freight => "freight",
            Self::Fees => "fees",
        }
    }
}

/// One line of the reckoning.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CostLine {
    /// Where it belongs.
    pub group: CostGroup,
    /// What it is.
    pub what: String,
    /// How much of it, where that is counted.
    pub amount: Option<f64>,
    /// In what: `ml`, `mm`, `mm2`, `g`, `min`, or nothing for pieces.
    pub unit: &'static str,
    /// What it costs.
    pub minor: i64,
    /// What the whole packs cost that have to be bought for it, where it is sold in packs.
    pub packs_minor: Option<i64>,
}

/// What a piece costs and brings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quote {
    /// All costs, fees included.
    pub lines: Vec<CostLine>,
    /// Their sum.
    pub total_minor: i64,
    /// Of this currency.
    pub currency: Currency,
    /// What the customer pays, tax included.
    pub price_minor: i64,
    /// The price without tax.
    pub net_minor: i64,
    /// Tax in the price.
    pub tax_minor: i64,
    /// What is left.
    pub profit_minor: i64,
    /// Profit over the price without tax.
    pub margin: f64,
    /// Profit over all costs.
    pub markup: f64,
    /// The customer's price at which nothing is left and nothing lost.
    pub break_even_price_minor: i64,
    /// Pieces after which what was spent once has come back; `None` where none is, or a piece brings nothing.
    pub break_even_pieces: Option<i64>,
    /// Minutes of work.
    pub minutes: f64,
    /// Items of the bill without a price: the total is without them.
    pub unpriced: Vec<String>,
}

/// One piece of several: what the batch brings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BatchQuote {
    /// How many.
    pub size: u32,
    /// Pieces of the kind that were made before.
    pub done: u32,
    /// Share of the time that each doubling takes.
    pub learning: f64,
    /// The learning curve's model.
    pub model: LearningModel,
    /// In words.
    pub model_title: &'static str,
    /// Minutes of the first piece, without learning.
    pub first_minutes: f64,
    /// Minutes of a piece on the average.
    pub average_minutes: f64,
    /// The average piece, with its share of what is spent once.
    pub each: Quote,
    /// All of them, minor units.
    pub total_minor: i64,
    /// What is left of all of them, minor units.
    pub profit_minor: i64,
}

/// All that can be reckoned of a piece.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reckoning {
    /// The finished piece.
    #[serde(flatten)]
    pub finished: Quote,
    /// The piece as a kit.
    pub kit: Option<Quote>,
    /// With other frames, by what is different.
    pub what_if: Vec<(String, Quote)>,
    /// Several of it.
    pub batch: Option<BatchQuote>,
    /// Something that the numbers do not say by themselves.
    pub notes: Vec<String>,
}
