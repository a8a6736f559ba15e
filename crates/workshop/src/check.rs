//! Is everything there, and is it what it was?

use crate::database::Fault;
use crate::image::{ImageName, hex};
use crate::workshop::IMAGES;
use crate::{Workshop, WorkshopError, drawer, ledger_records, revision};
use piece::{Finding, Level, Piece};
use rusqlite::{Connection, OptionalExtension};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::path::Path;

/// What a check found.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// How many pieces there are, those in the bin too.
    pub pieces: usize,
    /// How many states of pieces and of work were read.
    pub revisions: usize,
    /// How many images were read.
    pub images: usize,
    /// What is wrong, the worst first; the codes begin with `store.`.
    pub findings: Vec<Finding>,
}

impl Workshop {
    /// Reads everything that is stored, and says what is not as it was. `progress` is told how much of all is done, 0 to 1.
    ///
    /// Codes: `store.database` (SQLite's own check), `store.reference` (a row that leads nowhere), `store.revision` (a state
    /// that cannot be read), `store.entry` (a part in the drawer or an outcome that cannot be read), `store.image-missing`,
    /// `store.image-changed`, `store.image-kind` (an image of a kind that this program does not know), `store.image-spare` (a
    /// file that nothing shows), `store.leftover` (what a write that was cut off left behind).
    ///
    /// # Errors
    /// Where the database cannot be read at all.
    pub fn check(&self, progress: &dyn Fn(f64)) -> Result<Checked, WorkshopError> {
        let folder = self.folder().to_owned();
        self.read(|db| {
            let mut checked = Checked {
                pieces: count(db, "SELECT count(*) FROM piece")?,
                revisions: 0,
                images: 0,
                findings: Vec::new(),
            };
            checked.check_database(db)?;
            checked.check_entries(db, self)?;
            progress(0.1);
            checked.check_revisions(db, self, &|share| progress(0.1 + 0.6 * share))?;
            checked.check_images(db, &folder, &|share| progress(0.7 + 0.3 * share))?;
            Finding::sort(&mut checked.findings);
            Ok(checked)
        })
    }
}

fn count(db: &Connection, sql: &str) -> Result<usize, Fault> {
    let n: i64 = db.query_row(sql, [], |row| row.get(0))?;
    Ok(usize::try_from(n).unwrap_or(0))
}

impl Checked {
    /// Whether nothing is lost.
    pub fn is_sound(&self) -> bool {
        self.findings.iter().all(|f| f.level == Level::Note)
    }

    fn found(&mut self, level: Level, code: &str, text: String, remedy: &str) {
        let code = format!("store.{code}");
        self.findings
            .push(Finding::new(level, code, Vec::new(), text, remedy));
    }

    fn check_database(&mut self, db: &Connection) -> Result<(), Fault> {
        let mut statement = db.prepare("PRAGMA integrity_check(20)")?;
        let said: Vec<String> = statement
            .query_map([], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        for problem in said.iter().filter(|s| *s != "ok") {
            self.found(
                Level::Stop,
                "database",
                format!("The database is damaged: {problem}."),
                "Keep a copy of the folder, and restore the last backup.",
            );
        }
        let mut statement = db.prepare("PRAGMA foreign_key_check")?;
        let rows = statement.query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, Option<i64>>(1)?))
        })?;
        for row in rows {
            let (table, id) = row?;
            let which = id.map_or(String::new(), |id| format!(" number {id}"));
            self.found(
                Level::Stop,
                "reference",
                format!("The entry{which} in {table:?} leads to something that is not there."),
                "Restore the last backup.",
            );
        }
        Ok(())
    }

    fn check_entries(&mut self, db: &Connection, store: &Workshop) -> Result<(), Fault> {
        let database = store.inner.texts.database();
        let mut problems = drawer::unreadable(db, database)?;
        problems.extend(ledger_records::unreadable(db, database)?);
        for problem in problems {
            self.found(
                Level::Stop,
                "entry",
                format!("An entry cannot be read: {problem}."),
                "Restore the last backup.",
            );
        }
        Ok(())
    }

    fn check_revisions(
        &mut self,
        db: &Connection,
        store: &Workshop,
        progress: &dyn Fn(f64),
    ) -> Result<(), Fault> {
        // By base, so that each whole text is unpacked once.
        let mut statement = db.prepare(
            "SELECT revision.id, document.kind, document.head = revision.id FROM revision \
             JOIN document ON document.id = revision.document ORDER BY ifnull(base, revision.id), revision.id",
        )?;
        let rows: Vec<(i64, String, bool)> = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
            .collect::<Result<_, _>>()?;
        for (n, (id, kind, is_head)) in rows.iter().enumerate() {
            if n % 64 == 0 {
                progress(n as f64 / rows.len() as f64);
            }
            let problem = match revision::text_of(db, &store.inner.texts, *id) {
                Ok(text) if *is_head && kind == "piece" => Piece::from_json(text.as_bytes())
                    .err()
                    .map(|e| e.to_string()),
                Ok(_) => None,
                Err(Fault::Told(WorkshopError::Damaged { problem, .. })) => Some(problem),
                Err(other) => return Err(other),
            };
            if let Some(problem) = problem {
                self.found(
                    Level::Stop,
                    "revision",
                    format!("State {id} of a {kind} cannot be read: {problem}."),
                    "Restore the last backup.",
                );
            }
        }
        self.revisions = rows.len();
        Ok(())
    }

    fn check_images(
        &mut self,
        db: &Connection,
        folder: &Path,
        progress: &dyn Fn(f64),
    ) -> Result<(), Fault> {
        let mut statement = db.prepare("SELECT digest, kind, bytes FROM image ORDER BY digest")?;
        let rows: Vec<([u8; 32], String, u32)> = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
            .collect::<Result<_, _>>()?;
        let mut known = BTreeSet::new();
        // Without the ending of their names.
        let mut strange = BTreeSet::new();
        for (n, (digest, kind, bytes)) in rows.iter().enumerate() {
            progress(n as f64 / rows.len() as f64);
            let Some(name) = ImageName::from_row(*digest, kind) else {
                let stem = format!("{IMAGES}/{}", hex(digest));
                self.found(
                    Level::Stop,
                    "image-kind",
                    format!(
                        "The image {stem} is of the kind {kind:?}, which this program does not know; {}.",
                        shown_by(db, digest)?
                    ),
                    "Keep its file, and restore the last backup; a newer version of this program may know the kind.",
                );
                strange.insert(stem);
                continue;
            };
            let text = name.to_string();
            let (code, problem) = match std::fs::read(folder.join(&text)) {
                Ok(read) if <[u8; 32]>::from(Sha256::digest(&read)) == *digest => ("", ""),
                Ok(read) if read.len() < *bytes as usize => ("image-changed", "is cut short"),
                Ok(_) => ("image-changed", "is not the picture it was"),
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                    ("image-missing", "is missing")
                }
                Err(_) => ("image-changed", "cannot be read"),
            };
            if !code.is_empty() {
                self.found(
                    Level::Stop,
                    code,
                    format!("The file {text} {problem}; {}.", shown_by(db, digest)?),
                    "Copy it from a backup, or add the same photo again.",
                );
            }
            known.insert(text);
        }
        self.images = rows.len();
        self.check_folder(folder, |name| {
            let stem = name.split_once('.').map_or(name, |(stem, _)| stem);
            known.contains(name) || strange.contains(stem)
        });
        Ok(())
    }

    fn check_folder(&mut self, folder: &Path, is_known: impl Fn(&str) -> bool) {
        let Ok(entries) = std::fs::read_dir(folder.join(IMAGES)) else {
            return;
        };
        let mut names: Vec<String> = entries
            .flatten()
            .map(|e| format!("{IMAGES}/{}", e.file_name().to_string_lossy()))
            .collect();
        names.sort();
        for name in names {
            if name.ends_with(".part") {
                self.found(
                    Level::Note,
                    "leftover",
                    format!("The file {name} was left by a write that was cut off."),
                    "It can be deleted.",
                );
            } else if !is_known(&name) {
                self.found(
                    Level::Note,
                    "image-spare",
                    format!("The file {name} is shown by nothing."),
                    "It can be deleted.",
                );
            }
        }
    }
}

/// Which pieces show an image, in words.
fn shown_by(db: &Connection, digest: &[u8; 32]) -> Result<String, Fault> {
    let names: Option<String> = db
        .query_row(
            "SELECT group_concat(name, ', ') FROM piece JOIN piece_image ON piece_image.piece = piece.id \
             WHERE piece_image.image = ?1",
            [digest],
            |row| row.get(0),
        )
        .optional()?
        .flatten();
    Ok(names.map_or_else(
        || "no piece shows it".into(),
        |names| format!("it is shown in: {names}"),
    ))
}
