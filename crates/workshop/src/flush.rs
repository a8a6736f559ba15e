//! Brings commits to the disk soon after they were confirmed, without making anybody wait.
//!
//! A commit that was confirmed is in the system's hands: a program that is killed loses none. The disk has it only after the
//! log was flushed, which takes some 5 ms here and would be most of a save. So a thread of its own flushes the log a
//! moment after the last commit; a power failure can take no more than that moment, and never leaves half an edit.

use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// From a commit to the flush of the log.
const MOMENT: Duration = Duration::from_millis(200);

/// The thread that flushes; it ends, after a last flush, when this is dropped.
pub(crate) struct Flusher {
    committed: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Flusher {
    pub(crate) fn start(database: &Path) -> std::io::Result<Self> {
        let log = log_of(database);
        let (committed, commits) = channel();
        let thread = std::thread::Builder::new()
            .name("workshop-flush".into())
            .spawn(move || flush_until_closed(&log, &commits))?;
        Ok(Self {
            committed: Some(committed),
            thread: Some(thread),
        })
    }

    /// Says that something was committed.
    pub(crate) fn committed(&self) {
        if let Some(committed) = &self.committed {
            // The thread lives as long as this does.
            let _ = committed.send(());
        }
    }
}

impl Drop for Flusher {
    fn drop(&mut self) {
        self.committed.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn flush_until_closed(log: &Path, commits: &Receiver<()>) {
    while commits.recv().is_ok() {
        // Whatever else is committed within the moment is flushed with it.
        let closed = loop {
            match commits.recv_timeout(MOMENT) {
                Ok(()) => {}
                Err(RecvTimeoutError::Timeout) => break false,
                Err(RecvTimeoutError::Disconnected) => break true,
            }
        };
        flush(log);
        if closed {
            return;
        }
    }
}

/// Where SQLite writes commits first.
fn log_of(database: &Path) -> PathBuf {
    let mut name = database.as_os_str().to_owned();
    name.push("-wal");
    name.into()
}

/// A failure here is not lost: the next checkpoint flushes too, and says so to whoever commits.
fn flush(log: &Path) {
    let _ = File::open(log).and_then(|file| file.sync_data());
}
