//! What people should know of a plan: what nobody told, what a shock does, what dries before it is laid.

use crate::catalogue::Catalogue;
use crate::depth::parts_in_words;
use crate::say::{Findings, up};
use crate::subject::Subject;
use crate::texts::{number, params, say};
use piece::{BoardPlan, Bond, Level, PartId};

/// Masses and materials that nobody told.
pub(super) fn check_knowledge(
    subjects: &[Subject<'_>],
    catalogue: &Catalogue,
    findings: &mut Findings,
) {
    let ids = |pick: &dyn Fn(&Subject<'_>) -> bool| -> Vec<PartId> {
        subjects
            .iter()
            .filter(|s| pick(s))
            .map(|s| s.part.id.clone())
            .collect()
    };
    let unknown = ids(&|s| s.mass_estimated && s.is_real());
    if !unknown.is_empty() {
        let text = format!(
            "The mass of {} is not known; it is estimated from outline, height and material.",
            parts_in_words(unknown.len())
        );
        findings.note("mass.unknown", unknown, text, "Weigh them (mass_g).");
    }
    let bare = ids(&|s| s.material_name.is_empty());
    if !bare.is_empty() {
        let text = format!(
            "The back face of {} is not known; an adhesive is chosen that holds on most faces.",
            parts_in_words(bare.len())
        );
        findings.note(
            "bond.face-unknown",
            bare,
            text,
            "Say what the face is made of that is glued (back_face).",
        );
    }
    for s in subjects {
        if s.material.is_none() && !s.material_name.is_empty() {
            let known: Vec<&str> = catalogue.materials.keys().map(String::as_str).collect();
            findings.tell_about(
                s,
                Level::Fix,
                "bond.material-unknown",
                vec![say(
                    "case.bond.material-unknown",
                    params!("part": s.named(), "material": format!("{:?}", s.material_name)),
                )],
                say("remedy.choose-or-add", params!("names": known.join(", "))),
            );
        }
        if s.part.wall_mm.is_some() != s.part.inner_depth_mm.is_some() && s.is_real() {
            findings.note_about(
                s,
                "support.half-known",
                format!(
                    "{} has a wall or an inner depth, but not both: it counts as solid.",
                    s.named()
                ),
                "Give both (wall_mm, inner_depth_mm), or neither.",
            );
        }
        if let Some([inner, wall]) = s.hollow()
            && !s.height_unknown
            && (inner >= s.height_mm || wall <= 0.0)
        {
            findings.tell_about(
                s,
                Level::Fix,
                "support.impossible",
                vec![say(
                    "case.support.impossible",
                    params!(
                        "part": s.named(), "height_mm": s.height_mm, "inner_mm": inner,
                        "wall_mm": wall
                    ),
                )],
                say("remedy.support.impossible", &[]),
            );
        }
    }
}

/// A shock throws the board's middle towards the glazing.
pub(super) fn check_shock_bow(
    depth: &piece::Depth,
    board: &BoardPlan,
    shock_g: f64,
    findings: &mut Findings,
) {
    let thrown = board.bow_mm * shock_g;
    let nearest = depth
        .parts
        .iter()
        .map(|p| p.clearance_mm)
        .fold(f64::INFINITY, f64::min);
    if nearest > 0.0 && thrown >= nearest {
        findings.note(
            "board.shock-bow",
            vec![],
            format!(
                "In a shock of {} times gravity the board's middle would bow by about {} mm; the nearest part is {} mm \
                 from the glazing.",
                number(shock_g),
                up(thrown),
                crate::say::down(nearest)
            ),
            match board.would_do.first() {
                Some(id) => format!("Take a stiffer board ({id}) before it travels, or carry it by hand."),
                None => "Glue battens behind the board before it travels, or carry it by hand.".into(),
            },
        );
    }
}

/// What people should know of the bonds.
pub(super) fn check_bonds(bonds: &[Bond], findings: &mut Findings) {
    for b in bonds {
        if let (Some(lay), Some(open)) = (b.lay_minutes, b.open_minutes)
            && lay > open
        {
            findings.tell(
                Level::Fix,
                "bond.open-time",
                vec![b.part.clone()],
                vec![say(
                    "case.bond.open-time",
                    params!(
                        "part": b.part.to_string(), "adhesive": b.adhesive.clone(), "minutes": lay,
                        "open": open
                    ),
                )],
                say("remedy.bond.open-time", &[]),
            );
        }
    }
}
