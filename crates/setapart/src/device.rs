//! The built-in invented device: its photos, and what its owner would have typed in.

use crate::failure::Failure;
use piece::{
    BackFilm, Boss, BuildChoices, FreedBy, Hazard, Home, Part, PartId, PartKind, Protrusion,
    StandIn, StorageRecord,
};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use shape::{Outline, Point};
use std::collections::BTreeMap;

/// The device's description and photos, made by the studio (tests/data/README.md).
const DESCRIPTION: &[u8] = include_bytes!("../../../tests/data/demo/device.json");

/// What mounting has to know of its parts.
const MOUNTING: &[u8] = include_bytes!("../../../tests/data/demo/mounting.json");

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
    #[serde(skip)]
    pub(crate) mounting: Mounting,
}

/// What mounting has to know of the parts, and what its maker has decided.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Mounting {
    parts: BTreeMap<PartId, PartMounting>,
    pub(crate) choices: BuildChoices,
}

/// What mounting has to know of one part.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct PartMounting {
    wall_mm: Option<f64>,
    inner_depth_mm: Option<f64>,
    bosses: Vec<Round>,
    protrusions: Vec<Round>,
    lift_mm: Option<f64>,
    back_face: Option<String>,
    back_films: Vec<BackFilm>,
    freed_by: Option<FreedBy>,
    hazards: Vec<Hazard>,
    storage: Option<StorageRecord>,
}

/// Something round that stands out of a face, in the part's own coordinates.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Round {
    x: f64,
    y: f64,
    diameter_mm: f64,
    screw_mm: Option<f64>,
    height_mm: Option<f64>,
}

impl Round {
    fn outline(&self) -> Result<Outline, Failure> {
        const SIDES: u32 = 72;
        let ring = (0..SIDES)
            .map(|k| {
                let turn = f64::from(k) * std::f64::consts::TAU / f64::from(SIDES);
                let (s, c) = turn.sin_cos();
                let r = 0.5 * self.diameter_mm;
                Point::new(self.x + r * c, self.y + r * s)
            })
            .collect();
        Outline::try_new(ring, vec![]).map_err(|e| Failure::Demo(e.to_string()))
    }
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
        let mut device: Self = read(DESCRIPTION)?;
        device.mounting = read(MOUNTING)?;
        Ok(device)
    }

    /// Tells a part what mounting has to know of it.
    pub(crate) fn tell_mounting(&self, part: &mut Part) -> Result<(), Failure> {
        let Some(known) = self.mounting.parts.get(&part.id).cloned() else {
            return Ok(());
        };
        part.wall_mm = known.wall_mm;
        part.inner_depth_mm = known.inner_depth_mm;
        part.lift_mm = known.lift_mm;
        part.back_face = known.back_face.or(part.back_face.take());
        part.back_films = known.back_films;
        part.freed_by = known.freed_by;
        part.hazards.extend(known.hazards);
        part.storage = known.storage;
        for round in &known.bosses {
            part.bosses.push(Boss {
                outline: round.outline()?,
                screw_mm: round.screw_mm,
            });
        }
        for round in &known.protrusions {
            part.protrusions.push(Protrusion {
                outline: round.outline()?,
                height_mm: round.height_mm.unwrap_or(0.0),
            });
        }
        Ok(())
    }

    /// Its photos by name, in their order.
    pub(crate) fn photos() -> &'static [(&'static str, &'static [u8])] {
        &PHOTOS
    }
}

fn read<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Failure> {
    shape::from_json(bytes).map_err(|e| Failure::Demo(e.to_string()))
}
