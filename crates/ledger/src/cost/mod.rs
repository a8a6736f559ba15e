//! What a piece costs, and what it must bring.

mod learning;
mod price;
mod quote;
mod rates;
mod reckon;
mod tables;

pub use learning::LearningModel;
pub use quote::{BatchQuote, CostGroup, CostLine, Quote, Reckoning};
pub use rates::{Batch, Extra, Kit, Labour, Price, Pricing, Rates, WhatIf};
pub use reckon::reckon;
