//! The drawer: parts that are there, whatever device they came from.

use crate::database::Fault;
use crate::image::{self, ImageName};
use crate::text::reads_back;
use crate::words::Word;
use crate::workshop::Writing;
use crate::{PieceId, StockId, Subject, Workshop, WorkshopError};
use piece::{Part, PartId, PartKind};
use rusqlite::{Connection, Row, params};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Longest text of a field, characters.
pub(crate) const LONGEST_TEXT: usize = 2_000;

/// What a part in the drawer is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// Whole, fit to be seen.
    Whole,
    /// Whole, but with marks that are seen.
    Marked,
    /// Broken.
    Broken,
    /// Nobody has looked.
    Untested,
}

impl Word for Condition {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Self::Whole, "whole"),
        (Self::Marked, "marked"),
        (Self::Broken, "broken"),
        (Self::Untested, "untested"),
    ];
}

/// For what a part in the drawer is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reserved {
    /// The piece.
    pub piece: PieceId,
    /// The place in it; `None`: wherever it is needed.
    pub part: Option<PartId>,
}

/// A part in the drawer, as it is put there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StockItem {
    /// What people call it.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// The model of device whose part it is, as the shop calls it.
    pub model: String,
    /// What it is like.
    pub condition: Condition,
    /// Where it came from, in the shop's words.
    pub origin: String,
    /// The part as captured; its cut-out is an image of the store.
    pub part: Option<Part>,
    /// A picture of it.
    pub image: Option<ImageName>,
    /// For what it is kept.
    pub reserved: Option<Reserved>,
    /// Whatever else is to be known.
    pub note: String,
}

/// A part in the drawer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stocked {
    /// Its number.
    pub id: StockId,
    /// The part.
    pub item: StockItem,
    /// When it was put there, milliseconds since 1970 (UTC).
    pub added_ms: i64,
    /// When it left the drawer, and why, such as `built in`.
    pub gone: Option<(i64, String)>,
}

impl Workshop {
    /// The parts in the drawer, the last put there first; with `gone`, those that left it instead.
    ///
    /// # Errors
    /// Where the database cannot be read; [`WorkshopError::Damaged`] where one of them cannot.
    pub fn stock(&self, gone: bool) -> Result<Vec<Stocked>, WorkshopError> {
        self.read(|db| list(db, self.inner.texts.database(), gone))
    }

    /// One part of the drawer, one that left it too.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchEntry`], [`WorkshopError::Damaged`].
    pub fn stocked(&self, id: StockId) -> Result<Stocked, WorkshopError> {
        self.read(|db| one(db, self.inner.texts.database(), id))
    }

    /// Changes the stock as it is now: nobody else changes it between what `change` reads and what it writes, not from another
    /// process either. Where `change` fails, nothing is stored. It must not ask this store for anything but through what it
    /// is given.
    ///
    /// # Errors
    /// What `change` says; what can go wrong with a database.
    pub fn change_stock<T, E: From<WorkshopError>>(
        &self,
        change: impl FnOnce(&StockChange<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let mut refusal = None;
        let made = self.write(|w| {
            change(&StockChange { w }).map_err(|e| {
                refusal = Some(e);
                // Any fault takes back what was written; the refusal is what is told.
                Fault::from(WorkshopError::Refused {
                    what: "the change of the stock",
                    problem: "was given up".into(),
                })
            })
        });
        match refusal {
            Some(e) => Err(e),
            None => Ok(made?),
        }
    }

    /// Puts a part into the drawer.
    ///
    /// # Errors
    /// As for [`StockChange::add`].
    pub fn add_stock(&self, item: &StockItem) -> Result<StockId, WorkshopError> {
        self.change_stock(|stock| stock.add(item))
    }
}

/// The stock while it is being changed, in [`Workshop::change_stock`]: what was changed already is read back.
pub struct StockChange<'a> {
    w: &'a Writing<'a>,
}

impl std::fmt::Debug for StockChange<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("StockChange").finish_non_exhaustive()
    }
}

impl StockChange<'_> {
    /// As [`Workshop::stock`].
    ///
    /// # Errors
    /// As there.
    pub fn all(&self, gone: bool) -> Result<Vec<Stocked>, WorkshopError> {
        self.told(list(self.w.db, self.w.texts.database(), gone))
    }

    /// As [`Workshop::stocked`].
    ///
    /// # Errors
    /// As there.
    pub fn one(&self, id: StockId) -> Result<Stocked, WorkshopError> {
        self.told(one(self.w.db, self.w.texts.database(), id))
    }

    /// Puts a part into the drawer.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`], [`WorkshopError::NoSuchImage`], [`WorkshopError::TooLarge`] for a text that is too long.
    pub fn add(&self, item: &StockItem) -> Result<StockId, WorkshopError> {
        self.told(insert(self.w, item))
    }

    /// Changes what is known of a part in the drawer.
    ///
    /// # Errors
    /// As for [`StockChange::add`]; [`WorkshopError::NoSuchEntry`].
    pub fn set(&self, id: StockId, item: &StockItem) -> Result<(), WorkshopError> {
        self.told(update(self.w, id, item))
    }

    /// Says that a part left the drawer, and why; `None` puts it back.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchEntry`], [`WorkshopError::TooLarge`].
    pub fn set_gone(&self, id: StockId, why: Option<&str>) -> Result<(), WorkshopError> {
        self.told(update_gone(self.w, id, why))
    }

    fn told<T>(&self, result: Result<T, Fault>) -> Result<T, WorkshopError> {
        result.map_err(|fault| fault.told(self.w.texts.database()))
    }
}

fn list(db: &Connection, database: &Path, gone: bool) -> Result<Vec<Stocked>, Fault> {
    let mut statement = db.prepare_cached(&format!(
        "{SELECT} WHERE (gone_ms IS NOT NULL) = ?1 ORDER BY stock.id DESC"
    ))?;
    let mut rows = statement.query([gone])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        all.push(stocked(row, database)?);
    }
    Ok(all)
}

fn one(db: &Connection, database: &Path, id: StockId) -> Result<Stocked, Fault> {
    let mut statement = db.prepare_cached(&format!("{SELECT} WHERE stock.id = ?1"))?;
    let mut rows = statement.query([id.0])?;
    let row = rows.next()?.ok_or_else(|| no_such(id))?;
    stocked(row, database)
}

fn insert(w: &Writing<'_>, item: &StockItem) -> Result<StockId, Fault> {
    let statement = format!("INSERT INTO stock ({FIELDS}, added_ms) VALUES ({VALUES}, ?11)");
    write_fields(w, item, &statement, w.now_ms)?;
    let id = StockId(w.db.last_insert_rowid());
    w.happened(Subject::Stock, None, Some(id.0))?;
    Ok(id)
}

fn update(w: &Writing<'_>, id: StockId, item: &StockItem) -> Result<(), Fault> {
    let statement = format!("UPDATE stock SET ({FIELDS}) = ({VALUES}) WHERE id = ?11");
    if write_fields(w, item, &statement, id.0)? == 0 {
        return Err(no_such(id).into());
    }
    w.happened(Subject::Stock, None, Some(id.0))
}

/// What an item's fields are called in the table, in the order in which [`write_fields`] gives them.
const FIELDS: &str =
    "name, kind, model, condition, origin, part, image, reserved_for, reserved_part, note";

const VALUES: &str = "?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10";

/// Writes an item's fields by a statement of [`FIELDS`] and [`VALUES`], whose `?11` is `last`; gives the number of rows.
fn write_fields(
    w: &Writing<'_>,
    item: &StockItem,
    statement: &str,
    last: i64,
) -> Result<usize, Fault> {
    let texts = checked(item)?;
    check_references(w.db, item)?;
    let rows = w.db.prepare_cached(statement)?.execute(params![
        item.name,
        texts.kind,
        item.model,
        item.condition.word(),
        item.origin,
        texts.part,
        item.image.as_ref().map(ImageName::digest),
        item.reserved.as_ref().map(|r| r.piece.0),
        texts.reserved_part(item),
        item.note,
        last,
    ])?;
    Ok(rows)
}

fn update_gone(w: &Writing<'_>, id: StockId, why: Option<&str>) -> Result<(), Fault> {
    check_length("why it left the drawer", why.unwrap_or_default())?;
    let changed = w.db.execute(
        "UPDATE stock SET gone_ms = ?2, gone_why = ?3 WHERE id = ?1",
        params![id.0, why.map(|_| w.now_ms), why],
    )?;
    if changed == 0 {
        return Err(no_such(id).into());
    }
    w.happened(Subject::Stock, None, Some(id.0))
}

const SELECT: &str = "SELECT stock.id, name, stock.kind, model, condition, origin, part, stock.image, \
     image.kind, reserved_for, reserved_part, note, stock.added_ms, gone_ms, gone_why \
     FROM stock LEFT JOIN image ON image.digest = stock.image";

/// Columns as JSON.
struct Texts {
    kind: String,
    part: Option<String>,
}

impl Texts {
    fn reserved_part(&self, item: &StockItem) -> Option<String> {
        item.reserved.as_ref()?.part.as_ref().map(PartId::to_string)
    }
}

fn checked(item: &StockItem) -> Result<Texts, WorkshopError> {
    let refused = |e: serde_json::Error| WorkshopError::Refused {
        what: "the part in the drawer",
        problem: e.to_string(),
    };
    for (what, text) in [
        ("the name", &item.name),
        ("the model", &item.model),
        ("the origin", &item.origin),
        ("the note", &item.note),
    ] {
        check_length(what, text)?;
    }
    let part = item
        .part
        .as_ref()
        .map(serde_json::to_string)
        .transpose()
        .map_err(refused)?;
    if let Some((text, part)) = part.as_ref().zip(item.part.as_ref())
        && !reads_back(text, part)
    {
        return Err(WorkshopError::Refused {
            what: "the part in the drawer",
            problem: "has a number that is not finite".into(),
        });
    }
    let kind = serde_json::to_value(item.kind).map_err(refused)?;
    Ok(Texts {
        kind: kind.as_str().unwrap_or("other").into(),
        part,
    })
}

pub(crate) fn check_length(what: &'static str, text: &str) -> Result<(), WorkshopError> {
    let found = text.chars().count();
    if found > LONGEST_TEXT {
        return Err(WorkshopError::TooLarge {
            what,
            found: found as u64,
            limit: LONGEST_TEXT as u64,
            unit: "characters",
        });
    }
    Ok(())
}

fn check_references(db: &Connection, item: &StockItem) -> Result<(), Fault> {
    if let Some(reserved) = &item.reserved {
        crate::pieces::document_of(db, reserved.piece)?;
    }
    let mut shown: Vec<ImageName> = item.image.into_iter().collect();
    if let Some(part) = &item.part {
        for image in part.images() {
            let foreign = |_| WorkshopError::ForeignImage {
                part: part.id.to_string(),
                image: image.to_owned(),
            };
            shown.push(image.parse().map_err(foreign)?);
        }
    }
    shown
        .iter()
        .try_for_each(|name| image::check_known(db, name))
}

/// One row of [`SELECT`]. What cannot be read is told: were it taken for something else, the next change of the entry would
/// write that back.
fn stocked(row: &Row<'_>, database: &Path) -> Result<Stocked, Fault> {
    let id = StockId(row.get(0)?);
    let damaged = |problem: String| WorkshopError::Damaged {
        at: database.into(),
        problem: format!("part {id} of the drawer: {problem}"),
    };
    let kind: String = row.get(2)?;
    let condition: String = row.get(4)?;
    let part: Option<String> = row.get(6)?;
    let image: Option<([u8; 32], String)> = row
        .get::<_, Option<[u8; 32]>>(7)?
        .zip(row.get::<_, Option<String>>(8)?);
    let reserved = match row.get::<_, Option<i64>>(9)? {
        None => None,
        Some(piece) => Some(Reserved {
            piece: PieceId(piece),
            part: row
                .get::<_, Option<String>>(10)?
                .map(PartId::try_new)
                .transpose()
                .map_err(|e| damaged(e.to_string()))?,
        }),
    };
    let why: Option<String> = row.get(14)?;
    Ok(Stocked {
        id,
        item: StockItem {
            name: row.get(1)?,
            kind: serde_json::from_value(kind.into()).map_err(|e| damaged(e.to_string()))?,
            model: row.get(3)?,
            condition: Condition::of_word(&condition)
                .ok_or_else(|| damaged(format!("the condition {condition:?}")))?,
            origin: row.get(5)?,
            part: part
                .map(|text| serde_json::from_str(&text))
                .transpose()
                .map_err(|e| damaged(e.to_string()))?,
            image: image
                .map(|(digest, ending)| {
                    ImageName::from_row(digest, &ending)
                        .ok_or_else(|| damaged(format!("an image of the kind {ending:?}")))
                })
                .transpose()?,
            reserved,
            note: row.get(11)?,
        },
        added_ms: row.get(12)?,
        gone: row
            .get::<_, Option<i64>>(13)?
            .map(|at| (at, why.unwrap_or_default())),
    })
}

/// What is wrong with entries that cannot be read, whether they left the drawer or not.
pub(crate) fn unreadable(db: &Connection, database: &Path) -> Result<Vec<String>, Fault> {
    let mut statement = db.prepare(SELECT)?;
    let mut rows = statement.query([])?;
    let mut problems = Vec::new();
    while let Some(row) = rows.next()? {
        problems.extend(damage(stocked(row, database))?);
    }
    Ok(problems)
}

/// The damage that reading an entry came upon.
pub(crate) fn damage<T>(read: Result<T, Fault>) -> Result<Option<String>, Fault> {
    match read {
        Ok(_) => Ok(None),
        Err(Fault::Told(WorkshopError::Damaged { problem, .. })) => Ok(Some(problem)),
        Err(other) => Err(other),
    }
}

fn no_such(id: StockId) -> WorkshopError {
    WorkshopError::NoSuchEntry {
        what: "part in the drawer",
        id: id.0,
    }
}
