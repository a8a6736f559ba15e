//! What all requests share: the store, the work being done, and what is kept in memory, each with its bound.

use super::body;
use super::inside::Sightings;
use super::jobs::{Jobs, locked};
use super::phones::Phones;
use super::pictures::Pictures;
use super::refusal::Refusal;
use super::rooms::sheets::Drawn;
use super::studies::Studies;
use axum::http::StatusCode;
use piece::Piece;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use tokio::sync::{Semaphore, broadcast};
use workshop::{Edit, Event, Merged, Opened, PieceId, RevisionId, State, Workshop, WorkshopError};

/// Pieces that are kept read.
const KEPT_PIECES: usize = 8;

/// Requests that work at once; others wait.
const AT_WORK: usize = 6;

/// Events that a page may fall behind before it is told to look again.
const NEWS: usize = 256;

/// A piece at a revision.
#[derive(Debug, Clone)]
pub(crate) struct OnBench {
    pub(crate) id: PieceId,
    pub(crate) piece: Arc<Piece>,
    pub(crate) state: State,
}

/// The bench.
pub(crate) struct Bench {
    pub(crate) workshop: Workshop,
    pub(crate) jobs: Arc<Jobs>,
    pub(crate) room: Arc<body::Room>,
    pub(crate) pictures: Pictures,
    pub(crate) studies: Studies,
    pub(crate) phones: Phones,
    pub(crate) drawn: Drawn,
    pub(crate) sightings: Sightings,
    pub(crate) news: broadcast::Sender<Event>,
    pieces: Mutex<VecDeque<OnBench>>,
    at_work: Arc<Semaphore>,
}

impl Bench {
    pub(crate) fn new(workshop: Workshop) -> Arc<Self> {
        let threads = std::thread::available_parallelism().map_or(2, usize::from);
        let news = broadcast::channel(NEWS).0;
        let teller = news.clone();
        workshop.on_event(move |event| {
            // Nobody may be listening.
            let _ = teller.send(event.clone());
        });
        Arc::new(Self {
            workshop,
            jobs: Jobs::start(threads.clamp(2, 4)),
            room: Arc::default(),
            pictures: Pictures::default(),
            studies: Studies::default(),
            phones: Phones::default(),
            drawn: Drawn::default(),
            sightings: Sightings::default(),
            news,
            pieces: Mutex::default(),
            at_work: Arc::new(Semaphore::new(AT_WORK)),
        })
    }

    /// Runs short work that blocks (the store, pictures, checks), a few at a time.
    pub(crate) async fn work<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Arc<Self>) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let Ok(_permit) = Arc::clone(&self.at_work).acquire_owned().await else {
            return Err(Refusal::inside("the app is closing"));
        };
        let bench = Arc::clone(self);
        tokio::task::spawn_blocking(move || work(&bench))
            .await
            .unwrap_or_else(|e| Err(Refusal::inside(e)))
    }

    /// The piece as it stands.
    pub(crate) fn piece(&self, id: PieceId) -> Result<OnBench, Refusal> {
        let opened = self.workshop.piece(id)?;
        Ok(self.keep(opened))
    }

    /// The piece at an earlier revision.
    pub(crate) fn piece_at(
        &self,
        id: PieceId,
        revision: RevisionId,
    ) -> Result<Arc<Piece>, Refusal> {
        let kept = locked(&self.pieces)
            .iter()
            .find(|p| p.id == id && p.state.revision == revision)
            .map(|p| Arc::clone(&p.piece));
        match kept {
            Some(piece) => Ok(piece),
            None => Ok(Arc::new(self.workshop.piece_at(id, revision)?)),
        }
    }

    /// Stores a piece that was changed from the state `base`, together with what another window did meanwhile. Where both changed
    /// the same thing nothing is stored, and `conflict` says what happened and what to do.
    pub(crate) fn save(
        &self,
        id: PieceId,
        base: RevisionId,
        piece: Piece,
        edit: &Edit,
        conflict: [&str; 2],
    ) -> Result<OnBench, Refusal> {
        match self.workshop.save_or_merge(id, base, &piece, edit)? {
            Merged::AsGiven(state) => Ok(self.keep(Opened { id, piece, state })),
            Merged::Together(opened) => Ok(self.keep(*opened)),
            Merged::Conflict(_) => {
                let [problem, remedy] = conflict;
                Err(Refusal::new(StatusCode::CONFLICT, problem, remedy))
            }
        }
    }

    /// Keeps a piece that was read or written just now.
    pub(crate) fn keep(&self, opened: Opened) -> OnBench {
        let on_bench = OnBench {
            id: opened.id,
            piece: Arc::new(opened.piece),
            state: opened.state,
        };
        let mut pieces = locked(&self.pieces);
        pieces.retain(|p| p.id != on_bench.id || p.state.revision != on_bench.state.revision);
        pieces.push_front(on_bench.clone());
        pieces.truncate(KEPT_PIECES);
        on_bench
    }
}

impl From<WorkshopError> for Refusal {
    fn from(e: WorkshopError) -> Self {
        let (status, remedy) = match &e {
            WorkshopError::NoSuchPiece(_)
            | WorkshopError::NoSuchPhoto(_)
            | WorkshopError::NoSuchEntry { .. }
            | WorkshopError::NoSuchImage(_) => (
                StatusCode::NOT_FOUND,
                "Go back to the shelf and choose again.",
            ),
            WorkshopError::NoSuchRevision { .. } => (StatusCode::CONFLICT, "Load the page again."),
            WorkshopError::Full { .. } => (
                StatusCode::INSUFFICIENT_STORAGE,
                "Make room on the disk, then press “Try again”; what you did is kept on this page.",
            ),
            WorkshopError::ReadOnly { .. } | WorkshopError::Busy { .. } => (
                StatusCode::SERVICE_UNAVAILABLE,
                "Then press “Try again”; what you did is kept on this page.",
            ),
            WorkshopError::Bundle(_) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "Bring in a bundle or a piece.json that this program wrote; nothing was taken in.",
            ),
            WorkshopError::Unsound(_)
            | WorkshopError::ForeignImage { .. }
            | WorkshopError::TooLarge { .. }
            | WorkshopError::Refused { .. } => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "Correct it and send it again.",
            ),
            _ => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "What was saved before is not lost. Look at `setapart workshop check`.",
            ),
        };
        Self::new(status, crate::say::sentence(&e.to_string()), remedy)
    }
}
