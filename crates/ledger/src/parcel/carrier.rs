//! Figures of carriage: each with its source and standing, all editable.

use crate::sheet::{read_json, unsound};
use crate::{Currency, LedgerError, Minor};
use piece::Sourced;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

const MAX_BYTES: usize = 1 << 20;

/// How parcels are measured, dropped and charged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Carriage {
    /// Always `setapart-carriage`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// Volume that the carrier charges as one kilogram, cm3/kg.
    pub divisor_cm3_per_kg: Sourced<f64>,
    /// What the carrier rounds the charged mass up to, kg.
    pub round_kg: Sourced<f64>,
    /// Drop heights by the parcel's mass, lightest first.
    pub drops: Sourced<Vec<Drop>>,
    /// Shock that the piece bears, times gravity.
    pub fragility_g: Sourced<f64>,
    /// Cushion factor C of the foam: thickness = C x drop / G, at its best load.
    pub cushion_factor: Sourced<f64>,
    /// Load at which the foam cushions best, kPa.
    pub cushion_load_kpa: Sourced<f64>,
    /// Foam's density, kg/m3.
    pub cushion_kg_per_m3: Sourced<f64>,
    /// Thicknesses that the foam is sold in, mm: steps of this.
    pub cushion_step_mm: Sourced<f64>,
    /// Wall of the box, mm.
    pub box_wall_mm: Sourced<f64>,
    /// Mass of the box's board, g/m2.
    pub box_g_per_m2: Sourced<f64>,
    /// Limits of the carrier.
    #[serde(default)]
    pub limits: CarrierLimits,
    /// What parcels cost, by charged mass, lightest first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tariff: Option<Tariff>,
}

/// From which height a parcel is dropped in a test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drop {
    /// Parcels lighter than this, kg.
    pub below_kg: f64,
    /// Fall from here, mm.
    pub height_mm: f64,
}

/// What the carrier takes.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CarrierLimits {
    /// Heaviest parcel, kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<f64>,
    /// Longest side, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest_mm: Option<f64>,
    /// Longest side and girth together, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_and_girth_mm: Option<f64>,
}

/// What parcels cost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tariff {
    /// All prices are in it.
    pub currency: Currency,
    /// Prices by charged mass, lightest first.
    pub rows: Vec<TariffRow>,
}

/// One price.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TariffRow {
    /// Up to this charged mass, kg.
    pub up_to_kg: f64,
    /// The price.
    pub minor: Minor,
}

impl Carriage {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-carriage";

    /// The figures that come with the program.
    ///
    /// # Errors
    /// Never, as a test holds; the reader's own error otherwise.
    pub fn built_in() -> Result<Self, LedgerError> {
        Self::from_json(include_bytes!("carriage.json"))
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let c: Self = read_json(bytes, MAX_BYTES)?;
        if c.format != Carriage::FORMAT || c.version != 1 {
            return Err(unsound(
                "format",
                format!("is not {:?}, version 1", Carriage::FORMAT),
            ));
        }
        for (path, value, least, most) in [
            (
                "divisor_cm3_per_kg",
                c.divisor_cm3_per_kg.value,
                500.0,
                50_000.0,
            ),
            ("round_kg", c.round_kg.value, 0.001, 100.0),
            ("fragility_g", c.fragility_g.value, 5.0, 500.0),
            ("cushion_factor", c.cushion_factor.value, 2.0, 20.0),
            ("cushion_load_kpa", c.cushion_load_kpa.value, 0.1, 100.0),
            ("cushion_kg_per_m3", c.cushion_kg_per_m3.value, 1.0, 500.0),
            ("cushion_step_mm", c.cushion_step_mm.value, 0.1, 200.0),
            ("box_wall_mm", c.box_wall_mm.value, 1.0, 50.0),
            ("box_g_per_m2", c.box_g_per_m2.value, 50.0, 5000.0),
        ] {
            if !(least..=most).contains(&value) {
                return Err(unsound(
                    path,
                    format!("is {value}; it must be {least} to {most}"),
                ));
            }
        }
        let rising = |path: &str, list: Vec<f64>| {
            let up = list.windows(2).all(|w| w[0] < w[1]);
            if !list.is_empty() && up && list.iter().all(|v| *v > 0.0 && v.is_finite()) {
                Ok(())
            } else {
                Err(unsound(
                    path,
                    "needs masses above 0 that rise from line to line",
                ))
            }
        };
        rising("drops", c.drops.value.iter().map(|d| d.below_kg).collect())?;
        if let Some(i) = c
            .drops
            .value
            .iter()
            .position(|d| !(1.0..=5000.0).contains(&d.height_mm))
        {
            return Err(unsound(
                format!("drops.value[{i}].height_mm"),
                "must be 1 to 5000",
            ));
        }
        if let Some(tariff) = &c.tariff {
            rising(
                "tariff.rows",
                tariff.rows.iter().map(|r| r.up_to_kg).collect(),
            )?;
        }
        Ok(c)
    }

    /// The document as JSON.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The height from which a parcel of that mass is dropped, mm; `None` where the table ends before it.
    pub fn drop_mm(&self, mass_kg: f64) -> Option<f64> {
        self.drops
            .value
            .iter()
            .find(|d| mass_kg < d.below_kg)
            .map(|d| d.height_mm)
    }

    /// Cushion that stops a fall: C h / G, mm.
    pub fn cushion_mm(&self, drop_mm: f64) -> f64 {
        self.cushion_factor.value * drop_mm / self.fragility_g.value
    }

    /// Area on which a load rests that loads the foam as it likes best, mm2.
    pub fn bearing_mm2(&self, mass_g: f64) -> f64 {
        // N / kPa = 1000 mm2.
        mass_g / 1000.0 * STANDARD_GRAVITY / self.cushion_load_kpa.value * 1000.0
    }

    /// Mass that the volume counts as, kg, not rounded.
    pub fn dimensional_kg(&self, size_mm: [f64; 3]) -> f64 {
        size_mm.iter().product::<f64>() / 1000.0 / self.divisor_cm3_per_kg.value
    }
}

/// m/s2 (by definition, CGPM 1901).
const STANDARD_GRAVITY: f64 = 9.806_65;
