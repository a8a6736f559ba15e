//! What can go wrong at the edge, told to people.

use crate::document::Document;
use crate::files::Changed;
use std::path::PathBuf;

/// Why a command could not do its work. Each text says what, where, and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub(crate) enum Failure {
    #[error("{}: {}", .path.display(), io_in_words(.source))]
    Read {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("cannot write {}: {}", .path.display(), io_in_words(.source))]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error(
        "cannot write {}: {}; changed already, and not to be taken back: {}",
        .path.display(), io_in_words(.source), named(.changed)
    )]
    WriteSome {
        path: PathBuf,
        source: std::io::Error,
        changed: Vec<Changed>,
    },
    #[error("{}: has more than {limit} bytes, the limit for {what}", .path.display())]
    TooLarge {
        path: PathBuf,
        limit: u64,
        what: &'static str,
    },
    #[error("{from}: is empty; give {what}")]
    Empty { from: String, what: &'static str },
    #[error("{from}: is not {what}, which is JSON; give another file")]
    NotJson { from: String, what: &'static str },
    #[error("{}: {source}", .path.display())]
    Photo {
        path: PathBuf,
        source: capture::photo::PhotoError,
    },
    #[error("{}: {problem}", .path.display())]
    Drawing { path: PathBuf, problem: String },
    #[error("{}: {source}", .path.display())]
    Capture {
        path: PathBuf,
        source: capture::CaptureError,
    },
    #[error("{}: not a sheet description: {source}", .path.display())]
    Sheet {
        path: PathBuf,
        source: capture::sheet::SheetError,
    },
    #[error("{}: {source}", .path.display())]
    Profile {
        path: PathBuf,
        source: capture::scan::ProfileError,
    },
    #[error("{}: not a scanner's profile: {source}", .path.display())]
    NoProfile {
        path: PathBuf,
        source: capture::scan::ProfileError,
    },
    #[error("{}: not a file of strokes: {source}", .path.display())]
    Strokes {
        path: PathBuf,
        source: capture::StrokesError,
    },
    #[error("strokes are drawn over one photo; give --strokes with one image at a time")]
    StrokesForOne,
    #[error("{}: {}, not {wanted}; read it with `{}`", .path.display(), .is.in_words(), .is.read_by())]
    OtherDocument {
        path: PathBuf,
        is: Document,
        wanted: &'static str,
    },
    #[error("{}: not a sound piece document: {source}", .path.display())]
    Piece {
        path: PathBuf,
        source: piece::PieceError,
    },
    #[error("{}, {source}", .path.display())]
    Table {
        path: PathBuf,
        source: capture::ThicknessesError,
    },
    #[error("{}, {source}", .path.display())]
    StockList {
        path: PathBuf,
        source: arrange::StockListError,
    },
    #[error("{}: not a catalogue: {source}", .path.display())]
    Catalogue {
        path: PathBuf,
        source: mount::CatalogueError,
    },
    #[error("the build cannot be planned: {0}")]
    Mount(#[from] mount::MountError),
    #[error("the parts cannot be arranged: {0}")]
    Arrange(#[from] arrange::ArrangeError),
    #[error("{}: {problem}", .path.display())]
    Instance { path: PathBuf, problem: String },
    #[error("no stock frame holds all parts; show fewer, or make the gap smaller")]
    NoFrame,
    #[error("{0}")]
    Press(#[from] press::PressError),
    #[error("part {part:?}: its cut-out {image:?} cannot be used: {problem}")]
    Cutout {
        part: String,
        image: String,
        problem: String,
    },
    #[error(transparent)]
    Workshop(#[from] workshop::WorkshopError),
    #[error("{}: {source}", .path.display())]
    Bundle {
        path: PathBuf,
        source: workshop::WorkshopError,
    },
    #[error("{}: {problem}", .path.display())]
    Art { path: PathBuf, problem: String },
    #[error("{}: {source}", .path.display())]
    Ledger {
        path: PathBuf,
        source: ledger::LedgerError,
    },
    #[error("{0}")]
    Reckoning(#[from] ledger::LedgerError),
    #[error("{}: not a set cover file: {source}", .path.display())]
    Cover {
        path: PathBuf,
        source: ledger::cover::CoverFileError,
    },
    #[error("{option}: {problem}")]
    Argument {
        option: &'static str,
        problem: String,
    },
    #[error("{}: {problem}", .path.display())]
    NoOutline { path: PathBuf, problem: String },
    #[error("the app cannot listen on port {port}: {}; choose another with --port", io_in_words(.source))]
    Port { port: u16, source: std::io::Error },
    #[error(
        "this machine has no address in a local network; connect it to one, or leave --lan out"
    )]
    NoNetwork,
    #[error("the app cannot run: {}; try again", io_in_words(.0))]
    NoServer(std::io::Error),
    #[error("the pixels of a cut-out cannot be written: {0}; please report this")]
    CutoutPixels(String),
    #[error("stopped before it was done")]
    Cancelled,
    #[error("the demo's own data are not as they should be: {0}; please report this")]
    Demo(String),
}

fn named(changed: &[Changed]) -> String {
    let name = |c: &Changed| match &c.former {
        Some(former) => format!("{} (as it was: {})", c.path.display(), former.display()),
        None => c.path.display().to_string(),
    };
    changed.iter().map(name).collect::<Vec<_>>().join(", ")
}

fn io_in_words(e: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match e.kind() {
        ErrorKind::NotFound => "there is no such file; check the name and the folder".into(),
        ErrorKind::PermissionDenied => {
            "permission denied; check who may read or write there".into()
        }
        ErrorKind::IsADirectory => "is a folder, not a file".into(),
        ErrorKind::NotADirectory => {
            "a file stands where a folder is wanted; name another place".into()
        }
        ErrorKind::StorageFull => "the disk is full; make room and try again".into(),
        ErrorKind::QuotaExceeded => {
            "your share of the disk is used up; make room and try again".into()
        }
        ErrorKind::FileTooLarge => {
            "larger than a file may be there; choose another folder, or ask who set the limit"
                .into()
        }
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only; choose another folder".into(),
        _ => e.to_string(),
    }
}
