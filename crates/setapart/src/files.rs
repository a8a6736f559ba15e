//! Reading under limits and writing without leaving half a file.

use crate::failure::Failure;
use crate::say;
use std::fs::{self, File};
use std::io::{IsTerminal, Read, Write};
use std::path::{Component, Path, PathBuf};

/// What standard input is called where a file's name would stand.
pub(crate) const STANDARD_INPUT: &str = "standard input";

/// Reads a file of at most `limit` bytes.
pub(crate) fn read(path: &Path, limit: u64, what: &'static str) -> Result<Vec<u8>, Failure> {
    let failed = |source| Failure::Read {
        path: path.into(),
        source,
    };
    let file = File::open(path).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(failed(std::io::ErrorKind::IsADirectory.into()));
    }
    read_limited(file, path, limit, what)
}

/// Where a path that a document names leads, seen from the document's folder; `None` where it leads out of that folder.
pub(crate) fn path_inside(folder: &Path, named: &str) -> Option<PathBuf> {
    let inside = Path::new(named)
        .components()
        .all(|c| matches!(c, Component::Normal(_)));
    inside.then(|| folder.join(named))
}

/// Reads standard input, at most `limit` bytes.
pub(crate) fn read_stdin(limit: u64, what: &'static str) -> Result<Vec<u8>, Failure> {
    if std::io::stdin().is_terminal() {
        say::note(format_args!(
            "setapart: waiting for {what} on standard input; to name a file instead, see --help\n"
        ));
    }
    read_limited(
        std::io::stdin().lock(),
        Path::new(STANDARD_INPUT),
        limit,
        what,
    )
}

fn read_limited(
    from: impl Read,
    path: &Path,
    limit: u64,
    what: &'static str,
) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    from.take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(|source| Failure::Read {
            path: path.into(),
            source,
        })?;
    if bytes.len() as u64 > limit {
        return Err(Failure::TooLarge {
            path: path.into(),
            limit,
            what,
        });
    }
    Ok(bytes)
}

/// A set of files that is written together: each to a temporary name first, and only when all are there each takes its
/// place. What fails leaves everything as it was; where even that cannot be, the failure names what stands changed.
#[derive(Default)]
pub(crate) struct Outputs {
    files: Vec<(PathBuf, Vec<u8>)>,
}

/// A file that was replaced and could not be taken back.
#[derive(Debug)]
pub(crate) struct Changed {
    pub(crate) path: PathBuf,
    /// Where its former content is kept; `None` where there was no such file.
    pub(crate) former: Option<PathBuf>,
}

/// A file that waits under a temporary name.
struct Waiting<'a> {
    temporary: PathBuf,
    path: &'a Path,
    /// A second name of the file that is to be replaced.
    former: Option<PathBuf>,
}

type Rename<'a> = &'a dyn Fn(&Path, &Path) -> std::io::Result<()>;

impl Outputs {
    pub(crate) fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), bytes.into()));
    }

    /// The files' paths, in the order in which they were added.
    pub(crate) fn paths(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(|(path, _)| path.as_path())
    }

    /// The files themselves, for whoever does not write them.
    pub(crate) fn into_files(self) -> impl Iterator<Item = (PathBuf, Vec<u8>)> {
        self.files.into_iter()
    }

    /// Writes all files, making folders as needed.
    pub(crate) fn write(&self) -> Result<(), Failure> {
        self.write_by(&|from, to| fs::rename(from, to))
    }

    fn write_by(&self, rename: Rename<'_>) -> Result<(), Failure> {
        let mut waiting = Vec::new();
        let mut made = Vec::new();
        let result = self
            .files
            .iter()
            .try_for_each(|(path, bytes)| prepare(path, bytes, &mut waiting, &mut made))
            .and_then(|()| put_in_place(&waiting, rename));
        let kept: Vec<&Changed> = match &result {
            Err(Failure::WriteSome { changed, .. }) => changed.iter().collect(),
            _ => Vec::new(),
        };
        for w in &waiting {
            let _ = fs::remove_file(&w.temporary);
            if let Some(former) = &w.former
                && !kept.iter().any(|c| c.former.as_ref() == Some(former))
            {
                let _ = fs::remove_file(former);
            }
        }
        if result.is_err() {
            // Those that hold something by now stay.
            for folder in made.iter().rev() {
                let _ = fs::remove_dir(folder);
            }
        }
        result
    }
}

/// Writes one file under a temporary name, and gives the file that it will replace a second name.
fn prepare<'a>(
    path: &'a Path,
    bytes: &[u8],
    waiting: &mut Vec<Waiting<'a>>,
    made: &mut Vec<PathBuf>,
) -> Result<(), Failure> {
    let failed = |source| Failure::Write {
        path: path.into(),
        source,
    };
    if path.is_dir() {
        return Err(failed(std::io::ErrorKind::IsADirectory.into()));
    }
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        let missing = folder
            .ancestors()
            .take_while(|f| !f.as_os_str().is_empty() && !f.exists());
        let mut missing: Vec<PathBuf> = missing.map(Path::to_path_buf).collect();
        missing.reverse();
        made.append(&mut missing);
        fs::create_dir_all(folder).map_err(failed)?;
    }
    let former = path.exists().then(|| beside(path, "former"));
    let temporary = beside(path, "part");
    // Remembered before they are made, so that whatever comes to be is cleared away.
    waiting.push(Waiting {
        temporary: temporary.clone(),
        path,
        former: former.clone(),
    });
    let mut file = File::create(&temporary).map_err(failed)?;
    file.write_all(bytes)
        .and_then(|()| file.sync_all())
        .map_err(failed)?;
    if let Some(former) = former {
        // One left by a run that was killed would be in the way. Some file systems know no second names.
        let _ = fs::remove_file(&former);
        fs::hard_link(path, &former)
            .or_else(|_| fs::copy(path, &former).map(drop))
            .map_err(failed)?;
    }
    Ok(())
}

/// Gives all files their own names; where one cannot have it, those before it are taken back.
fn put_in_place(waiting: &[Waiting<'_>], rename: Rename<'_>) -> Result<(), Failure> {
    for (n, w) in waiting.iter().enumerate() {
        let Err(source) = rename(&w.temporary, w.path) else {
            continue;
        };
        let taken_back = |done: &&Waiting<'_>| match &done.former {
            Some(former) => rename(former, done.path).is_ok(),
            None => fs::remove_file(done.path).is_ok(),
        };
        let changed: Vec<Changed> = waiting[..n]
            .iter()
            .rev()
            .filter(|done| !taken_back(done))
            .map(|done| Changed {
                path: done.path.into(),
                former: done.former.clone(),
            })
            .collect();
        return Err(if changed.is_empty() {
            Failure::Write {
                path: w.path.into(),
                source,
            }
        } else {
            Failure::WriteSome {
                path: w.path.into(),
                source,
                changed,
            }
        });
    }
    Ok(())
}

/// A name of our own beside a file's.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}.{ending}", std::process::id()))
}

/// Writes one file whole or not at all.
pub(crate) fn write(path: &Path, bytes: impl Into<Vec<u8>>) -> Result<(), Failure> {
    let mut outputs = Outputs::default();
    outputs.add(path, bytes);
    outputs.write()
}

/// Refuses a folder for outputs that is a file, or lies below one.
pub(crate) fn folder_can_be(folder: &Path) -> Result<(), Failure> {
    match folder.ancestors().find(|p| p.exists()) {
        Some(there) if !there.is_dir() => Err(Failure::Write {
            path: folder.into(),
            source: std::io::Error::from(std::io::ErrorKind::NotADirectory),
        }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;
    use std::io::ErrorKind;

    /// A folder of this test's own, empty.
    fn folder(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("setapart-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        path
    }

    fn contents(folder: &Path) -> Vec<(String, String)> {
        let mut found: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap())
            .map(|e| {
                let name = e.file_name().to_string_lossy().into_owned();
                (name, fs::read_to_string(e.path()).unwrap())
            })
            .collect();
        found.sort();
        found
    }

    fn pairs(list: &[(&str, &str)]) -> Vec<(String, String)> {
        let owned = |(a, b): &(&str, &str)| ((*a).to_string(), (*b).to_string());
        list.iter().map(owned).collect()
    }

    /// Three files, the second of which is there already.
    fn three(folder: &Path) -> Outputs {
        fs::write(folder.join("b"), "old").unwrap();
        let mut outputs = Outputs::default();
        for name in ["a", "b", "c"] {
            outputs.add(folder.join(name), format!("new {name}"));
        }
        outputs
    }

    /// Renames until the turns that fail.
    fn failing_at(turns: &'static [usize]) -> impl Fn(&Path, &Path) -> std::io::Result<()> {
        let turn = Cell::new(0);
        move |from, to| {
            turn.set(turn.get() + 1);
            if turns.contains(&turn.get()) {
                return Err(ErrorKind::StorageFull.into());
            }
            fs::rename(from, to)
        }
    }

    #[test]
    fn all_files_come_and_nothing_else_stays() {
        let folder = folder("all");
        three(&folder).write().unwrap();
        let there = pairs(&[("a", "new a"), ("b", "new b"), ("c", "new c")]);
        assert_eq!(contents(&folder), there);
        fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn a_file_that_cannot_take_its_place_leaves_everything_as_it_was() {
        let folder = folder("none");
        let failure = three(&folder).write_by(&failing_at(&[3])).unwrap_err();
        assert!(failure.to_string().contains("cannot write"), "{failure}");
        assert_eq!(contents(&folder), pairs(&[("b", "old")]));
        fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn what_cannot_be_taken_back_is_named() {
        let folder = folder("told");
        // The third rename fails, and so does the fourth, which would bring the old second file back.
        let failure = three(&folder).write_by(&failing_at(&[3, 4])).unwrap_err();
        let said = failure.to_string();
        assert!(
            said.contains("changed already") && said.contains(&*folder.join("b").to_string_lossy()),
            "{said}"
        );
        assert!(
            !said.contains(&*folder.join("a").to_string_lossy()),
            "{said}"
        );
        // Its former content is kept, under the name that is told.
        let kept = beside(&folder.join("b"), "former");
        assert!(said.contains(&*kept.to_string_lossy()), "{said}");
        let kept = kept.file_name().unwrap().to_string_lossy().into_owned();
        assert_eq!(contents(&folder), pairs(&[(&kept, "old"), ("b", "new b")]));
        fs::remove_dir_all(folder).unwrap();
    }
}
