//! The built-in invented device: its photos, and what its owner would have typed in.

use crate::failure::Failure;
use piece::{Hazard, Home, PartId, PartKind, StandIn};
use serde::Deserialize;

/// The device's description and photos, made by the studio (tests/data/README.md).
const DESCRIPTION: &[u8] = include_bytes!("../../../tests/data/demo/device.json");

const PHOTOS: [(&str, &[u8]); 4] = [
    (
        "1-shells.jpg",
        include_bytes!("../../../tests/data/demo/1-shells.jpg"),
    ),
    (
        "2-boards.jpg",
        include_bytes!("../../../tests/data/demo/2-boards.jpg"),
    ),
    (
        "3-inside.jpg",
        include_bytes!("../../../tests/data/demo/3-inside.jpg"),
    ),
    (
        "4-small.jpg",
        include_bytes!("../../../tests/data/demo/4-small.jpg"),
    ),
];

/// What is known of the device.
#[derive(Debug, Deserialize)]
pub(crate) struct Device {
    pub(crate) name: String,
    pub(crate) maker: String,
    pub(crate) year: u32,
    pub(crate) parts: Vec<DevicePart>,
}

/// What its owner knows of one part.
#[derive(Debug, Deserialize)]
pub(crate) struct DevicePart {
    pub(crate) id: PartId,
    pub(crate) name: String,
    pub(crate) kind: PartKind,
    /// The photo that shows it.
    pub(crate) photo: String,
    /// A point of the sheet that it covers in that photo, mm.
    pub(crate) at_mm: [f64; 2],
    /// Its greatest height, mm.
    pub(crate) thickness_mm: f64,
    /// Height of its outer edge, mm, where that is less.
    pub(crate) edge_mm: Option<f64>,
    pub(crate) mass_g: f64,
    pub(crate) back_face: Option<String>,
    #[serde(default)]
    pub(crate) hazards: Vec<Hazard>,
    pub(crate) stand_in: Option<StandIn>,
    pub(crate) home: Home,
}

impl Device {
    /// Reads the built-in description.
    pub(crate) fn built_in() -> Result<Self, Failure> {
        let mut reader = serde_json::Deserializer::from_slice(DESCRIPTION);
        serde_path_to_error::deserialize(&mut reader)
            .map_err(|e| Failure::Demo(format!("{}: {}", e.path(), e.inner())))
    }

    /// Its photos by name, in their order.
    pub(crate) fn photos() -> &'static [(&'static str, &'static [u8])] {
        &PHOTOS
    }
}
