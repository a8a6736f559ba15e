//! How much adhesive there is in a bead, and how far it spreads.

use std::f64::consts::PI;

/// Width to which a round bead spreads when it is pressed to a bond line, mm: its area stays.
///
/// ```
/// assert!((mount::bead_spread_mm(3.0, 1.0) - 7.069).abs() < 0.001);
/// ```
pub fn bead_spread_mm(bead_mm: f64, bond_line_mm: f64) -> f64 {
    PI * bead_mm * bead_mm / (4.0 * bond_line_mm)
}

/// Diameter to which a ball of adhesive spreads when it is pressed to a bond line, mm: its volume stays.
pub fn dot_spread_mm(dot_mm: f64, bond_line_mm: f64) -> f64 {
    (2.0 * dot_mm.powi(3) / (3.0 * bond_line_mm)).sqrt()
}

/// What a bead of that length holds, ml.
pub fn bead_ml(length_mm: f64, bead_mm: f64) -> f64 {
    length_mm * PI * bead_mm * bead_mm / 4.0 / 1000.0
}

/// What a dot holds, ml.
pub fn dot_ml(dot_mm: f64) -> f64 {
    PI * dot_mm.powi(3) / 6.0 / 1000.0
}
