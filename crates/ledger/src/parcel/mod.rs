//! How a piece travels: box, cushions, what the carrier charges, what the papers say.

mod carrier;
mod lithium;
mod pack;

pub use carrier::{Carriage, CarrierLimits, Drop, Tariff, TariffRow};
pub use lithium::{CellRating, Lithium, statement};
pub use pack::{Parcel, ParcelOptions, pack};
