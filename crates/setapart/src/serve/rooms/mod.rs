//! The rooms: each a page with its own address.

pub(super) mod board;
pub(super) mod build;
pub(super) mod capture;
pub(super) mod drawer;
pub(super) mod sheets;
pub(super) mod shelf;

use super::icons;
use maud::Markup;
use workshop::PieceId;

/// The rooms of a piece that are open, in the order in which a piece comes to be. Intake and Donors go before Capture,
/// Homes after it, Costing at the end, each when it is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Room {
    Capture,
    Drawer,
    Board,
    Build,
    Sheets,
}

impl Room {
    pub(crate) const ALL: [Self; 5] = [
        Self::Capture,
        Self::Drawer,
        Self::Board,
        Self::Build,
        Self::Sheets,
    ];

    /// Its word in addresses.
    pub(crate) fn slug(self) -> &'static str {
        match self {
            Self::Capture => "capture",
            Self::Drawer => "drawer",
            Self::Board => "board",
            Self::Build => "build",
            Self::Sheets => "sheets",
        }
    }

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Capture => "Capture",
            Self::Drawer => "Drawer",
            Self::Board => "Board",
            Self::Build => "Build",
            Self::Sheets => "Sheets",
        }
    }

    pub(crate) fn icon(self) -> Markup {
        match self {
            Self::Capture => icons::capture(),
            Self::Drawer => icons::drawer(),
            Self::Board => icons::board(),
            Self::Build => icons::build(),
            Self::Sheets => icons::sheets(),
        }
    }

    pub(crate) fn href(self, piece: PieceId) -> String {
        format!("/piece/{piece}/{}", self.slug())
    }
}
