//! Whether a part fits the field at all, and at which turn.

use crate::cell::TurnedPart;
use piece::{Part, Turns};
use shape::Bounds;

/// Turns from home that a part may take, degrees, the calmest first.
fn allowed_turns(turns: Turns) -> &'static [f64] {
    match turns {
        Turns::None => &[0.0],
        Turns::Quarter => &[0.0, 90.0],
        Turns::Free => &[
            0.0, 90.0, 45.0, 135.0, 15.0, 165.0, 75.0, 105.0, 30.0, 150.0, 60.0, 120.0,
        ],
    }
}

fn fits(bounds: Bounds, field: Bounds) -> bool {
    bounds.width_mm() <= field.width_mm() + 1e-9 && bounds.height_mm() <= field.height_mm() + 1e-9
}

/// The part at its home's turn, or at the first allowed turn at which it fits the field; at its home's
/// turn where it fits at none.
pub(crate) fn turned_to_fit(index: usize, part: &Part, field: Bounds) -> TurnedPart {
    allowed_turns(part.turns)
        .iter()
        .map(|turn| TurnedPart::new(index, part, *turn))
        .find(|t| fits(t.bounds, field))
        .unwrap_or_else(|| TurnedPart::new(index, part, 0.0))
}

/// The part's size at its home's turn, mm, where it fits the field at no allowed turn.
pub(crate) fn too_large_for(part: &Part, field: Bounds) -> Option<[f64; 2]> {
    let turned = turned_to_fit(0, part, field);
    (!fits(turned.bounds, field)).then(|| [turned.bounds.width_mm(), turned.bounds.height_mm()])
}
