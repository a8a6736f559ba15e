//! The store of a workshop: one folder that holds every piece with its whole history.
//!
//! `workshop.db` is an SQLite database, `images/` holds pictures by content hash. Every edit of a piece is a revision; undo
//! and redo have no end, also after a restart. An edit is stored against the state that it was made on, so that two windows
//! never overwrite each other. What was confirmed is not lost when the program is killed. The clock and files are used here
//! and nowhere else beside the command.

mod backup;
mod bundle;
mod check;
mod database;
mod delta;
mod draft;
mod drawer;
mod error;
mod event;
mod flush;
mod id;
mod image;
mod ledger_records;
mod merge;
mod photo;
mod pieces;
mod revision;
mod settings;
mod text;
mod words;
mod workshop;

pub use backup::{Copied, restore};
pub use bundle::{Bundle, BundleError, BundledPhoto, MAX_BUNDLE_BYTES};
pub use check::Checked;
pub use draft::Draft;
pub use drawer::{Condition, Reserved, StockChange, StockItem, Stocked};
pub use error::WorkshopError;
pub use event::{Event, Subject};
pub use id::{OutcomeId, PhotoId, PieceId, RevisionId, StockId};
pub use image::{ImageKind, ImageName, ImageNameError, MAX_IMAGE_BYTES};
pub use ledger_records::{Outcome, Verdict};
pub use merge::{Conflict, Merge, Prefer, merge, merge_preferring};
pub use photo::{Found, Mark, Photo, Role, Stroke, StrokeKind, Taken, Work, WorkSaved};
pub use pieces::{Listed, Merged, Opened, Saved, Stale};
pub use revision::{Edit, Entry, State};
pub use settings::{Settings, Theme, Units};
pub use workshop::Workshop;
