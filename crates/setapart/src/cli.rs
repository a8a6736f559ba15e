//! The command line's words.

mod building;
mod capturing;
mod keeping;
mod layout;
mod money;

pub(crate) use building::*;
pub(crate) use capturing::*;
pub(crate) use keeping::*;
pub(crate) use layout::*;
pub(crate) use money::*;

use clap::{Arg, Args, CommandFactory, FromArgMatches, Parser, Subcommand, ValueEnum};
use std::ffi::OsString;
use std::path::PathBuf;

/// Turns the parts of a dead device into a framed, life-size exploded view.
#[derive(Debug, Parser)]
#[command(name = "setapart", version = env!("SETAPART_VERSION"), about, long_about = None, propagate_version = true)]
#[command(after_help = "Start with: setapart demo demo-out")]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
}

impl Cli {
    /// Reads the command line; what cannot be read ends the program with a word on it.
    pub(crate) fn read() -> Self {
        Self::of(std::env::args_os()).unwrap_or_else(|e| e.exit())
    }

    /// A number below zero behind an option is its value, and is refused by what it means; it is no option of its own.
    fn of<T: Into<OsString> + Clone>(
        words: impl IntoIterator<Item = T>,
    ) -> Result<Self, clap::Error> {
        let numbers = |arg: Arg| {
            let takes = arg.get_long().is_some() && arg.get_action().takes_values();
            if takes {
                arg.allow_negative_numbers(true)
            } else {
                arg
            }
        };
        let command = Self::command().mut_subcommands(|c| c.mut_args(numbers));
        Self::from_arg_matches(&command.try_get_matches_from(words)?)
    }
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

/// A number as it is typed: with a decimal point.
fn number(text: &str) -> Result<f64, String> {
    let number = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    number.ok_or_else(|| {
        if text.contains(',') {
            "write decimals with a point, as in 1.6".into()
        } else {
            "not a number such as 12.5; write it without its unit".into()
        }
    })
}

/// A time as it is typed, seconds.
fn seconds(text: &str) -> Result<f64, String> {
    match number(text)? {
        s if s < 0.0 => Err("must be 0 s or more".into()),
        s => Ok(s),
    }
}

/// A whole number as it is typed.
fn whole(text: &str) -> Result<u64, String> {
    let number = text.trim().parse().ok();
    number.ok_or_else(|| "not a whole number of 0 or more, such as 2".into())
}

/// Where a piece comes from and goes to.
#[derive(Debug, Args)]
pub(crate) struct PieceIn {
    /// The piece document [default: standard input]
    #[arg(long = "in", value_name = "FILE")]
    pub(crate) input: Option<PathBuf>,
}

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

#[cfg(test)]
mod tests {
    use super::{Cli, Command};

    #[test]
    fn a_number_below_zero_is_the_value_of_its_option() {
        let words = [
            "setapart",
            "capture",
            "a.jpg",
            "--thickness",
            "-1.6",
            "--tidy",
            "-1",
        ];
        match Cli::of(words).unwrap().command {
            Command::Capture(c) => assert_eq!((c.thickness, c.tidy), (Some(-1.6), Some(-1.0))),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_is_no_number_is_told_with_one_that_is() {
        for (option, typed, says) in [
            ("--seed", "-1", "not a whole number of 0 or more"),
            ("--seed", "two", "not a whole number of 0 or more"),
            ("--time", "-1", "must be 0 s or more"),
            ("--time", "5s", "without its unit"),
            ("--time", "0,5", "with a point"),
        ] {
            let told = Cli::of(["setapart", "arrange", option, typed]).unwrap_err();
            assert!(told.to_string().contains(says), "{told}");
        }
        let told = Cli::of(["setapart", "workshop", "show", "lamp"]).unwrap_err();
        assert!(told.to_string().contains("workshop list"), "{told}");
    }
}
