//! The eye that tells parts from paper.
//!
//! Three small convolutional networks, a near one that sees cells of a tenth of a millimetre, a wide one that sees two by two of them as one and
//! a far one that sees four by four: six levels, each half the size of the one before, down to cells of six to 25 millimetres, and up again. They have seen thousands of pieces of rendered photographs with exact truth, under soft and hard light, with parts of
//! every surface (`reference/eye`); edges alone cannot tell a grey part from its shade, the picture round them can, and so
//! can the side to which walls lean, which the wide one is told. They only decide what is part and what is paper; where exactly an edge runs is measured in the
//! photo afterwards.

pub(crate) mod fine;
mod layers;
mod planes;
mod ramp;
pub(crate) mod round;
mod two_layers;
pub(crate) mod wall;
mod weights;

use super::lean::Lean;
use layers::{Layer, add_doubled};
use planes::{Planes, Room};
use ramp::Ramp;
use shape::on_rows;
use std::sync::LazyLock;

/// Light relative to paper beyond this (natural logarithm) says nothing more.
pub(crate) const FARTHEST: f32 = 5.0;

/// Where there are at least so many cells a millimetre, the wide eye sees two by two of them as one, and the far one four by four: they were
/// taught at about five and two and a half. Elsewhere it is half as many along each side.
const FINE_CELLS_PER_MM: f64 = 8.0;

/// Layers with what they have learnt.
struct Eye {
    stem: Layer,
    down: Vec<Down>,
    up: Vec<Up>,
    head: Layer,
}

/// From a level to the next deeper one: the step down, what the lean adds, and two looks round.
struct Down {
    halve: Layer,
    lean: Ramp,
    look: [Layer; 2],
}

/// From the next deeper level back up: the step up, what the lean adds, and a look round.
struct Up {
    rise: Layer,
    lean: Ramp,
    join: Layer,
}

static EYES: LazyLock<Option<[Eye; 3]>> = LazyLock::new(Eye::taught);

/// What the eye sees: the light of each cell over bare paper's, natural logarithm per channel, rows from the top.
#[derive(Clone, Copy)]
pub(crate) struct View<'a> {
    pub(crate) log: &'a [[f32; 3]],
    /// Cells along x and y.
    pub(crate) size: [usize; 2],
    /// Which way heights lean; `None` where nobody knows.
    pub(crate) lean: Option<Lean>,
}

/// How surely each cell is part (above 0) or paper (below 0): the logarithm of the odds.
pub(crate) struct Heard {
    /// What the near and the wide one say together: the near one's word where that says part.
    pub(crate) odds: Vec<f32>,
    /// What the wide one says alone.
    pub(crate) wide: Vec<f32>,
    /// What the far one says alone, of its own cells.
    pub(crate) far: Far,
}

/// What the far eye says of each of its cells, rows from the top: the logarithm of the odds that it is part.
pub(crate) struct Far {
    pub(crate) odds: Vec<f32>,
    /// Its cells along x and y.
    pub(crate) size: [usize; 2],
    /// So many cells of the picture lie along each side of one of them.
    pub(crate) side: usize,
}

/// Lets all eyes look.
pub(crate) fn odds_of_part(view: &View<'_>, cells_per_mm: f64) -> Heard {
    let Some([near, wide, far]) = &*EYES else {
        let nothing = || vec![f32::NEG_INFINITY; view.log.len()];
        return Heard {
            odds: nothing(),
            wide: nothing(),
            far: Far {
                odds: nothing(),
                size: view.size,
                side: 1,
            },
        };
    };
    let mut odds = near.mean_odds(view, &TURNED);
    let half = Joined::of(view);
    let (wide, joined, side) = if cells_per_mm < FINE_CELLS_PER_MM {
        (wide.mean_odds(view, &MIRRORED), half, 2)
    } else {
        let coarse = wide.mean_odds(&half.view(), &MIRRORED);
        let fine = refined(&coarse, half.size, 2, view.size);
        (fine, Joined::of(&half.view()), 4)
    };
    let far = Far {
        odds: far.mean_odds(&joined.view(), &MIRRORED),
        size: joined.size,
        side,
    };
    // What the near eye takes for part stays part here: the wide one was shown few parts with recesses, and takes them for openings.
    let width = view.size[0];
    on_rows(&mut odds, width, |y, row| {
        let others = row.iter_mut().zip(&wide[y * width..]);
        for (odd, other) in others.filter(|(odd, _)| **odd < 0.0) {
            *odd = NEAR_SHARE * *odd + (1.0 - NEAR_SHARE) * other.clamp(-WIDE_MOST, WIDE_MOST);
        }
    });
    Heard { odds, wide, far }
}

/// Of what it takes for paper, what the near eye says counts so much, the wide one the rest.
const NEAR_SHARE: f32 = 0.6;

/// The wide eye may not be surer than this: where the near one is as sure of the other, it is not outvoted by much.
const WIDE_MOST: f32 = 3.0;

/// As the picture is and turned half round; and all of its mirror images, which the wide eye costs less for: with two looks of it, small
/// outlines in coarse photos move enough to turn a home by half a degree. Mirrored along x, along y.
const TURNED: [[bool; 2]; 2] = [[false, false], [true, true]];
const MIRRORED: [[bool; 2]; 4] = [[false, false], [true, false], [false, true], [true, true]];

impl Eye {
    /// The mean of looks at the picture and at its mirror images: what is said of a place should not hang on that.
    fn mean_odds(&self, view: &View<'_>, looks: &[[bool; 2]]) -> Vec<f32> {
        let [width, height] = view.size;
        let mut sum = vec![0.0f32; width * height];
        let share = 1.0 / looks.len() as f32;
        let mut room = Room::default();
        for &along in looks {
            let four = self.look(view, along, &mut room);
            on_rows(&mut sum, width, |y, row| {
                let y = if along[1] { height - 1 - y } else { y };
                let from = four.bordered_row(y / 2 + 1);
                let of = |half: usize| &from[(y % 2 * 2 + half) * four.stride + 1..];
                let pairs = of(0)
                    .iter()
                    .zip(of(1))
                    .flat_map(|(a, b)| [a, b])
                    .take(width);
                if along[0] {
                    // From the right: the last cell may be the first of its pair.
                    for (cell, odd) in row.iter_mut().rev().zip(pairs) {
                        *cell += share * odd;
                    }
                } else {
                    for (cell, odd) in row.iter_mut().zip(pairs) {
                        *cell += share * odd;
                    }
                }
            });
            room.give_back(four);
        }
        sum
    }

    /// One look at the picture, mirrored along x and y or not: the logarithm of the odds of each cell, as four pictures of half
    /// the size (upper left and right, lower left and right of two by two cells).
    fn look(&self, view: &View<'_>, along: [bool; 2], room: &mut Room) -> Planes {
        let known = view.lean.map(|l| l.mirrored(view.size, along));
        // The lean in the cells of each level; the first has two by two cells of the picture in one.
        let lean = |level: usize| known.map(|l| l.coarser((2usize << level) as f64));
        let mut kept = Vec::new();
        let picture = quarters(view, along, self.down.len(), room);
        let mut seen = self.stem.around(&picture, room);
        room.give_back(picture);
        for (level, down) in self.down.iter().enumerate() {
            let mut deeper = down.halve.halved(&seen, room);
            down.lean.add_to(&mut deeper, lean(level + 1));
            let [first, second] = &down.look;
            kept.push(seen);
            let once = first.around(&deeper, room);
            room.give_back(deeper);
            seen = second.around(&once, room);
            room.give_back(once);
        }
        for ((level, up), mut at) in self.up.iter().enumerate().zip(kept).rev() {
            let rise = up.rise.mixed(&seen, room);
            add_doubled(&mut at, &rise);
            room.give_back(rise);
            up.lean.add_to(&mut at, lean(level));
            room.give_back(seen);
            seen = up.join.around(&at, room);
            room.give_back(at);
        }
        let four = self.head.around(&seen, room);
        room.give_back(seen);
        four
    }
}

/// Two by two cells as one.
struct Joined {
    log: Vec<[f32; 3]>,
    size: [usize; 2],
    lean: Option<Lean>,
}

impl Joined {
    /// Each the mean of those that there are.
    fn of(view: &View<'_>) -> Self {
        let [width, height] = view.size;
        let across = width.div_ceil(2);
        let mut log = vec![[0.0f32; 3]; across * height.div_ceil(2)];
        on_rows(&mut log, across, |y, row| {
            let rows = 2 * y..(2 * y + 2).min(height);
            for (x, cell) in row.iter_mut().enumerate() {
                let columns = 2 * x..(2 * x + 2).min(width);
                let (mut sum, mut count) = ([0.0f32; 3], 0.0);
                for j in rows.clone() {
                    for cell in &view.log[j * width..][columns.clone()] {
                        for k in 0..3 {
                            sum[k] += cell[k].clamp(-FARTHEST, FARTHEST);
                        }
                        count += 1.0;
                    }
                }
                *cell = sum.map(|v| v / count);
            }
        });
        Self {
            log,
            size: view.size.map(|n| n.div_ceil(2)),
            lean: view.lean.map(|l| l.coarser(2.0)),
        }
    }

    fn view(&self) -> View<'_> {
        View {
            log: &self.log,
            size: self.size,
            lean: self.lean,
        }
    }
}

/// Numbers of joined cells, `side` by `side` in one, at the cells themselves, linear between them.
pub(crate) fn refined(coarse: &[f32], from: [usize; 2], side: usize, to: [usize; 2]) -> Vec<f32> {
    // The two joined cells about a cell, and how near it is to the second.
    let about = |i: usize, k: usize| {
        let at = ((i as f32 + 0.5) / side as f32 - 0.5).max(0.0);
        let first = (at as usize).min(from[k] - 1);
        (first, (first + 1).min(from[k] - 1), at - first as f32)
    };
    let across: Vec<_> = (0..to[0]).map(|x| about(x, 0)).collect();
    let mut fine = vec![0.0; to[0] * to[1]];
    on_rows(&mut fine, to[0], |y, row| {
        let (y0, y1, v) = about(y, 1);
        let (above, below) = (&coarse[y0 * from[0]..], &coarse[y1 * from[0]..]);
        for (cell, &(x0, x1, u)) in row.iter_mut().zip(&across) {
            let along = |row: &[f32]| row[x0] + u * (row[x1] - row[x0]);
            let (a, b) = (along(above), along(below));
            *cell = a + v * (b - a);
        }
    });
    fine
}

/// Two by two cells, mirrored along x and y or not, as four pictures of half the size for each channel, padded with paper so
/// that it can be halved at each deeper level.
fn quarters(view: &View<'_>, along: [bool; 2], levels: usize, room: &mut Room) -> Planes {
    let [width, height] = view.size;
    let whole = |n: usize| n.div_ceil(2).next_multiple_of(1 << levels);
    let mut planes = Planes::bordered([12, whole(width), whole(height)], room);
    let stride = planes.stride;
    planes.fill_rows(|y, row| {
        row.fill(0.0);
        for dy in 0..2 {
            let y = 2 * y + dy;
            if y >= height {
                continue;
            }
            let y = if along[1] { height - 1 - y } else { y };
            let cells = &view.log[y * width..(y + 1) * width];
            for x in 0..width {
                let cell = cells[if along[0] { width - 1 - x } else { x }];
                for c in 0..3 {
                    row[(c * 4 + dy * 2 + x % 2) * stride + 1 + x / 2] =
                        cell[c].clamp(-FARTHEST, FARTHEST);
                }
            }
        }
    });
    planes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A slope stays the same slope when cells are joined and told apart again, and odd sizes lose no cell.
    #[test]
    fn joined_cells_are_told_apart_again() {
        let size = [7usize, 5];
        let at = |x: usize, y: usize| 0.1 * x as f32 - 0.2 * y as f32;
        let cells = (0..size[1]).flat_map(|y| (0..size[0]).map(move |x| (x, y)));
        let log: Vec<[f32; 3]> = cells.map(|(x, y)| [at(x, y); 3]).collect();
        let view = View {
            log: &log,
            size,
            lean: None,
        };
        let coarse: Vec<f32> = Joined::of(&view).log.iter().map(|v| v[0]).collect();
        let fine = refined(&coarse, [4, 3], 2, size);
        assert_eq!((coarse.len(), fine.len()), (12, 35));
        // At the odd ends a joined cell stands for one.
        for y in 1..3 {
            for x in 1..5 {
                let off = fine[y * size[0] + x] - at(x, y);
                assert!(off.abs() < 1e-5, "{x} {y}: {off}");
            }
        }
    }
}
