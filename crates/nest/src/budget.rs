//! How long a search may take, and why it ended.

/// How much work a search may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Moves of one piece: each looks at some hundred places. Time is not counted: a time limit is the
    /// [`shape::Watch`]'s.
    pub steps: u64,
    /// Seed of the search.
    pub seed: u64,
    /// Threads, 1 or 2. The search has two lanes whatever this says: it changes how long they take, and no result.
    pub threads: usize,
}

impl Default for Budget {
    fn default() -> Self {
        Self {
            steps: 20_000,
            seed: 1,
            threads: 2,
        }
    }
}

/// Why a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoppedBy {
    /// All steps were done: the same input, seed and steps give the same bytes again, whatever the number of threads.
    Steps,
    /// What was asked for is reached, or nothing better can be. Reached in the same way again, as with `Steps`.
    Goal,
    /// The watch said so: somebody cancelled, or the caller's time was up. The best layout so far is returned.
    Watch,
}
