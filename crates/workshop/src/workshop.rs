//! The workshop: one folder with a database and images.

use crate::database::{self, Fault};
use crate::event::Listeners;
use crate::flush::Flusher;
use crate::{Event, WorkshopError};
use rusqlite::{Connection, Transaction};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

/// Name of the images' folder in a workshop's folder.
pub(crate) const IMAGES: &str = "images";

/// Connections for reading that are kept for the next reader.
const KEPT_READERS: usize = 4;

/// A store that is open. Clones are handles on the same one, for any number of threads.
#[derive(Clone)]
pub struct Workshop {
    pub(crate) inner: Arc<Inner>,
}

pub(crate) struct Inner {
    folder: PathBuf,
    file: PathBuf,
    writer: Mutex<Connection>,
    readers: Mutex<Vec<Connection>>,
    // Behind the other connections: the last flush comes when nothing is written any more.
    flusher: Flusher,
    pub(crate) texts: Texts,
    pub(crate) listeners: Listeners,
}

impl std::fmt::Debug for Workshop {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Workshop")
            .field("folder", &self.inner.folder)
            .finish_non_exhaustive()
    }
}

impl Workshop {
    /// Opens the workshop in a folder, and brings one of an older form up to date.
    ///
    /// # Errors
    /// [`WorkshopError::NotThere`], [`WorkshopError::NotAWorkshop`], [`WorkshopError::Newer`],
    /// [`WorkshopError::ReadOnly`], and what else can go wrong with a database.
    pub fn open(folder: impl AsRef<Path>) -> Result<Self, WorkshopError> {
        let folder = folder.as_ref();
        if !Self::is_there(folder) {
            return Err(WorkshopError::NotThere {
                folder: folder.into(),
            });
        }
        Self::open_with(folder, false)
    }

    /// Opens the workshop in a folder; makes folder and workshop where there is none.
    ///
    /// # Errors
    /// As for [`Workshop::open`].
    pub fn open_or_create(folder: impl AsRef<Path>) -> Result<Self, WorkshopError> {
        Self::open_with(folder.as_ref(), true)
    }

    /// Whether a folder holds a workshop's database.
    pub fn is_there(folder: impl AsRef<Path>) -> bool {
        folder.as_ref().join(database::DATABASE).is_file()
    }

    fn open_with(folder: &Path, create: bool) -> Result<Self, WorkshopError> {
        let images = folder.join(IMAGES);
        if create {
            std::fs::create_dir_all(folder).map_err(|e| WorkshopError::of_file(folder, e))?;
        }
        let file = folder.join(database::DATABASE);
        let writer = database::open(&file, create)?;
        std::fs::create_dir_all(&images).map_err(|e| WorkshopError::of_file(&images, e))?;
        let to_flush =
            database::open_again(&file).map_err(|e| WorkshopError::of_database(&file, e))?;
        let flusher = Flusher::start(to_flush).map_err(|e| WorkshopError::of_file(&file, e))?;
        Ok(Self {
            inner: Arc::new(Inner {
                folder: folder.into(),
                texts: Texts::of(&file),
                file,
                writer: Mutex::new(writer),
                readers: Mutex::new(Vec::new()),
                flusher,
                listeners: Listeners::default(),
            }),
        })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.inner.folder
    }

    /// Runs work on one unchanging view.
    pub(crate) fn read<T>(
        &self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, Fault>,
    ) -> Result<T, WorkshopError> {
        let told = |fault: Fault| fault.told(&self.inner.file);
        let kept = lock(&self.inner.readers).pop();
        let mut reader = match kept {
            Some(reader) => reader,
            None => database::open_again(&self.inner.file).map_err(|e| told(e.into()))?,
        };
        let result = database::read(&mut reader, work).map_err(told);
        let mut readers = lock(&self.inner.readers);
        if readers.len() < KEPT_READERS {
            readers.push(reader);
        }
        result
    }

    /// Runs work in one transaction; what it reports is told to listeners after the commit.
    pub(crate) fn write<T>(
        &self,
        work: impl FnOnce(&Writing<'_>) -> Result<T, Fault>,
    ) -> Result<T, WorkshopError> {
        let told = |fault: Fault| fault.told(&self.inner.file);
        let events = Mutex::new(Vec::new());
        let result = {
            let mut writer = lock(&self.inner.writer);
            database::write(&mut writer, |db| {
                work(&Writing {
                    db,
                    texts: &self.inner.texts,
                    events: &events,
                    now_ms: now_ms(),
                })
            })
            .map_err(told)?
        };
        self.inner.flusher.committed();
        let events = events.into_inner().unwrap_or_else(PoisonError::into_inner);
        self.inner.listeners.tell(&events);
        Ok(result)
    }
}

/// A transaction that writes.
pub(crate) struct Writing<'a> {
    pub(crate) db: &'a Transaction<'a>,
    pub(crate) texts: &'a Texts,
    pub(crate) events: &'a Mutex<Vec<Event>>,
    pub(crate) now_ms: i64,
}

/// Whole texts that were read or written lately. Revisions never change, so that what is kept is never wrong.
pub(crate) struct Texts {
    database: PathBuf,
    kept: Mutex<VecDeque<(i64, Arc<str>)>>,
}

impl Texts {
    /// How many texts are kept, and how many bytes in all.
    const MOST: usize = 32;
    const MOST_BYTES: usize = 32 << 20;

    pub(crate) fn of(database: &Path) -> Self {
        Self {
            database: database.into(),
            kept: Mutex::new(VecDeque::new()),
        }
    }

    pub(crate) fn database(&self) -> &Path {
        &self.database
    }

    pub(crate) fn kept(&self, revision: i64) -> Option<Arc<str>> {
        let kept = lock(&self.kept);
        kept.iter()
            .find(|(r, _)| *r == revision)
            .map(|(_, text)| Arc::clone(text))
    }

    pub(crate) fn keep(&self, revision: i64, text: Arc<str>) {
        let mut kept = lock(&self.kept);
        kept.retain(|(r, _)| *r != revision);
        kept.push_back((revision, text));
        while kept.len() > Self::MOST
            || (kept.len() > 1
                && kept.iter().map(|(_, t)| t.len()).sum::<usize>() > Self::MOST_BYTES)
        {
            kept.pop_front();
        }
    }
}

/// A lock is only poisoned by a panic elsewhere; what it guards is whole all the same (SQLite rolls back).
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Milliseconds since 1970 (UTC).
pub(crate) fn now_ms() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|d| i64::try_from(d.as_millis()).ok())
        .unwrap_or(0)
}
