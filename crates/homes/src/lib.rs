//! Where each part sat in the device, from photos taken while it is opened.
#![allow(missing_docs)]
mod confidence;
mod error;
mod field;
mod find;
mod frame;
mod found;
mod inside;
mod joint;
mod judge;
mod layers;
mod look;
mod places;
mod raster;
mod register;
mod search;
mod settle;
mod sought;
mod spectrum;
pub use confidence::FEATURES;
pub use error::HomesError;
pub use find::{MOST_PHOTOS, find_homes};
pub use found::{Found, LEAST, Outcome, PhotoSeen, Place, SURE};
pub use inside::InsidePhoto;
pub use look::{LEAST_PX_PER_MM, Possible, look};
pub use sought::{Picture, Side, Sought};
