//! One module a command.

mod arrange;
pub(crate) mod capture;
pub(crate) mod capture_sheet;
mod check;
mod cost;
pub(crate) mod demo;
pub(crate) mod demo_ledger;
mod donors;
mod drawer;
mod drawing;
mod faces;
mod fit;
mod frames;
pub(crate) mod homes;
mod ledger_files;
mod leftovers;
mod manual;
mod measure;
mod mount;
mod new_piece;
mod parcel;
mod picture;
mod scanner_profile;
mod schema;
pub(crate) mod sheets;
mod strip_fill;
mod verdict;
pub(crate) mod workshop;

use crate::cli::{Command, PaperName, PieceIn};
use crate::document::{Document, Wanted, read_as};
use crate::failure::Failure;
use crate::files::{self, STANDARD_INPUT};
use piece::{Finding, Level, Piece};
use std::path::Path;
use std::process::ExitCode;

/// Largest piece document, bytes.
const MOST_PIECE_BYTES: u64 = piece::MAX_DOCUMENT_BYTES as u64;

/// How a command that did its work ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Nothing stands in the way.
    Fine,
    /// There is a finding that must not go on.
    Stop,
}

impl Outcome {
    pub(crate) fn of(findings: &[Finding]) -> Self {
        if findings.iter().any(|f| f.level == Level::Stop) {
            Self::Stop
        } else {
            Self::Fine
        }
    }

    pub(crate) fn exit_code(self) -> ExitCode {
        match self {
            Self::Fine => ExitCode::SUCCESS,
            Self::Stop => ExitCode::from(1),
        }
    }
}

/// Runs a command.
pub(crate) fn run(command: Command) -> Result<Outcome, Failure> {
    match command {
        Command::Demo { dir } => demo::run(&dir),
        Command::CaptureSheet(args) => capture_sheet::run(&args),
        Command::Capture(args) => capture::run(&args),
        Command::Fit(args) => fit::run(&args),
        Command::ScannerProfile(args) => scanner_profile::run(&args),
        Command::Homes(args) => homes::run(&args),
        Command::Arrange(args) => arrange::run(&args),
        Command::Frames(args) => frames::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Mount(args) => mount::run(&args),
        Command::Sheets(args) => sheets::run(&args),
        Command::Workshop(args) => workshop::run(&args),
        Command::Serve(args) => {
            crate::serve::run(&args)?;
            Ok(Outcome::Fine)
        }
        Command::Manual(args) => manual::run(&args),
        Command::Verdict(args) => verdict::run(&args),
        Command::Donors(args) => donors::run(&args),
        Command::Cost(args) => cost::run(&args),
        Command::Parcel(args) => parcel::run(&args),
        Command::Leftovers(args) => leftovers::run(&args),
        Command::Drawer(args) => drawer::run(&args),
        Command::Schema(args) => schema::run(&args),
        Command::Measure(args) => measure::run(&args),
        Command::StripFill(args) => strip_fill::run(&args),
    }
}

/// Reads a piece from its file or from standard input.
pub(crate) fn read_piece(from: &PieceIn) -> Result<Piece, Failure> {
    match &from.input {
        Some(path) => piece_in(path),
        None => {
            let bytes = files::read_stdin(MOST_PIECE_BYTES, Document::Piece.in_words())?;
            piece_of(Path::new(STANDARD_INPUT), &bytes)
        }
    }
}

/// The piece that a file holds.
fn piece_in(path: &Path) -> Result<Piece, Failure> {
    let what = Document::Piece.in_words();
    piece_of(path, &files::read(path, MOST_PIECE_BYTES, what)?)
}

/// The piece that a file's bytes hold.
fn piece_of(path: &Path, bytes: &[u8]) -> Result<Piece, Failure> {
    let wanted = Wanted::Stating(Document::Piece);
    let failed = |source| Failure::Piece {
        path: path.into(),
        source,
    };
    read_as(wanted, path, bytes, Piece::from_json, failed)
}

/// All that is known to be wrong with a piece as it stands: with its layout, and with its build while the plan is of this
/// piece.
pub(crate) fn findings_of(piece: &Piece) -> Vec<Finding> {
    let mut all = ::arrange::check(piece);
    if let Some(plan) = piece.build.as_ref().filter(|_| piece.build_is_current()) {
        all.extend(plan.findings.iter().cloned());
    }
    Finding::sort(&mut all);
    all
}

/// Findings as lines for people: level, text, remedy.
pub(crate) fn findings_in_words(findings: &[Finding]) -> String {
    let mut text = String::new();
    for f in findings {
        let level = match f.level {
            Level::Stop => "stop",
            Level::Fix => "fix ",
            Level::Note => "note",
        };
        text += &format!("  {level}  {}\n        {} [{}]\n", f.text, f.remedy, f.code);
    }
    text
}

/// The press's paper of that name.
pub(crate) fn press_paper(name: PaperName) -> press::Paper {
    match name {
        PaperName::A4 => press::Paper::A4,
        PaperName::Letter => press::Paper::LETTER,
        PaperName::A3 => press::Paper::A3,
        PaperName::Tabloid => press::Paper::TABLOID,
    }
}

/// The capture sheet's paper of that name.
pub(crate) fn sheet_paper(name: PaperName) -> capture_crate::sheet::Paper {
    use capture_crate::sheet::Paper;
    match name {
        PaperName::A4 => Paper::A4,
        PaperName::Letter => Paper::Letter,
        PaperName::A3 => Paper::A3,
        PaperName::Tabloid => Paper::Tabloid,
    }
}

use ::capture as capture_crate;
