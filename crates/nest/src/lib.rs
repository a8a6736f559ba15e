//! The packing engine: irregular outlines on strips and sheets.
//!
//! [`fill_strip`] places all items on a run of fixed height and makes it short, [`fill_sheets`] spreads them over few
//! sheets. How it works is told in ARCHITECTURE.md. Lengths are millimetres, areas square millimetres, angles degrees
//! counter-clockwise, x right and y up. A placement turns an item about its own origin, then shifts that to its place.
//!
//! A search is budgeted in steps ([`Budget`]): the same input, seed and steps give the same bytes, whatever the number
//! of threads. Progress, cancelling and time limits come through [`shape::Watch`].

mod budget;
mod construct;
mod convex;
mod error;
mod instance;
mod item;
mod kinds;
mod lanes;
mod layout;
mod no_fit;
mod separate;
mod sheets;
mod simplify;
mod strip;
mod verify;

pub use budget::{Budget, StoppedBy};
pub use error::NestError;
pub use instance::{Instance, InstanceError, ItemId, MAX_INSTANCE_BYTES};
pub use item::{Item, Placement, Sheet, Spacing, Strip, Turns};
pub use sheets::{SheetsLayout, fill_sheets};
pub use strip::{StripLayout, fill_strip};
