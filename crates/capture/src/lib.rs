//! Pixels to outlines: capture sheets, tags, camera and lens, segmentation, edges, height.
//!
//! A picture is a photo of parts on a capture sheet, a photo of parts beside a card, or a flatbed scan ([`Taken`]).
//!
//! Sheet coordinates: mm from the sheet's lower-left corner, x right, y up, z from the printed face
//! towards the camera. Pixels: x right, y down, pixel centres at integers.

mod background;
pub mod camera;
mod capture;
mod cutout;
pub mod drawing;
mod edge;
mod faces;
mod field;
pub mod height;
mod light;
mod linear;
mod look;
pub mod photo;
mod plane;
mod practice;
mod rounds;
pub mod scan;
mod segment;
pub mod sheet;
mod silhouette;
mod specks;
mod strokes;
mod study;
pub mod tags;
mod taken;
mod thicknesses;
mod walls;

pub use capture::{
    Capture, CaptureError, Captured, Knowledge, OutlineWarning, Sigma, ThicknessAt, capture,
};
pub use cutout::{Cutout, CutoutError, cut_out, cut_out_in};
pub use faces::{Faces, join_faces, join_outlines};
pub use practice::{PracticeField, practice_field};
pub use silhouette::{Silhouette, SilhouetteError};
pub use strokes::{Stroke, StrokeKind, StrokesError};
pub use study::Study;
pub use taken::{Taken, TakenWarning};
pub use thicknesses::ThicknessesError;
