//! The words of what is built and printed.

use super::{PaperName, PieceIn, number};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// What the bars of sheets measured that are drawn in millimetres or inches.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct Printed {
    /// What the printed horizontal bar of 100 mm measures; inches of 4 on sheets drawn with --units inch
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) printed_x: Option<f64>,
    /// What the printed vertical bar of 100 mm measures; inches of 4 on sheets drawn with --units inch
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) printed_y: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct Mount {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Write the piece with its build plan here; sheets and costs read it from there
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Your own adhesives, materials, stock, rules and times, JSON: only what differs from the built-in catalogue (see
    /// --show-catalogue, and schema catalogue)
    #[arg(long, value_name = "FILE")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Draw the schedule: a name ending in .svg, .pdf or .png
    #[arg(long, value_name = "FILE")]
    pub(crate) chart: Option<PathBuf>,
    /// Print the catalogue with the source and standing of each number, and do nothing else
    #[arg(long, conflicts_with_all = ["out", "input", "chart"])]
    pub(crate) show_catalogue: bool,
    /// Print the whole plan as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Sheets {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Folder for the sheets; made where it is missing
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Paper of the tiled template
    #[arg(long, value_enum, default_value = "a4")]
    pub(crate) paper: PaperName,
    #[command(flatten)]
    pub(crate) printed: Printed,
    #[command(flatten)]
    pub(crate) look: SheetLook,
    /// Print the list of files as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// How sheets and guide look.
#[derive(Debug, Default, Args)]
pub(crate) struct SheetLook {
    /// Style of the board's art
    #[arg(long, value_enum, default_value = "quiet")]
    pub(crate) art: ArtName,
    /// Your own art behind the parts, SVG or PNG; it covers the board
    #[arg(long, value_name = "FILE")]
    pub(crate) art_file: Option<PathBuf>,
    /// The words on your own art are light, for a dark picture
    #[arg(long, requires = "art_file")]
    pub(crate) light_words: bool,
    /// How the parts show on the art [default: what suits the style]
    #[arg(long, value_enum, value_name = "LOOK")]
    pub(crate) silhouettes: Option<SilhouettesName>,
    /// Number in an edition, for plaque and guide, such as 3/25
    #[arg(long, value_name = "TEXT")]
    pub(crate) edition: Option<String>,
    /// Width of the cutting tool or beam: cut lines run half of it beside the edge
    #[arg(
        value_parser = number,
        long,
        value_name = "MM",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub(crate) tool: f64,
    /// For whom the guide is
    #[arg(
        long = "guide-for",
        value_enum,
        value_name = "WHOM",
        default_value = "maker"
    )]
    pub(crate) guide_for: GuideFor,
    /// Language of all sheets and of the guide
    #[arg(long, value_enum, default_value = "en")]
    pub(crate) language: LanguageName,
    /// Units of all sheets and of the guide
    #[arg(long, value_enum, default_value = "metric")]
    pub(crate) units: UnitsName,
}

/// Styles of the board's art.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum ArtName {
    /// Bare board, soft shadows, dark words
    #[default]
    Quiet,
    /// Terraces of warm tone round the parts
    Terraces,
    /// A drawing in blue: crosses, centre lines, outlines
    Draught,
    /// Dark ink, light words, hairlines
    Night,
}

/// How parts show on the art.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SilhouettesName {
    /// A soft shadow
    Shadow,
    /// A thin line
    Hairline,
    /// An even tone
    Fill,
    /// Not at all
    None,
}

/// For whom a guide is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum GuideFor {
    /// The maker, who has the device
    #[default]
    Maker,
    /// Somebody who gets the parts in a box
    Kit,
    /// Somebody who has to find the parts
    KitToFind,
}

/// Languages of the guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum LanguageName {
    /// English
    #[default]
    En,
    /// German
    De,
}

/// Units of all sheets and of the guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum UnitsName {
    /// Millimetres, grams, millilitres
    #[default]
    Metric,
    /// Inches, ounces, fluid ounces (US)
    Inch,
}
