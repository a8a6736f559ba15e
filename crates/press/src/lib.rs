//! Everything that leaves as a document or a picture, from one display list.
//!
//! A sheet is laid out once as a [`Drawing`], in mm with y up; three writers make PDF, SVG and PNG of
//! it and never call one another. Nothing here reads files, clocks or fonts of the system, so the same
//! input gives the same bytes.

pub mod capture_sheet;
mod drawing;
mod error;
mod ink;
mod path;
mod pixels;
mod scale_bar;
mod write;

pub use drawing::{Affine, Align, Drawing, Group, Item, Picture, Shape, Text};
pub use error::PressError;
pub use ink::{Colour, Ink, Stroke, width_mm};
pub use path::{Path, Step};
pub use write::pdf::{DocumentInfo, to_pdf};
pub use write::png::to_png;
pub use write::svg::to_svg;
