//! Numbers that name things in one workshop. They are never given twice.

use serde::{Deserialize, Serialize};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub(crate) i64);

        impl $name {
            /// The number as it is stored.
            pub fn number(self) -> i64 {
                self.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = std::num::ParseIntError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                text.parse().map(Self)
            }
        }
    };
}

id!(
    /// A piece.
    PieceId
);
id!(
    /// One state of a piece, or of the work on a photo.
    RevisionId
);
id!(
    /// A photo of a piece.
    PhotoId
);
id!(
    /// A part in the drawer.
    StockId
);
id!(
    /// What came of a verdict.
    OutcomeId
);
