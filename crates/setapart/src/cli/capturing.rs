//! The words of what measures parts: capture sheet, capture, scanners, fitting, homes.

use super::{PaperName, PieceIn, number};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

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

/// What the bars of a printed capture sheet measured.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct PrintedCaptureSheet {
    /// What the printed horizontal bar of 100 mm measures
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) printed_x: Option<f64>,
    /// What the printed vertical bar of 100 mm measures
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) printed_y: Option<f64>,
}

impl PrintedCaptureSheet {
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
    pub(crate) printed: PrintedCaptureSheet,
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
    pub(crate) printed: PrintedCaptureSheet,
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
    #[arg(value_parser = number, long, value_name = "MM")]
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
    /// Write a new piece document with these parts, for you to fill in
    #[arg(long, value_name = "FILE.json")]
    pub(crate) new_piece: Option<PathBuf>,
    /// Unit of a drawing that states none
    #[arg(long, value_enum)]
    pub(crate) unit: Option<UnitName>,
    /// With --json and --new-piece: outlines as few straight lines and arcs within this distance of what was measured,
    /// 0.005 to 5; 0 leaves them as measured [default: 0.05]
    #[arg(value_parser = number, long, value_name = "MM")]
    pub(crate) tidy: Option<f64>,
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
    #[arg(value_parser = number, long, value_name = "MM", default_value_t = 0.2)]
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

/// Sides from which a device is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum OpenedFrom {
    /// Its front looks up
    Front,
    /// Its back looks up
    Back,
}

#[derive(Debug, Args)]
#[command(after_help = HOMES_HELP)]
pub(crate) struct Homes {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Where the piece with its homes goes [default: standard output]
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Photos of the opened device lying on a capture sheet, each with the stage of the teardown that it shows
    #[arg(long, value_name = "PHOTO@STAGE", num_args = 1..)]
    pub(crate) inside: Vec<String>,
    /// The side of the device that looks up in the photos
    #[arg(long, value_enum, value_name = "SIDE", default_value = "front")]
    pub(crate) opened_from: OpenedFrom,
    /// Homes from a drawing instead (SVG or DXF): closed outlines seen from the front, each named after its part, with
    /// its layer as in main-board@2; one named device is the device's own
    #[arg(long, value_name = "FILE", conflicts_with = "inside")]
    pub(crate) drawing: Option<PathBuf>,
    /// Unit of a drawing that states none
    #[arg(long, value_enum, requires = "drawing")]
    pub(crate) unit: Option<UnitName>,
    /// A part from another device takes the home of the part whose place it fills; may be given again
    #[arg(long, value_name = "PART=PLACE")]
    pub(crate) fills: Vec<String>,
    /// Description of a sheet that is not one of ours (see capture-sheet --json)
    #[arg(long, value_name = "FILE")]
    pub(crate) sheet: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) printed: PrintedCaptureSheet,
    /// Draw every part at its home in its colours, the unsure ones marked: a name ending in .svg or .png
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    /// Print the homes as JSON; the piece goes to --out alone
    #[arg(long)]
    pub(crate) json: bool,
}

const HOMES_HELP: &str = "\
Lay the device on a capture sheet and take a photo from above before the first part comes off (stage 0) and
after each step (1, 2, ...); it may lie anew each time. Parts that have a cut-out are found by their picture and
outline, others by their outline alone.

setapart homes --in piece.json --inside closed.jpg@0 lid-off.jpg@1 board-out.jpg@2 --out piece.json";
