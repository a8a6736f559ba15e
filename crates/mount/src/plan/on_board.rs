//! All parts held on one board or another, and the board that is chosen by that.

use super::sandwich::pick;
use crate::board::Boards;
use crate::bonds::{self, Bench};
use crate::catalogue::{Board, Catalogue};
use crate::inset::Faces;
use crate::say::Findings;
use crate::subject::Subject;
use crate::{MountError, fasten, support};
use piece::{Bond, Fastener, Joint, Piece, Support};
use shape::{Watch, mapped};

/// Bond lines that supports are planned with before their adhesive is known, mm.
const FIRST_LINES_MM: [f64; 2] = [1.0, 1.0];

/// Times that supports are planned anew with the bond lines of the adhesives that were chosen.
const MOST_ATTEMPTS: usize = 3;

/// Parts that are planned between two looks at the watch.
const TOGETHER: usize = 8;

/// What lies under one part, and what holds it.
pub(super) struct Held {
    pub(super) supports: Vec<Support>,
    pub(super) bonds: Vec<Bond>,
    pub(super) fasteners: Vec<Fastener>,
    pub(super) foot_mm: f64,
}

/// All parts on one board or another.
pub(super) struct OnBoard<'a> {
    pub(super) piece: &'a Piece,
    pub(super) catalogue: &'a Catalogue,
    pub(super) subjects: &'a [Subject<'a>],
    pub(super) shock_g: f64,
    pub(super) watch: &'a dyn Watch,
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
    pub(super) fn choose(
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
