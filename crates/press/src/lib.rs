//! Everything that leaves as a document or a picture, from one display list.
//!
//! A sheet is laid out once as a [`Drawing`], in mm with y up; four writers make PDF, SVG, DXF and PNG of
//! it and never call one another. Nothing here reads files, clocks or fonts of the system, so the same
//! input gives the same bytes.

pub mod art;
mod bond_place;
mod caption;
pub mod caption_strips;
pub mod capture_sheet;
pub mod chart;
mod correction;
pub mod cut;
mod drawing;
mod error;
pub mod fit;
mod fitting;
pub mod glue_sheet;
mod glue_zones;
pub mod guide;
pub mod homes;
mod ink;
pub mod light_table;
mod marks;
pub mod outlines;
mod paper;
mod path;
mod pixels;
pub mod plaque;
pub mod preview;
mod printed_page;
mod raster;
mod scale_bar;
pub mod schedule;
mod speech;
pub mod stand_ins;
pub mod support_sheet;
pub mod template;
pub mod words;
mod write;

pub use caption::CaptionStart;
pub use correction::PrinterCorrection;
pub use drawing::{
    Affine, Align, Drawing, Group, Item, MissingLetters, Picture, Shape, Text, Trim,
};
pub use error::PressError;
pub use ink::{Colour, Ink, Stroke, width_mm};
pub use paper::Paper;
pub use path::{Path, Step};
pub use scale_bar::bar_mm;
pub use speech::{Speech, Units};
pub use words::Language;
pub use write::dxf::to_dxf;
pub use write::pdf::{Bookmark, DocumentInfo, to_pdf, to_pdf_with};
pub use write::png::{to_picture, to_png};
pub use write::svg::to_svg;
