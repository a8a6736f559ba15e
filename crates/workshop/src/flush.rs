//! Brings commits to the disk soon after they were confirmed, without making anybody wait.
//!
//! A commit that was confirmed is in the system's hands: a program that is killed loses none. The disk has it only after the
//! log was flushed, which takes some 5 ms here and would be most of a save. So a thread of its own flushes the log a
//! moment after a commit, and carries it over into the database (a checkpoint); a power failure can take no more than that
//! moment, and never leaves half an edit.

use rusqlite::Connection;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// From the first commit that is not on the disk to the flush.
const MOMENT: Duration = Duration::from_millis(200);

/// Pages in the log that a commit carries over itself, where the thread cannot keep up: 80 MB.
pub(crate) const MOST_PAGES_IN_LOG: i64 = 20_000;

/// The thread that flushes; it ends, after a last flush, when this is dropped.
pub(crate) struct Flusher {
    committed: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Flusher {
    /// Starts the thread, with a connection of its own.
    pub(crate) fn start(connection: Connection) -> std::io::Result<Self> {
        let (committed, commits) = channel();
        let thread = std::thread::Builder::new()
            .name("workshop-flush".into())
            .spawn(move || flush_until_closed(&connection, &commits))?;
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

fn flush_until_closed(connection: &Connection, commits: &Receiver<()>) {
    while commits.recv().is_ok() {
        let end = Instant::now() + MOMENT;
        // Whatever else is committed within the moment is flushed with it.
        let closed = loop {
            match commits.recv_timeout(end.saturating_duration_since(Instant::now())) {
                Ok(()) => {}
                Err(RecvTimeoutError::Timeout) => break false,
                Err(RecvTimeoutError::Disconnected) => break true,
            }
        };
        // Nobody is kept waiting: what readers still need stays in the log until the next time. A failure loses nothing,
        // since the log has all; whoever commits when the disk is full is told.
        let _ = connection.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()));
        if closed {
            return;
        }
    }
}
