//! The command line's words.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Turns the parts of a dead device into a framed, life-size exploded view.
#[derive(Debug, Parser)]
#[command(name = "setapart", version = env!("SETAPART_VERSION"), about, long_about = None, propagate_version = true)]
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
    /// Open the app on the bench in the browser
    Serve(Serve),
    /// Make the sheet to print, on which parts are photographed
    CaptureSheet(CaptureSheet),
    /// Find the true outlines of the parts in photos taken on a capture sheet or beside a card, in flatbed scans, or
    /// in drawings
    Capture(Capture),
    /// Measure a flatbed scanner by one scan of a capture sheet
    ScannerProfile(ScannerProfile),
    /// Say whether a part fits the place of another: fit, trim (where, how much) or no (exit status 1)
    Fit(Fit),
    /// Find where each part sat in the device, from photos taken while it was opened, or from a drawing
    Homes(Homes),
    /// Place parts and captions in the frame
    Arrange(Arrange),
    /// Say which stock frames hold the parts, smallest first; exit status 1 where none does
    Frames(Frames),
    /// Say what is wrong with a piece; exit status 1 where something must not go on
    Check(Check),
    /// Say how the piece is built: depth, supports, adhesive, loads, hazards, steps; exit status 1 where something must
    /// not go on
    Mount(Mount),
    /// Write all sheets, cut files, guide and previews of a piece
    Sheets(Sheets),
    /// Say what to do with a device that came in: repair, donor or display
    Verdict(Verdict),
    /// Say which lots to buy, so that every part is there as surely as is asked, at least cost
    Donors(Donors),
    /// Say what a piece costs, what it must bring, and where the money goes
    Cost(Cost),
    /// Say how a piece travels: box, cushions, charged mass, lithium
    Parcel(Parcel),
    /// Say where goes what is not framed
    Leftovers(Leftovers),
    /// Show the drawer's stock, and turn its table into a document or back
    Drawer(Drawer),
    /// Look after the workshop: the store of pieces, photos and parts that the app works in
    Workshop(WorkshopArgs),
    /// Print the JSON Schema of a document
    Schema(Schema),
    /// Write man pages, shell completions and the command reference into a folder
    #[command(hide = true)]
    Manual(Manual),
    /// Print areas, bounds and clearances of a piece, for other programs to compare
    #[command(hide = true)]
    Measure(Measure),
    /// Fill a strip of fixed height as short as can be, from an instance file of the packing literature
    #[command(hide = true)]
    StripFill(StripFill),
}

#[derive(Debug, Args)]
pub(crate) struct Manual {
    /// Folder to write into; made where it is missing
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
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

/// A number as it is typed: with a decimal point.
fn number(text: &str) -> Result<f64, String> {
    let number = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    number.ok_or_else(|| {
        if text.contains(',') {
            "write decimals with a point, as in 1.6".into()
        } else {
            "not a number such as 12.5".into()
        }
    })
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

/// Where a piece comes from and goes to.
#[derive(Debug, Args)]
pub(crate) struct PieceIn {
    /// The piece document [default: standard input]
    #[arg(long = "in", value_name = "FILE")]
    pub(crate) input: Option<PathBuf>,
}

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
    #[arg(long, value_enum, default_value = "front")]
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
    #[arg(value_parser = number, long, value_name = "S")]
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
    /// Your own adhesives, materials, stock and rules (see mount)
    #[arg(long, value_name = "FILE")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Print the findings as JSON
    #[arg(long)]
    pub(crate) json: bool,
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

/// Where tables go, beside the screen.
#[derive(Debug, Args)]
pub(crate) struct Tables {
    /// Write the first table as CSV
    #[arg(long, value_name = "FILE")]
    pub(crate) csv: Option<PathBuf>,
    /// Write all tables as a spreadsheet
    #[arg(long, value_name = "FILE")]
    pub(crate) xlsx: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// What can be done with a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ActionName {
    /// Mend it and sell it
    Repair,
    /// Take it apart and sell its parts
    Donor,
    /// Make a piece of it
    Display,
    /// Hand it in
    Recycle,
}

#[derive(Debug, Args)]
#[command(after_help = VERDICT_HELP)]
pub(crate) struct Verdict {
    /// The intake form, JSON [default: standard input]
    #[arg(value_name = "FORM")]
    pub(crate) form: Option<PathBuf>,
    /// Print an empty form for this kind of device: handheld, notebook or mains
    #[arg(long, value_name = "KIND", conflicts_with = "form")]
    pub(crate) blank: Option<String>,
    /// Currency of the empty form, ISO 4217
    #[arg(long, value_name = "CODE", default_value = "EUR")]
    pub(crate) currency: String,
    /// Print what is known of this kind of device, to edit it
    #[arg(long, value_name = "KIND", conflicts_with_all = ["form", "blank"])]
    pub(crate) show_kind: Option<String>,
    /// A kind of device of your own (see --show-kind)
    #[arg(long, value_name = "FILE.json")]
    pub(crate) kind: Option<PathBuf>,
    /// What came of your own devices: a table with the columns kind,condition,repaired,sign:ID…,part:KIND…
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) outcomes: Option<PathBuf>,
    /// What you mean to do; warns where that would waste a device that can likely be repaired
    #[arg(long = "for", value_enum, value_name = "WHAT")]
    pub(crate) planned: Option<ActionName>,
    #[command(flatten)]
    pub(crate) tables: Tables,
}

const VERDICT_HELP: &str = "\
Start with an empty form, and write in what you saw; leave null what nobody looked at:
  setapart verdict --blank handheld > intake.json
  setapart verdict intake.json";

#[derive(Debug, Args)]
#[command(after_help = DONORS_HELP)]
pub(crate) struct Donors {
    /// Lots on offer, JSON or CSV
    #[arg(long, value_name = "FILE", required_unless_present_any = ["cover", "show_chances"])]
    pub(crate) lots: Option<PathBuf>,
    /// Currency of lots from CSV, ISO 4217
    #[arg(long, value_name = "CODE", default_value = "EUR")]
    pub(crate) currency: String,
    /// The piece whose parts are needed [default: standard input, where neither --need nor the lots say what is needed]
    #[arg(long = "in", value_name = "FILE")]
    pub(crate) input: Option<PathBuf>,
    /// A part that is needed: ID, or ID=N for N good ones; may be given again
    #[arg(long, value_name = "ID[=N]")]
    pub(crate) need: Vec<String>,
    /// What is in stock, JSON or CSV
    #[arg(long, value_name = "FILE")]
    pub(crate) drawer: Option<PathBuf>,
    /// How sure each part is to be there, 0 to 1 [default: what the lots' document says, else 0.9]
    #[arg(value_parser = number, long, value_name = "CHANCE")]
    pub(crate) confidence: Option<f64>,
    /// Chances by condition of your own (see --show-chances)
    #[arg(long, value_name = "FILE.json")]
    pub(crate) chances: Option<PathBuf>,
    /// What came of your own lots: a table with the columns condition,kind,good,dead
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) lot_outcomes: Option<PathBuf>,
    /// Print the table of chances by condition, to edit it
    #[arg(long, conflicts_with_all = ["lots", "cover"])]
    pub(crate) show_chances: bool,
    /// Draw cost against confidence: a name ending in .svg or .png
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    /// End the search after this many seconds with the best choice so far
    #[arg(value_parser = number, long, value_name = "S")]
    pub(crate) time: Option<f64>,
    /// Solve a set cover in the file form of the OR-Library instead
    #[arg(long, value_name = "FILE", hide = true, conflicts_with = "lots")]
    pub(crate) cover: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) tables: Tables,
}

const DONORS_HELP: &str = "\
Lots as CSV, one a line, prices with a decimal point:
  id,title,price,shipping,available,condition,dead,part:display,part:main-board
  a1,\"Recorder, no power\",24.00,6.50,2,no-power,,0.8,?
A cell is the chance that the part comes out whole, ? for the usual one of the condition, - where it is not in the lot.
JSON can say more (setapart schema lots): stand-ins, sibling models, confidence by part.";

#[derive(Debug, Args)]
#[command(after_help = COST_HELP)]
pub(crate) struct Cost {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Your rates and prices, JSON [default: estimates in euros, see --show-rates]
    #[arg(long, value_name = "FILE.json")]
    pub(crate) rates: Option<PathBuf>,
    /// Prices that take the place of those: a table with the columns item,price,per
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) prices: Option<PathBuf>,
    /// Print the rates that come with the program, to edit them
    #[arg(long)]
    pub(crate) show_rates: bool,
    /// What donors --json said: its cost counts as parts
    #[arg(long, value_name = "FILE.json")]
    pub(crate) donors: Option<PathBuf>,
    /// Make the price so that this share of it (without tax) is left, such as 0.35
    #[arg(value_parser = number, long, value_name = "SHARE", conflicts_with_all = ["markup", "price"])]
    pub(crate) margin: Option<f64>,
    /// Make the price so that this share of all costs is left, such as 0.6
    #[arg(value_parser = number, long, value_name = "SHARE", conflicts_with = "price")]
    pub(crate) markup: Option<f64>,
    /// Say what is left at this price, tax included, such as 249.00
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) price: Option<String>,
    /// Draw where the money goes: a name ending in .svg or .png
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) tables: Tables,
}

const COST_HELP: &str = "\
Materials and the time of steps are read from the piece's build plan: run mount first.
Start with your own rates:
  setapart cost --show-rates > rates.json";

#[derive(Debug, Args)]
pub(crate) struct Parcel {
    #[command(flatten)]
    pub(crate) piece: PieceIn,
    /// Your carrier's figures, JSON [default: common ones, see --show-carriage]
    #[arg(long, value_name = "FILE.json")]
    pub(crate) carriage: Option<PathBuf>,
    /// Print the figures that come with the program, to edit them
    #[arg(long)]
    pub(crate) show_carriage: bool,
    /// The carrier's divisor, cm3 per charged kg, such as 5000
    #[arg(value_parser = number, long, value_name = "N")]
    pub(crate) divisor: Option<f64>,
    /// Shock that the piece bears, times gravity
    #[arg(value_parser = number, long, value_name = "G")]
    pub(crate) fragility: Option<f64>,
    /// Mass of the framed piece as it was weighed, g [default: the build plan's]
    #[arg(value_parser = number, long, value_name = "G")]
    pub(crate) mass: Option<f64>,
    /// A lithium cell that travels with it, as NAME=V,AH; may be given again
    #[arg(long, value_name = "NAME=V,AH")]
    pub(crate) cell: Vec<String>,
    /// A lithium battery of several cells, as NAME=V,AH; may be given again
    #[arg(long, value_name = "NAME=V,AH")]
    pub(crate) battery: Vec<String>,
    /// Print everything as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Leftovers {
    /// The piece: what it shows a stand-in for, and what is not placed, is left over
    #[arg(long = "in", value_name = "FILE", required_unless_present = "things")]
    pub(crate) input: Option<PathBuf>,
    /// What else is left: a table with the columns name,kind and any of
    /// count,mass_g,area_cm2,material,hazard,phone,why
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) things: Option<PathBuf>,
    /// Write the table as CSV
    #[arg(long, value_name = "FILE")]
    pub(crate) csv: Option<PathBuf>,
    /// Print everything as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = DRAWER_HELP)]
pub(crate) struct Drawer {
    /// The stock, JSON or CSV
    #[arg(value_name = "STOCK")]
    pub(crate) stock: PathBuf,
    /// Only what this piece may take: what is free, or kept for it
    #[arg(long = "for", value_name = "PIECE")]
    pub(crate) free_for: Option<String>,
    /// Write it as CSV
    #[arg(long, value_name = "FILE")]
    pub(crate) csv: Option<PathBuf>,
    /// Print it as a JSON document
    #[arg(long)]
    pub(crate) json: bool,
}

const DRAWER_HELP: &str = "\
CSV: part,condition and any of model,name,kind,count,chance,origin,reserved_for,place;
condition is whole, unseen or damaged.";

/// Documents that have a schema.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DocumentName {
    /// A piece
    Piece,
    /// The catalogue of mounting: adhesives, materials, stock, rules
    Catalogue,
    /// An intake form
    Intake,
    /// A kind of device
    DeviceKind,
    /// Lots on offer
    Lots,
    /// Chances by condition of a lot
    LotChances,
    /// The drawer's stock
    Drawer,
    /// Rates and prices
    Rates,
    /// A carrier's figures
    Carriage,
}

#[derive(Debug, Args)]
pub(crate) struct Schema {
    /// Which document
    #[arg(value_enum, default_value = "piece")]
    pub(crate) document: DocumentName,
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
        value_parser = number,
        long,
        value_name = "MM",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    pub(crate) tool: f64,
    /// For whom the guide is
    #[arg(long = "guide-for", value_enum, default_value = "maker")]
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
    #[arg(value_parser = number, long, value_name = "S")]
    pub(crate) time: Option<f64>,
    /// End the search after this many moves [default: no end where a time is given, else 20000]
    #[arg(long, value_name = "N")]
    pub(crate) steps: Option<u64>,
    /// Seed of the search: the same seed and steps give the same layout
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Least distance between two items, in the instance's unit
    #[arg(value_parser = number, long, value_name = "LENGTH", default_value_t = 0.0)]
    pub(crate) gap: f64,
    /// Print as JSON (there is no other form)
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Serve {
    /// Folder of the workshop; made where it is missing [default: setapart in the user's data folder]
    #[arg(long, value_name = "DIR")]
    pub(crate) workshop: Option<PathBuf>,
    /// Port on 127.0.0.1; 0 takes a free one
    #[arg(long, value_name = "N", default_value_t = 7317)]
    pub(crate) port: u16,
    /// Let phones in the local network send photos, with a code that the Capture page shows
    #[arg(long)]
    pub(crate) lan: bool,
    /// Do not open the browser
    #[arg(long)]
    pub(crate) no_browser: bool,
}
