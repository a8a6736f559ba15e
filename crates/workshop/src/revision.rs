//! Documents with their history: every edit is a revision, whole texts now and then, and changes between.

use crate::database::Fault;
use crate::workshop::Texts;
use crate::{RevisionId, WorkshopError, delta};
use flate2::Compression;
use flate2::read::{DeflateDecoder, DeflateEncoder};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::io::Read;
use std::sync::Arc;

/// Longest label and longest name of a gesture, characters.
const LONGEST_LABEL: usize = 200;

/// What an edit was, for whoever undoes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    label: String,
    gesture: Option<String>,
}

impl Edit {
    /// An edit in the user's words, such as `Move the main board`; cut to 200 characters.
    pub fn new(label: impl AsRef<str>) -> Self {
        Self {
            label: label.as_ref().chars().take(LONGEST_LABEL).collect(),
            gesture: None,
        }
    }

    /// One of several that follow each other and are undone as one, such as the nudges while a key is held.
    #[must_use]
    pub fn of_gesture(mut self, gesture: impl AsRef<str>) -> Self {
        self.gesture = Some(gesture.as_ref().chars().take(LONGEST_LABEL).collect());
        self
    }
}

/// Where a document stands in its history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct State {
    /// The state that the document is in: what a later save is based on.
    pub revision: RevisionId,
    /// What undo would take back.
    pub undo: Option<String>,
    /// What redo would do again.
    pub redo: Option<String>,
}

/// One entry of a document's history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// The state.
    pub revision: RevisionId,
    /// The state that it was made from; `None` for the first.
    pub parent: Option<RevisionId>,
    /// When it was made, milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// What was done.
    pub label: String,
}

/// Which way through the history.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Undo,
    Redo,
}

/// Makes a document with its first revision.
pub(crate) fn begin(
    db: &Connection,
    kind: &str,
    text: &str,
    label: &str,
    at_ms: i64,
) -> Result<(i64, RevisionId), Fault> {
    db.execute("INSERT INTO document (kind) VALUES (?1)", [kind])?;
    let document = db.last_insert_rowid();
    db.prepare_cached(
        "INSERT INTO revision (document, since_base, at_ms, label, digest, body) VALUES (?1, 0, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![document, at_ms, label, digest(text), packed(text.as_bytes())])?;
    let revision = db.last_insert_rowid();
    set_head(db, document, revision)?;
    Ok((document, RevisionId(revision)))
}

/// The document's head.
pub(crate) fn head(db: &Connection, document: i64) -> Result<i64, Fault> {
    Ok(db
        .prepare_cached("SELECT head FROM document WHERE id = ?1")?
        .query_row([document], |row| row.get(0))?)
}

/// Adds a revision on top of the head, which must be `parent`. A text equal to the head's changes nothing.
///
/// `check` is asked before anything is stored, with what the text has that the revision that it is stored against has not.
#[allow(clippy::too_many_arguments, reason = "one call, from two places")]
pub(crate) fn append(
    db: &Connection,
    texts: &Texts,
    document: i64,
    parent: i64,
    text: &str,
    edit: &Edit,
    at_ms: i64,
    check: &dyn Fn(&str) -> Result<(), WorkshopError>,
) -> Result<i64, Fault> {
    let (parent_base, since_base, parent_digest): (Option<i64>, i64, [u8; 32]) = db
        .prepare_cached("SELECT base, since_base, digest FROM revision WHERE id = ?1")?
        .query_row([parent], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let digest = digest(text);
    if digest == parent_digest {
        return Ok(parent);
    }
    let base = parent_base.unwrap_or(parent);
    let base_text = text_of(db, texts, base)?;
    let change = delta::change(&base_text, text);
    check(&delta::new_text(&change))?;
    let change = packed(&change);
    let whole_bytes: i64 = db
        .prepare_cached("SELECT length(body) FROM revision WHERE id = ?1")?
        .query_row([base], |row| row.get(0))?;
    let since = since_base + change.len() as i64;
    // Changes grow with the distance from their base. When together they take as much room as a whole text, a new
    // whole text is the cheaper way on: no history takes more than twice the room of the best choice.
    let (base, since, body) = if since > whole_bytes {
        (None, 0, packed(text.as_bytes()))
    } else {
        (Some(base), since, change)
    };
    db.prepare_cached(
        "INSERT INTO revision (document, parent, base, since_base, at_ms, label, gesture, digest, body) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?
    .execute(params![document, parent, base, since, at_ms, edit.label, edit.gesture, digest, body])?;
    let revision = db.last_insert_rowid();
    set_next(db, parent, revision)?;
    set_head(db, document, revision)?;
    if base.is_none() {
        texts.keep(revision, Arc::from(text));
    }
    Ok(revision)
}

/// Where undo or redo leads from a revision: over a whole gesture at once.
fn along(db: &Connection, from: i64, way: Way) -> Result<Option<i64>, Fault> {
    let mut links =
        db.prepare_cached("SELECT parent, next, gesture FROM revision WHERE id = ?1")?;
    let mut look = |id: i64| {
        links.query_row([id], |row| {
            Ok((
                row.get::<_, Option<i64>>(0)?,
                row.get::<_, Option<i64>>(1)?,
                row.get::<_, Option<String>>(2)?,
            ))
        })
    };
    let (parent, next, gesture) = look(from)?;
    match way {
        Way::Undo => {
            let mut at = parent;
            while let (Some(id), Some(_)) = (at, &gesture) {
                let (before, _, its) = look(id)?;
                if its != gesture {
                    break;
                }
                at = before;
            }
            Ok(at)
        }
        Way::Redo => {
            let Some(mut at) = next else { return Ok(None) };
            let (_, mut after, gesture) = look(at)?;
            while let (Some(id), Some(_)) = (after, &gesture) {
                let (_, beyond, its) = look(id)?;
                if its != gesture {
                    break;
                }
                at = id;
                after = beyond;
            }
            Ok(Some(at))
        }
    }
}

/// Moves the head one gesture along; `None` where the history ends.
pub(crate) fn step(db: &Connection, document: i64, way: Way) -> Result<Option<i64>, Fault> {
    let from = head(db, document)?;
    let Some(to) = along(db, from, way)? else {
        return Ok(None);
    };
    if way == Way::Undo {
        // The way back leads over the branch that was left.
        let mut at = from;
        while at != to {
            let parent: i64 = db
                .prepare_cached("SELECT parent FROM revision WHERE id = ?1")?
                .query_row([at], |row| row.get(0))?;
            set_next(db, parent, at)?;
            at = parent;
        }
    }
    set_head(db, document, to)?;
    Ok(Some(to))
}

/// Moves the head to any of the document's revisions.
pub(crate) fn go_to(db: &Connection, document: i64, revision: RevisionId) -> Result<(), Fault> {
    check_member(db, document, revision)?;
    set_head(db, document, revision.0)
}

/// Refuses a revision of another document.
pub(crate) fn check_member(
    db: &Connection,
    document: i64,
    revision: RevisionId,
) -> Result<(), Fault> {
    let found: Option<i64> = db
        .prepare_cached("SELECT document FROM revision WHERE id = ?1")?
        .query_row([revision.0], |row| row.get(0))
        .optional()?;
    if found != Some(document) {
        return Err(WorkshopError::NoSuchRevision {
            revision: revision.0,
        }
        .into());
    }
    Ok(())
}

/// Where the document stands.
pub(crate) fn state(db: &Connection, revision: i64) -> Result<State, Fault> {
    let label = |id: i64| {
        db.prepare_cached("SELECT label FROM revision WHERE id = ?1")?
            .query_row([id], |row| row.get::<_, String>(0))
    };
    let undo = match along(db, revision, Way::Undo)? {
        Some(_) => Some(label(revision)?),
        None => None,
    };
    let redo = along(db, revision, Way::Redo)?.map(label).transpose()?;
    Ok(State {
        revision: RevisionId(revision),
        undo,
        redo,
    })
}

/// The newest revisions, those of left branches too; with `before`, only older ones.
pub(crate) fn entries(
    db: &Connection,
    document: i64,
    before: Option<RevisionId>,
    most: usize,
) -> Result<Vec<Entry>, Fault> {
    let mut statement = db.prepare_cached(
        "SELECT id, parent, at_ms, label FROM revision WHERE document = ?1 AND id < ?2 ORDER BY id DESC LIMIT ?3",
    )?;
    let before = before.map_or(i64::MAX, |r| r.0);
    let most = i64::try_from(most).unwrap_or(i64::MAX);
    let rows = statement.query_map(params![document, before, most], |row| {
        Ok(Entry {
            revision: RevisionId(row.get(0)?),
            parent: row.get::<_, Option<i64>>(1)?.map(RevisionId),
            at_ms: row.get(2)?,
            label: row.get(3)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// A revision's text, to the byte as it was saved.
pub(crate) fn text_of(db: &Connection, texts: &Texts, revision: i64) -> Result<Arc<str>, Fault> {
    if let Some(text) = texts.kept(revision) {
        return Ok(text);
    }
    let (base, digest_then, body): (Option<i64>, [u8; 32], Vec<u8>) = db
        .prepare_cached("SELECT base, digest, body FROM revision WHERE id = ?1")?
        .query_row([revision], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })?;
    let damaged = |problem: &str| WorkshopError::Damaged {
        at: texts.database().into(),
        problem: format!("revision {revision} {problem}"),
    };
    let body = unpacked(&body).ok_or_else(|| damaged("cannot be unpacked"))?;
    let text = match base {
        None => String::from_utf8(body).map_err(|_| damaged("is not text"))?,
        Some(base) => {
            // A base is whole: this goes no deeper than one level.
            let whole: bool = db
                .prepare_cached("SELECT base IS NULL FROM revision WHERE id = ?1")?
                .query_row([base], |row| row.get(0))?;
            if !whole {
                return Err(damaged("rests on one that is not whole").into());
            }
            let base_text = text_of(db, texts, base)?;
            delta::apply(&base_text, &body).ok_or_else(|| damaged("does not fit its base"))?
        }
    };
    if digest(&text) != digest_then {
        return Err(damaged("is not what was saved").into());
    }
    let text: Arc<str> = text.into();
    if base.is_none() {
        texts.keep(revision, Arc::clone(&text));
    }
    Ok(text)
}

fn set_head(db: &Connection, document: i64, revision: i64) -> Result<(), Fault> {
    db.prepare_cached("UPDATE document SET head = ?2 WHERE id = ?1")?
        .execute([document, revision])?;
    Ok(())
}

fn set_next(db: &Connection, revision: i64, next: i64) -> Result<(), Fault> {
    db.prepare_cached("UPDATE revision SET next = ?2 WHERE id = ?1 AND next IS NOT ?2")?
        .execute([revision, next])?;
    Ok(())
}

pub(crate) fn digest(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
}

/// Deflated, quickly rather than tightly.
fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    // Reading from memory cannot fail.
    let _ = DeflateEncoder::new(bytes, Compression::fast()).read_to_end(&mut out);
    out
}

/// `None` where it is damaged, or larger than any document.
fn unpacked(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    let most = piece::MAX_DOCUMENT_BYTES as u64 + 1;
    DeflateDecoder::new(bytes)
        .take(most)
        .read_to_end(&mut out)
        .ok()?;
    (out.len() as u64 != most).then_some(out)
}
