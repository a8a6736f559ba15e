//! How an adhesive is laid, in words, minutes and cautions.

use crate::catalogue::{Adhesive, Catalogue};
use crate::cautions::caution;
use crate::texts::{number, params, say};
use piece::{ApplyAs, Bond, Caution, Part, Phrase};

pub(super) fn laying_minutes(bond: &Bond) -> f64 {
    match bond.lay_minutes {
        Some(minutes) => minutes,
        None => bond.tapes.len() as f64 * 0.5,
    }
}

pub(super) fn glue_cautions(bond: &Bond, catalogue: &Catalogue) -> Vec<Caution> {
    catalogue
        .adhesives
        .get(&bond.adhesive)
        .map(|a| {
            a.cautions
                .iter()
                .map(|code| caution(code, vec![]))
                .collect()
        })
        .unwrap_or_default()
}

pub(super) fn glue_title(part: &Part, bond: &Bond, catalogue: &Catalogue) -> Phrase {
    let name = catalogue
        .adhesives
        .get(&bond.adhesive)
        .map_or(bond.adhesive.as_str(), |a: &Adhesive| a.name.as_str());
    say(
        "step.glue",
        params!("part": part.name.clone(), "adhesive": name),
    )
}

pub(super) fn how_to_lay(bond: &Bond, catalogue: &Catalogue) -> Vec<Phrase> {
    let Some(a) = catalogue.adhesives.get(&bond.adhesive) else {
        return Vec::new();
    };
    let adhesive = a.name.clone();
    let mut how = Vec::new();
    match bond.apply_as {
        ApplyAs::Bead => {
            let length: f64 = bond
                .paths
                .iter()
                .flat_map(|p| p.windows(2))
                .map(|w| w[0].distance_mm(w[1]))
                .sum();
            how.push(say(
                "how.bead",
                params!("adhesive": adhesive, "bead_mm": bond.bead_mm, "length_mm": length.round(), "dose_ml": bond.dose_ml),
            ));
            let infill = bond.paths.len() - bond.perimeter_paths.min(bond.paths.len());
            if infill > 0 {
                how.push(say("how.infill", params!("count": infill)));
            }
            if a.needs_air {
                how.push(say("how.vent", &[]));
            }
        }
        ApplyAs::Dots => how.push(say(
            "how.dots",
            params!("adhesive": adhesive, "count": bond.dots.len(), "bead_mm": bond.bead_mm, "dose_ml": bond.dose_ml),
        )),
        ApplyAs::Tape => {
            let widths: Vec<String> = bond
                .tapes
                .iter()
                .map(|t| format!("{} x {} mm", number(t.width_mm), number(t.length_mm.round())))
                .collect();
            how.push(say(
                "how.tape",
                params!("adhesive": adhesive, "pieces": widths.join(", ")),
            ));
            how.push(say("how.tape-press", &[]));
        }
        ApplyAs::Film => how.push(say(
            "how.film",
            params!("adhesive": adhesive, "dose_ml": bond.dose_ml),
        )),
    }
    if let Some(open) = bond.open_minutes {
        how.push(say(
            "how.open-time",
            params!("open": open, "bond_line_mm": bond.bond_line_mm),
        ));
    }
    how
}
