//! Adhesives, materials, stock and rules: data with their source and standing, each of which a user can change.
//!
//! The built-in catalogue is `data/catalogue.json`. A user's file has the same form, and needs to name only what it
//! changes: [`Catalogue::with_json`].

mod entries;
mod merge;
mod rules;

pub use entries::{
    Adhesive, Backing, Board, FaceClass, Fastening, Foam, GivesOff, Glazing, Grade, Hanger,
    Material, PackSize, Rebate, Undo, WireRope,
};
pub use rules::Rules;

use crate::CatalogueError;
use piece::{FastenerKind, Sourced};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The largest catalogue that is read, bytes.
pub const MAX_CATALOGUE_BYTES: usize = 4 << 20;

const BUILT_IN: &[u8] = include_bytes!("../../data/catalogue.json");

/// All that mounting knows of materials, stock and rules. Keys are the names that pieces use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Catalogue {
    /// How well adhesives hold on classes of faces.
    pub faces: BTreeMap<String, FaceClass>,
    /// Materials of parts and frames.
    pub materials: BTreeMap<String, Material>,
    /// Adhesives and tapes.
    pub adhesives: BTreeMap<String, Adhesive>,
    /// Sheet material for fills, lifts and pads.
    pub foams: BTreeMap<String, Foam>,
    /// Boards that carry the parts.
    pub boards: BTreeMap<String, Board>,
    /// What closes a frame behind.
    pub backings: BTreeMap<String, Backing>,
    /// Glass and acrylic.
    pub glazings: BTreeMap<String, Glazing>,
    /// Stock heights of spacers, mm.
    pub spacers_mm: Sourced<Vec<f64>>,
    /// Stock rebate depths.
    pub rebates: Vec<Rebate>,
    /// What a frame hangs by.
    pub hangers: BTreeMap<String, Hanger>,
    /// Picture wires.
    pub wires: BTreeMap<String, WireRope>,
    /// Ties, straps and screws.
    #[schemars(with = "BTreeMap<String, Fastening>")]
    pub fastenings: BTreeMap<FastenerKind, Fastening>,
    /// Distances, factors and limits.
    pub rules: Rules,
    /// How long each kind of work takes, minutes.
    pub minutes: BTreeMap<String, Sourced<f64>>,
}

impl Catalogue {
    /// The catalogue that comes with the program.
    ///
    /// # Errors
    /// None that a test has not excluded: the data are part of the program.
    pub fn built_in() -> Result<Self, CatalogueError> {
        merge::read(merge::parse(BUILT_IN)?)
    }

    /// The built-in catalogue with a user's changes: a JSON object of the same form that names only what it changes
    /// or adds. A bare number or list stands for a value of the user's own.
    ///
    /// # Errors
    /// [`CatalogueError`], with the path of the first bad field.
    pub fn with_json(bytes: &[u8]) -> Result<Self, CatalogueError> {
        if bytes.len() > MAX_CATALOGUE_BYTES {
            return Err(CatalogueError::TooLarge { found: bytes.len() });
        }
        let mut all = merge::parse(BUILT_IN)?;
        let own = merge::parse(bytes)?;
        merge::check_work(&own, &all)?;
        merge::over(&mut all, own);
        merge::read(all)
    }

    /// The class of a material's face; `None` where the material is not known.
    pub fn face_of(&self, material: &str) -> Option<&FaceClass> {
        self.faces.get(&self.materials.get(material)?.face)
    }

    /// How long that kind of work takes, minutes; 5 where nobody says.
    pub fn minutes_for(&self, work: &str) -> f64 {
        self.minutes.get(work).map_or(5.0, |m| m.value)
    }
}

/// The JSON Schema of a whole catalogue. A user's own file may leave anything out.
pub fn catalogue_schema() -> serde_json::Value {
    schemars::schema_for!(Catalogue).to_value()
}
