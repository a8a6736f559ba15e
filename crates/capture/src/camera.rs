//! The camera over a capture sheet: where it stands, its lens, and the way between photo and sheet.
//!
//! Camera coordinates follow OpenCV: x right and y down in the photo, z from the lens outwards.
//! Distortion is Brown-Conrady, radial terms only, in OpenCV's order (Brown, Close-range camera
//! calibration, Photogrammetric Engineering 37, 1971).

mod card;
mod error;
mod fit;
mod sighted;
mod solve;
mod start;

pub use card::{BesideCard, CARD_MM, CardError};
pub(crate) use card::{CARD_SIZE_SIGMA, find_card};
pub use error::{CameraError, CameraWarning};
pub(crate) use sighted::sighted;
pub use solve::{Solved, TagResidual, View, solve};

use crate::photo::PhotoPoint;
use nalgebra::{Matrix3, Vector3};
use shape::Point;

/// Diagonal of the frame that "35 mm equivalent" focal lengths refer to (36 x 24 mm), mm.
pub(crate) const FULL_FRAME_DIAGONAL_MM: f64 = 43.266_615;

/// A place over the sheet, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SheetPoint3 {
    /// To the right on the sheet, mm.
    pub x: f64,
    /// Up the sheet, mm.
    pub y: f64,
    /// From the printed face towards the camera, mm.
    pub z: f64,
}

impl SheetPoint3 {
    /// A place from its coordinates, mm.
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self { x, y, z }
    }

    /// The place `height_mm` over a point of the sheet.
    pub fn over(p: Point, height_mm: f64) -> Self {
        Self::new(p.x, p.y, height_mm)
    }

    fn vector(self) -> Vector3<f64> {
        Vector3::new(self.x, self.y, self.z)
    }
}

/// A camera and its lens, standing over a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Focal length, px.
    pub focal_px: f64,
    /// Principal point, px.
    pub centre_px: PhotoPoint,
    /// Radial distortion with the second power of the distance from the axis.
    pub k1: f64,
    /// Radial distortion with the fourth power.
    pub k2: f64,
    /// Rotation `camera_from_sheet`, row by row.
    pub rotation: [[f64; 3]; 3],
    /// Translation `camera_from_sheet`, mm: where the sheet's origin is in camera coordinates.
    pub translation_mm: [f64; 3],
}

impl Camera {
    /// The middle of a photo, where the principal point is taken to be.
    pub(crate) fn middle_of(size_px: [u32; 2]) -> PhotoPoint {
        let [w, h] = size_px.map(|n| (f64::from(n) - 1.0) / 2.0);
        PhotoPoint::new(w, h)
    }

    /// Focal length in pixels of a 35 mm equivalent one, by the diagonal.
    pub(crate) fn focal_px_from_35mm(focal_35mm: f64, size_px: [u32; 2]) -> f64 {
        let [w, h] = size_px.map(f64::from);
        focal_35mm * w.hypot(h) / FULL_FRAME_DIAGONAL_MM
    }

    fn rotation(&self) -> Matrix3<f64> {
        let r = self.rotation;
        Matrix3::from_fn(|i, j| r[i][j])
    }

    /// Where a place over the sheet appears in the photo.
    ///
    /// `None` for what lies behind the camera, or so far off its axis that the distortion folds back.
    pub fn project(&self, p: SheetPoint3) -> Option<PhotoPoint> {
        let v = self.rotation() * p.vector() + Vector3::from(self.translation_mm);
        if v.z <= 1e-6 {
            return None;
        }
        let (x, y) = (v.x / v.z, v.y / v.z);
        let r2 = x * x + y * y;
        if r2 >= self.fold_r2() {
            return None;
        }
        let stretch = self.focal_px * (1.0 + r2 * (self.k1 + self.k2 * r2));
        Some(PhotoPoint::new(
            self.centre_px.x + stretch * x,
            self.centre_px.y + stretch * y,
        ))
    }

    /// The point of the sheet over which, at `height_mm`, what a photo shows at `p` lies.
    ///
    /// `None` where the line of sight does not meet that height in front of the camera, or where the
    /// distortion cannot be undone (far outside the photo).
    pub fn sheet_from_photo(&self, p: PhotoPoint, height_mm: f64) -> Option<Point> {
        let [x, y] = self.undistorted(p)?;
        let transposed = self.rotation().transpose();
        let ray = transposed * Vector3::new(x, y, 1.0);
        let eye = -(transposed * Vector3::from(self.translation_mm));
        let along = (height_mm - eye.z) / ray.z;
        let hit = eye + ray * along;
        (along > 0.0 && along.is_finite()).then(|| Point::new(hit.x, hit.y))
    }

    /// Squared distance from the axis (at z = 1) at which the distortion stops growing, where places farther out
    /// would appear nearer the middle: the least positive root of `d r_distorted / d r`; infinite
    /// where there is none.
    fn fold_r2(&self) -> f64 {
        let (a, b) = (5.0 * self.k2, 3.0 * self.k1);
        let root = (b * b - 4.0 * a).sqrt();
        // 1 + b s + a s^2 = 0, written so that a = 0 needs no case of its own; NaN (no root) drops out.
        [-2.0 / (b - root), -2.0 / (b + root)]
            .into_iter()
            .filter(|&s| s > 0.0)
            .fold(f64::INFINITY, f64::min)
    }

    /// Direction of sight (x and y at z = 1) of a place in the photo, the distortion undone on the
    /// distance from the axis.
    fn undistorted(&self, p: PhotoPoint) -> Option<[f64; 2]> {
        let x = (p.x - self.centre_px.x) / self.focal_px;
        let y = (p.y - self.centre_px.y) / self.focal_px;
        let distorted = x.hypot(y);
        if distorted < 1e-12 {
            return Some([x, y]);
        }
        // The wanted r lies below the fold, where r_distorted grows with r. Newton's step where it stays between
        // the bounds, else the middle.
        let fold = self.fold_r2().sqrt();
        let (mut low, mut high) = (0.0, fold.min(10.0 * distorted + 1.0));
        let mut r = distorted.min(0.5 * (low + high));
        for _ in 0..60 {
            let r2 = r * r;
            let miss = r * (1.0 + r2 * (self.k1 + self.k2 * r2)) - distorted;
            if miss > 0.0 {
                high = r
            } else {
                low = r
            }
            let next = r - miss / (1.0 + r2 * (3.0 * self.k1 + 5.0 * self.k2 * r2));
            let next = if next > low && next < high {
                next
            } else {
                0.5 * (low + high)
            };
            let settled = (next - r).abs() < 1e-15;
            r = next;
            if settled {
                break;
            }
        }
        let miss = r * (1.0 + r * r * (self.k1 + self.k2 * r * r)) - distorted;
        let shrink = r / distorted;
        (miss.abs() < 1e-10 && shrink > 0.0).then_some([x * shrink, y * shrink])
    }

    /// Where the camera's pupil is, mm over the sheet.
    pub fn position(&self) -> SheetPoint3 {
        let eye = -(self.rotation().transpose() * Vector3::from(self.translation_mm));
        SheetPoint3::new(eye.x, eye.y, eye.z)
    }

    /// The point of the sheet straight below the camera, mm. Heights shift what is seen away from it.
    pub fn nadir(&self) -> Point {
        let eye = self.position();
        Point::new(eye.x, eye.y)
    }

    /// How high the camera is over the sheet, mm.
    pub fn height_mm(&self) -> f64 {
        self.position().z
    }

    /// How far the camera's axis leans from straight down, degrees.
    pub fn tilt_deg(&self) -> f64 {
        (-self.rotation[2][2]).clamp(-1.0, 1.0).acos().to_degrees()
    }

    /// How large a millimetre of the sheet is in the photo near a point, px/mm: the root of the ratio
    /// of areas. `None` where the point is not seen.
    pub fn px_per_mm(&self, at: Point) -> Option<f64> {
        let [o, a, b] = [(0.0, 0.0), (0.1, 0.0), (0.0, 0.1)]
            .map(|(dx, dy)| self.project(SheetPoint3::new(at.x + dx, at.y + dy, 0.0)));
        let (o, a, b) = (o?, a?, b?);
        let area = (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
        Some(area.abs().sqrt() / 0.1)
    }
}
