//! The whole way from a picture to true outlines.

use crate::camera::{Camera, CameraError, CardError, SheetPoint3};
use crate::height::true_outlines;
use crate::photo::{Photo, PhotoPoint};
use crate::plane::SheetPlane;
use crate::rounds::{RoundHole, seen_through, with_holes};
use crate::scan::ScanError;
use crate::sheet::Sheet;
use crate::silhouette::{Silhouette, SilhouetteError};
use crate::study::Study;
use crate::taken::{Taken, TakenWarning};
use shape::{Cancelled, Outline, Point, Watch};

/// How well a caliper tells a part's thickness, one sigma, mm (common practice, no source).
const THICKNESS_SIGMA_MM: f64 = 0.05;

/// How well a print's scale is known where nobody measured its bars, one sigma as a share. Recalled, not
/// verified: printers are seen off by 0.1 to 0.5 %.
const UNMEASURED_PRINT_SIGMA: f64 = 0.002;

/// The same where the bars were measured: 0.1 mm on 100 mm is what a ruler gives.
const MEASURED_PRINT_SIGMA: f64 = 0.0007;

/// Upper edges of moulded and stamped parts are rounded or broken by about this much (common practice, no
/// source).
const EDGE_ROUNDING_MM: f64 = 0.15;

/// A shift by height above this is told: openings narrower than it are not seen, mm.
const SHIFT_WORTH_TELLING_MM: f64 = 0.6;

/// What an outline of a thin part that looks like its shade loses in trust, one sigma as a share of its thickness: on eleven rendered photos
/// 80 % of the errors of such brackets and screws were within 0.16 to 0.56 of their thickness.
const SHADE_SHARE_SIGMA: f64 = 0.25;

/// Shade is hardly seen as such that is no wider than the first, and is that is as wide as the second: five and ten of the cells that the
/// wide eye sees.
const SHADE_SEEN_MM: [f64; 2] = [1.0, 2.0];

/// What an outline loses in trust where openings as wide as the shift may be hidden, one sigma as a share of the shift.
/// Ours; no source.
const HIDDEN_SHARE_SIGMA: f64 = 0.03;

/// A shift by height above this asks for a photo nearer the middle, mm.
const SHIFT_TOO_FAR_MM: f64 = 2.0;

/// The thickness of the part that lies over a point of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThicknessAt {
    /// A point of the sheet that the part covers, mm.
    pub at: Point,
    /// Its greatest height, mm.
    pub thickness_mm: f64,
}

/// What the user knows besides the photo.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Knowledge {
    /// The sheet's description; `None` for one of ours, told by its ids. Only for photos on a sheet, as the next.
    pub sheet: Option<Sheet>,
    /// What the printed 100 mm bars measured along x and y, mm; `None` where nobody measured.
    pub printed_mm: Option<[f64; 2]>,
    /// Thickness of parts, each by a point. A scan's outlines do not depend on it.
    pub thicknesses: Vec<ThicknessAt>,
    /// Thickness of every other part, mm.
    pub thickness_mm: Option<f64>,
}

/// Why a photo gave no outlines.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CaptureError {
    /// The sheet, and so the camera, was not found.
    #[error(transparent)]
    Camera(#[from] CameraError),
    /// The field could not be told into parts and paper.
    #[error(transparent)]
    Silhouette(#[from] SilhouetteError),
    /// A picture that is no scan, or shows nothing.
    #[error(transparent)]
    Scan(#[from] ScanError),
    /// No camera from a card, or nothing beside it.
    #[error(transparent)]
    Card(#[from] CardError),
    /// Nothing lies on the sheet.
    #[error("no part is seen in the blank field; lay the parts inside the corner marks")]
    NothingThere,
    /// A thickness that cannot be.
    #[error(
        "a thickness of {thickness_mm} mm cannot be: the camera is {height_mm:.0} mm above the sheet"
    )]
    Thickness {
        /// What was given, mm.
        thickness_mm: f64,
        /// The camera's height, mm.
        height_mm: f64,
    },
    /// A thickness that no part has.
    #[error("a thickness of {thickness_mm} mm cannot be; it is zero or more")]
    NoThickness {
        /// What was given, mm.
        thickness_mm: f64,
    },
}

impl From<Cancelled> for CaptureError {
    fn from(c: Cancelled) -> Self {
        Self::Silhouette(SilhouetteError::Cancelled(c))
    }
}

/// What limits an outline's trust.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum OutlineWarning {
    /// Nobody gave its thickness: the outline is what the camera saw.
    ThicknessUnknown,
    /// The part reaches the edge of the blank field: some of it may be missing.
    OverFieldEdge,
    /// The part reaches the edge of a picture that has no field: some of it may be missing.
    OverPictureEdge,
    /// Openings narrower than this show no paper and are not seen.
    OpeningsUnseen {
        /// The shift by height at the part's far end, mm.
        shift_mm: f64,
    },
    /// A thick part lies far from the nadir.
    FarFromNadir {
        /// The shift by height at the part's far end, mm.
        shift_mm: f64,
    },
    /// Much of its edge hardly differs from the paper.
    FaintEdge {
        /// Share of the edge.
        share: f64,
    },
    /// Openings were seen that are too small to be told from specks; the outline is solid there.
    OpeningsLeftOut {
        /// How many.
        count: usize,
    },
    /// The edge crossed itself, or the height correction left more than one piece; the largest was kept.
    FellApart {
        /// Pieces.
        pieces: usize,
    },
}

impl std::fmt::Display for OutlineWarning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::ThicknessUnknown => f.write_str(
                "its thickness is not known, so the outline is not corrected for height; measure it and give it",
            ),
            Self::OverFieldEdge => f.write_str(
                "it lies over the edge of the blank field; move it inside the marks and photograph again",
            ),
            Self::OverPictureEdge => f.write_str(
                "it reaches the picture's edge; move it inwards and take the picture again",
            ),
            Self::OpeningsUnseen { shift_mm } => write!(
                f,
                "holes and notches narrower than {shift_mm:.1} mm may be hidden by its height; lay it nearer \
                 to the middle of the photo to see them",
            ),
            Self::FarFromNadir { shift_mm } => write!(
                f,
                "it is thick and far from the middle (its top appears {shift_mm:.1} mm off); take a photo with \
                 it nearer to the middle",
            ),
            Self::FaintEdge { share } => write!(
                f,
                "{:.0} % of its edge hardly differs from the paper; check it, or photograph it on a darker sheet",
                share * 100.0
            ),
            Self::OpeningsLeftOut { count: 1 } => f.write_str(
                "one speck that may be an opening is too small to be sure of, and is left out; draw over it if it is a hole",
            ),
            Self::OpeningsLeftOut { count } => write!(
                f,
                "{count} specks that may be openings are too small to be sure of, and are left out; draw over them \
                 if they are holes",
            ),
            Self::FellApart { pieces } => write!(
                f,
                "it fell into {pieces} pieces, and the largest was kept; is its thickness right, and its edge clear in the \
                 photo?",
            ),
        }
    }
}

/// One sigma of an outline, mm, and what it is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sigma {
    /// All together.
    pub total_mm: f64,
    /// The scale of what was measured against (print, scanner, card) over half of the part's extent.
    pub scale_mm: f64,
    /// The camera's, or what a scanner's profile leaves.
    pub camera_mm: f64,
    /// The thickness's, times distance from the nadir over the camera's height.
    pub height_mm: f64,
    /// The edge's own blur.
    pub edge_mm: f64,
    /// That of a thin part that looks like its own shade: where one ends and the other begins, few pixels can tell.
    pub shade_mm: f64,
}

/// One part that was captured.
#[derive(Debug, Clone, PartialEq)]
pub struct Captured {
    /// Its true outline, mm of the sheet; the silhouette's where the thickness is not known.
    pub outline: Outline,
    /// What the camera saw.
    pub silhouette: Silhouette,
    /// Its thickness as given, mm; in a scan it is kept, not used.
    pub thickness_mm: Option<f64>,
    /// How far to trust it.
    pub sigma: Sigma,
    /// What limits its trust.
    pub warnings: Vec<OutlineWarning>,
}

/// What a photo gave.
#[derive(Debug, Clone)]
pub struct Capture {
    /// How the picture was taken.
    pub taken: Taken,
    /// What is worth knowing about that.
    pub warnings: Vec<TakenWarning>,
    /// The parts, from the sheet's top to its bottom, then from left to right.
    pub parts: Vec<Captured>,
}

impl Capture {
    /// The part that covers a point of the sheet.
    pub fn part_at(&self, p: Point) -> Option<&Captured> {
        self.parts
            .iter()
            .find(|c| c.outline.contains(p) || c.silhouette.in_sheet.contains(p))
    }
}

/// Captures the parts that lie on a sheet.
///
/// # Errors
/// [`CaptureError`], each with what to do.
pub fn capture(
    photo: &Photo,
    knowledge: &Knowledge,
    watch: &dyn Watch,
) -> Result<Capture, CaptureError> {
    Study::of(photo, knowledge, watch)?.capture(knowledge)
}

/// Corrects a silhouette for height, puts its round holes in, and says how far to trust it. The same silhouette and camera serve
/// again where the thickness is given later. `None` where nothing of the part is left.
pub(crate) fn finish(
    silhouette: Silhouette,
    holes: &[RoundHole],
    thickness_mm: Option<f64>,
    taken: &Taken,
) -> Option<Captured> {
    let mut warnings = Vec::new();
    let seen = &silhouette.in_sheet;
    let from = taken.standpoint();
    let mut n_pieces = 1 + silhouette.pieces_left_out;
    let outline = match (from, thickness_mm) {
        (None, _) => seen.clone(),
        (Some(_), None) => {
            warnings.push(OutlineWarning::ThicknessUnknown);
            seen.clone()
        }
        (Some(from), Some(h)) => {
            let mut pieces = true_outlines(seen, from, widest_height_mm(h));
            pieces.retain(|p| p.area_mm2() > 0.02 * seen.area_mm2());
            n_pieces += pieces.len().saturating_sub(1);
            shape::largest(pieces)?
        }
    };
    if n_pieces > 1 {
        warnings.push(OutlineWarning::FellApart { pieces: n_pieces });
    }
    if silhouette.at_field_edge {
        warnings.push(if taken.whole_picture_px().is_some() {
            OutlineWarning::OverPictureEdge
        } else {
            OutlineWarning::OverFieldEdge
        });
    }
    let shift_mm = from.map_or(0.0, |f| {
        f.greatest_shift_mm(seen, thickness_mm.unwrap_or(0.0))
    });
    if shift_mm > SHIFT_TOO_FAR_MM {
        warnings.push(OutlineWarning::FarFromNadir { shift_mm });
    } else if shift_mm > SHIFT_WORTH_TELLING_MM {
        warnings.push(OutlineWarning::OpeningsUnseen { shift_mm });
    }
    if silhouette.faint_share > 0.5 {
        warnings.push(OutlineWarning::FaintEdge {
            share: silhouette.faint_share,
        });
    }
    if silhouette.openings_left_out > 0 {
        warnings.push(OutlineWarning::OpeningsLeftOut {
            count: silhouette.openings_left_out,
        });
    }
    let (outline, silhouette) = match (from, thickness_mm) {
        (Some(from), Some(h)) => {
            let (open, told) = with_holes(outline, holes);
            (
                open,
                seen_through(silhouette, &told, from, widest_height_mm(h)),
            )
        }
        _ => (outline, silhouette),
    };
    let sigma = sigma_of(&outline, &silhouette, thickness_mm, shift_mm, taken);
    Some(Captured {
        outline,
        silhouette,
        thickness_mm,
        sigma,
        warnings,
    })
}

/// Where the widest edge of a part's top lies, seen from above at a slant: its upper edge is not sharp.
pub(crate) fn widest_height_mm(thickness_mm: f64) -> f64 {
    let rounding_mm = EDGE_ROUNDING_MM.min(0.2 * thickness_mm);
    // The slant at which the edge is seen, 15 degrees in the middle of a sheet's half, shows an eighth of it.
    thickness_mm - 0.87 * rounding_mm
}

/// One sigma of a print's scale, as a share.
pub(crate) fn print_sigma(measured: bool) -> f64 {
    if measured {
        MEASURED_PRINT_SIGMA
    } else {
        UNMEASURED_PRINT_SIGMA
    }
}

fn sigma_of(
    outline: &Outline,
    silhouette: &Silhouette,
    thickness_mm: Option<f64>,
    shift_mm: f64,
    taken: &Taken,
) -> Sigma {
    let bounds = outline.bounds();
    // The outline's own size is what the scale changes: half of its extent to each side.
    let extent_mm = bounds.width_mm().hypot(bounds.height_mm());
    let scale_mm = 0.5 * extent_mm * taken.scale_sigma() / std::f64::consts::SQRT_2;
    let camera_mm = taken.place_sigma_mm(bounds);
    let height_mm = taken.standpoint().map_or(0.0, |from| {
        let points = outline.outer().points();
        let mean_distance_mm = points
            .iter()
            .map(|p| p.distance_mm(from.nadir))
            .sum::<f64>()
            / points.len().max(1) as f64;
        // Without a thickness, a part of hand size may be anything from a foil to a centimetre.
        let thickness_sigma_mm = if thickness_mm.is_some() {
            THICKNESS_SIGMA_MM
        } else {
            3.0
        };
        thickness_sigma_mm * mean_distance_mm / from.height_mm
    });
    // Openings as wide as the shift may be hidden: the outline is less sure than its visible edge.
    let hidden_mm = if shift_mm > SHIFT_WORTH_TELLING_MM {
        HIDDEN_SHARE_SIGMA * shift_mm
    } else {
        0.0
    };
    let height_mm = height_mm.hypot(hidden_mm);
    let edge_mm = silhouette.edge_sigma_mm;
    let shade_mm = match (taken.standpoint(), thickness_mm) {
        (Some(_), Some(h)) => silhouette.like_shade_share * shade_sigma_mm(h),
        _ => 0.0,
    };
    let total_mm = [scale_mm, camera_mm, height_mm, edge_mm, shade_mm]
        .iter()
        .map(|s| s * s)
        .sum::<f64>()
        .sqrt();
    Sigma {
        total_mm,
        scale_mm,
        camera_mm,
        height_mm,
        edge_mm,
        shade_mm,
    }
}

/// What an outline loses in trust where the part's face looks like the shade it throws, one sigma. Light that falls in at 45 degrees throws
/// shade as wide as the part is high, on one of its sides; what lies in wide shade the eyes see, in narrow shade they do not.
fn shade_sigma_mm(thickness_mm: f64) -> f64 {
    let [narrow, wide] = SHADE_SEEN_MM;
    let unseen = ((wide - thickness_mm) / (wide - narrow)).clamp(0.0, 1.0);
    SHADE_SHARE_SIGMA * unseen * thickness_mm
}

impl SheetPlane for Camera {
    fn sheet_from_photo(&self, photo_px: [f64; 2]) -> Option<Point> {
        Camera::sheet_from_photo(self, PhotoPoint::new(photo_px[0], photo_px[1]), 0.0)
    }

    fn photo_from_sheet(&self, sheet_mm: Point) -> Option<[f64; 2]> {
        let p = self.project(SheetPoint3::over(sheet_mm, 0.0))?;
        Some([p.x, p.y])
    }

    fn rise_px(&self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        let foot = SheetPlane::sheet_from_photo(self, photo_px)?;
        let [low, high] = [0.0, 1.0].map(|z| self.project(SheetPoint3::over(foot, z)));
        let (low, high) = (low?, high?);
        Some([high.x - low.x, high.y - low.y])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_shade_takes_grows_with_a_thin_part_and_ends_where_shade_is_seen() {
        assert_eq!(shade_sigma_mm(0.0), 0.0);
        assert!((shade_sigma_mm(0.6) - 0.15).abs() < 1e-12);
        assert!((shade_sigma_mm(1.5) - 0.1875).abs() < 1e-12);
        for seen in [2.0, 12.0] {
            assert_eq!(shade_sigma_mm(seen), 0.0);
        }
    }
}
