//! Planar geometry in millimetres: outlines with holes, poses, area, offset, clearance, overlap, straight
//! lines and arcs in place of many points, and one outline placed on another.
//!
//! This crate knows nothing of parts, frames or photographs. Lengths are millimetres, areas square
//! millimetres, angles degrees counter-clockwise, x right and y up. A value that exists is valid: an
//! [`Outline`] cannot cross itself, hold a NaN or have no area.

mod bounds;
mod clearance;
mod edge_distance;
pub mod exact;
mod hull;
mod json;
mod outline;
mod overlay;
mod point;
mod pose;
mod random;
pub mod registration;
mod ring;
mod spread;
mod thin;
pub mod tidy;
mod watch;

pub use bounds::Bounds;
pub use clearance::{EdgeTree, clearance_mm};
pub use edge_distance::Nearest;
pub use exact::{ExactOutline, ExactRing};
pub use hull::convex_hull;
pub use json::{BadField, from_json};
pub use outline::{Outline, OutlineError};
pub use overlay::{
    RingOverlay, difference, edge_of_union, intersection, intersection_area_mm2, largest, offset,
    overlay_rings, stroked, union,
};
pub use point::{Point, Vector};
pub use pose::Pose;
pub use random::Random;
pub use ring::{MAX_POINTS_PER_RING, Ring, RingError};
pub use spread::{counted, mapped, mapped_by, on_rows, thread_count};
pub use thin::thinned;
pub use watch::{Abreast, Cancelled, Silent, Stage, Watch};
