//! Entries of the catalogue.

use piece::{ApplyAs, Sourced, Standing};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How well an adhesive holds on a face.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Must not be used there.
    Never,
    /// Holds badly or not for long.
    Poor,
    /// Holds, but others hold better.
    Fair,
    /// What the trade would take.
    Good,
}

/// A class of faces that adhesives treat alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FaceClass {
    /// How well each adhesive holds; one that is missing counts as poor.
    pub holds: BTreeMap<String, Grade>,
    /// How far such a face usually is from flat, mm: solder joints, sink marks.
    pub gap_mm: f64,
    /// Where that is from.
    pub source: String,
    /// How far it can be trusted.
    pub standing: Standing,
}

/// A material of a part's back face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// What people call it.
    pub name: String,
    /// Its class of faces.
    pub face: String,
    /// Density, g/cm3.
    pub density_g_cm3: Sourced<f64>,
    /// It can be seen through: an adhesive that shows is seen.
    #[serde(default)]
    pub clear: bool,
    /// There is copper in it: acid corrodes it.
    #[serde(default)]
    pub copper: bool,
    /// Under stress, solvents and monomers crack it.
    #[serde(default)]
    pub cracks: bool,
    /// Air and solvent pass through it.
    #[serde(default)]
    pub porous: bool,
}

/// How a joint can be undone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Undo {
    /// Sawn through with a thread; the rest rubs off.
    Cut,
    /// Softened by warmth.
    Warm,
    /// Softened by its own solvent.
    Solvent,
    /// Not without harm.
    Never,
}

/// What an adhesive gives off while it sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum GivesOff {
    /// Solvent: burns, and must get out of the joint and of the frame.
    Solvent,
    /// Acetic acid: corrodes copper.
    Acid,
    /// A little of what is neither.
    Neutral,
    /// Monomer vapour: settles as a white bloom.
    Vapour,
    /// It is hot.
    Heat,
}

/// A size that is sold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PackSize {
    /// What it holds: ml, or mm of tape.
    pub size: f64,
    /// What it is: `tube`, `cartridge`, `roll`.
    pub form: String,
}

/// An adhesive or a tape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adhesive {
    /// What people call it: a generic family.
    pub name: String,
    /// How it is put on.
    pub apply_as: ApplyAs,
    /// Lap shear strength in the test (ISO 4587, ASTM D1002), MPa, the lower end of what is reported. ASTM D4896
    /// says that such values are no design stresses: they are divided by the factors of the rules.
    pub lap_shear_mpa: Sourced<f64>,
    /// Tension at an edge that it bears, as a share of the lap shear strength.
    pub tension_share: Sourced<f64>,
    /// Stress that it may bear for years, MPa, where that is less than what the factors leave.
    #[serde(default)]
    pub sustained_cap_mpa: Option<Sourced<f64>>,
    /// Tape: area that a gram needs for years, mm2.
    #[serde(default)]
    pub tape_mm2_per_g: Option<Sourced<f64>>,
    /// Tape: area that a gram needs for seconds, mm2.
    #[serde(default)]
    pub tape_short_mm2_per_g: Option<Sourced<f64>>,
    /// Coldest and warmest service, degrees Celsius.
    pub service_c: Sourced<[f64; 2]>,
    /// Least and greatest gap that it bridges, mm.
    pub gap_mm: Sourced<[f64; 2]>,
    /// Bond line to which it is pressed, mm; a tape's thickness.
    pub bond_line_mm: Sourced<f64>,
    /// Beads that nozzles lay, mm, the one to prefer first; none for tape and film.
    pub beads_mm: Sourced<Vec<f64>>,
    /// Minutes from the nozzle to the last that a part may be put on.
    pub open_minutes: Sourced<f64>,
    /// Minutes until the part holds by itself.
    pub handle_minutes: Sourced<f64>,
    /// Minutes until it is loaded.
    pub cure_minutes: Sourced<f64>,
    /// How fast a bead is laid or a tape is put down, mm per minute.
    pub lay_mm_per_minute: Sourced<f64>,
    /// Share that is lost in nozzles and at starts.
    pub waste_share: Sourced<f64>,
    /// Density, g/ml.
    pub density_g_ml: Sourced<f64>,
    /// Sizes that are sold, the smallest first.
    pub packs: Vec<PackSize>,
    /// Widths of rolls, mm, the widest first.
    #[serde(default)]
    pub roll_widths_mm: Vec<f64>,
    /// It is clear when it has set.
    pub clear: bool,
    /// Nothing of it is seen round a part when it has set.
    pub unseen: bool,
    /// How it can be undone.
    pub undo: Undo,
    /// What it gives off.
    #[serde(default)]
    pub gives_off: Vec<GivesOff>,
    /// It sets only where air reaches it.
    #[serde(default)]
    pub needs_air: bool,
    /// The part is held down until it holds by itself.
    #[serde(default)]
    pub presses: bool,
    /// Codes of the cautions that its use brings.
    #[serde(default)]
    pub cautions: Vec<String>,
    /// Less is taken rather, where all else is equal.
    pub preference: f64,
}

impl Adhesive {
    /// The first field that cannot be.
    pub(super) fn unsound(&self) -> Option<(&'static str, &'static str)> {
        const RANGE: &str = "is out of any range that can be";
        for (field, value, least, most) in [
            ("lap_shear_mpa", self.lap_shear_mpa.value, 1e-6, 1e3),
            ("tension_share", self.tension_share.value, 1e-6, 10.0),
            (
                "sustained_cap_mpa",
                self.sustained_cap_mpa.as_ref().map_or(1.0, |s| s.value),
                1e-6,
                1e3,
            ),
            (
                "tape_mm2_per_g",
                self.tape_mm2_per_g.as_ref().map_or(1.0, |s| s.value),
                1e-6,
                1e6,
            ),
            (
                "tape_short_mm2_per_g",
                self.tape_short_mm2_per_g.as_ref().map_or(1.0, |s| s.value),
                1e-6,
                1e6,
            ),
            ("bond_line_mm", self.bond_line_mm.value, 0.01, 20.0),
            ("open_minutes", self.open_minutes.value, 0.0, 1e6),
            ("handle_minutes", self.handle_minutes.value, 0.0, 1e6),
            ("cure_minutes", self.cure_minutes.value, 0.0, 1e6),
            ("lay_mm_per_minute", self.lay_mm_per_minute.value, 1.0, 1e6),
            ("waste_share", self.waste_share.value, 0.0, 10.0),
            ("density_g_ml", self.density_g_ml.value, 0.01, 30.0),
            ("preference", self.preference, 0.0, 1e3),
        ] {
            if !(least..=most).contains(&value) {
                return Some((field, RANGE));
            }
        }
        let [low, high] = self.gap_mm.value;
        if !(low >= 0.0 && high >= low && high <= 100.0) {
            return Some(("gap_mm", RANGE));
        }
        let [cold, warm] = self.service_c.value;
        if !(cold >= -273.0 && warm >= cold && warm <= 1000.0) {
            return Some(("service_c", RANGE));
        }
        if !self.beads_mm.value.iter().all(|b| (0.1..=50.0).contains(b)) {
            return Some(("beads_mm", RANGE));
        }
        if !self
            .roll_widths_mm
            .iter()
            .all(|w| (0.5..=500.0).contains(w))
        {
            return Some(("roll_widths_mm", RANGE));
        }
        if self.packs.iter().any(|p| !(p.size > 0.0 && p.size <= 1e7)) {
            return Some(("packs", RANGE));
        }
        match self.apply_as {
            ApplyAs::Tape if self.roll_widths_mm.is_empty() => {
                Some(("roll_widths_mm", "a tape needs a width"))
            }
            ApplyAs::Bead | ApplyAs::Dots if self.beads_mm.value.is_empty() => {
                Some(("beads_mm", "needs a bead"))
            }
            _ => None,
        }
    }
}

/// Sheet material for fills, lifts and pads.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Foam {
    /// What people call it.
    pub name: String,
    /// Its material.
    pub material: String,
    /// Stock thicknesses, mm.
    pub thicknesses_mm: Sourced<Vec<f64>>,
    /// Width and height of a sheet, mm.
    pub sheet_mm: Sourced<[f64; 2]>,
    /// Less is taken rather, where as few layers do.
    pub preference: f64,
}

/// A board that carries the parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Board {
    /// What people call it.
    pub name: String,
    /// Material of its face.
    pub face: String,
    /// Thickness, mm.
    pub thickness_mm: Sourced<f64>,
    /// Mass, g per m2.
    pub mass_g_m2: Sourced<f64>,
    /// Modulus in bending of the whole section, MPa.
    pub e_mpa: Sourced<f64>,
    /// Stress at which its facing tears or splits in a test, MPa.
    pub facing_mpa: Sourced<f64>,
}

/// What closes a frame behind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Backing {
    /// What people call it.
    pub name: String,
    /// Thickness, mm.
    pub thickness_mm: Sourced<f64>,
    /// Density, g/cm3.
    pub density_g_cm3: Sourced<f64>,
}

/// Glass or acrylic.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Glazing {
    /// What people call it.
    pub name: String,
    /// Thickness, mm.
    pub thickness_mm: Sourced<f64>,
    /// Density, kg/m3.
    pub density_kg_m3: Sourced<f64>,
    /// It breaks into shards.
    pub glass: bool,
}

/// A stock rebate depth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rebate {
    /// What it is sold as.
    pub name: String,
    /// From the front of the glazing to the back of the backing, mm.
    pub rebate_mm: Sourced<f64>,
}

/// What a frame hangs by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hanger {
    /// What people call it.
    pub name: String,
    /// What one is rated for, g.
    pub rating_g: Sourced<f64>,
    /// Two of it carry a wire; otherwise each hangs on its own hook.
    pub with_wire: bool,
}

/// A picture wire.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WireRope {
    /// What people call it.
    pub name: String,
    /// What it is rated for, N.
    pub rating_n: Sourced<f64>,
}

/// A tie, strap or screw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fastening {
    /// What people call it.
    pub name: String,
    /// What one holds, N.
    pub holds_n: Sourced<f64>,
    /// Its hole in the board, mm; for a screw what the hole is wider than the screw.
    pub hole_mm: Sourced<f64>,
}
