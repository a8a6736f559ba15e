//! What a piece costs, and what it must bring.

mod learning;
mod price;
mod quote;
mod rates;
mod tables;

pub use learning::LearningModel;
pub use quote::{BatchQuote, CostGroup, CostLine, Quote, Reckoning, reckon};
pub use rates::{Batch, Extra, Kit, Labour, Price, Pricing, Rates, WhatIf};
