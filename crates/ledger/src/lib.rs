//! The work around the bench: repair or donor, what to buy, what a piece costs, how it travels.
//!
//! Everything is worked out from documents: an intake form, lots on offer, the drawer's stock, rates and prices, and the
//! piece with its build plan, of which the bill of materials and the steps are read. Nothing here reads files, clocks or the network.
//!
//! Money is whole minor units of a currency of ISO 4217. Costs round up, income rounds down. Chances are 0 to 1, and
//! each table of them says its standing and can be overridden.

pub mod belief;
pub mod cost;
pub mod cover;
mod decision;
pub mod donors;
pub mod drawer;
mod error;
pub mod intake;
pub mod leftovers;
mod money;
mod number;
pub mod parcel;
pub mod schema;
mod sheet;
pub mod table;

pub use error::LedgerError;
pub use money::{Currency, Minor, Money};
pub use number::{Chance, Share};
