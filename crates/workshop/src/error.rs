//! What can go wrong with the store, told with what to do about it.

use crate::{ImageName, PhotoId, PieceId};
use rusqlite::ffi;
use std::path::PathBuf;

/// Why the store could not do something. Whatever was confirmed before stays as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkshopError {
    /// No workshop there.
    #[error("{} holds no workshop; check the folder's name, or begin one there with `setapart serve`", .folder.display())]
    NotThere {
        /// Where it was looked for.
        folder: PathBuf,
    },
    /// A database, but of something else.
    #[error("{} is not a workshop's database; choose another folder", .file.display())]
    NotAWorkshop {
        /// The file.
        file: PathBuf,
    },
    /// Made by a later version of this program.
    #[error(
        "{} was written by a newer version of this program (form {found}; this one reads up to {known}); \
         it was left as it is: use the newer version", .file.display()
    )]
    Newer {
        /// The file.
        file: PathBuf,
        /// Its form.
        found: i64,
        /// The newest form that this program knows.
        known: i64,
    },
    /// The folder or its files cannot be written.
    #[error("{} cannot be written; check who may write there, and whether the disk is read-only", .at.display())]
    ReadOnly {
        /// The folder or file.
        at: PathBuf,
    },
    /// No room left.
    #[error("the disk is full: this change to {} was not saved, all earlier ones are; make room and try again", .at.display())]
    Full {
        /// The folder or file.
        at: PathBuf,
    },
    /// Another process holds the database for too long.
    #[error("{} is in use by another program, which does not let go of it; close that and try again", .at.display())]
    Busy {
        /// The database.
        at: PathBuf,
    },
    /// The database is damaged.
    #[error(
        "{} is damaged ({problem}); do not go on with it: keep a copy, and restore the last backup with \
         `setapart workshop restore`", .at.display()
    )]
    Damaged {
        /// The database.
        at: PathBuf,
        /// What was found.
        problem: String,
    },
    /// A restore stopped between its two steps, and could not take the first one back.
    #[error(
        "nothing could be put into {} ({source}), nor the former workshop back: it is whole in {}; give that folder its name again",
        .folder.display(), .aside.display()
    )]
    LeftAside {
        /// The workshop's place, which is empty.
        folder: PathBuf,
        /// Where the workshop is.
        aside: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A file could not be read or written.
    #[error("{}: {source}", .at.display())]
    Io {
        /// The file or folder.
        at: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// Anything else that SQLite says.
    #[error("{}: {source}", .at.display())]
    Database {
        /// The database.
        at: PathBuf,
        /// What SQLite says.
        source: rusqlite::Error,
    },
    /// No piece of that number.
    #[error("there is no piece number {0}; it may have been removed")]
    NoSuchPiece(PieceId),
    /// No photo of that number.
    #[error("there is no photo number {0}; it may have been removed")]
    NoSuchPhoto(PhotoId),
    /// No entry of that number in a list of the drawer, the lots or the outcomes.
    #[error("there is no {what} number {id}; it may have been removed")]
    NoSuchEntry {
        /// What was looked for.
        what: &'static str,
        /// Its number.
        id: i64,
    },
    /// The piece has no such revision.
    #[error("revision {revision} is not one of this document's; open it again")]
    NoSuchRevision {
        /// What was asked for.
        revision: i64,
    },
    /// A piece that is not sound is not stored.
    #[error("the piece is not sound: {0}")]
    Unsound(#[from] piece::PieceError),
    /// An image that the store does not have.
    #[error("the image {0} is not in the workshop; add it again")]
    NoSuchImage(ImageName),
    /// A part's cut-out is named in a form that is none of the store's.
    #[error("part {part}: its cut-out {image:?} is not in the workshop; add the picture first")]
    ForeignImage {
        /// The part.
        part: String,
        /// What the piece says.
        image: String,
    },
    /// An image's file no longer holds what it held.
    #[error("{} is not the image it was ({problem}); restore it from a backup", .file.display())]
    ImageDamaged {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// A bundle that is not sound.
    #[error(transparent)]
    Bundle(#[from] crate::BundleError),
    /// Something is over its limit.
    #[error("{what} has {found} {unit}, the limit is {limit}")]
    TooLarge {
        /// What.
        what: &'static str,
        /// How much it has.
        found: u64,
        /// How much it may have.
        limit: u64,
        /// Of what.
        unit: &'static str,
    },
    /// Data that a caller hands in cannot be stored.
    #[error("{what}: {problem}")]
    Refused {
        /// Which field.
        what: &'static str,
        /// Why.
        problem: String,
    },
}

impl WorkshopError {
    /// Says in our words what SQLite said of the database at that place.
    pub(crate) fn of_database(at: impl Into<PathBuf>, source: rusqlite::Error) -> Self {
        let at = at.into();
        let Some(code) = source.sqlite_error() else {
            return Self::Database { at, source };
        };
        match code.extended_code & 0xff {
            ffi::SQLITE_FULL => Self::Full { at },
            // A write that stops short is what a full disk, a quota or a limit on a file's size looks like.
            ffi::SQLITE_IOERR if code.extended_code == ffi::SQLITE_IOERR_WRITE => Self::Full { at },
            ffi::SQLITE_IOERR if code.extended_code == ffi::SQLITE_IOERR_SHMSIZE => {
                Self::Full { at }
            }
            ffi::SQLITE_READONLY | ffi::SQLITE_PERM | ffi::SQLITE_CANTOPEN => Self::ReadOnly { at },
            ffi::SQLITE_BUSY | ffi::SQLITE_LOCKED => Self::Busy { at },
            ffi::SQLITE_NOTADB => Self::NotAWorkshop { file: at },
            ffi::SQLITE_CORRUPT => Self::Damaged {
                at,
                problem: source.to_string(),
            },
            _ => Self::Database { at, source },
        }
    }

    /// Says in our words what the system said of a file.
    pub(crate) fn of_file(at: impl Into<PathBuf>, source: std::io::Error) -> Self {
        use std::io::ErrorKind;
        let at = at.into();
        match source.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
                Self::Full { at }
            }
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { at },
            ErrorKind::AlreadyExists | ErrorKind::NotADirectory => Self::Io {
                at,
                source: std::io::Error::other("is a file, not a folder; name another place"),
            },
            _ => Self::Io { at, source },
        }
    }
}
