//! What the caller may choose.

use crate::{WEIGHTS, Weights};

/// How to search, and for which eye the captions are set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Seed of the search: the same piece, seed and steps give the same bytes.
    pub seed: u64,
    /// Arrangements that the search looks at; the best that it saw is kept. With more steps it cools more slowly, and so walks
    /// another way: mostly to a better score, which is not promised.
    pub steps: u32,
    /// Distance from which the captions are to be read, metres.
    pub viewing_distance_m: f64,
    /// What makes one layout better than another.
    pub weights: Weights,
    /// Captions are set; without them the parts alone are placed.
    pub captions: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            seed: 1,
            steps: 30_000,
            viewing_distance_m: 0.7,
            weights: WEIGHTS,
            captions: true,
        }
    }
}
