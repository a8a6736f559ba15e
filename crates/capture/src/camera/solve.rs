//! From tags to a camera: which of them agree, and how sure the result is.

use super::error::{CameraError, CameraWarning};
use super::fit::{Fit, Prior, Sighting, State, fit, sigma_of};
use super::sighted::{LEAST_TAGS, sheet_and_sightings, stretched};
use super::start::{Homography, agreed_homography};
use super::{Camera, SheetPoint3};
use crate::photo::{Photo, PhotoPoint};
use crate::sheet::Sheet;
use crate::tags::{DetectedTag, TagsSeen};
use shape::Point;

/// A photo is refused when the rise from 10 % to 90 % across edges is wider than this on the sheet, mm. Edges
/// of straight parts would still be found, but holes and notches close: 0.6 mm is the least that has to
/// show. Measured on studio photos of 11 px/mm blurred by a Gaussian: sigma 2 px gives a rise of 5.3 px and tags
/// good to 0.17 px, sigma 3 px 7.6 px and 0.19 px, sigma 4 px 9.4 px and 0.33 px.
const MOST_RISE_MM: f64 = 0.6;

/// A rise that any photo may have, px: with large sheets a pixel is a good part of a millimetre.
const ALLOWED_RISE_PX: f64 = 4.0;

/// Corners' misses, mm, above which the sheet is said not to be flat, and refused.
const WARN_RMS_MM: f64 = 0.1;
const MOST_RMS_MM: f64 = 0.5;

/// A print whose axes differ by more than this should be measured with its bars: 0.15 mm over 100 mm.
const WARN_ASPECT: f64 = 1.5e-3;

/// A tag is left out when its corners are off by this many times the middle tag's miss, and by this much.
const OUTLIER_TIMES: f64 = 5.0;
const OUTLIER_PX: f64 = 0.6;

/// How well a file's focal length is known: it is rounded to a millimetre, and focusing near changes it.
pub(super) const FILE_FOCAL_SIGMA: f64 = 0.02;

/// Without one: phones' main cameras lie round 26 mm, others may be anything near.
const USUAL_FOCAL_35MM: f64 = 26.0;
const USUAL_FOCAL_SIGMA: f64 = 0.25;

/// Starting points where the file does not give the focal length, mm.
const FOCAL_STARTS_35MM: [f64; 4] = [26.0, 17.0, 45.0, 80.0];

/// Priors about zero of k1 and k2: lenses of phones and cameras, beyond what their own correction left.
const K_SIGMA: f64 = 0.3;

/// How a photo was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Width and height of the photo, px.
    pub size_px: [u32; 2],
    /// The file's focal length for a 36 x 24 mm frame, mm.
    pub focal_35mm: Option<f64>,
    /// What the 100 mm bars along x and y of the printed sheet measured, mm.
    pub printed_mm: [f64; 2],
}

impl View {
    /// How `photo` was made, on a sheet that was printed at its true size.
    pub fn of(photo: &Photo) -> Self {
        Self {
            size_px: photo.size_px(),
            focal_35mm: photo.focal_35mm,
            printed_mm: [100.0, 100.0],
        }
    }
}

/// How one tag agrees with the camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TagResidual {
    /// Its id.
    pub id: u32,
    /// Root mean square of its corners' misses, px.
    pub rms_px: f64,
    /// The same on the sheet, mm.
    pub rms_mm: f64,
    /// It was used; false where it was left out as wrong.
    pub used: bool,
}

/// A camera that was found, and how far to trust it.
#[derive(Debug, Clone)]
pub struct Solved {
    /// The camera.
    pub camera: Camera,
    /// The sheet as it was printed, in mm as the camera measures them: scaled by what the bars measured and by
    /// `print_aspect`, its area kept.
    pub sheet: Sheet,
    /// The tags of the sheet with the lens's bow and the edge shift taken off their corners.
    pub tags: Vec<DetectedTag>,
    /// Root mean square of the used corners' misses, px.
    pub corner_rms_px: f64,
    /// The same on the sheet, mm.
    pub corner_rms_mm: f64,
    /// Each tag's agreement, by id.
    pub residuals: Vec<TagResidual>,
    /// One standard deviation of the focal length, px.
    pub focal_sigma_px: f64,
    /// One standard deviation of the camera's height, mm.
    pub height_sigma_mm: f64,
    /// One standard deviation of the nadir in its less sure direction of x and y, mm.
    pub nadir_sigma_mm: f64,
    /// How far the tags' sides appear moved outwards (dark grown), px: sharpening and ink.
    pub edge_shift_px: f64,
    /// How much longer the print is along x than along y, against what its bars said, as a share.
    pub print_aspect: f64,
    /// One standard deviation of that.
    pub print_aspect_sigma: f64,
    /// The photo's blur: rise from 10 % to 90 % across the tags' sides, px.
    pub rise_px: f64,
    /// What is worth knowing.
    pub warnings: Vec<CameraWarning>,
    fit: Fit,
}

impl Solved {
    /// One standard deviation, mm, of where the camera puts what it sees at a point of the sheet, in the less sure
    /// direction of x and y. Covers the camera's uncertainty, not that of an edge in the photo.
    pub fn sigma_mm_at(&self, p: Point) -> Option<f64> {
        let in_photo = self.camera.project(SheetPoint3::over(p, 0.0))?;
        let x = sigma_of(&self.fit, |s| {
            Some(s.camera.sheet_from_photo(in_photo, 0.0)?.x)
        })?;
        let y = sigma_of(&self.fit, |s| {
            Some(s.camera.sheet_from_photo(in_photo, 0.0)?.y)
        })?;
        Some(x.max(y))
    }
}

/// Finds the camera from the tags of one sheet.
///
/// Without `sheet`, it is one of ours, told by its ids. Tags that disagree with the others are left out, and
/// said so in the warnings.
///
/// # Errors
/// [`CameraError`]: no or too few tags, a mirrored photo, two sheets, blur, or tags that no flat sheet
/// explains.
pub fn solve(seen: &TagsSeen, sheet: Option<&Sheet>, view: &View) -> Result<Solved, CameraError> {
    let mut warnings = Vec::new();
    let (sheet, sightings) = sheet_and_sightings(seen, sheet, view.printed_mm, &mut warnings)?;
    let rise_px = seen.rise_px().unwrap_or(f64::INFINITY);
    let limit_px = (MOST_RISE_MM * scale_px_per_mm(&sightings)).max(ALLOWED_RISE_PX);
    if rise_px > limit_px {
        return Err(CameraError::Blurred { rise_px, limit_px });
    }
    let (fit, used) = fit_without_outliers(&sightings, view)?;
    let camera = fit.state.camera;
    let looks_down = camera.height_mm() > 0.0 && camera.rotation[2][2] < 0.0;
    if !looks_down || !camera.k1.is_finite() || !camera.k2.is_finite() {
        return Err(CameraError::NoSolution);
    }
    let mut tags = Vec::new();
    let mut residuals = Vec::new();
    for (s, &used) in sightings.iter().zip(&used) {
        let Some(corners) = corrected(&fit.state, s) else {
            continue;
        };
        residuals.push(residual(&fit.state, s, &corners, used)?);
        let source = seen.tags.iter().find(|t| t.id == s.id);
        tags.extend(source.map(|t| DetectedTag {
            corners_in_photo: corners,
            ..t.clone()
        }));
    }
    let rms = |of: fn(&TagResidual) -> f64| {
        let used: Vec<f64> = residuals.iter().filter(|r| r.used).map(of).collect();
        (used.iter().map(|r| r * r).sum::<f64>() / used.len() as f64).sqrt()
    };
    let (corner_rms_px, corner_rms_mm) = (rms(|r| r.rms_px), rms(|r| r.rms_mm));
    if corner_rms_mm > MOST_RMS_MM {
        return Err(CameraError::DoesNotFit {
            rms_mm: corner_rms_mm,
            limit_mm: MOST_RMS_MM,
        });
    }
    let sigma = |of: fn(&Camera) -> f64| {
        sigma_of(&fit, |s| Some(of(&s.camera))).ok_or(CameraError::NoSolution)
    };
    let solved = Solved {
        camera,
        sheet: stretched(&sheet, |p| fit.state.printed(p)),
        tags,
        corner_rms_px,
        corner_rms_mm,
        focal_sigma_px: sigma(|c| c.focal_px)?,
        height_sigma_mm: sigma(Camera::height_mm)?,
        nadir_sigma_mm: sigma(|c| c.nadir().x)?.max(sigma(|c| c.nadir().y)?),
        residuals,
        edge_shift_px: fit.state.edge_shift_px,
        print_aspect: fit.state.aspect.exp() - 1.0,
        print_aspect_sigma: sigma_of(&fit, |s| Some(s.aspect)).ok_or(CameraError::NoSolution)?,
        rise_px,
        warnings,
        fit,
    };
    Ok(with_doubts(solved, view))
}

/// How large a millimetre of the sheet is in the photo, on the mean.
fn scale_px_per_mm(sightings: &[Sighting]) -> f64 {
    sightings.iter().map(Sighting::px_per_mm).sum::<f64>() / sightings.len() as f64
}

/// Fits, leaves out tags that disagree, and fits again until the choice stands. Tells which tags were used.
fn fit_without_outliers(
    sightings: &[Sighting],
    view: &View,
) -> Result<(Fit, Vec<bool>), CameraError> {
    let [w, h] = view.size_px.map(f64::from);
    let pairs: Vec<[(Point, PhotoPoint); 4]> = sightings
        .iter()
        .map(|s| std::array::from_fn(|i| (s.on_sheet[i], s.in_photo[i])))
        .collect();
    let map = agreed_homography(&pairs, w.hypot(h)).ok_or(CameraError::NoSolution)?;
    let near = 0.05 * w.hypot(h);
    let mut used: Vec<bool> = pairs
        .iter()
        .map(|tag| tag.iter().all(|(s, p)| map.at(*s).distance_px(*p) <= near))
        .collect();
    let mut fitted = best_fit(&map, &chosen(sightings, &used), view)?;
    for _ in 0..4 {
        let misses: Vec<f64> = sightings
            .iter()
            .map(|s| rms_px(&fitted.state, s).unwrap_or(f64::INFINITY))
            .collect();
        let mut sorted = misses.clone();
        sorted.sort_by(f64::total_cmp);
        let limit = (OUTLIER_TIMES * sorted[sorted.len() / 2]).max(OUTLIER_PX);
        let choice: Vec<bool> = misses.iter().map(|m| *m <= limit).collect();
        if choice == used {
            break;
        }
        used = choice;
        fitted = best_fit(&map, &chosen(sightings, &used), view)?;
    }
    Ok((fitted, used))
}

fn chosen(sightings: &[Sighting], used: &[bool]) -> Vec<Sighting> {
    let both = sightings.iter().zip(used);
    both.filter(|(_, used)| **used)
        .map(|(s, _)| s.clone())
        .collect()
}

/// The best fit over the starting points.
fn best_fit(map: &Homography, sightings: &[Sighting], view: &View) -> Result<Fit, CameraError> {
    if sightings.len() < LEAST_TAGS {
        return Err(CameraError::NoSolution);
    }
    let (prior, starts_px) = lens_prior(view.size_px, view.focal_35mm, K_SIGMA);
    starts_px
        .into_iter()
        .filter_map(|focal_px| {
            let camera = map.camera(focal_px, prior.middle)?;
            let start = State {
                camera,
                edge_shift_px: 0.0,
                aspect: 0.0,
            };
            fit(start, sightings, prior)
        })
        .min_by(|a, b| a.cost.total_cmp(&b.cost))
        .ok_or(CameraError::NoSolution)
}

/// What is known of a photo's lens beforehand, and focal lengths to start from, px.
pub(super) fn lens_prior(
    size_px: [u32; 2],
    focal_35mm: Option<f64>,
    k_sigma: f64,
) -> (Prior, Vec<f64>) {
    let px = |mm: f64| Camera::focal_px_from_35mm(mm, size_px);
    let (known, focal_sigma, starts) = match focal_35mm {
        Some(mm) => (mm, FILE_FOCAL_SIGMA, vec![mm]),
        None => (
            USUAL_FOCAL_35MM,
            USUAL_FOCAL_SIGMA,
            FOCAL_STARTS_35MM.to_vec(),
        ),
    };
    let [w, h] = size_px.map(f64::from);
    let prior = Prior {
        focal_px: px(known),
        focal_sigma,
        k_sigma,
        middle: Camera::middle_of(size_px),
        diagonal_px: w.hypot(h),
    };
    (prior, starts.into_iter().map(px).collect())
}

/// The corners as they would have been measured without bow and edge shift.
fn corrected(state: &State, s: &Sighting) -> Option<[PhotoPoint; 4]> {
    let expected = state.corners(s)?;
    Some(std::array::from_fn(|i| {
        let (m, t, p) = (expected.measured[i], expected.true_[i], s.in_photo[i]);
        PhotoPoint::new(p.x + t.x - m.x, p.y + t.y - m.y)
    }))
}

fn rms_px(state: &State, s: &Sighting) -> Option<f64> {
    let expected = state.corners(s)?.measured;
    let squares = (0..4).map(|i| expected[i].distance_px(s.in_photo[i]).powi(2));
    Some((squares.sum::<f64>() / 4.0).sqrt())
}

fn residual(
    state: &State,
    s: &Sighting,
    corners: &[PhotoPoint; 4],
    used: bool,
) -> Result<TagResidual, CameraError> {
    let (mut px, mut mm) = (0.0, 0.0);
    for (on_sheet, in_photo) in s.on_sheet.iter().zip(corners) {
        let printed = state.printed(*on_sheet);
        let seen_at = state.camera.sheet_from_photo(*in_photo, 0.0);
        let seen_as = state.camera.project(SheetPoint3::over(printed, 0.0));
        let (at, image) = seen_at.zip(seen_as).ok_or(CameraError::NoSolution)?;
        mm += at.distance_mm(printed).powi(2);
        px += image.distance_px(*in_photo).powi(2);
    }
    Ok(TagResidual {
        id: s.id,
        rms_px: (px / 4.0).sqrt(),
        rms_mm: (mm / 4.0).sqrt(),
        used,
    })
}

/// Adds what the numbers themselves say to doubt.
fn with_doubts(mut solved: Solved, view: &View) -> Solved {
    let ignored: Vec<(u32, f64)> = solved
        .residuals
        .iter()
        .filter(|r| !r.used)
        .map(|r| (r.id, r.rms_mm))
        .collect();
    if !ignored.is_empty() {
        solved
            .warnings
            .push(CameraWarning::TagsIgnored { tags: ignored });
    }
    if solved.corner_rms_mm > WARN_RMS_MM {
        solved.warnings.push(CameraWarning::NotFlat {
            rms_mm: solved.corner_rms_mm,
        });
    }
    if solved.print_aspect.abs() > WARN_ASPECT
        && solved.print_aspect.abs() > 3.0 * solved.print_aspect_sigma
    {
        solved.warnings.push(CameraWarning::PrintUneven {
            longer_along_x: solved.print_aspect,
        });
    }
    match view.focal_35mm {
        Some(mm) => {
            let file_px = Camera::focal_px_from_35mm(mm, view.size_px);
            let tags_px = solved.camera.focal_px;
            if (tags_px / file_px).ln().abs() > 3.0 * FILE_FOCAL_SIGMA {
                let doubt = CameraWarning::FocalDisagrees { file_px, tags_px };
                solved.warnings.push(doubt);
            }
        }
        None if solved.height_sigma_mm > 0.03 * solved.camera.height_mm() => {
            solved.warnings.push(CameraWarning::FocalUnsure {
                height_sigma_mm: solved.height_sigma_mm,
            });
        }
        None => {}
    }
    solved
}
