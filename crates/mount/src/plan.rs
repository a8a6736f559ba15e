//! The whole plan of one piece.

mod figures;
mod on_board;
mod sandwich;
mod told;

use crate::board::Boards;
use crate::catalogue::Catalogue;
use crate::depth::{self, Stood};
use crate::say::Findings;
use crate::steps::{Kind, Planned, Resources, Task, Work, build, later, schedule};
use crate::subject::Subject;
use crate::texts::{params, say};
use crate::{MountError, bill, cautions, cut_list, hanging};
use figures::figures;
use on_board::OnBoard;
use piece::{Bond, BuildPlan, Fastener, Finding, Level, Piece, Step, Support};
use sandwich::{board_plan, board_size_mm, sandwich};
use shape::Watch;
use told::{check_bonds, check_knowledge, check_shock_bow};

/// Clamps or weights that a bench has, where nobody counted.
const DEFAULT_CLAMPS: u32 = 8;

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
