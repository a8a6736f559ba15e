//! The joints of one part.

use crate::catalogue::Catalogue;
use crate::choose::{Candidate, JointAsked, candidates};
use crate::inset::{Face, Faces, inset};
use crate::say::Findings;
use crate::strength::Load;
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{ApplyAs, Bond, BuildChoices, FastenerKind, Joint, Level, PartKind, RunnerUp, Support};
use shape::{Outline, difference};

/// What bonding needs to know of the piece.
pub(crate) struct Bench<'a> {
    pub(crate) catalogue: &'a Catalogue,
    pub(crate) choices: &'a BuildChoices,
    /// Material of the board's face.
    pub(crate) board_face: &'a str,
    /// What its facing bears in a test, MPa.
    pub(crate) facing_mpa: f64,
    pub(crate) shock_g: f64,
}

/// Most runners-up that a plan tells.
const MOST_RUNNERS_UP: usize = 5;

/// The joints of one part with what lies under it, in the order in which they are glued.
pub(crate) fn plan(
    subject: &Subject<'_>,
    supports: &[Support],
    bench: &Bench<'_>,
    faces: &mut Faces,
    findings: &mut Findings,
) -> Vec<Bond> {
    let part_side = subject.material_name.as_str();
    let outlines: Vec<Face> = supports
        .iter()
        .filter_map(|s| s.outline().ok())
        .map(|o| faces.of(o))
        .collect();
    let Some(first) = supports.first().filter(|_| !outlines.is_empty()) else {
        let touching = contact_faces(subject);
        let faces: Vec<Face> = touching.into_iter().map(|o| faces.of(o)).collect();
        return joint(
            subject,
            Joint::PartToBoard,
            &faces,
            [part_side, bench.board_face],
            0.0,
            bench,
            findings,
        )
        .into_iter()
        .collect();
    };
    let foam = first.materials.first().map_or("", String::as_str);
    let foam = bench
        .catalogue
        .foams
        .get(foam)
        .map_or(foam, |f| f.material.as_str());
    let mut joints = Vec::new();
    if supports.iter().any(|s| s.layers_mm.len() > 1) {
        joints.push((Joint::SupportLayers, [foam, foam], 0.0));
    }
    joints.push((Joint::PartToSupport, [part_side, foam], 0.0));
    joints.push((
        Joint::SupportToBoard,
        [foam, bench.board_face],
        first.height_mm,
    ));
    joints
        .into_iter()
        .filter_map(|(kind, materials, off_mm)| {
            joint(subject, kind, &outlines, materials, off_mm, bench, findings)
        })
        .collect()
}

/// Where a part without a support touches the board.
fn contact_faces(subject: &Subject<'_>) -> Vec<Outline> {
    match subject.hollow() {
        // Only its rim.
        Some([_, wall]) => {
            let inside = inset(std::slice::from_ref(&subject.outline), wall);
            difference(&subject.outline, &inside)
        }
        None => vec![subject.outline.clone()],
    }
}

fn joint(
    subject: &Subject<'_>,
    kind: Joint,
    faces: &[Face],
    materials: [&str; 2],
    support_mm: f64,
    bench: &Bench<'_>,
    findings: &mut Findings,
) -> Option<Bond> {
    let on_board = matches!(kind, Joint::PartToBoard | Joint::SupportToBoard);
    let asked = JointAsked {
        faces,
        materials,
        load: Load {
            mass_g: subject.mass_g,
            centre: subject.centre(),
            off_mm: support_mm + subject.height_mm / 2.0,
            down: subject.down(),
            shock_g: bench.shock_g,
        },
        facing_mpa: on_board.then_some(bench.facing_mpa),
        up_deg: subject.up_deg,
        ribbon: kind == Joint::PartToBoard && is_ribbon(subject),
        seen_through: kind != Joint::SupportToBoard
            && kind != Joint::SupportLayers
            && subject.material.is_some_and(|m| m.clear),
    };
    let mut all = candidates(&asked, bench.catalogue, bench.choices);
    let wished = bench
        .choices
        .adhesives
        .get(&subject.part.id)
        .filter(|_| kind != Joint::SupportLayers);
    if let Some(id) = wished {
        take_wish(id, subject, kind, &mut all, bench, findings);
    }
    let best = all.first()?;
    if !best.would_do() && (wished != Some(&best.id) || best.laid.is_none()) {
        none_does(subject, kind, &all, findings);
    }
    // The least bad one that can be laid at all stands in the plan, with its shortfall.
    let at = all.iter().position(|c| c.laid.is_some())?;
    let best = all.remove(at);
    Some(bond_of(subject, kind, materials, best, &all, bench))
}

pub(crate) fn is_ribbon(subject: &Subject<'_>) -> bool {
    subject.is_real()
        && (subject.part.kind == PartKind::Ribbon
            || subject.material.is_some_and(|m| m.face == "flex"))
}

/// Puts the adhesive that the maker chose first.
fn take_wish(
    id: &str,
    subject: &Subject<'_>,
    kind: Joint,
    all: &mut Vec<Candidate>,
    bench: &Bench<'_>,
    findings: &mut Findings,
) {
    let Some(at) = all.iter().position(|c| c.id == id) else {
        let known: Vec<&str> = bench
            .catalogue
            .adhesives
            .keys()
            .map(String::as_str)
            .collect();
        findings.tell_about(
            subject,
            Level::Fix,
            "bond.unknown-adhesive",
            vec![say(
                "case.bond.unknown-adhesive",
                params!("part": subject.named(), "adhesive": format!("{id:?}")),
            )],
            say("remedy.choose", params!("names": known.join(", "))),
        );
        return;
    };
    let own = all.remove(at);
    if let Some(why) = own.against.first() {
        findings.tell_about(
            subject,
            Level::Fix,
            "bond.choice-fails",
            vec![
                say(
                    "case.bond.choice-fails",
                    params!("part": subject.named(), "joint": joint_in_words(kind)),
                ),
                why.clone(),
            ],
            match all.iter().find(|c| c.would_do()) {
                Some(other) => say("remedy.take-instead", params!("name": other.id.clone())),
                None => say("remedy.ties-too", &[]),
            },
        );
    }
    all.insert(0, own);
}

fn joint_in_words(kind: Joint) -> &'static str {
    match kind {
        Joint::PartToBoard => "part to board",
        Joint::PartToSupport => "part to support",
        Joint::SupportToBoard => "support to board",
        Joint::SupportLayers => "layers of the support",
    }
}

/// No adhesive does: why, and what comes nearest.
fn none_does(subject: &Subject<'_>, kind: Joint, all: &[Candidate], findings: &mut Findings) {
    let narrow = all
        .iter()
        .filter(|c| c.against.len() == 1)
        .find(|c| c.against[0].code == "not.too-narrow");
    let weak = all
        .iter()
        .filter(|c| c.laid.is_some())
        .min_by(|a, b| a.utilisation.total_cmp(&b.utilisation));
    let (part, joint) = (subject.named(), joint_in_words(kind));
    let (code, case, remedy) = match (weak, narrow) {
        (Some(c), _) => (
            "bond.too-weak",
            vec![say(
                "case.bond.too-weak",
                params!(
                    "part": part, "joint": joint, "adhesive": c.id.clone(),
                    "percent": (100.0 * c.utilisation).ceil()
                ),
            )],
            "remedy.bond.too-weak",
        ),
        (None, Some(c)) => (
            "bond.too-narrow",
            vec![say(
                "case.bond.too-narrow",
                params!("part": part, "joint": joint, "adhesive": c.id.clone()),
            )],
            "remedy.bond.too-narrow",
        ),
        (None, None) => {
            let mut case = vec![say(
                "case.bond.none-does",
                params!("part": part, "joint": joint),
            )];
            case.extend(all.first().and_then(|c| c.against.first()).cloned());
            ("bond.none-does", case, "remedy.bond.none-does")
        }
    };
    findings.tell_about(subject, Level::Stop, code, case, say(remedy, &[]));
}

fn bond_of(
    subject: &Subject<'_>,
    kind: Joint,
    materials: [&str; 2],
    best: Candidate,
    others: &[Candidate],
    bench: &Bench<'_>,
) -> Bond {
    let laid = best.laid.clone().unwrap_or_default();
    let adhesive = bench.catalogue.adhesives.get(&best.id);
    let value = |f: fn(&crate::catalogue::Adhesive) -> f64| adhesive.map_or(0.0, f);
    let dose_ml = laid.net_ml * (1.0 + value(|a| a.waste_share.value));
    let is_tape = laid.apply_as == Some(ApplyAs::Tape);
    let runners_up = others
        .iter()
        .take(MOST_RUNNERS_UP)
        .map(|c| RunnerUp {
            adhesive: c.id.clone(),
            would_do: c.would_do(),
            why: if c.against.is_empty() && c.weaker.is_empty() {
                vec![say("not.second", params!("taken": best.id.clone()))]
            } else if c.against.is_empty() {
                c.weaker.clone()
            } else {
                c.against.clone()
            },
        })
        .collect();
    Bond {
        part: subject.part.id.clone(),
        joint: kind,
        faces: materials.map(str::to_owned),
        area_mm2: laid.group().map_or(0.0, |g| g.area_mm2()),
        adhesive: best.id,
        apply_as: laid.apply_as.unwrap_or(ApplyAs::Dots),
        perimeter_paths: laid.perimeter,
        paths: laid.paths,
        dots: laid.dots,
        tapes: laid.tapes,
        bead_mm: laid.bead_mm,
        spread_mm: laid.spread_mm,
        bond_line_mm: value(|a| a.bond_line_mm.value),
        dose_ml,
        lay_minutes: (!is_tape).then_some(laid.lay_minutes),
        open_minutes: (!is_tape).then(|| value(|a| a.open_minutes.value)),
        utilisation: best.utilisation,
        loads: best.loads,
        reasons: best.reasons,
        runners_up,
    }
}

/// Kinds of fasteners, the one to prefer first.
pub(crate) const KINDS: [FastenerKind; 3] = [
    FastenerKind::Screw,
    FastenerKind::WireTie,
    FastenerKind::Strap,
];
