//! The nouns of the job as plain data: device, part, frame, piece, placement, caption, finding.
//!
//! Everything here reads from and writes to the piece document (JSON, version 1). No files, no
//! algorithms beyond the invariants that keep a document sound. Lengths mm, masses g, angles degrees
//! counter-clockwise. The board's origin is the lower-left corner of the frame's visible window, x
//! right, y up. A missing optional field means "not known", never zero.

mod document;
mod finding;
mod frame;
mod part;
mod place;

pub use document::{Device, KeepOut, Layout, Piece, PieceError, Spread, Style, json_schema};
pub use finding::{Finding, Level};
pub use frame::{Frame, Margin};
pub use part::{
    Cutout, Face, Hazard, Home, Part, PartId, PartIdError, PartKind, StandIn, StandInForm, Turns,
};
pub use place::{AssemblyAxis, Caption, Placement};
