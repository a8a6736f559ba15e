//! Images, kept by what is in them: the same picture is stored once, and a name never means another picture.

use crate::database::Fault;
use crate::words::Word;
use crate::workshop::now_ms;
use crate::{PieceId, Workshop, WorkshopError};
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// Largest image, bytes: as for a photo.
pub const MAX_IMAGE_BYTES: u64 = 64 << 20;

/// Formats, told by a file's first bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the names say it")]
pub enum ImageKind {
    Jpeg,
    Png,
    WebP,
    Tiff,
    Heic,
    Svg,
}

impl Word for ImageKind {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Self::Jpeg, "jpg"),
        (Self::Png, "png"),
        (Self::WebP, "webp"),
        (Self::Tiff, "tif"),
        (Self::Heic, "heic"),
        (Self::Svg, "svg"),
    ];
}

impl ImageKind {
    /// The ending of its files' names.
    pub fn ending(self) -> &'static str {
        self.word()
    }

    /// The format that a file's first bytes promise; whether it keeps the promise is for its reader to find out.
    pub fn of_bytes(bytes: &[u8]) -> Option<Self> {
        let brand = bytes.get(8..12);
        Some(match bytes {
            [0xff, 0xd8, 0xff, ..] => Self::Jpeg,
            [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Self::Png,
            [b'R', b'I', b'F', b'F', ..] if brand == Some(b"WEBP") => Self::WebP,
            [b'I', b'I', 42, 0, ..] | [b'M', b'M', 0, 42, ..] => Self::Tiff,
            [_, _, _, _, b'f', b't', b'y', b'p', ..]
                if matches!(
                    brand,
                    Some(b"heic" | b"heix" | b"mif1" | b"msf1" | b"heim" | b"heis" | b"hevc")
                ) =>
            {
                Self::Heic
            }
            _ => {
                let start = bytes.trim_ascii_start();
                let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start);
                let svg = start.starts_with(b"<svg") || start.starts_with(b"<?xml");
                return svg.then_some(Self::Svg);
            }
        })
    }
}

/// Names an image by what is in it: `images/`, the SHA-256 of its bytes, and the format's ending. A piece's cut-outs carry
/// this text. It is also where the file lies in the workshop's folder and in a bundle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct ImageName {
    digest: [u8; 32],
    kind: ImageKind,
}

/// Why a text names no image.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "an image's name is images/, 64 hexadecimal digits in lower case, and .jpg, .png, .webp, .tif, .heic or .svg"
)]
pub struct ImageNameError;

impl ImageName {
    /// The name that these bytes have.
    ///
    /// # Errors
    /// [`WorkshopError::Refused`] for what is no picture, [`WorkshopError::TooLarge`].
    pub fn of(bytes: &[u8]) -> Result<Self, WorkshopError> {
        if bytes.len() as u64 > MAX_IMAGE_BYTES {
            return Err(WorkshopError::TooLarge {
                what: "the image",
                found: bytes.len() as u64,
                limit: MAX_IMAGE_BYTES,
                unit: "bytes",
            });
        }
        let kind = ImageKind::of_bytes(bytes).ok_or(WorkshopError::Refused {
            what: "the image",
            problem: "is none of JPEG, PNG, WebP, TIFF, HEIC and SVG".into(),
        })?;
        Ok(Self {
            digest: Sha256::digest(bytes).into(),
            kind,
        })
    }

    pub(crate) fn from_row(digest: [u8; 32], ending: &str) -> Option<Self> {
        let kind = ImageKind::of_word(ending)?;
        Some(Self { digest, kind })
    }

    /// The format.
    pub fn kind(&self) -> ImageKind {
        self.kind
    }

    /// SHA-256 of the bytes.
    pub fn digest(&self) -> &[u8; 32] {
        &self.digest
    }
}

impl std::fmt::Display for ImageName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "images/{}.{}", hex(&self.digest), self.kind.ending())
    }
}

impl std::str::FromStr for ImageName {
    type Err = ImageNameError;

    fn from_str(text: &str) -> Result<Self, ImageNameError> {
        let name = text.strip_prefix("images/").ok_or(ImageNameError)?;
        let (hex, ending) = name.split_once('.').ok_or(ImageNameError)?;
        let kind = ImageKind::of_word(ending).ok_or(ImageNameError)?;
        let digest = digest_from_hex(hex).ok_or(ImageNameError)?;
        Ok(Self { digest, kind })
    }
}

/// 64 digits of lower case.
pub(crate) fn hex(digest: &[u8; 32]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads what [`hex`] writes.
pub(crate) fn digest_from_hex(hex: &str) -> Option<[u8; 32]> {
    let digit = |b: u8| match b {
        b'0'..=b'9' => Some(b - b'0'),
        b'a'..=b'f' => Some(b - b'a' + 10),
        _ => None,
    };
    let hex: &[u8; 64] = hex.as_bytes().try_into().ok()?;
    let mut digest = [0; 32];
    for (byte, pair) in digest.iter_mut().zip(hex.chunks_exact(2)) {
        *byte = digit(pair[0])? << 4 | digit(pair[1])?;
    }
    Some(digest)
}

impl TryFrom<String> for ImageName {
    type Error = ImageNameError;
    fn try_from(text: String) -> Result<Self, ImageNameError> {
        text.parse()
    }
}

impl From<ImageName> for String {
    fn from(name: ImageName) -> Self {
        name.to_string()
    }
}

impl Workshop {
    /// Stores an image; one that is there already is not stored again.
    ///
    /// # Errors
    /// As for [`ImageName::of`]; [`WorkshopError::Full`], [`WorkshopError::ReadOnly`].
    pub fn add_image(&self, bytes: &[u8]) -> Result<ImageName, WorkshopError> {
        let name = ImageName::of(bytes)?;
        let there = self.read(|db| known(db, &name))?;
        let at = self.image_path(&name);
        if !there || fs::metadata(&at).map_or(true, |m| m.len() != bytes.len() as u64) {
            // The file first: a program that is killed in between leaves a file too many, never one too few.
            write_file(&at, bytes).map_err(|e| WorkshopError::of_file(&at, e))?;
        }
        if !there {
            self.write(|w| {
                w.db.execute(
                    "INSERT OR IGNORE INTO image (digest, kind, bytes, added_ms) VALUES (?1, ?2, ?3, ?4)",
                    params![name.digest, name.kind.ending(), bytes.len() as i64, now_ms()],
                )?;
                Ok(())
            })?;
        }
        Ok(name)
    }

    /// An image's bytes, checked to be what they were.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchImage`], [`WorkshopError::ImageDamaged`].
    pub fn image(&self, name: &ImageName) -> Result<Vec<u8>, WorkshopError> {
        if !self.read(|db| known(db, name))? {
            return Err(WorkshopError::NoSuchImage(*name));
        }
        read_file(&self.image_path(name), name)
    }

    /// Where an image's file lies.
    pub fn image_path(&self, name: &ImageName) -> PathBuf {
        self.folder().join(name.to_string())
    }
}

/// An image's file, checked to be what its name says.
pub(crate) fn read_file(file: &Path, name: &ImageName) -> Result<Vec<u8>, WorkshopError> {
    let damaged = |problem: &str| WorkshopError::ImageDamaged {
        file: file.into(),
        problem: problem.into(),
    };
    let bytes = fs::read(file).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => damaged("the file is gone"),
        _ => WorkshopError::of_file(file, e),
    })?;
    if <[u8; 32]>::from(Sha256::digest(&bytes)) != name.digest {
        return Err(damaged("its content has changed"));
    }
    Ok(bytes)
}

/// Whether the database knows the image.
fn known(db: &Connection, name: &ImageName) -> Result<bool, Fault> {
    let kind: Option<String> = db
        .prepare_cached("SELECT kind FROM image WHERE digest = ?1")?
        .query_row([name.digest], |row| row.get(0))
        .optional()?;
    Ok(kind.as_deref() == Some(name.kind.ending()))
}

/// Refuses an image that is not there.
pub(crate) fn check_known(db: &Connection, name: &ImageName) -> Result<(), Fault> {
    if known(db, name)? {
        Ok(())
    } else {
        Err(WorkshopError::NoSuchImage(*name).into())
    }
}

/// Notes that a piece shows an image.
pub(crate) fn join(db: &Connection, piece: PieceId, name: &ImageName) -> Result<(), Fault> {
    let joined = db
        .prepare_cached("SELECT 1 FROM piece_image WHERE piece = ?1 AND image = ?2")?
        .exists(params![piece.0, name.digest])?;
    if !joined {
        check_known(db, name)?;
        db.prepare_cached("INSERT INTO piece_image (piece, image) VALUES (?1, ?2)")?
            .execute(params![piece.0, name.digest])?;
    }
    Ok(())
}

/// Writes a file whole, or not at all, and on the disk before it returns.
pub(crate) fn write_file(at: &Path, bytes: &[u8]) -> std::io::Result<()> {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let n = COUNT.fetch_add(1, Ordering::Relaxed);
    let name = at.file_name().unwrap_or_default().to_string_lossy();
    let temporary = at.with_file_name(format!(".{name}.{}-{n}.part", std::process::id()));
    let written = File::create(&temporary)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&temporary, at));
    if written.is_err() {
        let _ = fs::remove_file(&temporary);
    }
    written?;
    // The name is on the disk too, where the system can promise it.
    if let Some(folder) = at.parent()
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
    Ok(())
}
