//! Distances, factors and limits.

use piece::Sourced;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

macro_rules! rules {
    ($($(#[$doc:meta])* $name:ident: $unit:literal, $least:expr, $most:expr;)*) => {
        /// Distances, factors and limits.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct Rules {
            $($(#[$doc])* pub $name: Sourced<f64>,)*
        }

        impl Rules {
            /// The first rule whose value cannot be.
            pub(super) fn unsound(&self) -> Option<(&'static str, &'static str)> {
                $(if !($least..=$most).contains(&self.$name.value) {
                    return Some((stringify!($name), concat!("must be ", stringify!($least), " to ", stringify!($most))));
                })*
                None
            }

            /// All rules by name, with their unit.
            pub(crate) fn all(&self) -> Vec<(&'static str, &'static str, &Sourced<f64>)> {
                vec![$((stringify!($name), $unit, &self.$name),)*]
            }
        }
    };
}

rules! {
    /// Air between the tallest part and the glazing, mm.
    air_gap_mm: "mm", 0.0, 200.0;
    /// Least air between any part and the glazing, mm.
    least_air_gap_mm: "mm", 0.0, 200.0;
    /// From the edge of a pressed bead to the part's edge, mm.
    bead_margin_mm: "mm", 0.0, 200.0;
    /// From a tape's edge to the part's edge, mm.
    tape_margin_mm: "mm", 0.0, 200.0;
    /// From a fill to the wall round it, mm.
    fill_clearance_mm: "mm", 0.0, 200.0;
    /// From a fill's edge to openings and bosses, mm.
    opening_margin_mm: "mm", 0.0, 200.0;
    /// Narrowest that a fill may be, mm.
    fill_least_width_mm: "mm", 1.0, 100.0;
    /// How far a lift stays behind the part's edge, mm.
    lift_inset_mm: "mm", 0.0, 200.0;
    /// Most that a foam stack may be pressed together, as a share of its height.
    most_compression: "", 0.0, 0.5;
    /// Side of a pad, mm.
    pad_mm: "mm", 2.0, 100.0;
    /// Partial factor for the property's scatter.
    factor_property: "", 1.0, 20.0;
    /// Partial factor for the bond line's thickness.
    factor_thickness: "", 1.0, 20.0;
    /// Partial factor for years of load.
    factor_long_term: "", 1.0, 20.0;
    /// Partial factor for the surroundings.
    factor_environment: "", 1.0, 20.0;
    /// Least factor of all together.
    factor_least: "", 1.0, 100.0;
    /// Shock in carriage, times gravity.
    shock_g: "times gravity", 1.0, 500.0;
    /// Mass above which something beside adhesive holds a part, g.
    tie_above_g: "g", 0.0, 100000.0;
    /// Share of what is allowed above which something beside adhesive holds a part.
    tie_above_utilisation: "", 0.0, 1.0;
    /// Mass below which a part is not tied as long as its adhesive does alone, g: a strap would be larger than a screw.
    tie_from_g: "g", 0.0, 100000.0;
    /// Greatest distance between two beads, mm.
    infill_pitch_mm: "mm", 5.0, 1000.0;
    /// Length of the gaps that let air to a bead which needs it, mm.
    vent_mm: "mm", 0.0, 200.0;
    /// How far a board may bow, as a share of its shorter side.
    bow_span_share: "", 0.0001, 0.1;
    /// Times that the hangers carry the piece.
    hanger_times: "", 1.0, 100.0;
    /// Times that the wire bears its tension.
    wire_times: "", 1.0, 100.0;
    /// Where the hangers sit below the upper edge, as a share of the height.
    hanger_below_top: "", 0.05, 0.5;
    /// Angle of the wire's halves to the horizontal, degrees.
    wire_above_horizontal_deg: "degrees", 5.0, 85.0;
    /// Warmest that a piece hangs, degrees Celsius.
    warmest_c: "degrees Celsius", -20.0, 90.0;
    /// Share of a moulding's width times height that is wood.
    moulding_share: "", 0.1, 1.0;
    /// Density of a part of which neither mass nor material is known, g/cm3.
    unknown_density_g_cm3: "g/cm³", 0.1, 20.0;
    /// Gravity, m/s2.
    gravity_m_s2: "m/s²", 9.0, 10.0;
    /// Poisson's ratio of boards.
    poisson: "", 0.0, 0.49;
    /// Width below which a part gets dots in place of beads, mm.
    narrow_mm: "mm", 0.0, 200.0;
    /// How far the centre of mass may lie beside the middle, as a share of the width.
    off_centre_share: "", 0.001, 0.5;
}
