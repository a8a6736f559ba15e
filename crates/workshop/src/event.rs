//! What happened, for pages that are open.

use crate::database::Fault;
use crate::words::Word;
use crate::workshop::{Writing, lock};
use crate::{EventId, PieceId, Workshop, WorkshopError};
use rusqlite::{Connection, params};
use serde::Serialize;
use std::sync::{Arc, Mutex};

/// How many events stay in the database.
const KEPT: i64 = 10_000;

/// What something that happened was about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Subject {
    /// A piece: made, edited, undone, put in the bin or taken out of it.
    Piece,
    /// A photo of a piece, its work or its outlines.
    Photo,
    /// The drawer.
    Stock,
    /// The lots on offer.
    Lot,
    /// What came of verdicts.
    Outcome,
    /// The settings.
    Settings,
}

impl Word for Subject {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Self::Piece, "piece"),
        (Self::Photo, "photo"),
        (Self::Stock, "stock"),
        (Self::Lot, "lot"),
        (Self::Outcome, "outcome"),
        (Self::Settings, "settings"),
    ];
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Event {
    /// Its number: later ones have higher numbers.
    pub id: EventId,
    /// When, milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// What it was about.
    pub subject: Subject,
    /// The piece that it was about.
    pub piece: Option<PieceId>,
    /// The number of the revision, photo or entry that came of it.
    pub number: Option<i64>,
}

type Listener = Arc<dyn Fn(&Event) + Send + Sync>;

/// Whoever wants to be told at once.
#[derive(Default)]
pub(crate) struct Listeners(Mutex<Vec<Listener>>);

impl Listeners {
    pub(crate) fn tell(&self, events: &[Event]) {
        let listeners = lock(&self.0).clone();
        for event in events {
            for listener in &listeners {
                listener(event);
            }
        }
    }
}

impl Writing<'_> {
    /// Notes an event in the transaction.
    pub(crate) fn happened(
        &self,
        subject: Subject,
        piece: Option<PieceId>,
        number: Option<i64>,
    ) -> Result<(), Fault> {
        self.db
            .prepare_cached(
                "INSERT INTO event (at_ms, what, piece, subject) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![
                self.now_ms,
                subject.word(),
                piece.map(|p| p.0),
                number
            ])?;
        lock(self.events).push(Event {
            id: EventId(self.db.last_insert_rowid()),
            at_ms: self.now_ms,
            subject,
            piece,
            number,
        });
        Ok(())
    }
}

impl Workshop {
    /// Has `listener` told of all that happens through this handle and its clones, after it was stored. It is called on the
    /// thread that wrote, and should hand on and return. What other processes do is in [`Workshop::events_after`] only.
    pub fn on_event(&self, listener: impl Fn(&Event) + Send + Sync + 'static) {
        lock(&self.inner.listeners.0).push(Arc::new(listener));
    }

    /// What happened after an event, whichever process did it, oldest first; `None` for all that is still known (the last
    /// 10,000 or more).
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn events_after(
        &self,
        after: Option<EventId>,
        most: usize,
    ) -> Result<Vec<Event>, WorkshopError> {
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        self.read(|db| {
            let mut statement = db.prepare_cached(
                "SELECT id, at_ms, what, piece, subject FROM event WHERE id > ?1 ORDER BY id LIMIT ?2",
            )?;
            let rows = statement.query_map([after.map_or(0, |e| e.0), most], |row| {
                let word: String = row.get(2)?;
                Ok(Subject::of_word(&word).map(|subject| Event {
                    id: EventId(row.get(0).unwrap_or_default()),
                    at_ms: row.get(1).unwrap_or_default(),
                    subject,
                    piece: row.get::<_, Option<i64>>(3).unwrap_or_default().map(PieceId),
                    number: row.get(4).unwrap_or_default(),
                }))
            })?;
            let mut events = Vec::new();
            for event in rows {
                events.extend(event?);
            }
            Ok(events)
        })
    }

    /// The newest event.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn last_event(&self) -> Result<Option<EventId>, WorkshopError> {
        self.read(|db| {
            let id: Option<i64> = db
                .prepare_cached("SELECT max(id) FROM event")?
                .query_row([], |row| row.get(0))?;
            Ok(id.map(EventId))
        })
    }
}

/// Lets go of events that nobody can be waiting for.
pub(crate) fn forget_old(db: &mut Connection) -> Result<(), Fault> {
    let newest: Option<i64> = db.query_row("SELECT max(id) FROM event", [], |row| row.get(0))?;
    let oldest: Option<i64> = db.query_row("SELECT min(id) FROM event", [], |row| row.get(0))?;
    if let (Some(newest), Some(oldest)) = (newest, oldest)
        && newest - oldest >= 2 * KEPT
    {
        db.execute("DELETE FROM event WHERE id <= ?1", [newest - KEPT])?;
    }
    Ok(())
}
