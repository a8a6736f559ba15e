//! The words of what places parts and says what is wrong.

use super::{PieceIn, seconds, whole};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Styles of layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum StyleName {
    /// Spread in device order
    Exploded,
    /// In straight rows
    Knolled,
}

#[derive(Debug, Args)]
pub(crate) struct Arrange {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Where the arranged piece goes [default: standard output]
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// The style [default: what the piece says]
    #[arg(long, value_enum)]
    pub(crate) style: Option<StyleName>,
    /// Seed of the search: the same seed gives the same layout
    #[arg(value_parser = whole, long, value_name = "N", default_value_t = arrange::Options::default().seed)]
    pub(crate) seed: u64,
    /// Put the layout that is there right after a part was changed, swapped, added or taken out, with the least
    /// movement
    #[arg(long, conflicts_with = "style")]
    pub(crate) keep: bool,
    /// Leave the captions out
    #[arg(long)]
    pub(crate) no_captions: bool,
    /// What makes a layout good, JSON: {"order": 10, "alignment": 1, ...}; what is left out keeps its weight
    #[arg(long, value_name = "FILE.json")]
    pub(crate) weights: Option<PathBuf>,
    /// End the search after this many seconds with the best layout so far
    #[arg(value_parser = seconds, long, value_name = "S")]
    pub(crate) time: Option<f64>,
    /// With --out: print how the parts found room, the score and the findings as JSON
    #[arg(long, requires = "out")]
    pub(crate) json: bool,
}

/// Lists of stock sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum StockName {
    /// Metric and US sizes
    All,
    /// Metric sizes
    Metric,
    /// US sizes
    Us,
    /// None but those of --list
    None,
}

#[derive(Debug, Args)]
pub(crate) struct Frames {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Which stock sizes are tried
    #[arg(long, value_enum, default_value = "all")]
    pub(crate) stock: StockName,
    /// Your own sizes too: a table with the columns name,width_mm,height_mm
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) list: Option<PathBuf>,
    /// Also look for the least frame of any ratio of its sides
    #[arg(long)]
    pub(crate) free: bool,
    /// Seed of the search
    #[arg(value_parser = whole, long, value_name = "N", default_value_t = arrange::Options::default().seed)]
    pub(crate) seed: u64,
    /// What makes a layout good (see arrange)
    #[arg(long, value_name = "FILE.json")]
    pub(crate) weights: Option<PathBuf>,
    /// Print as JSON, each frame that fits with its layout
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Check {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Your own adhesives, materials, stock and rules (see mount)
    #[arg(long, value_name = "FILE")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Print the findings as JSON
    #[arg(long)]
    pub(crate) json: bool,
}
