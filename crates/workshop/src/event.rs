//! What happened, for pages that are open.

use crate::database::Fault;
use crate::workshop::{Writing, lock};
use crate::{PieceId, Workshop};
use serde::Serialize;
use std::sync::{Arc, Mutex};

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
    /// What came of verdicts.
    Outcome,
    /// The settings.
    Settings,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Event {
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
    /// Notes an event, to be told once the transaction is stored. Always ok, so that it can stand last in one.
    pub(crate) fn happened(
        &self,
        subject: Subject,
        piece: Option<PieceId>,
        number: Option<i64>,
    ) -> Result<(), Fault> {
        lock(self.events).push(Event {
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
    /// thread that wrote, and should hand on and return. What other processes do is not told.
    pub fn on_event(&self, listener: impl Fn(&Event) + Send + Sync + 'static) {
        lock(&self.inner.listeners.0).push(Arc::new(listener));
    }
}
