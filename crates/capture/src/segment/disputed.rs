//! Pieces that one eye takes for part and the other for paper: where a part ends, its edge shows.
//!
//! The near eye takes hard shade beside a part for part, the wide one the rim of a grey part for shade. What lies on both sides of the
//! piece tells which of them is right: shade differs from the part that throws it, and from the paper it lies on still more; a
//! part's own rim goes over into the part.

use super::eye::FARTHEST;
use super::pieces::{around, piece_of};

/// Smaller pieces are left to the near eye: their sides are too short to be compared.
const LEAST_CELLS: usize = 40;

/// Of a piece that it takes for part more surely than this, on average, the near eye is believed.
const SURE: f32 = 1.2;

/// Light differs at least so much (natural logarithm) between shade and the part that throws it, and between shade and bare paper.
/// Of the pieces on eleven rendered photos (the four of the studio, the demo's four, three others), 63 pass these: 53 of them, of
/// 15,250 cells, were paper, ten, of 2,256 cells, part.
const FROM_PART: f32 = 0.5;
const FROM_PAPER: f32 = 1.4;

/// How far from a side light is compared, in cells.
const REACH: usize = 4;

/// What the eyes say of each cell, and what they saw, rows from the top.
pub(super) struct Said<'a> {
    /// The logarithm of the odds that it is part, all together: the near eye's word where that says part.
    pub(super) odds: &'a mut [f32],
    /// The same, of the wide eye alone.
    pub(super) wide: &'a [f32],
    /// Light over bare paper's, natural logarithm per channel.
    pub(super) log: &'a [[f32; 3]],
    /// Cells along x and y.
    pub(super) size: [usize; 2],
}

/// Gives pieces that are shade to the paper: there, the wide eye's word counts. Cells that are not inside take no part.
pub(super) fn settle(said: Said<'_>, inside: impl Fn(usize) -> bool) {
    let Said {
        odds,
        wide,
        log,
        size,
    } = said;
    let kind = |cell: usize| match (inside(cell), odds[cell] > 0.0) {
        (false, _) => Kind::Aside,
        (true, false) => Kind::Paper,
        (true, true) if wide[cell] < 0.0 => Kind::Disputed,
        (true, true) => Kind::Part,
    };
    let kinds = (0..odds.len()).map(kind).collect();
    let mut field = Field { size, log, kinds };
    for first in 0..odds.len() {
        if field.kinds[first] != Kind::Disputed {
            continue;
        }
        let piece = field.take_piece(first);
        let near = piece.iter().map(|&cell| odds[cell]).sum::<f32>() / piece.len() as f32;
        if piece.len() >= LEAST_CELLS
            && near < SURE
            && field.steps(&piece, Kind::Part, FROM_PART)
            && field.steps(&piece, Kind::Paper, FROM_PAPER)
        {
            for &cell in &piece {
                odds[cell] = wide[cell];
            }
        }
        for cell in piece {
            field.kinds[cell] = Kind::Aside;
        }
    }
}

/// Fewer cells on a side tell too little of its light.
const LEAST_BESIDE: usize = 3;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Outside, or of a piece that has been looked at: neither looked at nor compared with.
    Aside,
    Paper,
    Part,
    Disputed,
    /// Of the piece that is looked at.
    Piece,
}

struct Field<'a> {
    size: [usize; 2],
    log: &'a [[f32; 3]],
    kinds: Vec<Kind>,
}

impl Field<'_> {
    /// All disputed cells that hang together with one by their sides, marked as the piece.
    fn take_piece(&mut self, first: usize) -> Vec<usize> {
        piece_of(self.size, first, |cell| {
            let disputed = self.kinds[cell] == Kind::Disputed;
            if disputed {
                self.kinds[cell] = Kind::Piece;
            }
            disputed
        })
    }

    /// Whether light changes by at least so much between the piece and the cells of a kind that border it: the median over those.
    /// Not where there are none.
    fn steps(&self, piece: &[usize], kind: Kind, least: f32) -> bool {
        let mut border: Vec<usize> = piece
            .iter()
            .flat_map(|&cell| around(self.size, cell, 1))
            .filter(|&cell| self.kinds[cell] == kind)
            .collect();
        border.sort_unstable();
        border.dedup();
        let mut steps: Vec<f32> = border
            .into_iter()
            .filter_map(|cell| self.step_at(cell, kind))
            .collect();
        let middle = steps.len() / 2;
        !steps.is_empty() && *steps.select_nth_unstable_by(middle, f32::total_cmp).1 >= least
    }

    /// The greatest change of a channel between the piece and the cells of a kind about one; cells at the very side, where a
    /// blurred edge lies, do not count. `None` where too few are left.
    fn step_at(&self, cell: usize, kind: Kind) -> Option<f32> {
        let mut sums = [[0.0f32; 3]; 2];
        let mut counts = [0usize; 2];
        for at in around(self.size, cell, REACH) {
            let (side, other) = match self.kinds[at] {
                Kind::Piece => (0, kind),
                own if own == kind => (1, Kind::Piece),
                _ => continue,
            };
            if around(self.size, at, 1).any(|c| self.kinds[c] == other) {
                continue;
            }
            counts[side] += 1;
            for (sum, v) in sums[side].iter_mut().zip(self.log[at]) {
                *sum += v.clamp(-FARTHEST, FARTHEST);
            }
        }
        let mean = |side: usize| sums[side].map(|v| v / counts[side] as f32);
        counts.iter().all(|&n| n >= LEAST_BESIDE).then(|| {
            let (a, b) = (mean(0), mean(1));
            (0..3).map(|c| (a[c] - b[c]).abs()).fold(0.0, f32::max)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: [usize; 2] = [60, 40];

    /// A part from column 10 on, then a strip that the eyes dispute from column 30 to 40, then paper; what is said of the strip
    /// afterwards. Light as logarithms over paper's, `near` how surely the near eye takes the strip for part.
    fn strip(part: f32, strip: f32, near: f32) -> f32 {
        let column = |cell: usize| cell % SIZE[0];
        let of = |values: [f32; 3]| {
            (0..SIZE[0] * SIZE[1])
                .map(|cell| match column(cell) {
                    10..30 => values[0],
                    30..40 => values[1],
                    _ => values[2],
                })
                .collect::<Vec<f32>>()
        };
        let log: Vec<[f32; 3]> = of([part, strip, 0.0]).iter().map(|&v| [v; 3]).collect();
        let mut odds = of([4.0, near, -4.0]);
        let wide = of([4.0, -1.5, -4.0]);
        settle(
            Said {
                odds: &mut odds,
                wide: &wide,
                log: &log,
                size: SIZE,
            },
            |_| true,
        );
        let middle = odds[20 * SIZE[0] + 35];
        assert!((0..odds.len()).all(|cell| match column(cell) {
            10..30 => odds[cell] == 4.0,
            30..40 => odds[cell] == middle,
            _ => odds[cell] == -4.0,
        }));
        middle
    }

    #[test]
    fn dark_shade_beside_a_lighter_part_is_paper() {
        assert_eq!(strip(-0.3, -2.2, 0.7), -1.5);
    }

    #[test]
    fn what_goes_over_into_the_part_stays_part() {
        assert_eq!(strip(-1.9, -2.0, 0.7), 0.7);
    }

    #[test]
    fn what_is_nearly_as_light_as_paper_stays_part() {
        assert_eq!(strip(-2.5, -0.6, 0.7), 0.7);
    }

    #[test]
    fn the_near_eye_is_believed_where_it_is_sure() {
        assert_eq!(strip(-0.3, -2.2, 3.0), 3.0);
    }

    #[test]
    fn nothing_is_compared_with_what_lies_outside() {
        let mut odds = vec![0.7; SIZE[0] * SIZE[1]];
        let wide = vec![-1.5; odds.len()];
        let log = vec![[-2.0; 3]; odds.len()];
        let said = Said {
            odds: &mut odds,
            wide: &wide,
            log: &log,
            size: SIZE,
        };
        settle(said, |cell| cell % SIZE[0] < 30);
        assert!(odds.iter().all(|&odd| odd == 0.7));
    }
}
