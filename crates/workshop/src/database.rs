//! Connections to the database: opening, form, transactions.

use crate::WorkshopError;
use crate::flush::MOST_PAGES_IN_LOG;
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::path::Path;
use std::time::Duration;

/// The database's name in a workshop's folder.
pub(crate) const DATABASE: &str = "workshop.db";

/// Marks the file as ours (`PRAGMA application_id`): "Setp".
pub(crate) const APPLICATION_ID: i64 = 0x5365_7470;

/// How the tables come to be: step N makes form N+1 of form N.
const STEPS: &[&str] = &[include_str!("schema.sql")];

/// How long a call waits for another process that writes.
const PATIENCE: Duration = Duration::from_secs(10);

/// What stops a transaction: SQLite, or a reason of ours.
pub(crate) enum Fault {
    Sql(rusqlite::Error),
    Told(WorkshopError),
}

impl From<rusqlite::Error> for Fault {
    fn from(e: rusqlite::Error) -> Self {
        Self::Sql(e)
    }
}

impl From<WorkshopError> for Fault {
    fn from(e: WorkshopError) -> Self {
        Self::Told(e)
    }
}

impl Fault {
    pub(crate) fn told(self, file: &Path) -> WorkshopError {
        match self {
            Self::Sql(e) => WorkshopError::of_database(file, e),
            Self::Told(e) => e,
        }
    }
}

/// The newest form that this program knows.
pub(crate) fn newest_form() -> i64 {
    STEPS.len() as i64
}

/// What a database says of itself.
pub(crate) struct Marks {
    pub(crate) application_id: i64,
    pub(crate) form: i64,
    /// Nothing was ever stored in it.
    pub(crate) blank: bool,
}

pub(crate) fn marks(connection: &Connection) -> rusqlite::Result<Marks> {
    let number = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let tables: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(Marks {
        application_id: number("application_id")?,
        form: number("user_version")?,
        blank: tables == 0,
    })
}

/// Refuses what is not a workshop of a form known here. A blank file is one where it may be made one.
pub(crate) fn check_marks(
    file: &Path,
    marks: &Marks,
    may_be_blank: bool,
) -> Result<(), WorkshopError> {
    if marks.blank && may_be_blank && marks.application_id == 0 && marks.form == 0 {
        return Ok(());
    }
    if marks.application_id != APPLICATION_ID {
        return Err(WorkshopError::NotAWorkshop { file: file.into() });
    }
    if marks.form > newest_form() {
        return Err(WorkshopError::Newer {
            file: file.into(),
            found: marks.form,
            known: newest_form(),
        });
    }
    Ok(())
}

/// Opens a database to read and write, brings it to the newest form, and makes one where asked.
pub(crate) fn open(file: &Path, create: bool) -> Result<Connection, WorkshopError> {
    let said = |e| WorkshopError::of_database(file, e);
    let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    if create {
        flags |= OpenFlags::SQLITE_OPEN_CREATE;
    }
    let mut connection = Connection::open_with_flags(file, flags).map_err(said)?;
    connection.busy_timeout(PATIENCE).map_err(said)?;
    let found = marks(&connection).map_err(said)?;
    check_marks(file, &found, create)?;
    // A file that may not be written opens all the same, for reading.
    if connection.is_readonly(rusqlite::MAIN_DB).map_err(said)? {
        return Err(WorkshopError::ReadOnly { at: file.into() });
    }
    set_up(&connection).map_err(said)?;
    if found.form < newest_form() {
        bring_up(&mut connection, file, STEPS)?;
    }
    Ok(connection)
}

/// Opens another connection to a database that is open already.
pub(crate) fn open_again(file: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(file, flags)?;
    connection.busy_timeout(PATIENCE)?;
    set_up(&connection)?;
    Ok(connection)
}

fn set_up(connection: &Connection) -> rusqlite::Result<()> {
    connection.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))?;
    // A commit reaches the system before it is confirmed, and the disk within a fraction of a second (`Flusher`).
    connection.pragma_update(None, "synchronous", "normal")?;
    connection.pragma_update(None, "wal_autocheckpoint", MOST_PAGES_IN_LOG)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Takes the steps that are missing, all or none.
fn bring_up(connection: &mut Connection, file: &Path, steps: &[&str]) -> Result<(), WorkshopError> {
    let said = |e| WorkshopError::of_database(file, e);
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Exclusive)
        .map_err(said)?;
    // Another process may have been quicker.
    let form = marks(&transaction).map_err(said)?.form;
    for (n, step) in steps
        .iter()
        .enumerate()
        .skip(usize::try_from(form).unwrap_or(0))
    {
        transaction.execute_batch(step).map_err(said)?;
        transaction
            .pragma_update(None, "user_version", n as i64 + 1)
            .map_err(said)?;
    }
    transaction
        .pragma_update(None, "application_id", APPLICATION_ID)
        .map_err(said)?;
    transaction.commit().map_err(said)
}

/// Runs work in one transaction that writes: all of it is done, or nothing.
pub(crate) fn write<T>(
    connection: &mut Connection,
    work: impl FnOnce(&Transaction<'_>) -> Result<T, Fault>,
) -> Result<T, Fault> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let result = work(&transaction)?;
    transaction.commit()?;
    Ok(result)
}

/// Runs work on one unchanging view of the database.
pub(crate) fn read<T>(
    connection: &mut Connection,
    work: impl FnOnce(&Transaction<'_>) -> Result<T, Fault>,
) -> Result<T, Fault> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Deferred)?;
    work(&transaction)
}
