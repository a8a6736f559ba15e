//! Where each part sat in the device, from photos taken while it is opened, or from a drawing.
//!
//! [`find_homes`] takes the parts with their outlines and pictures ([`Sought`]) and photos of the opened device on a capture
//! sheet, each with its stage ([`InsidePhoto`]), and gives every part's place, turn, layer and how sure they are ([`Found`]).
//! [`look`] gives all places where parts could be in one photo, for a page that offers them.
//! [`home_in_drawing`] and [`home_of_place`] need no photo.
//!
//! Frames: the sheet's (mm, origin at its lower left, z towards the camera), the device's (mm from its lower left, seen from the
//! front, layer 0 in front), a part's own. Seen from the back, x is mirrored.

mod alike;
mod body;
mod claims;
mod confidence;
mod drawn;
mod error;
mod explained;
mod field;
mod find;
mod found;
mod frame;
mod inside;
mod joint;
mod judge;
mod lanes;
mod layers;
mod look;
mod places;
mod raster;
mod register;
mod rim;
mod search;
mod settle;
mod sought;
mod spectrum;
mod swept;
mod tied;
mod walls;

pub use confidence::FEATURES;
pub use drawn::{
    DrawnPart, PlaceError, drawn_origin, home_in_drawing, home_of_place, name_and_layer,
    names_device,
};
pub use error::HomesError;
pub use find::{MOST_PHOTOS, find_homes};
pub use found::{Found, LEAST, Outcome, PhotoSeen, Place, SURE};
pub use inside::InsidePhoto;
pub use look::{LEAST_PX_PER_MM, Possible, look};
pub use sought::{Picture, Side, Sought};
