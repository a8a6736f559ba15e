//! The command line's words.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Turns the parts of a dead device into a framed, life-size exploded view.
#[derive(Debug, Parser)]
#[command(name = "setapart", version, about, long_about = None, propagate_version = true)]
#[command(after_help = "Start with: setapart demo demo-out")]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Do the whole job on the built-in invented device and write every output
    Demo {
        /// Folder for the outputs; made where it is missing
        dir: PathBuf,
    },
    /// Make the sheet to print, on which parts are photographed
    CaptureSheet(CaptureSheet),
    /// Find the true outlines of the parts in photos taken on a capture sheet or beside a card, in flatbed scans, or
    /// in drawings
    Capture(Capture),
    /// Measure a flatbed scanner by one scan of a capture sheet
    ScannerProfile(ScannerProfile),
    /// Say whether a part fits the place of another: fit, trim (where, how much) or no (exit status 1)
    Fit(Fit),
    /// Place parts and captions in the frame
    Arrange(Arrange),
    /// Say which stock frames hold the parts, smallest first; exit status 1 where none does
    Frames(Frames),
    /// Say what is wrong with a piece; exit status 1 where something must not go on
    Check(Check),
    /// Write the 1:1 template, the drawing of outlines and the preview
    Sheets(Sheets),
    /// Look after the workshop: the store of pieces, photos and parts that the app works in
    Workshop(WorkshopArgs),
    /// Print the JSON Schema of the piece document
    Schema,
    /// Print areas, bounds and clearances of a piece, for other programs to compare
    #[command(hide = true)]
    Measure(Measure),
    /// Fill a strip of fixed height as short as can be, from an instance file of the packing literature
    #[command(hide = true)]
    StripFill(StripFill),
}

/// Papers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperName {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 in
    Letter,
    /// 297 x 420 mm
    A3,
    /// 11 x 17 in
    Tabloid,
}

/// Styles of layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum StyleName {
    /// Spread in device order
    Exploded,
    /// In straight rows
    Knolled,
}

/// Units of drawings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum UnitName {
    /// Millimetres
    Mm,
    /// Centimetres
    Cm,
    /// Inches
    In,
    /// Thousandths of an inch
    Mil,
    /// Points, 72 to the inch
    Pt,
    /// Pixels, 96 to the inch
    Px,
}

impl UnitName {
    pub(crate) fn unit(self) -> capture::drawing::DrawingUnit {
        use capture::drawing::DrawingUnit;
        match self {
            Self::Mm => DrawingUnit::Millimetre,
            Self::Cm => DrawingUnit::Centimetre,
            Self::In => DrawingUnit::Inch,
            Self::Mil => DrawingUnit::Mil,
            Self::Pt => DrawingUnit::Point,
            Self::Px => DrawingUnit::Pixel,
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct CaptureSheet {
    /// The paper to print on
    #[arg(long, value_enum, default_value = "a4")]
    pub(crate) paper: PaperName,
    /// The PDF to write [default: capture-sheet-PAPER.pdf]
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Print the sheet's description instead: where its tags and its blank field are, mm
    #[arg(long, conflicts_with = "out")]
    pub(crate) json: bool,
}

/// What the printed bars of 100 mm measured.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct Printed {
    /// What the printed horizontal bar of 100 mm measures
    #[arg(long, value_name = "MM")]
    pub(crate) printed_x: Option<f64>,
    /// What the printed vertical bar of 100 mm measures
    #[arg(long, value_name = "MM")]
    pub(crate) printed_y: Option<f64>,
}

impl Printed {
    /// Both bars, mm; `None` where nobody measured either.
    pub(crate) fn measured(self) -> Option<[f64; 2]> {
        match (self.printed_x, self.printed_y) {
            (None, None) => None,
            (x, y) => Some([x.unwrap_or(100.0), y.unwrap_or(100.0)]),
        }
    }
}

/// Pixels per inch along x and y.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Dpi(pub(crate) [f64; 2]);

impl std::str::FromStr for Dpi {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = |t: &str| t.trim().parse::<f64>().ok();
        let both = match text.split_once('x') {
            Some((x, y)) => number(x).zip(number(y)),
            None => number(text).map(|n| (n, n)),
        };
        both.map(|(x, y)| Self([x, y]))
            .ok_or_else(|| "give one number such as 600, or two such as 300x600".into())
    }
}

#[derive(Debug, Args)]
pub(crate) struct ScannerProfile {
    /// The scan of the whole glass with the printed sheet face down on it: PNG, TIFF, JPEG or WebP
    #[arg(value_name = "SCAN")]
    pub(crate) scan: PathBuf,
    /// Its resolution, pixels per inch: 600, or 300x600 along x and y [default: what the file says]
    #[arg(long, value_name = "N")]
    pub(crate) dpi: Option<Dpi>,
    /// Description of a sheet that is not one of ours (see capture-sheet --json)
    #[arg(long, value_name = "FILE")]
    pub(crate) sheet: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) printed: Printed,
    /// The profile to write
    #[arg(long, value_name = "FILE", default_value = "scanner-profile.json")]
    pub(crate) out: PathBuf,
    /// Print what was measured as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Capture {
    /// Photos: JPEG, HEIC, PNG, TIFF or WebP; or drawings: SVG, DXF, Gerber profiles
    #[arg(required = true, value_name = "IMAGE")]
    pub(crate) images: Vec<PathBuf>,
    /// Description of a sheet that is not one of ours (see capture-sheet --json)
    #[arg(long, value_name = "FILE")]
    pub(crate) sheet: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) printed: Printed,
    /// The images are flatbed scans of this resolution, pixels per inch: 600, or 300x600 along x and y
    #[arg(long, value_name = "N", conflicts_with_all = ["sheet", "printed_x", "printed_y", "card"])]
    pub(crate) dpi: Option<Dpi>,
    /// The images are flatbed scans; their files say the resolution
    #[arg(long, conflicts_with_all = ["sheet", "printed_x", "printed_y", "card"])]
    pub(crate) scan: bool,
    /// The images are scans from the scanner that this profile is of (see scanner-profile)
    #[arg(long, value_name = "FILE", conflicts_with_all = ["sheet", "printed_x", "printed_y", "card"])]
    pub(crate) scanner: Option<PathBuf>,
    /// The photos show no sheet, but a bank or identity card (ID-1, 85.60 x 53.98 mm) beside the parts
    #[arg(long, conflicts_with_all = ["sheet", "printed_x", "printed_y"])]
    pub(crate) card: bool,
    /// Height of the parts' outer edge, mm, for all parts that no table names
    #[arg(long, value_name = "MM")]
    pub(crate) thickness: Option<f64>,
    /// Table with the columns x_mm,y_mm,thickness_mm: the thickness of the part that covers that point
    /// of the sheet
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) thicknesses: Option<PathBuf>,
    /// What was drawn over the photo, JSON: {"strokes": [{"kind": "include" | "exclude" | "split", "width_mm": 1,
    /// "points_mm": [[x, y], ...]}]}, mm of the sheet
    #[arg(long, value_name = "FILE")]
    pub(crate) strokes: Option<PathBuf>,
    /// A photo of the same parts turned over: each is joined to its front as its back; may be given again
    #[arg(long, value_name = "IMAGE")]
    pub(crate) backs: Vec<PathBuf>,
    /// Write each part's own picture into this folder, PNG at 12 pixels a millimetre
    #[arg(long, value_name = "DIR")]
    pub(crate) cutouts: Option<PathBuf>,
    /// Unit of a drawing that states none
    #[arg(long, value_enum)]
    pub(crate) unit: Option<UnitName>,
    /// With --json: outlines as few straight lines and arcs within this distance of what was measured,
    /// 0.005 to 5; 0 leaves them as measured
    #[arg(long, value_name = "MM", default_value_t = 0.05)]
    pub(crate) tidy: f64,
    /// Print everything as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = FIT_HELP)]
pub(crate) struct Fit {
    /// The part: FILE or FILE#PART
    #[arg(value_name = "A")]
    pub(crate) a: PathBuf,
    /// The place that it is to take: FILE or FILE#PART
    #[arg(value_name = "B")]
    pub(crate) b: PathBuf,
    /// Which part or outline of A, where its name cannot be written behind a #
    #[arg(long, value_name = "PART")]
    pub(crate) part_a: Option<String>,
    /// Which part or outline of B
    #[arg(long, value_name = "PART")]
    pub(crate) part_b: Option<String>,
    /// The part may be turned over too
    #[arg(long)]
    pub(crate) allow_flip: bool,
    /// What may overhang or gape and still count as nothing
    #[arg(long, value_name = "MM", default_value_t = 0.2)]
    pub(crate) tolerance: f64,
    /// Draw both at life size, overhang red and gaps blue: a name ending in .svg or .png
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

const FIT_HELP: &str = "\
FILE is a piece document, then PART is a part's id (piece.json#p3), or the output of
capture --json, then PART is the outline's number from 1, photos counted on (captured.json#2).
Where the file has only one, PART may be left out.

fit:  overhangs nowhere by more than the tolerance and covers at least half of the place.
trim: overhangs along less than 40 % of its edge and with less than 15 % of its area.
no:   anything else; the exit status is 1.";

/// Where a piece comes from and goes to.
#[derive(Debug, Args)]
pub(crate) struct PieceIn {
    /// The piece document [default: standard input]
    #[arg(long = "in", value_name = "FILE")]
    pub(crate) input: Option<PathBuf>,
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
    #[arg(long, value_name = "N", default_value_t = arrange::Options::default().seed)]
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
    #[arg(long, value_name = "S")]
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
    #[arg(long, value_name = "N", default_value_t = arrange::Options::default().seed)]
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
    /// Print the findings as JSON
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
    #[arg(long, value_enum)]
    pub(crate) silhouettes: Option<SilhouettesName>,
    /// Number in an edition, for plaque and guide, such as 3/25
    #[arg(long, value_name = "TEXT")]
    pub(crate) edition: Option<String>,
    /// Width of the cutting tool or beam: cut lines run half of it beside the edge
    #[arg(
        long,
        value_name = "MM",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub(crate) tool: f64,
    /// For whom the guide is
    #[arg(long = "guide-for", value_enum, default_value = "maker")]
    pub(crate) guide_for: GuideFor,
    /// Language of the guide
    #[arg(long, value_enum, default_value = "en")]
    pub(crate) language: LanguageName,
    /// Units of the guide
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

/// Units of the guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum UnitsName {
    /// Millimetres, grams, millilitres
    #[default]
    Metric,
    /// Inches, ounces, fluid ounces (US)
    Inch,
}

#[derive(Debug, Args)]
pub(crate) struct WorkshopArgs {
    /// Folder of the workshop [default: setapart in the user's data folder]
    #[arg(long, value_name = "DIR", global = true)]
    pub(crate) workshop: Option<PathBuf>,
    /// Print as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(subcommand)]
    pub(crate) does: WorkshopCommand,
}

/// What can be done with a workshop.
#[derive(Debug, Subcommand)]
pub(crate) enum WorkshopCommand {
    /// List the pieces with their numbers
    List {
        /// List those in the bin
        #[arg(long)]
        bin: bool,
    },
    /// Print a piece as a document, for other commands
    Show {
        /// The piece's number
        piece: workshop::PieceId,
    },
    /// Read everything that is stored and say what is not as it was; exit status 1 where something is lost
    Check,
    /// Copy the whole workshop into a folder; done again into the same folder, it brings the copy up to date
    Backup {
        /// The folder; made where it is missing
        to: PathBuf,
    },
    /// Put a backup in the workshop's place
    Restore {
        /// The backup's folder
        from: PathBuf,
        /// Where there is a workshop already: set it aside and take the backup's place
        #[arg(long)]
        replace: bool,
    },
    /// Write a piece into one file, with its cut-outs, to share or to keep
    Export {
        /// The piece's number
        piece: workshop::PieceId,
        /// The bundle to write, a zip
        #[arg(long, value_name = "FILE.zip")]
        out: PathBuf,
        /// Its photos go along; they may tell where they were taken
        #[arg(long)]
        photos: bool,
    },
    /// Take a bundle, or a piece document with the cut-outs beside it, into the workshop
    Import {
        /// The bundle or the document
        file: PathBuf,
    },
}

#[derive(Debug, Args)]
pub(crate) struct Measure {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Print as JSON (there is no other form)
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct StripFill {
    /// The instance, JSON: strip_height, and items with demand, allowed_orientations and shape
    #[arg(value_name = "INSTANCE")]
    pub(crate) instance: PathBuf,
    /// End the search after this many seconds with the best layout so far
    #[arg(long, value_name = "S")]
    pub(crate) time: Option<f64>,
    /// End the search after this many moves [default: no end where a time is given, else 20000]
    #[arg(long, value_name = "N")]
    pub(crate) steps: Option<u64>,
    /// Seed of the search: the same seed and steps give the same layout
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Least distance between two items, in the instance's unit
    #[arg(long, value_name = "LENGTH", default_value_t = 0.0)]
    pub(crate) gap: f64,
    /// Print as JSON (there is no other form)
    #[arg(long)]
    pub(crate) json: bool,
}
