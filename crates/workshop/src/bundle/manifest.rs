//! What a bundle says of itself: its manifest and its list of photos, written and checked.

use super::{
    BundleError, BundledPhoto, FORMAT, MANIFEST, MAX_BUNDLE_BYTES, PHOTOS, PIECE, VERSION,
};
use crate::MAX_IMAGE_BYTES;
use crate::image::{digest_from_hex, hex};
use piece::MAX_DOCUMENT_BYTES;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// Most photos in a bundle.
const MAX_PHOTOS: usize = 1_000;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Manifest {
    pub(super) format: String,
    pub(super) version: u32,
    pub(super) files: Vec<Listed>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Listed {
    pub(super) name: String,
    pub(super) bytes: u64,
    pub(super) sha256: String,
}

/// What may be told of a file before it is unpacked.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    pub(super) bytes: u64,
    pub(super) digest: [u8; 32],
}

pub(super) fn listed(name: &str, bytes: &[u8]) -> Listed {
    let digest: [u8; 32] = Sha256::digest(bytes).into();
    Listed {
        name: name.into(),
        bytes: bytes.len() as u64,
        sha256: hex(&digest),
    }
}

/// The manifest's entries, where they are those of the zip and within the limits.
pub(super) fn check_manifest(
    text: &[u8],
    names: &BTreeSet<String>,
) -> Result<BTreeMap<String, Told>, BundleError> {
    let document = |problem: String| BundleError::Document {
        name: MANIFEST,
        problem,
    };
    /// Read first, so that a bundle of a later version is told as such.
    #[derive(Deserialize)]
    struct Version {
        format: String,
        version: u32,
    }
    let version: Version = serde_json::from_slice(text).map_err(|e| document(e.to_string()))?;
    if version.format != FORMAT {
        return Err(BundleError::NotABundle(format!(
            "its format is {:?}",
            version.format
        )));
    }
    if version.version > VERSION {
        return Err(BundleError::Newer {
            found: version.version,
        });
    }
    let manifest: Manifest = shape::from_json(text).map_err(|e| document(e.to_string()))?;
    let mut told = BTreeMap::new();
    let mut total = 0u64;
    for file in manifest.files {
        let limit = match file.name.as_str() {
            PIECE | PHOTOS => MAX_DOCUMENT_BYTES as u64,
            _ => MAX_IMAGE_BYTES,
        };
        total = total.saturating_add(file.bytes);
        if file.bytes > limit || total > MAX_BUNDLE_BYTES {
            return Err(BundleError::TooLarge {
                found: file.bytes.max(total),
                limit: limit.min(MAX_BUNDLE_BYTES),
                unit: "bytes",
            });
        }
        let digest = digest_from_hex(&file.sha256).ok_or_else(|| {
            document(format!(
                "{}: sha256 is not 64 hexadecimal digits",
                file.name
            ))
        })?;
        let listed = Told {
            bytes: file.bytes,
            digest,
        };
        if told.insert(file.name.clone(), listed).is_some() {
            return Err(BundleError::Disagrees {
                name: file.name,
                problem: "is listed twice",
            });
        }
    }
    if let Some(unlisted) = names
        .iter()
        .find(|n| *n != MANIFEST && !told.contains_key(*n))
    {
        return Err(BundleError::Disagrees {
            name: unlisted.clone(),
            problem: "is not listed in the manifest",
        });
    }
    if let Some(missing) = told.keys().find(|n| !names.contains(*n)) {
        return Err(BundleError::Disagrees {
            name: missing.clone(),
            problem: "is listed in the manifest and is not there",
        });
    }
    Ok(told)
}

pub(super) fn photos_from_json(text: &[u8]) -> Result<Vec<BundledPhoto>, BundleError> {
    let document = |problem: String| BundleError::Document {
        name: PHOTOS,
        problem,
    };
    let photos: Vec<BundledPhoto> = shape::from_json(text).map_err(|e| document(e.to_string()))?;
    if photos.len() > MAX_PHOTOS {
        return Err(BundleError::TooLarge {
            found: photos.len() as u64,
            limit: MAX_PHOTOS as u64,
            unit: "photos",
        });
    }
    Ok(photos)
}
