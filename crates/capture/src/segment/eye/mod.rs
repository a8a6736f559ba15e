//! The eye that tells parts from paper.
//!
//! A small convolutional network: six levels, each half the size of the one before, down to cells of six millimetres, and up
//! again. It has seen thousands of pieces of rendered photographs with exact truth, under soft and hard light, with parts of
//! every surface (`reference/eye`); edges alone cannot tell a grey part from its shade, the picture round them can. It only
//! decides what is part and what is paper; where exactly an edge runs is measured in the photo afterwards.

pub(crate) mod fine;
mod layers;
mod planes;
mod weights;

use layers::{Layer, add_doubled};
use planes::Planes;
use std::sync::LazyLock;

/// Light relative to paper beyond this (natural logarithm) says nothing more.
pub(crate) const FARTHEST: f32 = 5.0;

/// Layers with what they have learnt.
struct Eye {
    stem: Layer,
    /// From each level to the next deeper one: the step down, and two looks round.
    down: Vec<(Layer, [Layer; 2])>,
    /// From each deeper level back up: the step up, and a look round.
    up: Vec<(Layer, Layer)>,
    head: Layer,
}

static EYE: LazyLock<Option<Eye>> = LazyLock::new(Eye::taught);

/// How surely each cell is part (above 0) or paper (below 0): the logarithm of the odds.
///
/// `log` is the light of each cell over bare paper's, natural logarithm per channel, rows from the top.
pub(crate) fn odds_of_part(log: &[[f32; 3]], width: usize, height: usize) -> Vec<f32> {
    let Some(eye) = &*EYE else {
        return vec![f32::NEG_INFINITY; width * height];
    };
    let mut odds = eye.odds(log, width, height);
    // A second look with the picture turned half round: what it says of a place should not hang on that.
    let turned: Vec<[f32; 3]> = log.iter().rev().copied().collect();
    let second = eye.odds(&turned, width, height);
    for (odd, other) in odds.iter_mut().zip(second.iter().rev()) {
        *odd = 0.5 * (*odd + other);
    }
    odds
}

impl Eye {
    fn odds(&self, log: &[[f32; 3]], width: usize, height: usize) -> Vec<f32> {
        let mut kept = Vec::new();
        let mut seen = self
            .stem
            .around(&quarters(log, width, height, self.down.len()));
        for (halve, [first, second]) in &self.down {
            let deeper = second.around(&first.around(&halve.halved(&seen)));
            kept.push(seen);
            seen = deeper;
        }
        for ((rise, join), mut at) in self.up.iter().zip(kept).rev() {
            add_doubled(&mut at, &rise.mixed(&seen));
            seen = join.around(&at);
        }
        let four = self.head.around(&seen);
        let mut odds = vec![0.0; width * height];
        for (y, row) in odds.chunks_mut(width.max(1)).enumerate() {
            let from = four.bordered_row(y / 2 + 1);
            for (x, odd) in row.iter_mut().enumerate() {
                *odd = from[(y % 2 * 2 + x % 2) * four.stride + 1 + x / 2];
            }
        }
        odds
    }
}

/// Two by two cells as four pictures of half the size for each channel, padded with paper so that it can be halved at each
/// deeper level.
fn quarters(log: &[[f32; 3]], width: usize, height: usize, levels: usize) -> Planes {
    let whole = |n: usize| n.div_ceil(2).next_multiple_of(1 << levels);
    let mut planes = Planes::zeros(12, whole(width), whole(height));
    let stride = planes.stride;
    planes.fill_rows(|y, row| {
        for dy in 0..2 {
            let Some(cells) = log.get((2 * y + dy) * width..(2 * y + dy + 1) * width) else {
                continue;
            };
            for (x, cell) in cells.iter().enumerate() {
                for c in 0..3 {
                    row[(c * 4 + dy * 2 + x % 2) * stride + 1 + x / 2] =
                        cell[c].clamp(-FARTHEST, FARTHEST);
                }
            }
        }
    });
    planes
}
