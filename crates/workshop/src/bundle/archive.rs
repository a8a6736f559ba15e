//! The zip of a bundle from outside, read within its limits.

use super::manifest::Told;
use super::{BundleError, MANIFEST, MAX_BUNDLE_BYTES, PHOTOS, PIECE};
use crate::image::ImageName;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::{Read, Seek, SeekFrom};
use zip::{CompressionMethod, ZipArchive};

/// Most files in a bundle.
const MAX_FILES: u64 = 4_000;

pub(super) fn no_bundle(e: zip::result::ZipError) -> BundleError {
    BundleError::NotABundle(format!("{e}; it may be cut short"))
}

/// Looks at the end record (APPNOTE 4.3.16) before anything is built from it: the number of entries is bounded, nothing
/// follows it, and no 64-bit records stand beside it.
pub(super) fn check_end(from: &mut (impl Read + Seek)) -> Result<(), BundleError> {
    const END: usize = 22;
    const LOCATOR: usize = 20;
    let io = |e: std::io::Error| BundleError::NotABundle(e.to_string());
    let length = from.seek(SeekFrom::End(0)).map_err(io)?;
    if length > MAX_BUNDLE_BYTES {
        return Err(BundleError::TooLarge {
            found: length,
            limit: MAX_BUNDLE_BYTES,
            unit: "bytes",
        });
    }
    let mut tail = Vec::new();
    from.seek(SeekFrom::Start(
        length.saturating_sub((END + LOCATOR) as u64),
    ))
    .map_err(io)?;
    from.take((END + LOCATOR) as u64)
        .read_to_end(&mut tail)
        .map_err(io)?;
    let plain = "it is not a zip file without comment, as bundles are";
    let end = tail.len().checked_sub(END).map(|at| &tail[at..]);
    let Some(
        [
            b'P',
            b'K',
            5,
            6,
            disk,
            disk2,
            start,
            start2,
            here,
            here2,
            all,
            all2,
            rest @ ..,
        ],
    ) = end
    else {
        return Err(BundleError::NotABundle(plain.into()));
    };
    let number = |low: &u8, high: &u8| u16::from_le_bytes([*low, *high]);
    let one_disk =
        number(disk, disk2) == 0 && number(start, start2) == 0 && (here, here2) == (all, all2);
    if !one_disk
        || rest[8..] != [0, 0]
        || (tail.len() == END + LOCATOR && tail.starts_with(b"PK\x06\x07"))
    {
        return Err(BundleError::NotABundle(plain.into()));
    }
    let found = u64::from(number(all, all2));
    if found > MAX_FILES {
        return Err(BundleError::TooLarge {
            found,
            limit: MAX_FILES,
            unit: "files",
        });
    }
    from.seek(SeekFrom::Start(0)).map_err(io)?;
    Ok(())
}

/// The entry's name, where it is a plain file that a bundle has.
pub(super) fn plain_name<R: Read + Seek>(
    archive: &mut ZipArchive<R>,
    i: usize,
) -> Result<String, BundleError> {
    let entry = archive.by_index_raw(i).map_err(no_bundle)?;
    let name = String::from_utf8_lossy(entry.entry().name_raw()).into_owned();
    let known =
        [MANIFEST, PIECE, PHOTOS].contains(&name.as_str()) || name.parse::<ImageName>().is_ok();
    if !known {
        return Err(BundleError::OddName { name });
    }
    let entry = entry.entry();
    let plain = !entry.encrypted()
        && !entry.is_symlink()
        && matches!(
            entry.compression(),
            CompressionMethod::Stored | CompressionMethod::Deflated
        );
    if !plain {
        return Err(BundleError::Disagrees {
            name,
            problem: "is encrypted, a link, or packed in a way that bundles do not use",
        });
    }
    Ok(name)
}

/// Unpacks at most `most` bytes of an entry; one byte more is an error.
pub(super) fn read_entry<R: Read + Seek>(
    archive: &mut ZipArchive<R>,
    name: &str,
    most: u64,
) -> Result<Vec<u8>, BundleError> {
    let disagrees = |problem| BundleError::Disagrees {
        name: name.into(),
        problem,
    };
    let index = archive
        .index_for_name(name)
        .ok_or_else(|| disagrees("is missing"))?;
    let mut entry = archive.by_index(index).map_err(no_bundle)?;
    let mut bytes = Vec::new();
    entry
        .by_ref()
        .take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|_| disagrees("cannot be unpacked"))?;
    if bytes.len() as u64 > most {
        return Err(disagrees("is longer than it may be"));
    }
    Ok(bytes)
}

/// An entry with the size and the hash that the manifest says.
pub(super) fn checked<R: Read + Seek>(
    archive: &mut ZipArchive<R>,
    told: &BTreeMap<String, Told>,
    name: &str,
) -> Result<Vec<u8>, BundleError> {
    let disagrees = |problem| BundleError::Disagrees {
        name: name.into(),
        problem,
    };
    let told = told.get(name).ok_or_else(|| disagrees("is missing"))?;
    let bytes = read_entry(archive, name, told.bytes)?;
    if bytes.len() as u64 != told.bytes {
        return Err(disagrees("is shorter than the manifest says"));
    }
    if <[u8; 32]>::from(Sha256::digest(&bytes)) != told.digest {
        return Err(disagrees("has another hash than the manifest says"));
    }
    Ok(bytes)
}
