//! What can hurt someone, what protects, and the rule. Texts are in `texts`.

use crate::say::Findings;
use crate::subject::{Subject, Withheld};
use crate::texts::{params, say};
use piece::{Caution, Hazard, Level, Part, PartId, Piece, Sanitization};

/// What protects against each danger, by the caution's code.
const PROTECTION: &[(&str, &[&str])] = &[
    ("cell", &["wear.eyes", "keep.sand"]),
    ("flash-capacitor", &["wear.eyes", "call.qualified"]),
    ("mains", &["call.qualified"]),
    ("lamp", &["wear.gloves", "wear.eyes", "keep.box"]),
    ("tube", &["call.qualified"]),
    ("beryllium", &["wear.gloves", "keep.box"]),
    (
        "cracked-glass",
        &["wear.cut-gloves", "wear.eyes", "keep.film"],
    ),
    ("sharp-edge", &["wear.cut-gloves"]),
    ("solvent", &["keep.air", "wear.gloves", "keep.flames"]),
    ("solder", &["keep.extraction", "wear.eyes", "wash.hands"]),
    ("hot-air", &["keep.extraction", "wear.heat-gloves"]),
    ("knife", &["wear.cut-gloves"]),
    ("drill", &["wear.eyes"]),
    ("glazing", &["wear.cut-gloves"]),
    ("glue.neutral-silicone", &["keep.air"]),
    ("glue.acetic-silicone", &["keep.air"]),
    ("glue.ms-polymer", &["keep.air"]),
    ("glue.epoxy", &["wear.gloves", "keep.air"]),
    ("glue.cyanoacrylate", &["wear.eyes", "keep.air"]),
    ("glue.solvent", &["keep.air", "keep.flames"]),
    ("glue.hot-melt", &["wear.heat-gloves"]),
    ("wall", &["call.local"]),
];

/// Whether there is a caution of that code.
pub(crate) fn is_known(code: &str) -> bool {
    PROTECTION.iter().any(|(c, _)| *c == code)
}

/// The caution of that code about some parts.
pub(crate) fn caution(code: &str, parts: Vec<PartId>) -> Caution {
    let phrase = say(&format!("caution.{code}"), &[]);
    Caution {
        code: code.into(),
        params: phrase.params,
        text: phrase.text,
        protection: PROTECTION
            .iter()
            .find(|(c, _)| *c == code)
            .map_or(&[][..], |(_, p)| p)
            .iter()
            .map(|p| say(p, &[]))
            .collect(),
        rule: say(&format!("rule.{code}"), &[]),
        parts,
    }
}

/// The code of a hazard's caution.
pub(crate) fn code_of(hazard: Hazard) -> &'static str {
    match hazard {
        Hazard::LithiumCell => "cell",
        Hazard::FlashCapacitor => "flash-capacitor",
        Hazard::MainsPart => "mains",
        Hazard::ColdCathodeLamp => "lamp",
        Hazard::CathodeRayTube => "tube",
        Hazard::Beryllium => "beryllium",
        Hazard::CrackedGlass => "cracked-glass",
        Hazard::SharpEdge => "sharp-edge",
    }
}

/// The cautions of what a part is and carries.
pub(crate) fn of_part(part: &Part) -> Vec<Caution> {
    let mut codes: Vec<&str> = part.hazards.iter().map(|h| code_of(*h)).collect();
    if part.is_cell() {
        codes.push(code_of(Hazard::LithiumCell));
    }
    codes.sort_unstable();
    codes.dedup();
    codes
        .into_iter()
        .map(|c| caution(c, vec![part.id.clone()]))
        .collect()
}

/// Findings about dangers, data and stand-ins.
pub(crate) fn check(piece: &Piece, subjects: &[Subject<'_>], findings: &mut Findings) {
    for s in subjects {
        match s.withheld {
            Some(Withheld::Cell) => findings.tell_about(
                s,
                Level::Stop,
                "hazard.cell",
                vec![say("case.hazard.cell", params!("part": s.named()))],
                say("remedy.hazard.cell", &[]),
            ),
            Some(Withheld::Refused) => findings.tell_about(
                s,
                Level::Stop,
                "hazard.refused",
                vec![say("case.hazard.refused", params!("part": s.named()))],
                say("remedy.hazard.refused", &[]),
            ),
            Some(Withheld::Dangerous) => findings.tell_about(
                s,
                Level::Stop,
                "hazard.dangerous",
                vec![say("case.hazard.dangerous", params!("part": s.named()))],
                say("remedy.hazard.dangerous", &[]),
            ),
            Some(Withheld::CannotBeFreed) => findings.tell_about(
                s,
                Level::Fix,
                "stand-in.cannot-be-freed",
                vec![say(
                    "case.stand-in.cannot-be-freed",
                    params!("part": s.named()),
                )],
                say("remedy.stand-in.cannot-be-freed", &[]),
            ),
            None => {}
        }
        if s.part.is_cell() && s.part.freed_by.is_some_and(|w| !gentle(w)) {
            findings.tell_about(
                s,
                Level::Stop,
                "hazard.cell-freed-by-force",
                vec![say(
                    "case.hazard.cell-freed-by-force",
                    params!("part": s.named()),
                )],
                say("remedy.hazard.cell-freed-by-force", &[]),
            );
        }
    }
    for part in &piece.parts {
        let Some(record) = &part.storage else {
            continue;
        };
        let ids = vec![part.id.clone()];
        let named = part.named();
        match record.sanitization {
            None => findings.tell(
                Level::Fix,
                "data.unknown",
                ids,
                vec![say("case.data.unknown", params!("part": named.clone()))],
                say("remedy.data.unknown", &[]),
            ),
            Some(done) if record.by.is_none() || record.on.is_none() => findings.note(
                "data.incomplete",
                ids,
                format!(
                    "{named}: its data were {}, but by whom or when is not recorded.",
                    sanitized(done)
                ),
                "Record who did it and on which day.",
            ),
            Some(_) => {}
        }
        if let Some(on) = record.on.as_ref().filter(|on| !is_day(on)) {
            findings.note(
                "data.day",
                vec![part.id.clone()],
                format!("{named}: {on:?} is no day that can be read."),
                "Write it as YYYY-MM-DD.",
            );
        }
    }
}

fn gentle(way: piece::FreedBy) -> bool {
    use piece::FreedBy::{Lifting, Unplugging, Unscrewing};
    matches!(way, Lifting | Unscrewing | Unplugging)
}

pub(crate) fn sanitized(done: Sanitization) -> &'static str {
    match done {
        Sanitization::Clear => "cleared",
        Sanitization::Purge => "purged",
        Sanitization::Destroy => "destroyed",
    }
}

/// YYYY-MM-DD, with a month and a day that can be.
fn is_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let number = |t: &str, digits: usize| {
        (t.len() == digits && t.bytes().all(|b| b.is_ascii_digit()))
            .then(|| t.parse::<u32>().ok())
            .flatten()
    };
    let [y, m, d] = parts[..] else {
        return false;
    };
    number(y, 4).is_some()
        && number(m, 2).is_some_and(|m| (1..=12).contains(&m))
        && number(d, 2).is_some_and(|d| (1..=31).contains(&d))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_caution_has_its_text_its_rule_and_what_protects() {
        let known: Vec<&str> = crate::texts::english().iter().map(|(c, _)| *c).collect();
        for (code, protection) in PROTECTION {
            for text in [format!("caution.{code}"), format!("rule.{code}")] {
                assert!(known.contains(&text.as_str()), "{text}");
            }
            assert!(protection.iter().all(|p| known.contains(p)), "{code}");
        }
        let catalogue = crate::Catalogue::built_in().unwrap();
        for (id, a) in &catalogue.adhesives {
            for code in &a.cautions {
                assert!(PROTECTION.iter().any(|(c, _)| c == code), "{id}: {code}");
            }
        }
    }
}
