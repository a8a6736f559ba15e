//! Copies of a whole workshop, made while it is in use, and put back.
//!
//! A backup is a folder of the same form: it can be looked at, checked and opened. Made again into the same folder it copies
//! only new images.

use crate::database::{self, DATABASE, Fault};
use crate::image::{self, ImageName, hex, write_file};
use crate::workshop::IMAGES;
use crate::{Workshop, WorkshopError};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags, Transaction};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How often a copy that another program is in the way of is tried again.
const MOST_TRIES: u32 = 100;

/// What was copied.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// Images that were not there before.
    pub new_images: usize,
    /// All images.
    pub images: usize,
    /// Where the workshop that was there before is now; `None` where there was none.
    pub set_aside: Option<PathBuf>,
}

impl Workshop {
    /// Copies the workshop as it stands into a folder, which is made, or holds an earlier backup of the same workshop.
    ///
    /// # Errors
    /// [`WorkshopError::Refused`] for a folder that holds something else, [`WorkshopError::Full`],
    /// [`WorkshopError::ReadOnly`], [`WorkshopError::ImageDamaged`]: a damaged image never replaces a good copy.
    pub fn back_up(&self, to: &Path, progress: &dyn Fn(f64)) -> Result<Copied, WorkshopError> {
        fs::create_dir_all(to.join(IMAGES)).map_err(|e| WorkshopError::of_file(to, e))?;
        if same_folder(to, self.folder()) {
            return Err(refused(to, "is the workshop itself; choose another folder"));
        }
        self.check_destination(to)?;
        // Images before the database that names them, and those that came in between after it.
        let at = self.folder().join(DATABASE);
        let names = || self.read(|db| image_names(db, &at));
        let first = copy_images(self.folder(), &names()?, to, &|share| progress(0.8 * share))?;
        let from = self.folder().join(DATABASE);
        let connection =
            database::open_again(&from).map_err(|e| WorkshopError::of_database(from, e))?;
        copy_database(&connection, &to.join(DATABASE))?;
        let then = copy_images(self.folder(), &names()?, to, &|_| {})?;
        progress(1.0);
        Ok(Copied {
            new_images: first.new_images + then.new_images,
            ..then
        })
    }

    /// A folder for a backup is empty, or holds one of this workshop.
    fn check_destination(&self, to: &Path) -> Result<(), WorkshopError> {
        let file = to.join(DATABASE);
        if !file.exists() {
            let strange = fs::read_dir(to)
                .map_err(|e| WorkshopError::of_file(to, e))?
                .flatten()
                .any(|e| e.file_name() != IMAGES);
            if strange {
                return Err(refused(
                    to,
                    "is not empty and holds no backup; choose an empty folder",
                ));
            }
            return Ok(());
        }
        let there = open_to_read(&file)?;
        let said = |e| WorkshopError::of_database(&file, e);
        let marks = database::marks(&there).map_err(said)?;
        database::check_marks(&file, &marks, true)?;
        let identity = |db: &Connection| {
            db.query_row("SELECT id FROM identity", [], |row| {
                row.get::<_, [u8; 16]>(0)
            })
        };
        // A backup that was killed before its first end is blank, and may be made anew.
        let ours = self.read(|db| Ok(identity(db)?))?;
        if !marks.blank && identity(&there).map_err(said)? != ours {
            return Err(refused(
                to,
                "holds the backup of another workshop; choose another folder",
            ));
        }
        Ok(())
    }
}

/// Puts a backup in a workshop's place, after all of it was read and found sound. A workshop that is there already is set
/// aside whole, where `replace` allows it.
///
/// # Errors
/// [`WorkshopError::Refused`] where a workshop is there and `replace` is false, or the backup is not sound;
/// [`WorkshopError::Busy`] where another program has that workshop open; and as for [`Workshop::open`].
pub fn restore(
    backup: &Path,
    folder: &Path,
    replace: bool,
    progress: &dyn Fn(f64),
) -> Result<Copied, WorkshopError> {
    if same_folder(backup, folder) {
        return Err(refused(
            backup,
            "is the workshop itself; name the backup's folder",
        ));
    }
    let there = Workshop::is_there(folder);
    if there && !replace {
        return Err(refused(
            folder,
            "holds a workshop already; choose another folder, or allow it to be replaced (it is set aside, not deleted)",
        ));
    }
    if !there && fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(refused(
            folder,
            "is not empty and holds no workshop; choose another folder",
        ));
    }
    if !Workshop::is_there(backup) {
        return Err(WorkshopError::NotThere {
            folder: backup.into(),
        });
    }
    let fresh = beside(folder, "restoring");
    if fresh.exists() {
        fs::remove_dir_all(&fresh).map_err(|e| WorkshopError::of_file(&fresh, e))?;
    }
    let copied = copy_and_check(backup, &fresh, progress);
    let copied = match copied {
        Ok(copied) => copied,
        Err(e) => {
            let _ = fs::remove_dir_all(&fresh);
            return Err(e);
        }
    };
    let set_aside = if there {
        check_alone(&folder.join(DATABASE))?;
        Some(free_name(&beside(folder, "before-restore")))
    } else {
        None
    };
    put_in_place(&fresh, folder, set_aside.as_deref(), &|from, to| {
        fs::rename(from, to)
    })?;
    Ok(Copied {
        set_aside,
        ..copied
    })
}

/// Sets the folder aside where asked, and puts the fresh one in its place: that, or all is where it was.
fn put_in_place(
    fresh: &Path,
    folder: &Path,
    aside: Option<&Path>,
    rename: &dyn Fn(&Path, &Path) -> io::Result<()>,
) -> Result<(), WorkshopError> {
    if let Some(aside) = aside {
        rename(folder, aside).map_err(|e| WorkshopError::of_file(folder, e))?;
    }
    // An empty folder may be there; a rename over it is not possible everywhere.
    let _ = fs::remove_dir(folder);
    let Err(source) = rename(fresh, folder) else {
        return Ok(());
    };
    if let Some(aside) = aside
        && rename(aside, folder).is_err()
    {
        return Err(WorkshopError::LeftAside {
            folder: folder.into(),
            aside: aside.into(),
            source,
        });
    }
    let _ = fs::remove_dir_all(fresh);
    Err(WorkshopError::of_file(folder, source))
}

/// Nothing is written to the backup, which may lie on a disk that cannot be written.
fn copy_and_check(
    backup: &Path,
    fresh: &Path,
    progress: &dyn Fn(f64),
) -> Result<Copied, WorkshopError> {
    fs::create_dir_all(fresh.join(IMAGES)).map_err(|e| WorkshopError::of_file(fresh, e))?;
    let file = backup.join(DATABASE);
    let said = |e| WorkshopError::of_database(&file, e);
    let mut from = open_to_read(&file)?;
    database::check_marks(&file, &database::marks(&from).map_err(said)?, false)?;
    copy_database(&from, &fresh.join(DATABASE))?;
    let names =
        database::read(&mut from, |db| image_names(db, &file)).map_err(|f| f.told(&file))?;
    let copied = copy_images(backup, &names, fresh, &|share| progress(0.5 * share))?;
    let checked = Workshop::open(fresh)?.check(&|share| progress(0.5 + 0.5 * share))?;
    if checked.is_sound() {
        return Ok(copied);
    }
    let worst = checked.findings.first().map_or("", |f| f.text.as_str());
    Err(refused(
        backup,
        &format!("is not sound: {worst} Choose another backup"),
    ))
}

/// Copies those images that are not there yet.
fn copy_images(
    from: &Path,
    names: &[ImageName],
    to: &Path,
    progress: &dyn Fn(f64),
) -> Result<Copied, WorkshopError> {
    let mut new_images = 0;
    for (n, name) in names.iter().enumerate() {
        progress(n as f64 / names.len() as f64);
        let (source, at) = (from.join(name.to_string()), to.join(name.to_string()));
        let length = |path: &Path| fs::metadata(path).map(|m| m.len()).ok();
        if length(&at).is_some() && length(&at) == length(&source) {
            continue;
        }
        let bytes = image::read_file(&source, name)?;
        write_file(&at, &bytes).map_err(|e| WorkshopError::of_file(&at, e))?;
        new_images += 1;
    }
    Ok(Copied {
        new_images,
        images: names.len(),
        set_aside: None,
    })
}

/// All images; one of an unknown kind is told, and never left out.
fn image_names(db: &Transaction<'_>, database: &Path) -> Result<Vec<ImageName>, Fault> {
    let mut statement = db.prepare("SELECT digest, kind FROM image ORDER BY digest")?;
    let rows: Vec<([u8; 32], String)> = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    rows.into_iter()
        .map(|(digest, kind)| {
            ImageName::from_row(digest, &kind).ok_or_else(|| {
                Fault::Told(WorkshopError::Damaged {
                    at: database.into(),
                    problem: format!("the image {} of the kind {kind:?}", hex(&digest)),
                })
            })
        })
        .collect()
}

/// All of a database at one moment; the copy is whole or as it was, also where this is killed.
fn copy_database(from: &Connection, to: &Path) -> Result<(), WorkshopError> {
    let said = |e| WorkshopError::of_database(to, e);
    let mut copy = Connection::open(to).map_err(said)?;
    copy.pragma_update(None, "synchronous", "full")
        .map_err(said)?;
    {
        let backup = Backup::new(from, &mut copy).map_err(said)?;
        let mut tries = 0;
        while backup.step(-1).map_err(said)? != StepResult::Done {
            tries += 1;
            if tries > MOST_TRIES {
                return Err(WorkshopError::Busy { at: to.into() });
            }
            std::thread::sleep(Duration::from_millis(100));
        }
    }
    // One file, that can be read where nothing can be written.
    copy.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))
        .map_err(said)?;
    copy.close().map_err(|(_, e)| said(e))?;
    File::open(to)
        .and_then(|file| file.sync_all())
        .map_err(|e| WorkshopError::of_file(to, e))
}

/// Refuses a database that any program has open.
fn check_alone(file: &Path) -> Result<(), WorkshopError> {
    let said = |e| WorkshopError::of_database(file, e);
    let connection =
        Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_WRITE).map_err(said)?;
    connection
        .busy_timeout(Duration::from_millis(500))
        .map_err(said)?;
    // To leave the mode with a log, a connection must be the only one. What else can go wrong here is of a damaged
    // database, which may be replaced all the same.
    match connection
        .pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))
        .map_err(said)
    {
        Err(busy @ WorkshopError::Busy { .. }) => Err(busy),
        _ => Ok(()),
    }
}

fn open_to_read(file: &Path) -> Result<Connection, WorkshopError> {
    Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|e| WorkshopError::of_database(file, e))
}

fn refused(at: &Path, problem: &str) -> WorkshopError {
    WorkshopError::Refused {
        what: "the folder",
        problem: format!("{} {problem}", at.display()),
    }
}

fn same_folder(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// A folder's name with a word behind it.
fn beside(folder: &Path, word: &str) -> PathBuf {
    let whole = folder.canonicalize().unwrap_or_else(|_| folder.into());
    let name = whole
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    whole.with_file_name(format!("{name}-{word}"))
}

/// That name, or the first with a number behind it that is free.
fn free_name(wanted: &Path) -> PathBuf {
    let numbered = |n: u32| {
        let name = wanted.file_name().unwrap_or_default().to_string_lossy();
        wanted.with_file_name(format!("{name}-{n}"))
    };
    if !wanted.exists() {
        return wanted.into();
    }
    (2..)
        .map(numbered)
        .find(|p| !p.exists())
        .unwrap_or_else(|| wanted.into())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// A former workshop and a fresh one, each a folder with one file.
    fn two_folders(test: &str) -> [PathBuf; 3] {
        let whole = std::env::temp_dir().join(format!("setapart-{test}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&whole);
        let all = ["fresh", "place", "aside"].map(|name| whole.join(name));
        for folder in &all[..2] {
            fs::create_dir_all(folder).unwrap();
            fs::write(
                folder.join("says"),
                folder.file_name().unwrap().as_encoded_bytes(),
            )
            .unwrap();
        }
        all
    }

    fn says(folder: &Path) -> Option<String> {
        fs::read_to_string(folder.join("says")).ok()
    }

    #[test]
    fn a_workshop_that_nothing_could_take_the_place_of_is_put_back() {
        let [fresh, place, aside] = two_folders("put-back");
        let refused = put_in_place(&fresh, &place, Some(&aside), &|from, to| {
            if from == fresh {
                Err(io::Error::other("no"))
            } else {
                fs::rename(from, to)
            }
        });
        assert!(matches!(refused, Err(WorkshopError::Io { .. })));
        assert_eq!(says(&place).as_deref(), Some("place"));
        assert!(!aside.exists() && !fresh.exists());
        fs::remove_dir_all(place.parent().unwrap()).unwrap();
    }

    #[test]
    fn a_workshop_that_cannot_be_put_back_is_named() {
        let [fresh, place, aside] = two_folders("left-aside");
        let refused = put_in_place(&fresh, &place, Some(&aside), &|from, to| {
            if to == place {
                Err(io::Error::other("no"))
            } else {
                fs::rename(from, to)
            }
        })
        .unwrap_err()
        .to_string();
        assert!(refused.contains(&*aside.to_string_lossy()), "{refused}");
        assert_eq!(says(&aside).as_deref(), Some("place"));
        fs::remove_dir_all(place.parent().unwrap()).unwrap();
    }
}
