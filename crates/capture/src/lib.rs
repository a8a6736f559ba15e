//! Pixels to outlines: capture sheets, tags, camera and lens, segmentation, edges, height.
//!
//! Sheet coordinates: mm from the sheet's lower-left corner, x right, y up, z from the printed face
//! towards the camera. Pixels: x right, y down, pixel centres at integers.

pub mod sheet;
pub mod tags;
