//! Why no homes could be found.

use capture::{CaptureError, SilhouetteError};
use shape::Cancelled;

/// Why photos gave no homes. Each says what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HomesError {
    /// The sheet was not found in a photo, or nothing lies on it.
    #[error("{source}")]
    Capture {
        /// Which photo, in the order in which they were given.
        photo: usize,
        /// What is wrong with it.
        source: Box<CaptureError>,
    },
    /// The picture was not taken by a camera over a sheet.
    #[error("inside photos are taken by a camera over a capture sheet; this one is a scan")]
    NoCamera {
        /// Which photo.
        photo: usize,
    },
    /// Nothing to look for.
    #[error("the piece has no parts yet; capture them first")]
    NoParts,
    /// Nothing to look at.
    #[error("no inside photo was given; take one of the opened device on a capture sheet")]
    NoPhotos,
    /// More photos than are taken at once.
    #[error("{found} inside photos, at most {most}; one or two of each stage are enough")]
    TooManyPhotos {
        /// How many were given.
        found: usize,
        /// How many are taken.
        most: usize,
    },
    /// The photo shows too little detail.
    #[error(
        "the photo shows {px_per_mm:.1} pixels a millimetre, at least {least} are needed; take it nearer or larger"
    )]
    TooCoarse {
        /// Which photo.
        photo: usize,
        /// Pixels on a millimetre of the sheet.
        px_per_mm: f64,
        /// The fewest that are taken.
        least: f64,
    },
    /// Stopped by the caller.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<CaptureError> for HomesError {
    fn from(source: CaptureError) -> Self {
        match source {
            CaptureError::Silhouette(SilhouetteError::Cancelled(stopped)) => {
                Self::Cancelled(stopped)
            }
            source => Self::Capture {
                photo: 0,
                source: Box::new(source),
            },
        }
    }
}

impl HomesError {
    /// The photo that it is about.
    pub fn photo(&self) -> Option<usize> {
        match self {
            Self::Capture { photo, .. }
            | Self::NoCamera { photo }
            | Self::TooCoarse { photo, .. } => Some(*photo),
            _ => None,
        }
    }

    /// The same about that photo.
    pub(crate) fn in_photo(mut self, number: usize) -> Self {
        if let Self::Capture { photo, .. }
        | Self::NoCamera { photo }
        | Self::TooCoarse { photo, .. } = &mut self
        {
            *photo = number;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_while_a_photo_is_captured_is_a_stop_and_no_fault_of_the_photo() {
        let stopped = HomesError::from(CaptureError::from(Cancelled));
        assert!(matches!(stopped, HomesError::Cancelled(_)), "{stopped:?}");
        let fault = HomesError::from(CaptureError::NothingThere).in_photo(2);
        assert_eq!(fault.photo(), Some(2));
    }
}
