//! The whole plan of one piece.

use crate::board::Boards;
use crate::bonds::{self, Bench};
use crate::catalogue::{Board, Catalogue};
use crate::depth::{self, Sandwich, Stood, parts_in_words};
use crate::inset::Faces;
use crate::say::{Findings, up, up_to_tenth};
use crate::steps::{Kind, Planned, Resources, Task, Work, build, later, schedule};
use crate::subject::Subject;
use crate::texts::{number, params, say};
use crate::{MountError, bill, board, cautions, cut_list, fasten, hanging, support};
use piece::{
    BoardPlan, Bond, BuildPlan, Fastener, Figure, Finding, Joint, Level, PartId, Piece, Sourced,
    Step, Support,
};
use shape::{Watch, mapped};
use std::collections::BTreeMap;

const DEFAULT_GLAZING: &str = "float-2";
const DEFAULT_BACKING: &str = "backing-board-2";
/// Clamps or weights that a bench has, where nobody counted.
const DEFAULT_CLAMPS: u32 = 8;
/// Bond lines that supports are planned with before their adhesive is known, mm.
const FIRST_LINES_MM: [f64; 2] = [1.0, 1.0];

/// Times that supports are planned anew with the bond lines of the adhesives that were chosen.
const MOST_ATTEMPTS: usize = 3;

/// Parts that are planned between two looks at the watch.
const TOGETHER: usize = 8;

/// What lies under one part, and what holds it.
struct Held {
    supports: Vec<Support>,
    bonds: Vec<Bond>,
    fasteners: Vec<Fastener>,
    foot_mm: f64,
}

/// Works out how a piece is built. What is wrong with it is told as findings of the plan.
///
/// The same piece and catalogue give the same plan.
///
/// # Errors
/// [`MountError`] where the document is not sound, or the watch ended the work.
pub fn plan(
    piece: &Piece,
    catalogue: &Catalogue,
    watch: &dyn Watch,
) -> Result<BuildPlan, MountError> {
    piece.check_sound()?;
    let mut findings = Findings::default();
    let subjects = Subject::all(piece, catalogue);
    check_knowledge(&subjects, catalogue, &mut findings);
    cautions::check(piece, &subjects, &mut findings);
    let shock_g = piece
        .choices
        .shock_g
        .unwrap_or(catalogue.rules.shock_g.value);
    let carries_g: f64 = subjects.iter().map(|s| s.mass_g).sum();
    let boards = Boards::of(
        board_size_mm(piece),
        depth::air_gap_mm(&piece.choices, catalogue),
        carries_g,
        shock_g,
        catalogue,
    );
    let on_board = OnBoard {
        piece,
        catalogue,
        subjects: &subjects,
        shock_g,
        watch,
    };
    let (board, held) = on_board.choose(&boards, &mut findings)?;
    let sandwich = sandwich(piece, board, catalogue, &mut findings)?;
    let board_plan = board_plan(
        piece,
        board,
        &boards,
        [carries_g, shock_g],
        catalogue,
        &mut findings,
    );
    let stood: Vec<Stood<'_>> = subjects
        .iter()
        .zip(&held)
        .map(|(subject, h)| Stood {
            subject,
            foot_mm: h.foot_mm,
            supports: &h.supports,
            bonds: &h.bonds,
        })
        .collect();
    let depth = depth::plan(piece, &stood, &sandwich, catalogue, &mut findings);
    drop(stood);
    check_shock_bow(&depth, &board_plan, shock_g, &mut findings);
    let supports: Vec<Support> = held.iter().flat_map(|h| h.supports.clone()).collect();
    let bonds: Vec<Bond> = held.iter().flat_map(|h| h.bonds.clone()).collect();
    let fasteners: Vec<Fastener> = held.iter().flat_map(|h| h.fasteners.clone()).collect();
    watch.step("nesting the cut list", 0.75)?;
    let cut_sheets = cut_list::plan(&supports, catalogue, &mut findings, watch)?;
    let small_g = small_mass_g(&supports, &bonds, catalogue);
    let around = hanging::Around {
        sandwich: &sandwich,
        board_g: board_plan.mass_g,
        small_g,
        depth_mm: depth.rebate_mm.unwrap_or(depth.needed_mm),
    };
    let masses = hanging::masses(piece, &subjects, &around, catalogue, &mut findings);
    let mass_g = masses.iter().map(|m| m.mass_g).sum();
    let hanging = hanging::plan(piece, masses, &subjects, catalogue, &mut findings);
    watch.step("ordering the steps", 0.9)?;
    let work = Work {
        piece,
        catalogue,
        subjects: &subjects,
        supports: &supports,
        bonds: &bonds,
        fasteners: &fasteners,
        has_wire: hanging.wire.is_some(),
    };
    let later = later(&work);
    let (steps, critical_minutes) = time(build(&work), piece, &mut findings);
    let bill = bill::bill(&bill::Needs {
        piece,
        catalogue,
        subjects: &subjects,
        sandwich: &sandwich,
        depth: &depth,
        supports: &supports,
        cut_sheets: &cut_sheets,
        bonds: &bonds,
        fasteners: &fasteners,
        hanging: &hanging,
        steps: &steps,
    });
    check_bonds(&bonds, &mut findings);
    let figures = figures(&bonds, &sandwich, catalogue);
    Ok(BuildPlan {
        made_from: piece.mark(),
        depth,
        supports,
        cut_sheets,
        fasteners,
        board: board_plan,
        mass_g,
        elapsed_minutes: steps.iter().map(|s| s.end_minute).fold(0.0, f64::max),
        hands_on_minutes: steps.iter().map(|s| s.hands_on_minutes).sum(),
        hanging,
        critical_minutes,
        steps,
        later,
        bill,
        figures,
        findings: findings.sorted(),
        bonds,
    })
}

/// What `check` says of a piece's build: the findings of its plan.
///
/// # Errors
/// As [`plan`].
pub fn check(
    piece: &Piece,
    catalogue: &Catalogue,
    watch: &dyn Watch,
) -> Result<Vec<Finding>, MountError> {
    plan(piece, catalogue, watch).map(|p| p.findings)
}

/// Supports and bonds depend on each other: the bond line takes height from the support. A few rounds are enough, since
/// the adhesive follows from faces and mass, hardly from a millimetre of height.
fn hold(s: &Subject<'_>, bench: &Bench<'_>) -> (Held, Findings) {
    let mut lines = FIRST_LINES_MM;
    let mut attempts = 0;
    let mut faces = Faces::default();
    let (supports, standing, bonds, findings) = loop {
        attempts += 1;
        let mut own = Findings::default();
        let (supports, standing) = support::plan(s, lines, bench.catalogue, &mut own);
        let bonds = bonds::plan(s, &supports, bench, &mut faces, &mut own);
        match lines_of(&bonds) {
            Some(found) if found != lines && attempts < MOST_ATTEMPTS => lines = found,
            _ => break (supports, standing, bonds, own),
        }
    };
    let fasteners = fasten::plan(s, &bonds, bench);
    let line = bonds
        .iter()
        .find(|b| b.joint == Joint::PartToBoard)
        .map_or(0.0, |b| b.bond_line_mm);
    let foot_mm = if standing.filled || !supports.is_empty() {
        standing.lift_mm
    } else {
        standing.lift_mm + line
    };
    let held = Held {
        supports,
        bonds,
        fasteners,
        foot_mm,
    };
    (held, findings)
}

/// Bond lines to the board and to the part, mm, where both joints are there.
fn lines_of(bonds: &[Bond]) -> Option<[f64; 2]> {
    let line = |joint| {
        bonds
            .iter()
            .find(|b| b.joint == joint)
            .map(|b| b.bond_line_mm)
    };
    Some([line(Joint::SupportToBoard)?, line(Joint::PartToSupport)?])
}

/// Masses and materials that nobody told.
fn check_knowledge(subjects: &[Subject<'_>], catalogue: &Catalogue, findings: &mut Findings) {
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

/// All parts on one board or another.
struct OnBoard<'a> {
    piece: &'a Piece,
    catalogue: &'a Catalogue,
    subjects: &'a [Subject<'a>],
    shock_g: f64,
    watch: &'a dyn Watch,
}

/// How well all parts hold on one board.
struct Tried<'a> {
    /// Findings that stop the work.
    stops: usize,
    board: (&'a str, &'a Board),
    held: Vec<Held>,
    findings: Findings,
}

impl<'a> OnBoard<'a> {
    /// The maker's board; else the lightest of those that would do on which everything holds, or the most: a facing that
    /// tears is no board for heavy parts.
    fn choose(
        &self,
        boards: &Boards<'a>,
        findings: &mut Findings,
    ) -> Result<((&'a str, &'a Board), Vec<Held>), MountError> {
        let worth = boards.worth_trying();
        let wished = self.piece.choices.board.as_deref();
        let tried = match wished {
            None => worth,
            Some(_) => vec![pick(
                &self.catalogue.boards,
                wished,
                worth.first().map_or("", |(id, _)| id),
                ("board.unknown", "board"),
                findings,
            )?],
        };
        let mut best: Option<Tried<'_>> = None;
        for (n, &board) in tried.iter().enumerate() {
            let bench = Bench {
                catalogue: self.catalogue,
                choices: &self.piece.choices,
                board_face: &board.1.face,
                facing_mpa: board.1.facing_mpa.value,
                shock_g: self.shock_g,
            };
            let mut own = Findings::default();
            let mut held = Vec::with_capacity(self.subjects.len());
            for some in self.subjects.chunks(TOGETHER) {
                let done = held.len() as f64 / self.subjects.len() as f64;
                let share = (n as f64 + done) / tried.len() as f64;
                self.watch
                    .step("planning supports and bonds", 0.7 * share)?;
                for (one, found) in mapped(some, |s| hold(s, &bench)) {
                    held.push(one);
                    own.join(found);
                }
            }
            let stops = own.stops();
            if best.as_ref().is_none_or(|b| stops < b.stops) {
                best = Some(Tried {
                    stops,
                    board,
                    held,
                    findings: own,
                });
            }
            if stops == 0 {
                break;
            }
        }
        let best = best.ok_or(MountError::Nothing { what: "board" })?;
        findings.join(best.findings);
        Ok((best.board, best.held))
    }
}

fn board_size_mm(piece: &Piece) -> [f64; 2] {
    let b = piece.frame.board();
    [b.width_mm(), b.height_mm()]
}

/// Glazing, board and backing: what the piece says, where the catalogue has it.
fn sandwich<'a>(
    piece: &'a Piece,
    board: (&'a str, &'a Board),
    catalogue: &'a Catalogue,
    findings: &mut Findings,
) -> Result<Sandwich<'a>, MountError> {
    Ok(Sandwich {
        glazing: pick(
            &catalogue.glazings,
            piece.frame.glazing.as_deref(),
            DEFAULT_GLAZING,
            ("depth.glazing-unknown", "glazing"),
            findings,
        )?,
        board,
        backing: pick(
            &catalogue.backings,
            piece.choices.backing.as_deref(),
            DEFAULT_BACKING,
            ("depth.backing-unknown", "backing"),
            findings,
        )?,
    })
}

/// What the board carries, and how it bows under that and in a shock.
fn board_plan(
    piece: &Piece,
    board: (&str, &Board),
    boards: &Boards<'_>,
    [carries_g, shock_g]: [f64; 2],
    catalogue: &Catalogue,
    findings: &mut Findings,
) -> BoardPlan {
    let size_mm = board_size_mm(piece);
    let bow = board::bow(board.1, size_mm, carries_g, shock_g, catalogue);
    if bow.rest_mm > bow.allowed_mm {
        findings.tell(
            Level::Fix,
            "board.bow",
            vec![],
            vec![say(
                "case.board.bow",
                params!(
                    "board": board.1.name.clone(), "bow_mm": up_to_tenth(bow.rest_mm),
                    "mass_g": carries_g.ceil(), "allowed_mm": bow.allowed_mm
                ),
            )],
            match boards.would_do.first() {
                Some((id, _)) => say("remedy.board.stiffer", params!("board": id.to_string())),
                None => say("remedy.board.thicker", &[]),
            },
        );
    }
    BoardPlan {
        material: board.0.into(),
        thickness_mm: board.1.thickness_mm.value,
        size_mm,
        mass_g: bow.mass_g,
        carries_g,
        bow_mm: bow.rest_mm,
        bow_allowed_mm: bow.allowed_mm,
        would_do: boards.would_do.iter().map(|(id, _)| (*id).into()).collect(),
    }
}

/// The entry of that name; where there is none, the default, with a finding.
fn pick<'a, T>(
    entries: &'a BTreeMap<String, T>,
    wished: Option<&str>,
    default: &str,
    (code, what): (&str, &'static str),
    findings: &mut Findings,
) -> Result<(&'a str, &'a T), MountError> {
    if let Some(name) = wished {
        if let Some((id, entry)) = entries.get_key_value(name) {
            return Ok((id, entry));
        }
        let known: Vec<&str> = entries.keys().map(String::as_str).collect();
        findings.tell(
            Level::Fix,
            code,
            vec![],
            vec![say(
                &format!("case.{code}"),
                params!("name": format!("{name:?}"), "default": default),
            )],
            say("remedy.choose-or-add", params!("names": known.join(", "))),
        );
    }
    entries
        .get_key_value(default)
        .or_else(|| entries.first_key_value())
        .map(|(id, entry)| (id.as_str(), entry))
        .ok_or(MountError::Nothing { what })
}

/// A shock throws the board's middle towards the glazing.
fn check_shock_bow(depth: &piece::Depth, board: &BoardPlan, shock_g: f64, findings: &mut Findings) {
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

/// Supports and adhesives, g.
fn small_mass_g(supports: &[Support], bonds: &[Bond], catalogue: &Catalogue) -> f64 {
    let foam: f64 = supports
        .iter()
        .filter_map(|s| {
            let area = s.outline().ok()?.area_mm2();
            let volume_mm3: f64 = s.layers_mm.iter().map(|t| t * area).sum();
            let foam = catalogue.foams.get(s.materials.first()?)?;
            let density = catalogue.materials.get(&foam.material)?.density_g_cm3.value;
            Some(volume_mm3 / 1000.0 * density)
        })
        .sum();
    let glue: f64 = bonds
        .iter()
        .filter_map(|b| {
            let a = catalogue.adhesives.get(&b.adhesive)?;
            let tape: f64 = b
                .tapes
                .iter()
                .map(|t| t.width_mm * t.length_mm * b.bond_line_mm / 1000.0)
                .sum();
            Some((b.dose_ml + tape) * a.density_g_ml.value)
        })
        .sum();
    foam + glue
}

/// The steps with all times, in the order of their start, and the length of the critical path.
fn time(planned: Vec<Planned>, piece: &Piece, findings: &mut Findings) -> (Vec<Step>, f64) {
    let tasks: Vec<Task> = planned
        .iter()
        .map(|Planned { step, kind }| Task {
            id: step.id.clone(),
            minutes: step.minutes,
            hands_on: step.hands_on_minutes > 0.0,
            clamps: step.clamps,
            at_once: *kind == Kind::Hold,
            after: step.after.clone(),
        })
        .collect();
    let mut steps: Vec<Step> = planned.into_iter().map(|p| p.step).collect();
    let resources = Resources {
        hands: piece.choices.hands.unwrap_or(1),
        clamps: piece.choices.clamps.unwrap_or(DEFAULT_CLAMPS),
    };
    if resources.clamps == 0 && steps.iter().any(|s| s.clamps > 0) {
        findings.note(
            "steps.no-clamps",
            vec![],
            "There are no clamps or weights, and some parts are to be held down while they set.",
            "Bags of sand or steel blocks do.",
        );
    }
    let critical = match schedule(&tasks, resources) {
        Ok((timings, critical)) => {
            for (step, t) in steps.iter_mut().zip(timings) {
                step.start_minute = t.start;
                step.end_minute = t.end;
                step.slack_minutes = t.slack;
            }
            // Stable: steps that start together keep the order in which they can be done.
            steps.sort_by(|a, b| a.start_minute.total_cmp(&b.start_minute));
            critical
        }
        Err(why) => {
            findings.tell(
                Level::Stop,
                "steps.no-order",
                vec![],
                vec![say("case.steps.no-order", params!("why": why.to_string()))],
                say("remedy.steps.no-order", &[]),
            );
            0.0
        }
    };
    (steps, critical)
}

/// What people should know of the bonds.
fn check_bonds(bonds: &[Bond], findings: &mut Findings) {
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

/// The figures that the plan rests on.
fn figures(bonds: &[Bond], sandwich: &Sandwich<'_>, catalogue: &Catalogue) -> Vec<Figure> {
    let mut all = Vec::new();
    let mut put = |code: String, name: &str, unit: &str, s: &Sourced<f64>| {
        all.push(Figure {
            code,
            name: name.into(),
            value: s.value,
            unit: unit.into(),
            source: s.source.clone(),
            standing: s.standing,
        });
    };
    let mut used: Vec<&str> = bonds.iter().map(|b| b.adhesive.as_str()).collect();
    used.sort_unstable();
    used.dedup();
    for id in used {
        let Some(a) = catalogue.adhesives.get(id) else {
            continue;
        };
        let mut of = |field: &str, what: &str, unit: &str, s: &Sourced<f64>| {
            put(
                format!("adhesives.{id}.{field}"),
                &format!("{}: {what}", a.name),
                unit,
                s,
            );
        };
        of(
            "lap_shear_mpa",
            "lap shear in the test",
            "MPa",
            &a.lap_shear_mpa,
        );
        if let Some(cap) = &a.sustained_cap_mpa {
            of(
                "sustained_cap_mpa",
                "stress it may bear for years",
                "MPa",
                cap,
            );
        }
        if let Some(rule) = &a.tape_mm2_per_g {
            of("tape_mm2_per_g", "area for each gram", "mm2/g", rule);
        }
        of("open_minutes", "open time", "min", &a.open_minutes);
        of(
            "handle_minutes",
            "holds by itself after",
            "min",
            &a.handle_minutes,
        );
        of(
            "cure_minutes",
            "full strength after",
            "min",
            &a.cure_minutes,
        );
    }
    let (id, board) = sandwich.board;
    put(
        format!("boards.{id}.e_mpa"),
        &format!("{}: modulus in bending", board.name),
        "MPa",
        &board.e_mpa,
    );
    put(
        format!("boards.{id}.facing_mpa"),
        &format!("{}: its facing tears at", board.name),
        "MPa",
        &board.facing_mpa,
    );
    for (name, unit, s) in catalogue.rules.all() {
        put(format!("rules.{name}"), &name.replace('_', " "), unit, s);
    }
    all
}
