//! Glazing, board and backing of a piece, and how the board bears what it carries.

use crate::MountError;
use crate::board::{self, Boards};
use crate::catalogue::{Board, Catalogue};
use crate::depth::Sandwich;
use crate::say::{Findings, up_to_tenth};
use crate::texts::{params, say};
use piece::{BoardPlan, Level, Piece};
use std::collections::BTreeMap;

const DEFAULT_GLAZING: &str = "float-2";
const DEFAULT_BACKING: &str = "backing-board-2";

pub(super) fn board_size_mm(piece: &Piece) -> [f64; 2] {
    let b = piece.frame.board();
    [b.width_mm(), b.height_mm()]
}

/// Glazing, board and backing: what the piece says, where the catalogue has it.
pub(super) fn sandwich<'a>(
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
pub(super) fn board_plan(
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
pub(super) fn pick<'a, T>(
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
