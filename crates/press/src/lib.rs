//! Everything that leaves as a document or a picture, from one display list.
//!
//! A sheet is laid out once as a [`Drawing`], in mm with y up; three writers make PDF, SVG and PNG of
//! it and never call one another. Nothing here reads files, clocks or fonts of the system, so the same
//! input gives the same bytes.

mod caption;
pub mod capture_sheet;
mod correction;
mod drawing;
mod error;
pub mod fit;
mod ink;
pub mod outlines;
mod paper;
mod path;
mod pixels;
pub mod preview;
mod raster;
mod scale_bar;
pub mod template;
mod write;

pub use correction::PrinterCorrection;
pub use drawing::{Affine, Align, Drawing, Group, Item, Picture, Shape, Text};
pub use error::PressError;
pub use ink::{Colour, Ink, Stroke, width_mm};
pub use paper::Paper;
pub use path::{Path, Step};
pub use scale_bar::BAR_MM;
pub use write::pdf::{DocumentInfo, to_pdf};
pub use write::png::to_png;
pub use write::svg::to_svg;
