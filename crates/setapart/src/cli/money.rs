//! The words of the ledger.

use super::{PieceIn, number, seconds};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

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
    #[arg(value_parser = seconds, long, value_name = "S")]
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
