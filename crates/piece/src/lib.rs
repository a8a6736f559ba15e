//! The nouns of the job as plain data: device, part, frame, piece, placement, caption, finding.
//!
//! Everything here reads from and writes to the piece document (JSON, version 1). No files, no
//! algorithms beyond the invariants that keep a document sound. Lengths mm, masses g, angles degrees
//! counter-clockwise. The board's origin is the lower-left corner of the frame's visible window, x
//! right, y up. A missing optional field means "not known", never zero.

mod build;
mod document;
mod finding;
mod frame;
mod part;
mod phrase;
mod place;
mod sourced;
mod stream;

pub use build::{
    ApplyAs, BillKind, BillLine, BillUnit, BoardPlan, Bond, BuildChoices, BuildPlan, Caution,
    CutPlacement, CutSheet, Depth, DepthLayer, DepthLayerKind, DeviceSide, Fastener, FastenerKind,
    Figure, Hanging, Hole, Joint, LoadCaseKind, LoadResult, MassLine, Moulding, Pack, PartDepth,
    RunnerUp, Spacer, Stage, Step, StockDepth, Support, SupportKind, TapePiece, Transfer, Wire,
};
pub use document::{
    Device, KeepOut, Layout, MAX_DOCUMENT_BYTES, Piece, PieceError, ShopRecords, Spread, Style,
    json_schema,
};
pub use finding::{Finding, Level};
pub use frame::{Frame, Margin};
pub use part::{
    BackCutout, BackFilm, Boss, Cutout, Face, FreedBy, Hazard, Home, Part, PartId, PartIdError,
    PartKind, Protrusion, Sanitization, StandIn, StandInForm, StorageRecord, Turns,
};
pub use phrase::{Param, Phrase};
pub use place::{AssemblyAxis, Caption, Placement};
pub use sourced::{Sourced, Standing};
pub use stream::Stream;
