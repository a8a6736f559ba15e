//! Bundles: one piece in one file, to share or to keep.
//!
//! A zip with `manifest.json` (names, sizes and SHA-256 of all others), `piece.json`, `photos.json` where photos go along, and
//! the images by their names. Taken out of its zip, it is a folder that every command reads. The same piece gives the same
//! bytes.
//!
//! A bundle from outside is believed in nothing: entries have names of these four forms only, so that no name ever leads to
//! a path; the manifest's sizes bound what is unpacked; hashes are checked before anything is stored.

mod archive;
mod manifest;

use crate::image::ImageName;
use crate::photo::{Photo, Role, Work};
use crate::{Opened, PieceId, Workshop, WorkshopError};
use archive::{check_end, checked, no_bundle, plain_name, read_entry};
use manifest::{Listed, Manifest, Told, check_manifest, listed, photos_from_json};
use piece::Piece;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Seek, Write};
use zip::read::{ArchiveOffset, Config};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// Largest bundle, and most bytes that one unpacks to.
pub const MAX_BUNDLE_BYTES: u64 = 2 << 30;

/// Largest manifest, bytes.
const MAX_MANIFEST_BYTES: u64 = 2 << 20;

const FORMAT: &str = "setapart-bundle";
const VERSION: u32 = 1;
const MANIFEST: &str = "manifest.json";
const PIECE: &str = "piece.json";
const PHOTOS: &str = "photos.json";

/// Why a file is no sound bundle.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BundleError {
    /// Not a zip of the plain kind that bundles are.
    #[error("not a bundle: {0}")]
    NotABundle(String),
    /// Made by a later version of this program.
    #[error(
        "the bundle has version {found}; this program reads up to {VERSION}: use the newer version of the program"
    )]
    Newer {
        /// Its version.
        found: u32,
    },
    /// A name that no file of a bundle has.
    #[error(
        "the bundle holds a file named {name:?}, which no bundle has; it was not made by this program, or was changed"
    )]
    OddName {
        /// The name.
        name: String,
    },
    /// A file that the manifest does not list, or the other way round.
    #[error("{name}: {problem}; the bundle is damaged or was changed")]
    Disagrees {
        /// The file in the bundle.
        name: String,
        /// What is wrong.
        problem: &'static str,
    },
    /// More than a bundle may hold.
    #[error("the bundle has {found} {unit}, the limit is {limit}")]
    TooLarge {
        /// How much it has, or says that it has.
        found: u64,
        /// How much it may have.
        limit: u64,
        /// Of what.
        unit: &'static str,
    },
    /// A document in it cannot be read.
    #[error("{name}: {problem}")]
    Document {
        /// The document.
        name: &'static str,
        /// What is wrong, with the field's path.
        problem: String,
    },
}

/// A photo in a bundle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundledPhoto {
    /// The picture.
    pub image: ImageName,
    /// What its file was called.
    pub name: String,
    /// What it shows.
    pub role: Role,
    /// The work on it.
    pub work: Work,
}

/// A bundle that is open: its documents were read and checked, its images are read one by one.
pub struct Bundle<R> {
    archive: ZipArchive<R>,
    told: BTreeMap<String, Told>,
    piece: Piece,
    photos: Vec<BundledPhoto>,
}

impl<R: Read + Seek> Bundle<R> {
    /// Opens a bundle and checks all but its images.
    ///
    /// # Errors
    /// [`BundleError`].
    pub fn open(mut from: R) -> Result<Self, BundleError> {
        check_end(&mut from)?;
        let config = Config {
            archive_offset: ArchiveOffset::Known(0),
        };
        let mut archive = ZipArchive::with_config(config, from).map_err(no_bundle)?;
        archive.validate_header_consistency().map_err(no_bundle)?;
        let mut names = BTreeSet::new();
        for i in 0..archive.len() {
            names.insert(plain_name(&mut archive, i)?);
        }
        let manifest = read_entry(&mut archive, MANIFEST, MAX_MANIFEST_BYTES)?;
        let told = check_manifest(&manifest, &names)?;
        let text = checked(&mut archive, &told, PIECE)?;
        let piece = Piece::from_json(&text).map_err(|e| BundleError::Document {
            name: PIECE,
            problem: e.to_string(),
        })?;
        let photos = if told.contains_key(PHOTOS) {
            photos_from_json(&checked(&mut archive, &told, PHOTOS)?)?
        } else {
            Vec::new()
        };
        let bundle = Self {
            archive,
            told,
            piece,
            photos,
        };
        bundle.check_images_listed()?;
        Ok(bundle)
    }

    /// The piece.
    pub fn piece(&self) -> &Piece {
        &self.piece
    }

    /// The photos that go along.
    pub fn photos(&self) -> &[BundledPhoto] {
        &self.photos
    }

    /// Names of all images in it.
    pub fn images(&self) -> Vec<ImageName> {
        self.told
            .keys()
            .filter_map(|name| name.parse().ok())
            .collect()
    }

    /// Unpacks an image, and checks that it is what its name says.
    ///
    /// # Errors
    /// [`BundleError::Disagrees`].
    pub fn image(&mut self, name: &ImageName) -> Result<Vec<u8>, BundleError> {
        let entry = name.to_string();
        let bytes = checked(&mut self.archive, &self.told, &entry)?;
        match ImageName::of(&bytes) {
            Ok(found) if found == *name => Ok(bytes),
            _ => Err(BundleError::Disagrees {
                name: entry,
                problem: "is not the picture that its name says",
            }),
        }
    }

    /// Each image that the documents name is there, and none besides.
    fn check_images_listed(&self) -> Result<(), BundleError> {
        let mut named = BTreeSet::new();
        for part in &self.piece.parts {
            for image in part.images() {
                let name: ImageName = image.parse().map_err(|_| BundleError::Document {
                    name: PIECE,
                    problem: format!(
                        "part {}: its cut-out {image:?} is no image of a bundle",
                        part.id
                    ),
                })?;
                named.insert(name.to_string());
            }
        }
        named.extend(self.photos.iter().map(|p| p.image.to_string()));
        let there: BTreeSet<&String> = self
            .told
            .keys()
            .filter(|n| n.starts_with("images/"))
            .collect();
        if let Some(missing) = named.iter().find(|n| !there.contains(n)) {
            return Err(BundleError::Disagrees {
                name: missing.clone(),
                problem: "is missing",
            });
        }
        if let Some(spare) = there.into_iter().find(|n| !named.contains(*n)) {
            return Err(BundleError::Disagrees {
                name: spare.clone(),
                problem: "is named by nothing",
            });
        }
        Ok(())
    }
}

impl Workshop {
    /// Writes a piece as it stands into a bundle. Photos go along where asked; they may tell where they were taken.
    ///
    /// # Errors
    /// [`WorkshopError::NoSuchPiece`], [`WorkshopError::ImageDamaged`], [`WorkshopError::Io`] of the bundle's file,
    /// which the caller names.
    pub fn write_bundle(
        &self,
        id: PieceId,
        with_photos: bool,
        out: impl Write + Seek,
    ) -> Result<(), WorkshopError> {
        let piece = self.piece(id)?.piece;
        let photos: Vec<BundledPhoto> = if with_photos {
            self.photos(id)?.into_iter().map(bundled).collect()
        } else {
            Vec::new()
        };
        let mut images: BTreeSet<ImageName> = photos.iter().map(|p| p.image).collect();
        images.extend(
            piece
                .parts
                .iter()
                .flat_map(piece::Part::images)
                .filter_map(|image| image.parse::<ImageName>().ok()),
        );
        let mut documents = vec![(PIECE.to_string(), piece.to_json().into_bytes())];
        if with_photos {
            let text = serde_json::to_vec_pretty(&photos).unwrap_or_default();
            documents.push((PHOTOS.to_string(), text));
        }
        // Images are read twice, so that only one at a time is in memory.
        let mut files: Vec<Listed> = documents
            .iter()
            .map(|(name, bytes)| listed(name, bytes))
            .collect();
        for name in &images {
            files.push(listed(&name.to_string(), &self.image(name)?));
        }
        let manifest = Manifest {
            format: FORMAT.into(),
            version: VERSION,
            files,
        };
        let manifest = serde_json::to_vec_pretty(&manifest).unwrap_or_default();
        let mut writer = ZipWriter::new(out);
        let mut put = |name: &str, bytes: &[u8], method| -> Result<(), WorkshopError> {
            let failed = |e: std::io::Error| WorkshopError::of_file("the bundle", e);
            writer
                .start_file(name, options(method))
                .map_err(|e| failed(e.into()))?;
            writer.write_all(bytes).map_err(failed)
        };
        put(MANIFEST, &manifest, CompressionMethod::Deflated)?;
        for (name, bytes) in &documents {
            put(name, bytes, CompressionMethod::Deflated)?;
        }
        for name in &images {
            // Pictures are packed already.
            put(
                &name.to_string(),
                &self.image(name)?,
                CompressionMethod::Stored,
            )?;
        }
        writer
            .finish()
            .and_then(|mut out| Ok(out.flush()?))
            .map_err(|e| WorkshopError::of_file("the bundle", e.into()))
    }

    /// Stores the piece of a bundle as a new one, with its images and photos.
    ///
    /// # Errors
    /// [`WorkshopError::Bundle`]; nothing but images that nobody shows is stored then.
    pub fn read_bundle(&self, from: impl Read + Seek) -> Result<Opened, WorkshopError> {
        let mut bundle = Bundle::open(from)?;
        for name in bundle.images() {
            let bytes = bundle.image(&name)?;
            self.add_image(&bytes)?;
        }
        let opened = self.new_piece(bundle.piece())?;
        for photo in bundle.photos() {
            self.add_photo(
                opened.id,
                &photo.image,
                &photo.name,
                photo.role,
                &photo.work,
            )?;
        }
        Ok(opened)
    }
}

fn bundled(photo: Photo) -> BundledPhoto {
    BundledPhoto {
        image: photo.image,
        name: photo.name,
        role: photo.role,
        work: photo.work,
    }
}

/// The same for every file and on every system: no time, no owner.
fn options(method: CompressionMethod) -> SimpleFileOptions {
    SimpleFileOptions::default()
        .compression_method(method)
        .compression_level(None)
        .last_modified_time(DateTime::default())
        .system(zip::System::Unix)
        .unix_permissions(0o644)
}
