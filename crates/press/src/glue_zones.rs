//! Where the board stays bare, because an adhesive must hold there.

use crate::bond_place::glued_on_board;
use piece::Piece;
use shape::{Outline, mapped, offset, union};

/// How far ink may reach under a part's edge, mm, so that no white line shows beside a part that lies a little off
/// (chosen: twice what hand and eye miss when a part is laid on a template).
const UNDER_EDGE_MM: f64 = 1.0;

/// The same for parts too narrow for that.
const UNDER_NARROW_MM: f64 = 0.3;

/// Bare board round what is glued, mm, for a bead that is laid a little off.
const ROUND_GLUE_MM: f64 = 0.5;

/// The stretches of the board that no ink may cover, in board coordinates, none over another: what lies under the
/// parts, less a rim, and all that the build plan glues to the board.
pub(crate) fn bare_zones(piece: &Piece) -> Vec<Outline> {
    let under = mapped(&piece.outlines_on_board(), |(_, outline)| {
        let one = std::slice::from_ref(outline);
        let inner = offset(one, -UNDER_EDGE_MM);
        if inner.is_empty() {
            offset(one, -UNDER_NARROW_MM)
        } else {
            inner
        }
    });
    let mut zones: Vec<Outline> = under.into_iter().flatten().collect();
    zones.extend(glued_on_board(piece, ROUND_GLUE_MM));
    union(&zones)
}
