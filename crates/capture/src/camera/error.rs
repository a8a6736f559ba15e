//! Why a photo's tags give no camera, and what is worth knowing where they do.

use crate::sheet::Paper;
use std::fmt;

/// Why no camera was found. Each text says what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CameraError {
    /// Not one tag.
    #[error(
        "no tag of a capture sheet is seen; photograph the whole sheet from above, sharp and without glare"
    )]
    NoTag,
    /// Too few tags.
    #[error(
        "only {} of the capture sheet's tags are seen ({}), four or more are needed; \
         keep the tags uncovered, in the photo and out of glare",
        ids.len(), numbers(ids)
    )]
    FewTags {
        /// Which.
        ids: Vec<u32>,
    },
    /// The photo is a mirror image.
    #[error(
        "the capture sheet is seen as in a mirror; turn off the camera's mirroring (or flip the picture) and try again"
    )]
    Mirrored,
    /// Tags of more than one of our sheets.
    #[error(
        "tags of two capture sheets are seen ({}); photograph one sheet at a time",
        names(papers)
    )]
    TwoSheets {
        /// The sheets' papers.
        papers: Vec<Paper>,
    },
    /// The same tags at two places.
    #[error(
        "the tags {} are each seen twice; photograph one sheet at a time",
        numbers(ids)
    )]
    SameSheetTwice {
        /// Which.
        ids: Vec<u32>,
    },
    /// Tags, but not of the sheet they should be of.
    #[error(
        "the tags seen ({}) are not those of this capture sheet; give the sheet's description, or use a sheet printed by this program",
        numbers(ids)
    )]
    OtherSheet {
        /// Which.
        ids: Vec<u32>,
    },
    /// Too blurred to measure.
    #[error(
        "the photo is blurred: edges are {rise_px:.1} px wide, the limit is {limit_px:.1}; hold the camera still, tap to focus, add light"
    )]
    Blurred {
        /// Rise from 10 % to 90 % across the tags' sides, px.
        rise_px: f64,
        /// The limit, px.
        limit_px: f64,
    },
    /// The tags are not where a flat sheet's would be.
    #[error(
        "the tags are off by {rms_mm:.2} mm from where a flat sheet has them, the limit is {limit_mm:.2}; \
         lay the sheet flat, and see that it was printed at full size"
    )]
    DoesNotFit {
        /// Root mean square of the corners' misses on the sheet, mm.
        rms_mm: f64,
        /// The limit, mm.
        limit_mm: f64,
    },
    /// The equations have no sound solution.
    #[error(
        "no camera position explains where the tags are; see that the photo is uncropped and the sheet is the one described"
    )]
    NoSolution,
    /// The bars cannot have measured that.
    #[error(
        "bars of 100 mm that measure {} x {} mm: the print is no use; print the sheet again at full size",
        printed_mm[0], printed_mm[1]
    )]
    PrintScale {
        /// What the bars measured, mm.
        printed_mm: [f64; 2],
    },
}

/// What is worth knowing about a camera that was found.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum CameraWarning {
    /// Tags that were left out, since they disagree with the others.
    TagsIgnored {
        /// Id, and how far off its corners are, mm.
        tags: Vec<(u32, f64)>,
    },
    /// Tags that this sheet does not have.
    ForeignTags {
        /// Which.
        ids: Vec<u32>,
    },
    /// Tags that were seen at two places, and not used.
    RepeatedTags {
        /// Which.
        ids: Vec<u32>,
    },
    /// The tags do not agree as well as they should.
    NotFlat {
        /// Root mean square of the corners' misses on the sheet, mm.
        rms_mm: f64,
    },
    /// The print is longer along one axis than its bars, as told, say.
    PrintUneven {
        /// By what share it is longer along x than along y.
        longer_along_x: f64,
    },
    /// The file does not say its focal length, and the tags do not tell it well: heights are less sure.
    FocalUnsure {
        /// One standard deviation of the camera's height, mm.
        height_sigma_mm: f64,
    },
    /// The focal length that fits the tags is not the one the file gives: was the photo cropped?
    FocalDisagrees {
        /// What the file gives, px.
        file_px: f64,
        /// What the tags give, px.
        tags_px: f64,
    },
}

impl fmt::Display for CameraWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TagsIgnored { tags } => {
                let list: Vec<String> = tags
                    .iter()
                    .map(|(id, mm)| format!("{id} by {mm:.2} mm"))
                    .collect();
                write!(f, "tags left out, being off: {}", list.join(", "))
            }
            Self::ForeignTags { ids } => {
                write!(f, "tags that this sheet does not have: {}", numbers(ids))
            }
            Self::RepeatedTags { ids } => {
                write!(f, "tags seen at two places, not used: {}", numbers(ids))
            }
            Self::NotFlat { rms_mm } => write!(
                f,
                "the tags are off by {rms_mm:.2} mm from where a flat sheet has them; lay the sheet flat, check the print with its bars"
            ),
            Self::PrintUneven { longer_along_x } => write!(
                f,
                "the sheet seems to be printed {:.2} % {} along x than along y; measure its two bars and tell their lengths",
                100.0 * longer_along_x.abs(),
                if *longer_along_x > 0.0 {
                    "longer"
                } else {
                    "shorter"
                }
            ),
            Self::FocalUnsure { height_sigma_mm } => write!(
                f,
                "the file does not tell the focal length: the camera's height is known to {height_sigma_mm:.0} mm only, which matters for thick parts; tilt the camera a little"
            ),
            Self::FocalDisagrees { file_px, tags_px } => write!(
                f,
                "the file's focal length ({file_px:.0} px) does not fit the tags ({tags_px:.0} px); use the uncropped photo"
            ),
        }
    }
}

fn numbers(ids: &[u32]) -> String {
    let list: Vec<String> = ids.iter().map(u32::to_string).collect();
    list.join(", ")
}

fn names(papers: &[Paper]) -> String {
    let list: Vec<&str> = papers.iter().map(|p| p.name()).collect();
    list.join(", ")
}
