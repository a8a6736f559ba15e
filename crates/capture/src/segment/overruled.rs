//! Broad pieces that the far eye sees otherwise: the hull of a device, as white as the paper, is told by its walls all round.
//!
//! The near and the wide eye see some centimetres about a place, and take the floor of a white tray for paper. The far eye sees the
//! whole sheet, in cells too coarse for rims. Where a broad piece is part to one and paper to the others, and the odds of both together are
//! clear, it is what they say together; narrow pieces, and rims, stay with the others.

use super::eye::{Far, refined};
use super::pieces::{around, piece_of};

/// Narrower pieces are left to the others: cells of a piece lie in a square of it of so many to either side of its middle, 2 mm wide.
const REACH: usize = 2;

/// How sure (logarithm of the odds) the others can be at most: they say more than that of floors that they take for paper, too.
const OTHERS_MOST: f32 = 3.0;

/// What the logarithms of the odds must sum up to, means over a piece. Of the pieces on 37 rendered photos that no eye learnt from, 22 pass
/// this: all but a strip of shade beside a white hull are told rightly.
const CLEAR: f32 = 1.3;

/// What is said of a coarse cell.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Said {
    /// The same by all; or it lies outside, or has been looked at.
    Alike,
    /// Part by the far eye, paper by the others.
    FarPart,
    /// The other way round.
    FarPaper,
}

/// Lets the far eye overrule the others on broad pieces. `odds`: what the others say of each cell of a picture of `size`, the logarithm
/// of the odds that it is part. Coarse cells that do not lie inside take no part.
pub(super) fn overrule(
    odds: &mut [f32],
    size: [usize; 2],
    far: &Far,
    inside: impl Fn(usize) -> bool,
) {
    let cells_of = |coarse: usize| {
        let (x, y) = (coarse % far.size[0], coarse / far.size[0]);
        let within = |k: usize, n: usize| k * far.side..((k + 1) * far.side).min(size[n]);
        within(y, 1).flat_map(move |j| within(x, 0).map(move |i| j * size[0] + i))
    };
    let others: Vec<f32> = (0..far.odds.len())
        .map(|coarse| {
            let count = cells_of(coarse).count().max(1);
            let sum: f32 = cells_of(coarse)
                .map(|cell| odds[cell].clamp(-OTHERS_MOST, OTHERS_MOST))
                .sum();
            sum / count as f32
        })
        .collect();
    let said = |coarse: usize| match (others[coarse] > 0.0, far.odds[coarse] > 0.0) {
        (false, true) if cells_of(coarse).all(&inside) => Said::FarPart,
        (true, false) if cells_of(coarse).all(&inside) => Said::FarPaper,
        _ => Said::Alike,
    };
    let all: Vec<Said> = (0..far.odds.len()).map(said).collect();
    let mut broad = opened(&all, far.size);
    let mut fine: Option<Vec<f32>> = None;
    for first in 0..broad.len() {
        let kind = broad[first];
        if kind == Said::Alike {
            continue;
        }
        let piece = piece_of(far.size, first, |coarse| {
            let own = broad[coarse] == kind;
            if own {
                broad[coarse] = Said::Alike;
            }
            own
        });
        let sum: f32 = piece.iter().map(|&c| far.odds[c] + others[c]).sum();
        let together = sum / piece.len() as f32;
        let clear = match kind {
            Said::FarPart => together > CLEAR,
            _ => together < -CLEAR,
        };
        if clear {
            let fine = fine.get_or_insert_with(|| refined(&far.odds, far.size, far.side, size));
            for cell in piece.into_iter().flat_map(cells_of) {
                odds[cell] = fine[cell];
            }
        }
    }
}

/// What is said of cells that lie in a whole square of cells of which the same is said; the rest is alike.
fn opened(said: &[Said], size: [usize; 2]) -> Vec<Said> {
    let alike = |cell: usize| around(size, cell, REACH).all(|other| said[other] == said[cell]);
    let middles: Vec<bool> = (0..said.len())
        .map(|cell| said[cell] != Said::Alike && alike(cell))
        .collect();
    let mut opened = vec![Said::Alike; said.len()];
    for middle in (0..said.len()).filter(|&cell| middles[cell]) {
        for cell in around(size, middle, REACH) {
            opened[cell] = said[middle];
        }
    }
    opened
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Coarse cells along each axis, each of four by four cells.
    const COARSE: [usize; 2] = [20, 15];
    const SIZE: [usize; 2] = [80, 60];

    /// What is said of cells after the far eye said `far` of coarse cells in columns and rows, and paper of all others, and the others say
    /// `others` everywhere.
    fn overruled(
        columns: std::ops::Range<usize>,
        rows: std::ops::Range<usize>,
        far: f32,
        others: f32,
    ) -> Vec<f32> {
        let within =
            |c: usize| columns.contains(&(c % COARSE[0])) && rows.contains(&(c / COARSE[0]));
        let coarse = 0..COARSE[0] * COARSE[1];
        let far = Far {
            odds: coarse
                .map(|c| if within(c) { far } else { others })
                .collect(),
            size: COARSE,
            side: 4,
        };
        let mut odds = vec![others; SIZE[0] * SIZE[1]];
        overrule(&mut odds, SIZE, &far, |cell| cell % SIZE[0] < 76);
        odds
    }

    fn parts(odds: &[f32]) -> usize {
        odds.iter().filter(|odd| **odd > 0.0).count()
    }

    #[test]
    fn a_broad_piece_is_what_both_say_together() {
        // Ten by six coarse cells are 40 by 24 cells; where they end, the odds run through naught between two coarse cells.
        let odds = overruled(5..15, 4..10, 4.0, -2.0);
        assert!((800..=960).contains(&parts(&odds)), "{}", parts(&odds));
        assert_eq!(odds[28 * SIZE[0] + 40], 4.0);
        assert_eq!(odds[2 * SIZE[0] + 40], -2.0);
        // Sure as they are, the others may count for no more than three.
        assert!(parts(&overruled(5..15, 4..10, 4.5, -9.0)) > 0);
        for (far, others) in [(3.0, -2.0), (4.0, -9.0)] {
            assert_eq!(parts(&overruled(5..15, 4..10, far, others)), 0);
        }
    }

    #[test]
    fn paper_that_was_taken_for_part_comes_back_in_the_same_way() {
        let all = SIZE[0] * SIZE[1];
        let parts_left = parts(&overruled(5..15, 4..10, -4.0, 2.0));
        assert!((all - 960..=all - 800).contains(&parts_left));
        assert_eq!(parts(&overruled(5..15, 4..10, -3.0, 2.0)), all);
    }

    #[test]
    fn narrow_pieces_and_what_lies_outside_are_left_alone() {
        assert_eq!(parts(&overruled(5..15, 4..8, 4.0, -2.0)), 0);
        assert!(parts(&overruled(5..15, 4..9, 4.0, -2.0)) > 0);
        // The last column of coarse cells does not lie inside: what reaches into it is judged as if it ended there.
        assert_eq!(parts(&overruled(15..20, 4..10, 4.0, -2.0)), 0);
        let odds = overruled(13..20, 4..10, 4.0, -2.0);
        assert!(parts(&odds) > 0 && (0..SIZE[1]).all(|y| odds[y * SIZE[0] + 78] < 0.0));
    }
}
