//! Photos of a piece, and the work on their outlines.

use crate::database::Fault;
use crate::image::{self, ImageName};
use crate::revision::{self, Edit, State, Way};
use crate::text::{reads_back, text_of};
use crate::workshop::Texts;
use crate::{PhotoId, PieceId, RevisionId, Subject, Workshop, WorkshopError};
use piece::PartId;
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Longest name of a photo, characters.
const LONGEST_NAME: usize = 200;

/// What a photo shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "role")]
pub enum Role {
    /// Loose parts, with the faces that will be seen.
    Parts,
    /// Loose parts turned over.
    Backs,
    /// The opened device.
    Inside {
        /// How far it was taken apart, from 0.
        stage: u32,
    },
}

/// How a picture was taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "way")]
pub enum Taken {
    /// On a capture sheet.
    Sheet {
        /// What its bars of 100 mm measure along x and y; `None` where nobody measured.
        #[serde(default)]
        printed_mm: Option<[f64; 2]>,
    },
    /// By a flatbed scanner.
    Scan {
        /// Pixels per inch along x and y; `None`: as the file says.
        #[serde(default)]
        dpi: Option<[f64; 2]>,
    },
    /// Beside a card.
    Card,
}

/// What a stroke says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StrokeKind {
    /// What lies under it belongs to a part.
    Include,
    /// What lies under it belongs to none.
    Exclude,
    /// Parts that touch end at this line.
    Split,
}

/// A line drawn over a photo, in the form of a file of strokes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stroke {
    /// What it says.
    pub kind: StrokeKind,
    /// Its breadth, mm.
    pub width_mm: f64,
    /// Its points, mm of the sheet.
    pub points_mm: Vec<[f64; 2]>,
}

/// What is known of the part that covers a point of the sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// A point that it covers, mm of the sheet.
    pub at_mm: [f64; 2],
    /// Height of its outer edge, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thickness_mm: Option<f64>,
    /// The piece's part that it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<PartId>,
    /// It is no part of the piece.
    #[serde(default)]
    pub left_out: bool,
}

/// The work on one photo: all that the outlines are made from, besides the photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Work {
    /// How the picture was taken.
    pub taken: Taken,
    /// Height of the outer edge of parts without a mark, mm.
    #[serde(default)]
    pub thickness_mm: Option<f64>,
    /// What is known of single parts.
    #[serde(default)]
    pub marks: Vec<Mark>,
    /// What was drawn over the photo.
    #[serde(default)]
    pub strokes: Vec<Stroke>,
}

impl Default for Work {
    fn default() -> Self {
        Self {
            taken: Taken::Sheet { printed_mm: None },
            thickness_mm: None,
            marks: Vec::new(),
            strokes: Vec::new(),
        }
    }
}

/// A photo with its work.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// Its number.
    pub id: PhotoId,
    /// The piece that it belongs to.
    pub piece: PieceId,
    /// The picture.
    pub image: ImageName,
    /// What its file was called.
    pub name: String,
    /// What it shows.
    pub role: Role,
    /// The work on it.
    pub work: Work,
    /// Where the work stands in its history.
    pub state: State,
    /// When it was added, milliseconds since 1970 (UTC).
    pub added_ms: i64,
}

/// The outlines that were found last.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The state of the work that they were found for; they are out of date where the work stands elsewhere.
    pub for_work: RevisionId,
    /// The outlines, in the form of `capture --json`.
    pub outlines: Value,
}

/// What became of a save of the work.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "where somebody else saved in between, nothing was stored"]
pub enum WorkSaved {
    /// It is stored.
    Saved(State),
    /// Somebody else saved in between: nothing was stored. This is what is there.
    Stale(Box<Photo>),
}

impl Workshop {
    /// Adds a photo to a piece.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`], [`WorkshopError::NoSuchImage`].
    pub fn add_photo(
        &self,
        piece: PieceId,
        image: &ImageName,
        name: &str,
        role: Role,
        work: &Work,
    ) -> Result<Photo, WorkshopError> {
        let text = checked_text(work)?;
        let name: String = name
            .chars()
            .filter(|c| !c.is_control())
            .take(LONGEST_NAME)
            .collect();
        self.write(|w| {
            crate::pieces::document_of(w.db, piece)?;
            image::check_known(w.db, image)?;
            let (document, _) =
                revision::begin(w.db, "work", &text, "Begin the outlines", w.now_ms)?;
            let (word, stage) = role_in_words(role);
            w.db.execute(
                "INSERT INTO photo (piece, image, name, role, stage, work, added_ms) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    piece.0,
                    image.digest(),
                    name,
                    word,
                    stage,
                    document,
                    w.now_ms
                ],
            )?;
            let id = PhotoId(w.db.last_insert_rowid());
            image::join(w.db, piece, image)?;
            w.happened(Subject::Photo, Some(piece), Some(id.0))?;
            photo(w.db, w.texts, id)
        })
    }

    /// The piece's photos in the order in which they were added, without those taken away.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`].
    pub fn photos(&self, piece: PieceId) -> Result<Vec<Photo>, WorkshopError> {
        self.read(|db| {
            crate::pieces::document_of(db, piece)?;
            let mut statement = db.prepare_cached(
                "SELECT id FROM photo WHERE piece = ?1 AND binned_ms IS NULL ORDER BY id",
            )?;
            let ids: Vec<i64> = statement
                .query_map([piece.0], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            ids.into_iter()
                .map(|id| photo(db, &self.inner.texts, PhotoId(id)))
                .collect()
        })
    }

    /// One photo with its work.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn photo(&self, id: PhotoId) -> Result<Photo, WorkshopError> {
        self.read(|db| photo(db, &self.inner.texts, id))
    }

    /// Stores the work on a photo that stood at `based_on`.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`], [`WorkshopError::Refused`] for numbers that cannot be.
    pub fn save_work(
        &self,
        id: PhotoId,
        based_on: RevisionId,
        work: &Work,
        edit: &Edit,
    ) -> Result<WorkSaved, WorkshopError> {
        let text = checked_text(work)?;
        self.write(|w| {
            let (piece, document) = work_of(w.db, id)?;
            let head = revision::head(w.db, document)?;
            if head != based_on.0 {
                return Ok(WorkSaved::Stale(Box::new(photo(w.db, w.texts, id)?)));
            }
            let revision = revision::append(
                w.db,
                w.texts,
                document,
                head,
                &text,
                edit,
                w.now_ms,
                &|_| Ok(()),
            )?;
            if revision != head {
                w.happened(Subject::Photo, Some(piece), Some(id.0))?;
            }
            Ok(WorkSaved::Saved(revision::state(w.db, revision)?))
        })
    }

    /// Takes the last edit of the work back, as [`Workshop::undo`] does of a piece.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn undo_work(&self, id: PhotoId, seen: RevisionId) -> Result<Photo, WorkshopError> {
        self.step_work(id, seen, Way::Undo)
    }

    /// Does again what was taken back.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn redo_work(&self, id: PhotoId, seen: RevisionId) -> Result<Photo, WorkshopError> {
        self.step_work(id, seen, Way::Redo)
    }

    fn step_work(&self, id: PhotoId, seen: RevisionId, way: Way) -> Result<Photo, WorkshopError> {
        self.write(|w| {
            let (piece, document) = work_of(w.db, id)?;
            if revision::head(w.db, document)? == seen.0
                && revision::step(w.db, document, way)?.is_some()
            {
                w.happened(Subject::Photo, Some(piece), Some(id.0))?;
            }
            photo(w.db, w.texts, id)
        })
    }

    /// Keeps the outlines that were found, and of which state of the work, so that a restart need not look again.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`], [`WorkshopError::NoSuchRevision`].
    pub fn keep_found(&self, id: PhotoId, found: &Found) -> Result<(), WorkshopError> {
        self.write(|w| {
            let (piece, document) = work_of(w.db, id)?;
            revision::check_member(w.db, document, found.for_work)?;
            w.db.prepare_cached("UPDATE photo SET found = ?2, found_for = ?3 WHERE id = ?1")?
                .execute(params![id.0, found.outlines.to_string(), found.for_work.0])?;
            w.happened(Subject::Photo, Some(piece), Some(id.0))
        })
    }

    /// The outlines that were found last.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn found(&self, id: PhotoId) -> Result<Option<Found>, WorkshopError> {
        self.read(|db| {
            let row: Option<(Option<String>, Option<i64>)> = db
                .prepare_cached("SELECT found, found_for FROM photo WHERE id = ?1")?
                .query_row([id.0], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            let (text, revision) = row.ok_or(WorkshopError::NoSuchPhoto(id))?;
            Ok(
                match (text.and_then(|t| serde_json::from_str(&t).ok()), revision) {
                    (Some(outlines), Some(revision)) => Some(Found {
                        for_work: RevisionId(revision),
                        outlines,
                    }),
                    _ => None,
                },
            )
        })
    }

    /// Says what a photo shows.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn set_role(&self, id: PhotoId, role: Role) -> Result<(), WorkshopError> {
        self.write(|w| {
            let (piece, _) = work_of(w.db, id)?;
            let (word, stage) = role_in_words(role);
            w.db.execute(
                "UPDATE photo SET role = ?2, stage = ?3 WHERE id = ?1",
                params![id.0, word, stage],
            )?;
            w.happened(Subject::Photo, Some(piece), Some(id.0))
        })
    }

    /// Takes a photo away, or brings it back. Its picture and its work stay in the store.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPhoto`].
    pub fn set_photo_binned(&self, id: PhotoId, binned: bool) -> Result<(), WorkshopError> {
        self.write(|w| {
            let (piece, _) = work_of(w.db, id)?;
            w.db.execute(
                "UPDATE photo SET binned_ms = ?2 WHERE id = ?1",
                params![id.0, binned.then_some(w.now_ms)],
            )?;
            w.happened(Subject::Photo, Some(piece), Some(id.0))
        })
    }
}

/// The work's text, of numbers that JSON can hold.
fn checked_text(work: &Work) -> Result<String, WorkshopError> {
    let refused = |problem: String| WorkshopError::Refused {
        what: "the work on the photo",
        problem,
    };
    let text = text_of(work).map_err(|e| refused(e.to_string()))?;
    if text.len() > piece::MAX_DOCUMENT_BYTES {
        return Err(refused("has too many strokes; draw fewer".into()));
    }
    if reads_back(&text, work) {
        Ok(text)
    } else {
        Err(refused("has a number that is not finite".into()))
    }
}

fn role_in_words(role: Role) -> (&'static str, Option<u32>) {
    match role {
        Role::Parts => ("parts", None),
        Role::Backs => ("backs", None),
        Role::Inside { stage } => ("inside", Some(stage)),
    }
}

/// The piece of a photo and the document of its work.
fn work_of(db: &Connection, id: PhotoId) -> Result<(PieceId, i64), Fault> {
    db.prepare_cached("SELECT piece, work FROM photo WHERE id = ?1")?
        .query_row([id.0], |row| Ok((PieceId(row.get(0)?), row.get(1)?)))
        .optional()?
        .ok_or_else(|| WorkshopError::NoSuchPhoto(id).into())
}

fn photo(db: &Connection, texts: &Texts, id: PhotoId) -> Result<Photo, Fault> {
    let damaged = |problem: String| WorkshopError::Damaged {
        at: texts.database().into(),
        problem: format!("photo {id}: {problem}"),
    };
    let (piece, digest, kind, name, role, stage, document, added_ms) = db
        .prepare_cached(
            "SELECT photo.piece, image.digest, image.kind, photo.name, photo.role, photo.stage, photo.work, \
             photo.added_ms FROM photo JOIN image ON image.digest = photo.image WHERE photo.id = ?1",
        )?
        .query_row([id.0], |row| {
            Ok((
                PieceId(row.get(0)?),
                row.get::<_, [u8; 32]>(1)?,
                row.get::<_, String>(2)?,
                row.get::<_, String>(3)?,
                row.get::<_, String>(4)?,
                row.get::<_, Option<u32>>(5)?,
                row.get::<_, i64>(6)?,
                row.get::<_, i64>(7)?,
            ))
        })
        .optional()?
        .ok_or(WorkshopError::NoSuchPhoto(id))?;
    let head = revision::head(db, document)?;
    let text = revision::text_of(db, texts, head)?;
    let role = match role.as_str() {
        "parts" => Role::Parts,
        "backs" => Role::Backs,
        "inside" => Role::Inside {
            stage: stage.unwrap_or(0),
        },
        other => return Err(damaged(format!("the role {other:?}")).into()),
    };
    Ok(Photo {
        id,
        piece,
        image: ImageName::from_row(digest, &kind)
            .ok_or_else(|| damaged(format!("an image of the kind {kind:?}")))?,
        name,
        role,
        work: serde_json::from_str(&text).map_err(|e| damaged(e.to_string()))?,
        state: revision::state(db, head)?,
        added_ms,
    })
}
