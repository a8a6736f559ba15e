//! Total mass, hangers, wire.

use crate::catalogue::Catalogue;
use crate::depth::Sandwich;
use crate::say::Findings;
use crate::subject::Subject;
use crate::texts::{number, params, say};
use piece::{Hanging, Level, MassLine, Moulding, Piece, Wire};

/// Tension in each half of a wire from whose middle a weight hangs, N: T = W / (2 cos a), a from the vertical.
///
/// ```
/// // A textbook's problem: T = 0.75 W at 48.2 degrees from the vertical.
/// assert!((mount::wire_tension_n(100.0, 90.0 - 48.19) - 75.0).abs() < 0.01);
/// ```
pub fn wire_tension_n(weight_n: f64, above_horizontal_deg: f64) -> f64 {
    weight_n / (2.0 * above_horizontal_deg.to_radians().sin())
}

/// Mass of a sheet, g: sides and thickness in mm, density in kg/m3.
///
/// ```
/// // 2 mm of float glass: 5.0 kg/m2.
/// assert!((mount::sheet_mass_g([1000.0, 1000.0], 2.0, 2500.0) - 5000.0).abs() < 1e-9);
/// ```
pub fn sheet_mass_g(sides_mm: [f64; 2], thickness_mm: f64, density_kg_m3: f64) -> f64 {
    sides_mm[0] * sides_mm[1] * thickness_mm * density_kg_m3 * 1e-6
}

/// What the parts are mounted on and closed in with.
pub(crate) struct Around<'a> {
    pub(crate) sandwich: &'a Sandwich<'a>,
    pub(crate) board_g: f64,
    /// Supports and adhesives, g.
    pub(crate) small_g: f64,
    /// Rebate depth, mm: the frame's, or what is needed where that is not known.
    pub(crate) depth_mm: f64,
}

/// Masses of the whole piece, the heaviest first.
pub(crate) fn masses(
    piece: &Piece,
    subjects: &[Subject<'_>],
    around: &Around<'_>,
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Vec<MassLine> {
    let size = piece.frame.size_mm;
    let line = |code: &str, name: &str, mass_g: f64, estimated: bool| MassLine {
        what: say(code, params!("name": name)),
        mass_g,
        estimated,
    };
    let sandwich = around.sandwich;
    let (glazing, backing) = (sandwich.glazing.1, sandwich.backing.1);
    let moulding = piece
        .choices
        .moulding
        .clone()
        .unwrap_or_else(|| Moulding::usual(around.depth_mm));
    let wood = catalogue.materials.get(&moulding.material);
    if wood.is_none() {
        findings.tell(
            Level::Fix,
            "hang.moulding-unknown",
            vec![],
            vec![say(
                "case.hang.moulding-unknown",
                params!("name": format!("{:?}", moulding.material)),
            )],
            say("remedy.hang.moulding-unknown", &[]),
        );
    }
    let density = wood
        .or(catalogue.materials.get("pine"))
        .map_or(0.5, |m| m.density_g_cm3.value);
    // Mitred corners: the middle line of the moulding runs round at half its width outside the glazing.
    let round_mm = 2.0 * (size[0] + size[1]) + 4.0 * moulding.width_mm;
    let share = catalogue.rules.moulding_share.value;
    let moulding_g = round_mm * moulding.width_mm * moulding.height_mm * share * density / 1000.0;
    let parts_g: f64 = subjects.iter().map(|s| s.mass_g).sum();
    let mut all = vec![
        line(
            "mass.glazing",
            &glazing.name,
            sheet_mass_g(
                size,
                glazing.thickness_mm.value,
                glazing.density_kg_m3.value,
            ),
            true,
        ),
        line("mass.moulding", &moulding.material, moulding_g, true),
        line("mass.board", &sandwich.board.1.name, around.board_g, true),
        line(
            "mass.backing",
            &backing.name,
            sheet_mass_g(
                size,
                backing.thickness_mm.value,
                1000.0 * backing.density_g_cm3.value,
            ),
            true,
        ),
        line(
            "mass.parts",
            "",
            parts_g,
            subjects.iter().any(|s| s.mass_estimated),
        ),
        line("mass.small", "", around.small_g, true),
    ];
    all.sort_by(|a, b| b.mass_g.total_cmp(&a.mass_g));
    all
}

/// Hangers and wire for a piece of that mass.
pub(crate) fn plan(
    piece: &Piece,
    masses: Vec<MassLine>,
    subjects: &[Subject<'_>],
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> Hanging {
    let r = &catalogue.rules;
    let mass_g: f64 = masses.iter().map(|m| m.mass_g).sum();
    const COUNT: u32 = 2;
    let hanger = catalogue
        .hangers
        .iter()
        .filter(|(_, h)| f64::from(COUNT) * h.rating_g.value >= r.hanger_times.value * mass_g)
        .min_by(|a, b| a.1.rating_g.value.total_cmp(&b.1.rating_g.value));
    let strongest = catalogue
        .hangers
        .iter()
        .max_by(|a, b| a.1.rating_g.value.total_cmp(&b.1.rating_g.value));
    if hanger.is_none() {
        findings.tell(
            Level::Stop,
            "hang.too-heavy",
            vec![],
            vec![say(
                "case.hang.too-heavy",
                params!("mass_kg": mass_g / 1000.0, "times": r.hanger_times.value),
            )],
            say("remedy.hang.too-heavy", &[]),
        );
    }
    let (name, hanger) = match hanger.or(strongest) {
        Some((name, h)) => (name.clone(), Some(h)),
        None => (String::new(), None),
    };
    let rating_g = hanger.map_or(0.0, |h| h.rating_g.value);
    let weight_n = mass_g / 1000.0 * r.gravity_m_s2.value;
    let angle = r.wire_above_horizontal_deg.value;
    let tension_n = wire_tension_n(weight_n, angle);
    let wire = hanger
        .filter(|h| h.with_wire)
        .and_then(|_| {
            let enough = |n: f64| n >= r.wire_times.value * tension_n;
            catalogue
                .wires
                .iter()
                .filter(|(_, w)| enough(w.rating_n.value))
                .min_by(|a, b| a.1.rating_n.value.total_cmp(&b.1.rating_n.value))
        })
        .map(|(id, w)| {
            // The hangers sit on the moulding; each end is wound back on itself for 60 mm.
            let apart = piece.frame.size_mm[0];
            Wire {
                name: id.clone(),
                above_horizontal_deg: angle,
                tension_n,
                rating_n: w.rating_n.value,
                length_mm: apart / angle.to_radians().cos() + 120.0,
            }
        });
    let off_centre_mm = off_centre_mm(piece, subjects, mass_g);
    if off_centre_mm.abs() > r.off_centre_share.value * piece.frame.size_mm[0] {
        findings.note(
            "hang.off-centre",
            vec![],
            format!(
                "The centre of mass lies {} mm {} of the middle: on one hook the piece would hang askew.",
                number(off_centre_mm.abs()),
                if off_centre_mm > 0.0 { "right" } else { "left" }
            ),
            "Hang it on two hooks.",
        );
    }
    let mut notes = vec![say("hang.wall", params!("mass_kg": mass_g / 1000.0))];
    if wire.is_none() {
        notes.push(say("hang.no-wire", &[]));
    }
    notes.push(say("hang.two-hooks", &[]));
    Hanging {
        masses,
        hanger: name,
        count: COUNT,
        rating_g,
        times: f64::from(COUNT) * rating_g / mass_g.max(1e-9),
        below_top_mm: r.hanger_below_top.value * piece.frame.size_mm[1],
        off_centre_mm,
        wire,
        notes,
    }
}

/// How far the parts move the whole piece's centre of mass to the right of the middle, mm.
fn off_centre_mm(piece: &Piece, subjects: &[Subject<'_>], mass_g: f64) -> f64 {
    let middle = piece.frame.window().centre().x;
    let moment: f64 = subjects
        .iter()
        .map(|s| s.mass_g * (s.board_from_part.apply(s.centre()).x - middle))
        .sum();
    moment / mass_g.max(1e-9)
}
