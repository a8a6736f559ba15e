//! Pieces: listed, made, opened, saved against what they were based on, undone.

use crate::database::Fault;
use crate::image::ImageName;
use crate::merge::{Merge, merge};
use crate::revision::{self, Edit, Entry, State, Way};
use crate::text::text_of;
use crate::workshop::{Texts, Writing};
use crate::{PieceId, RevisionId, Subject, Workshop, WorkshopError};
use piece::{Piece, PieceError};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;

/// A piece as the list shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Listed {
    /// Its number.
    pub id: PieceId,
    /// What it is called.
    pub name: String,
    /// How many parts it has.
    pub parts: usize,
    /// How many of them lie on the board.
    pub placed: usize,
    /// When it was made, milliseconds since 1970 (UTC).
    pub created_ms: i64,
    /// When it was edited last.
    pub changed_ms: i64,
    /// When it was put in the bin; `None` where it is not there.
    pub binned_ms: Option<i64>,
}

/// A piece that was opened.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    /// Its number.
    pub id: PieceId,
    /// The document.
    pub piece: Piece,
    /// Where it stands in its history.
    pub state: State,
}

/// What became of a save.
#[derive(Debug, Clone, PartialEq)]
pub enum Saved {
    /// It is stored.
    Saved(State),
    /// Somebody else saved in between: nothing was stored.
    Stale(Box<Stale>),
}

/// Both sides of a save that came too late.
#[derive(Debug, Clone, PartialEq)]
pub struct Stale {
    /// What is stored now.
    pub now: Opened,
    /// What both sides began with.
    pub base: Piece,
    /// The two put together, or where they disagree.
    pub merge: Merge,
}

/// What became of a save that may merge.
#[derive(Debug, Clone, PartialEq)]
pub enum Merged {
    /// It is stored as it was given.
    AsGiven(State),
    /// It is stored together with what somebody else saved in between.
    Together(Box<Opened>),
    /// Both changed the same thing: nothing was stored.
    Conflict(Box<Stale>),
}

impl Workshop {
    /// The pieces that are not in the bin, the last edited first.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn pieces(&self) -> Result<Vec<Listed>, WorkshopError> {
        self.listed("binned_ms IS NULL ORDER BY changed_ms DESC, id DESC")
    }

    /// The pieces in the bin, the last put there first.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn binned_pieces(&self) -> Result<Vec<Listed>, WorkshopError> {
        self.listed("binned_ms IS NOT NULL ORDER BY binned_ms DESC, id DESC")
    }

    fn listed(&self, which: &str) -> Result<Vec<Listed>, WorkshopError> {
        self.read(|db| {
            let mut statement = db.prepare_cached(&format!(
                "SELECT id, name, parts, placed, created_ms, changed_ms, binned_ms FROM piece WHERE {which}"
            ))?;
            let count = |n: i64| usize::try_from(n).unwrap_or(0);
            let rows = statement.query_map([], |row| {
                Ok(Listed {
                    id: PieceId(row.get(0)?),
                    name: row.get(1)?,
                    parts: count(row.get(2)?),
                    placed: count(row.get(3)?),
                    created_ms: row.get(4)?,
                    changed_ms: row.get(5)?,
                    binned_ms: row.get(6)?,
                })
            })?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    /// Stores a new piece.
    ///
    /// # Errors
    /// [`WorkshopError::Unsound`]; [`WorkshopError::ForeignImage`] or [`WorkshopError::NoSuchImage`] where a cut-out is not
    /// in the store.
    pub fn new_piece(&self, piece: &Piece) -> Result<Opened, WorkshopError> {
        let text = text_of_sound(piece)?;
        check_reads_back(piece, &text)?;
        self.write(|w| {
            let (document, revision) =
                revision::begin(w.db, "piece", &text, "Begin the piece", w.now_ms)?;
            w.db.execute(
                "INSERT INTO piece (document, name, parts, placed, created_ms, changed_ms) \
                 VALUES (?1, '', 0, 0, ?2, ?2)",
                [document, w.now_ms],
            )?;
            let id = PieceId(w.db.last_insert_rowid());
            note_shown(w, id, piece)?;
            w.happened(Subject::Piece, Some(id), Some(revision.0))?;
            Ok(Opened {
                id,
                piece: piece.clone(),
                state: revision::state(w.db, revision.0)?,
            })
        })
    }

    /// Opens a piece as it stands, one in the bin too.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn piece(&self, id: PieceId) -> Result<Opened, WorkshopError> {
        self.read(|db| {
            let document = document_of(db, id)?;
            let head = revision::head(db, document)?;
            open_at(db, &self.inner.texts, id, head)
        })
    }

    /// A piece as it was.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`], [`WorkshopError::NoSuchRevision`].
    pub fn piece_at(&self, id: PieceId, revision: RevisionId) -> Result<Piece, WorkshopError> {
        self.read(|db| {
            let document = document_of(db, id)?;
            revision::check_member(db, document, revision)?;
            piece_at(db, &self.inner.texts, revision.0)
        })
    }

    /// Stores an edit of a piece that was opened at `based_on`. Where the piece stands elsewhere by now, nothing is stored,
    /// and both sides come back. An edit that changes nothing is no new revision.
    ///
    /// # Errors
    /// As for [`Workshop::new_piece`], and [`WorkshopError::NoSuchPiece`], [`WorkshopError::NoSuchRevision`].
    pub fn save(
        &self,
        id: PieceId,
        based_on: RevisionId,
        piece: &Piece,
        edit: &Edit,
    ) -> Result<Saved, WorkshopError> {
        let text = text_of_sound(piece)?;
        // A number that JSON cannot hold is written as null. What is new has to have one for that: mostly it has none, and
        // the rest of the text was read before.
        let check = |new: &str| {
            if new.contains("null") {
                check_reads_back(piece, &text)
            } else {
                Ok(())
            }
        };
        self.write(|w| {
            let document = document_of(w.db, id)?;
            let head = revision::head(w.db, document)?;
            if head != based_on.0 {
                revision::check_member(w.db, document, based_on)?;
                let now = open_at(w.db, w.texts, id, head)?;
                let base = piece_at(w.db, w.texts, based_on.0)?;
                let merge = merge(&base, piece, &now.piece);
                return Ok(Saved::Stale(Box::new(Stale { now, base, merge })));
            }
            let revision =
                revision::append(w.db, w.texts, document, head, &text, edit, w.now_ms, &check)?;
            if revision != head {
                note_shown(w, id, piece)?;
                w.happened(Subject::Piece, Some(id), Some(revision))?;
            }
            Ok(Saved::Saved(revision::state(w.db, revision)?))
        })
    }

    /// Stores an edit, together with what somebody else saved in between where the two touch different things.
    ///
    /// # Errors
    /// As for [`Workshop::save`].
    pub fn save_or_merge(
        &self,
        id: PieceId,
        based_on: RevisionId,
        piece: &Piece,
        edit: &Edit,
    ) -> Result<Merged, WorkshopError> {
        let mut stale = match self.save(id, based_on, piece, edit)? {
            Saved::Saved(state) => return Ok(Merged::AsGiven(state)),
            Saved::Stale(stale) => stale,
        };
        // Ends with the first save that nobody is quicker than.
        loop {
            let Merge::Clean(together) = &stale.merge else {
                return Ok(Merged::Conflict(stale));
            };
            match self.save(id, stale.now.state.revision, together, edit)? {
                Saved::Saved(state) => {
                    let piece = (**together).clone();
                    return Ok(Merged::Together(Box::new(Opened { id, piece, state })));
                }
                Saved::Stale(again) => stale = again,
            }
        }
    }

    /// Takes the last edit, or the last gesture, back.
    ///
    /// Like a save it names the state that the user saw; where the piece stands elsewhere by now, nothing happens and the
    /// piece comes back as it is. So it does where there is nothing to take back.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn undo(&self, id: PieceId, seen: RevisionId) -> Result<Opened, WorkshopError> {
        self.step(id, seen, Way::Undo)
    }

    /// Does again what was taken back; otherwise as [`Workshop::undo`].
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn redo(&self, id: PieceId, seen: RevisionId) -> Result<Opened, WorkshopError> {
        self.step(id, seen, Way::Redo)
    }

    fn step(&self, id: PieceId, seen: RevisionId, way: Way) -> Result<Opened, WorkshopError> {
        self.write(|w| {
            let document = document_of(w.db, id)?;
            let head = revision::head(w.db, document)?;
            if head == seen.0
                && let Some(to) = revision::step(w.db, document, way)?
            {
                return moved_to(w, id, to);
            }
            open_at(w.db, w.texts, id, head)
        })
    }

    /// Goes to any earlier or later state of the piece; what was the newest stays in its history.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`], [`WorkshopError::NoSuchRevision`].
    pub fn go_to(&self, id: PieceId, revision: RevisionId) -> Result<Opened, WorkshopError> {
        self.write(|w| {
            let document = document_of(w.db, id)?;
            revision::go_to(w.db, document, revision)?;
            moved_to(w, id, revision.0)
        })
    }

    /// The piece's revisions, the newest first, those of left branches too; with `before`, only older ones.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn history(
        &self,
        id: PieceId,
        before: Option<RevisionId>,
        most: usize,
    ) -> Result<Vec<Entry>, WorkshopError> {
        self.read(|db| revision::entries(db, document_of(db, id)?, before, most))
    }

    /// Puts a piece in the bin, or takes it out of it. Nothing of it is lost either way.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn set_binned(&self, id: PieceId, binned: bool) -> Result<(), WorkshopError> {
        self.write(|w| {
            document_of(w.db, id)?;
            w.db.execute(
                "UPDATE piece SET binned_ms = ?2 WHERE id = ?1",
                params![id.0, binned.then_some(w.now_ms)],
            )?;
            w.happened(Subject::Piece, Some(id), None)
        })
    }
}

/// The text of a sound piece.
fn text_of_sound(piece: &Piece) -> Result<String, WorkshopError> {
    piece.check_sound()?;
    let text = text_of(piece).map_err(|e| unsound(e.to_string()))?;
    if text.len() > piece::MAX_DOCUMENT_BYTES {
        return Err(PieceError::TooLarge { found: text.len() }.into());
    }
    Ok(text)
}

/// Refuses a piece that could not be opened again, or not as it was.
fn check_reads_back(piece: &Piece, text: &str) -> Result<(), WorkshopError> {
    if Piece::from_json(text.as_bytes())? == *piece {
        Ok(())
    } else {
        Err(unsound("does not read back as it was".into()))
    }
}

fn unsound(problem: String) -> WorkshopError {
    WorkshopError::Unsound(PieceError::Unsound {
        path: ".".into(),
        problem,
    })
}

pub(crate) fn document_of(db: &Connection, id: PieceId) -> Result<i64, Fault> {
    db.prepare_cached("SELECT document FROM piece WHERE id = ?1")?
        .query_row([id.0], |row| row.get(0))
        .optional()?
        .ok_or_else(|| WorkshopError::NoSuchPiece(id).into())
}

fn piece_at(db: &Connection, texts: &Texts, revision: i64) -> Result<Piece, Fault> {
    let text = revision::text_of(db, texts, revision)?;
    Ok(Piece::from_json(text.as_bytes()).map_err(WorkshopError::from)?)
}

fn open_at(db: &Connection, texts: &Texts, id: PieceId, revision: i64) -> Result<Opened, Fault> {
    Ok(Opened {
        id,
        piece: piece_at(db, texts, revision)?,
        state: revision::state(db, revision)?,
    })
}

/// After the head was moved.
fn moved_to(w: &Writing<'_>, id: PieceId, revision: i64) -> Result<Opened, Fault> {
    let opened = open_at(w.db, w.texts, id, revision)?;
    note_shown(w, id, &opened.piece)?;
    w.happened(Subject::Piece, Some(id), Some(revision))?;
    Ok(opened)
}

/// Keeps beside the document what the list shows, and which images it shows.
fn note_shown(w: &Writing<'_>, id: PieceId, piece: &Piece) -> Result<(), Fault> {
    let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    w.db.prepare_cached(
        "UPDATE piece SET name = ?2, parts = ?3, placed = ?4, changed_ms = ?5 WHERE id = ?1",
    )?
    .execute(params![
        id.0,
        piece.name,
        count(piece.parts.len()),
        count(piece.placements.len()),
        w.now_ms
    ])?;
    for part in &piece.parts {
        for image in part.images() {
            let name: ImageName = image.parse().map_err(|_| WorkshopError::ForeignImage {
                part: part.id.to_string(),
                image: image.to_owned(),
            })?;
            crate::image::join(w.db, id, &name)?;
        }
    }
    Ok(())
}
