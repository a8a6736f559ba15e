//! The words of the store and the app.

use clap::{Args, Subcommand};
use std::path::PathBuf;

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

/// A piece's number as it is typed.
fn piece_number(text: &str) -> Result<workshop::PieceId, &'static str> {
    let number = text.trim().parse().ok();
    number.ok_or("not a piece's number; `setapart workshop list` shows them")
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
        #[arg(value_parser = piece_number)]
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
        #[arg(value_parser = piece_number)]
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
