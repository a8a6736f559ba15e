//! How near a part that is being moved comes to the others, fast enough to be shown while it moves.

use piece::{PartId, Piece};
use shape::{EdgeTree, Pose};

/// One part that moves among others that lie still.
#[derive(Debug, Clone)]
pub struct MovingPart {
    mover: EdgeTree,
    others: Vec<(PartId, EdgeTree)>,
}

impl MovingPart {
    /// The part of that id among all placed ones; `None` where there is no such part.
    pub fn new(piece: &Piece, id: &PartId) -> Option<Self> {
        let mover = EdgeTree::new(piece.part(id)?.shown_outline());
        let others = piece
            .outlines_on_board()
            .into_iter()
            .filter(|(part, _)| part.id != *id)
            .map(|(part, outline)| (part.id.clone(), EdgeTree::new(outline)))
            .collect();
        Some(Self { mover, others })
    }

    /// Where the part lies at a pose: the part nearest to it and the clearance between their true outlines, mm, 0
    /// where they touch or overlap. `None` where there is no other.
    pub fn nearest(&self, board_from_part: Pose) -> Option<(&PartId, f64)> {
        let moved = self.mover.placed(board_from_part);
        let mut by_box: Vec<(f64, usize)> = self
            .others
            .iter()
            .enumerate()
            .map(|(k, (_, tree))| (tree.bounds().distance_mm(moved.bounds()), k))
            .collect();
        by_box.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut best: Option<(f64, usize)> = None;
        for (apart, k) in by_box {
            let cap_mm = best.map_or(f64::INFINITY, |(b, _)| b);
            // The boxes alone are farther apart than the nearest part: so are all that follow.
            if apart >= cap_mm {
                break;
            }
            let clearance = moved.clearance_mm(&self.others[k].1, cap_mm);
            if clearance < cap_mm {
                best = Some((clearance, k));
            }
        }
        best.map(|(clearance, k)| (&self.others[k].0, clearance))
    }
}
