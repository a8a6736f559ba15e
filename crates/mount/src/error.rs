//! Why a piece cannot be planned, or a catalogue not be read.

use crate::catalogue::MAX_CATALOGUE_BYTES;

/// Why a text is no catalogue. Each names the path of the bad field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CatalogueError {
    /// More bytes than a catalogue can have.
    #[error("the catalogue has {found} bytes, the limit is {MAX_CATALOGUE_BYTES}")]
    TooLarge {
        /// Bytes found.
        found: usize,
    },
    /// Not JSON, a field of the wrong form, or a value that cannot be.
    #[error("{path}: {problem}")]
    Malformed {
        /// Where, such as `adhesives.epoxy.gap_mm`.
        path: String,
        /// What is wrong there.
        problem: String,
    },
}

/// Why there is no build plan. What is wrong with the piece's build is a finding in the plan, not an error.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MountError {
    /// The document is not sound.
    #[error("the piece is not sound: {0}")]
    Unsound(#[from] piece::PieceError),
    /// The catalogue has no entry of a kind that every piece needs.
    #[error("the catalogue has no {what}; add one")]
    Nothing {
        /// Which kind.
        what: &'static str,
    },
    /// The watch ended the work.
    #[error("cancelled before the plan was done")]
    Cancelled,
}

impl From<shape::Cancelled> for MountError {
    fn from(_: shape::Cancelled) -> Self {
        Self::Cancelled
    }
}
