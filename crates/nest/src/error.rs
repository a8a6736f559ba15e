//! Why items cannot be placed.

/// Why items cannot be placed. Items are named by their place in the list as given, from 0.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NestError {
    /// Nothing is asked for.
    #[error("no item is asked for; give at least one with a demand of 1 or more")]
    NothingToPlace,
    /// More pieces (or keep-outs) than the limit.
    #[error("{found} {what} are more than the limit of {limit}; place them in several runs")]
    TooManyPieces {
        /// What there are too many of.
        what: &'static str,
        /// How many were asked for.
        found: usize,
        /// How many may be.
        limit: usize,
    },
    /// More different outlines than the limit.
    #[error(
        "{found} different outlines are more than the limit of {limit}; place them in several runs"
    )]
    TooManyOutlines {
        /// Different outlines found.
        found: usize,
        /// How many may be.
        limit: usize,
    },
    /// A list of turns that is empty, too long, or holds what is no number.
    #[error("item {item}: its list of turns {problem}")]
    BadTurns {
        /// Which item.
        item: usize,
        /// What is wrong with the list.
        problem: &'static str,
    },
    /// A length that is not a number in range.
    #[error("{what} is {value} mm; give a number up to 100000")]
    BadLength {
        /// Which length.
        what: &'static str,
        /// What it is.
        value: f64,
    },
    /// An item does not fit even alone, however it is turned.
    #[error(
        "item {item} needs {:.3} x {:.3} mm at least, and there are {:.3} x {:.3} mm; choose a larger strip or sheet, \
         or allow more turns", .needs_mm[0], .needs_mm[1], .has_mm[0], .has_mm[1]
    )]
    ItemTooLarge {
        /// Which item.
        item: usize,
        /// Its bounding box in the turn that comes nearest to fitting, width and height.
        needs_mm: [f64; 2],
        /// What is free inside the edges; the length of a strip is infinite.
        has_mm: [f64; 2],
    },
    /// The watch ended the work before there was anything to return.
    #[error("cancelled before a layout was found")]
    Cancelled,
    /// The exact check on the finished layout found an overlap. This is a fault of ours, and nothing is returned.
    #[error(
        "pieces {first} and {second} of the finished layout overlap; please report this with the input"
    )]
    Faulty {
        /// One piece, by its place among the placements.
        first: usize,
        /// The other.
        second: usize,
    },
}
