//! Reading under limits and writing without leaving half a file.

use crate::failure::Failure;
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

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

/// Reads standard input, at most `limit` bytes.
pub(crate) fn read_stdin(limit: u64, what: &'static str) -> Result<Vec<u8>, Failure> {
    read_limited(
        std::io::stdin().lock(),
        Path::new("standard input"),
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

/// A set of files that is written together: each to a temporary name first, and only when all are
/// there each is renamed. What fails before leaves nothing behind.
#[derive(Default)]
pub(crate) struct Outputs {
    files: Vec<(PathBuf, Vec<u8>)>,
}

impl Outputs {
    pub(crate) fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), bytes.into()));
    }

    /// The files' paths, in the order in which they were added.
    pub(crate) fn paths(&self) -> impl Iterator<Item = &Path> {
        self.files.iter().map(|(path, _)| path.as_path())
    }

    /// Writes all files, making folders as needed.
    pub(crate) fn write(&self) -> Result<(), Failure> {
        let mut waiting: Vec<(PathBuf, &Path)> = Vec::new();
        let result = self.files.iter().try_for_each(|(path, bytes)| {
            let failed = |source| Failure::Write {
                path: path.clone(),
                source,
            };
            if path.is_dir() {
                return Err(failed(std::io::ErrorKind::IsADirectory.into()));
            }
            if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
                fs::create_dir_all(folder).map_err(failed)?;
            }
            let temporary = temporary_name(path);
            waiting.push((temporary.clone(), path));
            let mut file = File::create(&temporary).map_err(failed)?;
            file.write_all(bytes)
                .and_then(|()| file.sync_all())
                .map_err(failed)
        });
        let renamed = result.and_then(|()| {
            waiting.iter().try_for_each(|(temporary, path)| {
                fs::rename(temporary, path).map_err(|source| Failure::Write {
                    path: (*path).into(),
                    source,
                })
            })
        });
        if renamed.is_err() {
            for (temporary, _) in &waiting {
                let _ = fs::remove_file(temporary);
            }
        }
        renamed
    }
}

fn temporary_name(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
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
