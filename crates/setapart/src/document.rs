//! Documents by the format that they state: where a file is of another kind than is asked for, that is what is told.

use crate::failure::Failure;
use crate::files;
use serde::Deserialize;
use std::path::Path;

/// A kind of document that states its format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Document {
    Piece,
    Intake,
    DeviceKind,
    Lots,
    LotChances,
    Drawer,
    Rates,
    Carriage,
    ScannerProfile,
}

/// Of a document's fields, the one that says what it is; whatever else is in it does not matter.
#[derive(Deserialize)]
struct Form {
    format: String,
}

impl Document {
    const ALL: [Self; 9] = [
        Self::Piece,
        Self::Intake,
        Self::DeviceKind,
        Self::Lots,
        Self::LotChances,
        Self::Drawer,
        Self::Rates,
        Self::Carriage,
        Self::ScannerProfile,
    ];

    /// What a file says that it is; `None` where it is no JSON or says nothing that is known here.
    pub(crate) fn stated_in(bytes: &[u8]) -> Option<Self> {
        let form: Form = serde_json::from_slice(bytes).ok()?;
        Self::ALL
            .into_iter()
            .find(|kind| kind.format() == form.format)
    }

    fn format(self) -> &'static str {
        match self {
            Self::Piece => piece::Piece::FORMAT,
            Self::Intake => ledger::intake::Intake::FORMAT,
            Self::DeviceKind => ledger::intake::DeviceKind::FORMAT,
            Self::Lots => ledger::donors::Market::FORMAT,
            Self::LotChances => ledger::donors::LotChances::FORMAT,
            Self::Drawer => ledger::drawer::Drawer::FORMAT,
            Self::Rates => ledger::cost::Rates::FORMAT,
            Self::Carriage => ledger::parcel::Carriage::FORMAT,
            Self::ScannerProfile => capture::scan::ScannerProfile::FORMAT,
        }
    }

    /// What people call it.
    pub(crate) fn in_words(self) -> &'static str {
        match self {
            Self::Piece => "a piece document",
            Self::Intake => "an intake form",
            Self::DeviceKind => "a kind of device",
            Self::Lots => "a document of lots",
            Self::LotChances => "a table of chances",
            Self::Drawer => "a document of stock",
            Self::Rates => "rates and prices",
            Self::Carriage => "a carrier's figures",
            Self::ScannerProfile => "a scanner's profile",
        }
    }

    /// The command that reads it; of several the one that shows most of it.
    pub(crate) fn read_by(self) -> &'static str {
        match self {
            Self::Piece => "setapart check --in FILE",
            Self::Intake => "setapart verdict FILE",
            Self::DeviceKind => "setapart verdict --kind FILE",
            Self::Lots => "setapart donors --lots FILE",
            Self::LotChances => "setapart donors --chances FILE",
            Self::Drawer => "setapart drawer FILE",
            Self::Rates => "setapart cost --rates FILE",
            Self::Carriage => "setapart parcel --carriage FILE",
            Self::ScannerProfile => "setapart capture --scanner FILE",
        }
    }
}

/// What is asked for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Wanted {
    /// A document that states its format.
    Stating(Document),
    /// JSON that states none.
    Other(&'static str),
    /// A table, or what may be one.
    Table(&'static str),
}

impl Wanted {
    /// What people call it.
    pub(crate) fn in_words(self) -> &'static str {
        match self {
            Self::Stating(kind) => kind.in_words(),
            Self::Other(words) | Self::Table(words) => words,
        }
    }
}

impl From<Document> for Wanted {
    fn from(kind: Document) -> Self {
        Self::Stating(kind)
    }
}

/// Reads a file of at most `limit` bytes as what is wanted.
pub(crate) fn read_file<T, E>(
    wanted: Wanted,
    path: &Path,
    limit: u64,
    read: impl FnOnce(&[u8]) -> Result<T, E>,
    failed: impl FnOnce(E) -> Failure,
) -> Result<T, Failure> {
    let bytes = files::read(path, limit, wanted.in_words())?;
    read_as(wanted, path, &bytes, read, failed)
}

/// Reads what a file holds. Where that fails, and the file says that it is a document of another kind, or is no document at all, this
/// is told in place of the first field or letter that is wrong.
pub(crate) fn read_as<T, E>(
    wanted: Wanted,
    path: &Path,
    bytes: &[u8],
    read: impl FnOnce(&[u8]) -> Result<T, E>,
    failed: impl FnOnce(E) -> Failure,
) -> Result<T, Failure> {
    read(bytes).map_err(|e| match Document::stated_in(bytes) {
        Some(is) if !matches!(wanted, Wanted::Stating(kind) if kind == is) => {
            Failure::OtherDocument {
                path: path.into(),
                is,
                wanted: wanted.in_words(),
            }
        }
        _ => no_document(wanted, path, bytes).unwrap_or_else(|| failed(e)),
    })
}

/// What to say of a file that cannot be one of our documents: all of them are objects. `None` where it may be one, or a table is wanted.
fn no_document(wanted: Wanted, path: &Path, bytes: &[u8]) -> Option<Failure> {
    let from = || path.display().to_string();
    let what = wanted.in_words();
    if matches!(wanted, Wanted::Table(_)) {
        return None;
    }
    match bytes.iter().find(|b| !b.is_ascii_whitespace()) {
        None => Some(Failure::Empty { from: from(), what }),
        Some(b'{') => None,
        Some(_) => Some(Failure::NotJson { from: from(), what }),
    }
}
