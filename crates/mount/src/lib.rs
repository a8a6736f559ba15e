//! Mounting: does the piece fit in depth, what goes under each part, which adhesive, how much and along which path, will
//! it stay up, what is dangerous, in which order and by when.
//!
//! [`plan`] makes a [`piece::BuildPlan`] of a piece and a [`Catalogue`]. The catalogue's numbers carry their source and
//! standing, and each can be overridden. Lengths mm, masses g, forces N, stresses MPa, times minutes. Outlines and paths
//! are in the part's own coordinates as it is shown. How it works is told in ARCHITECTURE.md.
//!
//! Nothing here replaces local rules or licensed practice.

mod bead;
mod bill;
mod board;
mod bonds;
mod catalogue;
mod cautions;
mod choose;
mod cut_list;
mod depth;
mod error;
mod fasten;
mod group;
mod hanging;
mod inset;
mod lay;
mod paths;
mod plan;
mod say;
mod stack;
mod steps;
mod strength;
mod subject;
mod support;
mod tape;
mod texts;

pub use bead::{bead_ml, bead_spread_mm, dot_ml, dot_spread_mm};
pub use board::{plate_bow_mm, plate_rigidity_n_mm};
pub use catalogue::{
    Adhesive, Backing, Board, Catalogue, FaceClass, Fastening, Foam, GivesOff, Glazing, Grade,
    Hanger, MAX_CATALOGUE_BYTES, Material, PackSize, Rebate, Rules, Undo, WireRope,
    catalogue_schema,
};
pub use error::{CatalogueError, MountError};
pub use group::{Element, Group};
pub use hanging::{sheet_mass_g, wire_tension_n};
pub use paths::{BeadPaths, BeadRule, lay_beads, lay_dots};
pub use plan::{check, plan};
pub use stack::{FoamStack, foam_stack, spacer_stack};
pub use steps::{Resources, ScheduleError, Task, Timing, schedule};
pub use tape::{TapeStrip, lay_tape};
pub use texts::english;
