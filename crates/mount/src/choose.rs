//! Which adhesive: every one of the catalogue is laid and judged, and the best is taken.

use crate::catalogue::{Adhesive, Catalogue, FaceClass, GivesOff, Grade, Undo};
use crate::inset::Face;
use crate::lay::{Laid, Lie, lay};
use crate::strength::{Load, judge};
use crate::texts::{params, say};
use piece::{ApplyAs, BuildChoices, LoadResult, Phrase};

/// A joint to be glued.
pub(crate) struct JointAsked<'a> {
    /// Where the two faces meet, in the part's own coordinates.
    pub(crate) faces: &'a [Face],
    /// Materials of the two faces by name: the part's side first.
    pub(crate) materials: [&'a str; 2],
    pub(crate) load: Load,
    /// What the board's facing bears, MPa, where the joint is on the board.
    pub(crate) facing_mpa: Option<f64>,
    pub(crate) up_deg: f64,
    /// A ribbon or film: only tape.
    pub(crate) ribbon: bool,
    /// The part's side can be seen through.
    pub(crate) seen_through: bool,
}

/// What one adhesive would be in a joint.
pub(crate) struct Candidate {
    pub(crate) id: String,
    pub(crate) laid: Option<Laid>,
    pub(crate) loads: Vec<LoadResult>,
    pub(crate) utilisation: f64,
    /// What excludes it.
    pub(crate) against: Vec<Phrase>,
    /// What it is weaker in than others.
    pub(crate) weaker: Vec<Phrase>,
    /// What speaks for it.
    pub(crate) reasons: Vec<Phrase>,
    /// Less is better.
    score: f64,
}

impl Candidate {
    pub(crate) fn would_do(&self) -> bool {
        self.against.is_empty()
    }
}

/// How much each weakness counts, in steps of an adhesive's `preference`. Our own; a user moves `preference`.
mod weight {
    pub(super) const FAIR: f64 = 2.0;
    pub(super) const POOR: f64 = 7.0;
    pub(super) const NOT_UNDONE: f64 = 3.0;
    pub(super) const SEEN: f64 = 4.0;
    pub(super) const FUMES: f64 = 2.0;
    pub(super) const CRACKS: f64 = 4.0;
    pub(super) const HEAVY_USE: f64 = 3.0;
    pub(super) const OVER_OPEN_TIME: f64 = 2.0;
    pub(super) const DOTS: f64 = 0.5;
}

/// All adhesives of the catalogue for a joint: those that would do first, the best first.
pub(crate) fn candidates(
    joint: &JointAsked<'_>,
    catalogue: &Catalogue,
    choices: &BuildChoices,
) -> Vec<Candidate> {
    let mut all: Vec<Candidate> = catalogue
        .adhesives
        .iter()
        .map(|(id, a)| candidate(id, a, joint, catalogue, choices))
        .collect();
    all.sort_by(|a, b| {
        (b.would_do().cmp(&a.would_do()))
            .then(a.score.total_cmp(&b.score))
            .then(a.id.cmp(&b.id))
    });
    all
}

fn candidate(
    id: &str,
    a: &Adhesive,
    joint: &JointAsked<'_>,
    catalogue: &Catalogue,
    choices: &BuildChoices,
) -> Candidate {
    let r = &catalogue.rules;
    let mut c = Candidate {
        id: id.into(),
        laid: None,
        loads: Vec::new(),
        utilisation: 0.0,
        against: Vec::new(),
        weaker: Vec::new(),
        reasons: Vec::new(),
        score: a.preference,
    };
    judge_faces(&mut c, a, joint, catalogue);
    judge_place(&mut c, a, joint, catalogue, choices);
    if joint.ribbon && a.apply_as != ApplyAs::Tape {
        c.against
            .push(say("not.ribbon", params!("adhesive": a.name.clone())));
    } else if joint.ribbon {
        c.reasons.push(say("why.ribbon", &[]));
    }
    if !c.would_do() {
        return c;
    }
    let lie = Lie {
        up_deg: joint.up_deg,
        airtight: !porous(joint, catalogue),
        all_along: joint.ribbon,
        mass_g: joint.load.mass_g,
        shock_g: joint.load.shock_g,
    };
    let laid = lay(joint.faces, a, &lie, r);
    let group = laid.as_ref().and_then(Laid::group);
    let (Some(laid), Some(group)) = (laid, group) else {
        c.against
            .push(say("not.too-narrow", params!("adhesive": a.name.clone())));
        return c;
    };
    c.loads = judge(&group, &joint.load, a, joint.facing_mpa, r);
    c.utilisation = c.loads.first().map_or(0.0, |l| l.utilisation);
    if c.utilisation > 1.0 {
        c.against.push(say(
            "not.too-weak",
            params!("adhesive": a.name.clone(), "percent": 100.0 * c.utilisation),
        ));
    }
    c.score += weight::HEAVY_USE * c.utilisation.min(1.0);
    if laid.lay_minutes > a.open_minutes.value && a.apply_as != ApplyAs::Tape {
        c.score += weight::OVER_OPEN_TIME;
        c.weaker.push(say(
            "not.open-time",
            params!("minutes": laid.lay_minutes, "open": a.open_minutes.value),
        ));
    }
    if laid.apply_as == Some(ApplyAs::Dots) {
        c.score += weight::DOTS;
    }
    c.laid = Some(laid);
    c
}

/// Air and solvent get out through one of the faces.
fn porous(joint: &JointAsked<'_>, catalogue: &Catalogue) -> bool {
    joint
        .materials
        .iter()
        .filter_map(|m| catalogue.materials.get(*m))
        .any(|m| m.porous)
}

fn judge_faces(c: &mut Candidate, a: &Adhesive, joint: &JointAsked<'_>, catalogue: &Catalogue) {
    let mut worst = Grade::Good;
    let mut gap = 0.0f64;
    for name in joint.materials {
        let Some(face) = catalogue.face_of(name) else {
            // A face that nobody knows: what holds on few kinds of faces is not risked.
            worst = worst.min(unknown_face_grade(&c.id, catalogue));
            continue;
        };
        let grade = grade_on(&c.id, face);
        gap = gap.max(face.gap_mm);
        let material = catalogue.materials.get(name);
        let called = material.map_or(name, |m| m.name.as_str());
        match grade {
            Grade::Never => c.against.push(say(
                "not.never-holds",
                params!("adhesive": a.name.clone(), "material": called),
            )),
            Grade::Poor => c.weaker.push(say(
                "not.holds-badly",
                params!("adhesive": a.name.clone(), "material": called),
            )),
            Grade::Fair => c.weaker.push(say(
                "not.holds-fairly",
                params!("adhesive": a.name.clone(), "material": called),
            )),
            Grade::Good => c.reasons.push(say(
                "why.holds",
                params!("adhesive": a.name.clone(), "material": called),
            )),
        }
        worst = worst.min(grade);
        if let Some(m) = material {
            if m.copper && a.gives_off.contains(&GivesOff::Acid) {
                c.against.push(say(
                    "not.acid",
                    params!("adhesive": a.name.clone(), "material": called),
                ));
            }
            let attacks =
                a.gives_off.contains(&GivesOff::Solvent) || a.gives_off.contains(&GivesOff::Vapour);
            if m.cracks && attacks {
                c.score += weight::CRACKS;
                c.weaker.push(say(
                    "not.cracks",
                    params!("adhesive": a.name.clone(), "material": called),
                ));
            }
        }
    }
    c.score += match worst {
        Grade::Good => 0.0,
        Grade::Fair => weight::FAIR,
        Grade::Poor | Grade::Never => weight::POOR,
    };
    let [_, bridges] = a.gap_mm.value;
    if gap > bridges {
        c.against.push(say(
            "not.gap",
            params!("adhesive": a.name.clone(), "gap_mm": gap, "bridges_mm": bridges),
        ));
    } else if gap > 0.25 {
        c.reasons.push(say(
            "why.gap",
            params!("adhesive": a.name.clone(), "gap_mm": gap),
        ));
    }
}

fn grade_on(adhesive: &str, face: &FaceClass) -> Grade {
    face.holds.get(adhesive).copied().unwrap_or(Grade::Poor)
}

/// The middle grade of an adhesive over all classes of faces.
fn unknown_face_grade(adhesive: &str, catalogue: &Catalogue) -> Grade {
    let mut grades: Vec<Grade> = catalogue
        .faces
        .values()
        .map(|f| grade_on(adhesive, f))
        .collect();
    grades.sort();
    grades
        .get(grades.len() / 2)
        .copied()
        .unwrap_or(Grade::Poor)
        .max(Grade::Poor)
}

fn judge_place(
    c: &mut Candidate,
    a: &Adhesive,
    joint: &JointAsked<'_>,
    catalogue: &Catalogue,
    choices: &BuildChoices,
) {
    let name = || a.name.clone();
    let warmest = choices.warmest_c.unwrap_or(catalogue.rules.warmest_c.value);
    if warmest > a.service_c.value[1] {
        c.against.push(say(
            "not.warmth",
            params!("adhesive": name(), "warmest_c": warmest, "service_c": a.service_c.value[1]),
        ));
    }
    let solvent = a.gives_off.contains(&GivesOff::Solvent);
    let vapour = a.gives_off.contains(&GivesOff::Vapour);
    if (solvent || vapour) && choices.unaired == Some(true) {
        c.against
            .push(say("not.unaired", params!("adhesive": name())));
    }
    if solvent && !porous(joint, catalogue) {
        c.against
            .push(say("not.trapped-solvent", params!("adhesive": name())));
    } else if solvent || vapour {
        c.score += weight::FUMES;
        c.weaker.push(say("not.fumes", params!("adhesive": name())));
    }
    if a.undo == Undo::Never {
        let phrase = say("not.undone", params!("adhesive": name()));
        if choices.reversible == Some(true) {
            c.against.push(phrase);
        } else {
            c.score += weight::NOT_UNDONE;
            c.weaker.push(phrase);
        }
    } else {
        c.reasons
            .push(say(undo_code(a.undo), params!("adhesive": name())));
    }
    if !a.unseen {
        c.score += weight::SEEN;
        c.weaker
            .push(say("not.blooms", params!("adhesive": name())));
    }
    if joint.seen_through && !a.clear {
        c.score += weight::SEEN;
        c.weaker
            .push(say("not.seen-through", params!("adhesive": name())));
    }
}

fn undo_code(undo: Undo) -> &'static str {
    match undo {
        Undo::Cut => "why.undone-by-thread",
        Undo::Warm => "why.undone-by-warmth",
        Undo::Solvent => "why.undone-by-solvent",
        Undo::Never => "not.undone",
    }
}
