//! Why a piece cannot be arranged.

use piece::{Part, PartId, PieceError};

/// Why a piece cannot be arranged, and what would do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ArrangeError {
    /// The piece itself is not sound.
    #[error(transparent)]
    Unsound(PieceError),
    /// A part is larger than the window leaves free.
    #[error("{0}")]
    PartTooLarge(Box<TooLarge>),
    /// All parts together find no room.
    #[error(
        "{parts} parts find no room with a gap of {gap_mm} mm: the window less spacer and margin has \
         {:.1} x {:.1} mm; {}", .field_mm[0], .field_mm[1], remedy(*.least_frame_mm)
    )]
    NoRoom {
        /// Parts that were to be placed.
        parts: usize,
        /// The gap asked, mm.
        gap_mm: f64,
        /// What the frame leaves free, mm.
        field_mm: [f64; 2],
        /// The least frame (glazing size, mm) of the same shape for which a layout was found.
        least_frame_mm: Option<[f64; 2]>,
    },
    /// Two pinned parts lie on each other.
    #[error("{names} are both pinned and lie on each other; move one of them or let it loose")]
    PinnedOverlap {
        /// One.
        first: PartId,
        /// The other.
        second: PartId,
        /// Their names.
        names: String,
    },
    /// A group larger than the window leaves free.
    #[error(
        "the group {group:?} takes {:.1} x {:.1} mm, but the window less spacer and margin has {:.1} x {:.1} mm; \
         take a part out of the group, or {}", .size_mm[0], .size_mm[1], .field_mm[0], .field_mm[1],
        remedy(*.least_frame_mm)
    )]
    GroupTooLarge {
        /// The group.
        group: String,
        /// What it takes up, mm.
        size_mm: [f64; 2],
        /// What the frame leaves free, mm.
        field_mm: [f64; 2],
        /// The least frame (glazing size, mm) of the same shape for which a layout was found.
        least_frame_mm: Option<[f64; 2]>,
    },
    /// A group that cannot stay together because of parts that are pinned.
    #[error(
        "the group {group:?} cannot stay together: {problem}; let one of them loose, or take it out of the group"
    )]
    GroupTorn {
        /// The group.
        group: String,
        /// Its pinned parts.
        pinned: Vec<PartId>,
        /// The pinned part between them, where there is one.
        between: Option<PartId>,
        /// What stands in the way, in words.
        problem: String,
    },
    /// The watch ended the work before there was anything to return.
    #[error("cancelled before a layout was found")]
    Cancelled,
}

impl ArrangeError {
    pub(crate) fn pinned_overlap(first: &Part, second: &Part) -> Self {
        Self::PinnedOverlap {
            first: first.id.clone(),
            second: second.id.clone(),
            names: format!("{} and {}", first.name, second.name),
        }
    }
}

/// A part that is larger than the window leaves free.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "{name} ({part}) is {:.1} x {:.1} mm, but the window less spacer and margin has {:.1} x {:.1} mm; {}",
    .size_mm[0], .size_mm[1], .field_mm[0], .field_mm[1], remedy(*.least_frame_mm)
)]
pub struct TooLarge {
    /// Which part.
    pub part: PartId,
    /// What people call it.
    pub name: String,
    /// Its size as it would lie, mm.
    pub size_mm: [f64; 2],
    /// What the frame leaves free, mm.
    pub field_mm: [f64; 2],
    /// The least frame (glazing size, mm) of the same shape for which a layout of all parts was found.
    pub least_frame_mm: Option<[f64; 2]>,
}

fn remedy(least_frame_mm: Option<[f64; 2]>) -> String {
    match least_frame_mm {
        Some([w, h]) => format!("a frame of {w:.0} x {h:.0} mm would do"),
        None => "show fewer parts, or choose a much larger frame".into(),
    }
}
