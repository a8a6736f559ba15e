//! How a picture was taken: which way leads from its pixels to the plane that the parts lie on.

use crate::background::{commonest_px, rim_px};
use crate::camera::{BesideCard, CARD_SIZE_SIGMA, Camera, CameraWarning, SheetPoint3, Solved};
use crate::capture::print_sigma;
use crate::height::Standpoint;
use crate::linear::LinearImage;
use crate::look::Look;
use crate::photo::PhotoPoint;
use crate::plane::SheetPlane;
use crate::scan::Scan;
use shape::{Bounds, Point};
use std::fmt;

/// How a picture was taken.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Taken {
    /// Photographed on a capture sheet.
    OnSheet {
        /// The camera and the sheet as printed.
        solved: Box<Solved>,
        /// Somebody measured the sheet's bars.
        print_measured: bool,
    },
    /// Scanned on a flatbed: no camera, no height.
    Scanned(Scan),
    /// Photographed with a card beside the parts.
    BesideCard(Box<BesideCard>),
}

/// What is worth knowing about how a picture was taken.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum TakenWarning {
    /// Of a camera over a sheet.
    Camera(CameraWarning),
    /// Nobody measured the scanner.
    ScannerUnmeasured,
    /// The photo does not tell its focal length.
    FocalAssumed {
        /// One standard deviation of the camera's height, mm.
        height_sigma_mm: f64,
    },
    /// Something goes round the picture's edges: what the background lies on.
    SurroundingsLeftOut,
    /// Something small that hardly differs from the paper.
    FaintLeftOut {
        /// Its middle, mm of the sheet.
        at: Point,
        /// How much of the sheet it covers, mm2.
        area_mm2: f64,
    },
}

impl fmt::Display for TakenWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Camera(w) => w.fmt(f),
            Self::ScannerUnmeasured => f.write_str(
                "the scanner was not measured: scanners are seen off by 0.6 % from place to place; scan a capture sheet \
                 once and make a profile of it",
            ),
            Self::FocalAssumed { height_sigma_mm } => write!(
                f,
                "the photo does not tell its focal length, a telephone's was assumed: the camera's height is known to \
                 {height_sigma_mm:.0} mm only, which matters for thick parts and far from the card",
            ),
            Self::SurroundingsLeftOut => f.write_str(
                "what goes round the picture's edges is taken for what the background lies on, and left out",
            ),
            Self::FaintLeftOut { at, area_mm2 } => write!(
                f,
                "something of {area_mm2:.0} mm2 at ({:.0}, {:.0}) mm hardly differs from the paper and is left out",
                at.x, at.y,
            ),
        }
    }
}

impl Taken {
    /// The camera, where there is one.
    pub fn camera(&self) -> Option<&Camera> {
        match self {
            Self::OnSheet { solved, .. } => Some(&solved.camera),
            Self::Scanned(_) => None,
            Self::BesideCard(card) => Some(&card.camera),
        }
    }

    /// The camera over a sheet with all that is known of both.
    pub fn solved(&self) -> Option<&Solved> {
        match self {
            Self::OnSheet { solved, .. } => Some(solved),
            _ => None,
        }
    }

    /// Where a place over the plane appears in the picture; `None` where it does not. In a scan, height moves nothing.
    pub fn project(&self, p: SheetPoint3) -> Option<PhotoPoint> {
        match self {
            Self::Scanned(scan) => {
                let [x, y] = scan.pixel_of(Point::new(p.x, p.y));
                Some(PhotoPoint::new(x, y))
            }
            Self::OnSheet { solved, .. } => solved.camera.project(p),
            Self::BesideCard(card) => card.camera.project(p),
        }
    }

    /// The point of the plane, mm, that the picture shows at a place; `None` where it shows none.
    pub fn plane_from_photo(&self, p: PhotoPoint) -> Option<Point> {
        self.sheet_from_photo([p.x, p.y])
    }

    /// Whether a point of the plane, mm, lies where parts are looked for: the sheet's field, the scan, the photo of a card.
    pub(crate) fn field_holds(&self, p: Point) -> bool {
        match (self, self.whole_picture_px()) {
            (Self::OnSheet { solved, .. }, _) => solved.sheet.field.contains(p),
            (_, Some(size_px)) => self
                .project(SheetPoint3::over(p, 0.0))
                .is_some_and(|at| within(at, size_px)),
            (_, None) => false,
        }
    }

    /// What is worth knowing.
    pub fn warnings(&self) -> Vec<TakenWarning> {
        match self {
            Self::OnSheet { solved, .. } => {
                let all = solved.warnings.iter().cloned();
                all.map(TakenWarning::Camera).collect()
            }
            Self::Scanned(scan) if scan.profile().is_none() => {
                vec![TakenWarning::ScannerUnmeasured]
            }
            Self::BesideCard(card) if !card.focal_known => vec![TakenWarning::FocalAssumed {
                height_sigma_mm: card.height_sigma_mm,
            }],
            _ => Vec::new(),
        }
    }

    /// Where the camera stands, for the correction of heights.
    pub(crate) fn standpoint(&self) -> Option<Standpoint> {
        self.camera().map(|c| Standpoint {
            height_mm: c.height_mm(),
            nadir: c.nadir(),
        })
    }

    /// How far all lengths may be off together, one sigma as a share.
    pub(crate) fn scale_sigma(&self) -> f64 {
        match self {
            Self::OnSheet { print_measured, .. } => print_sigma(*print_measured),
            Self::Scanned(scan) => scan.scale_sigma(),
            Self::BesideCard(_) => CARD_SIZE_SIGMA,
        }
    }

    /// How far what the picture shows within these bounds may be off besides, one sigma, mm.
    pub(crate) fn place_sigma_mm(&self, bounds: Bounds) -> f64 {
        match self {
            Self::OnSheet { solved, .. } => solved
                .sigma_mm_at(bounds.centre())
                .unwrap_or(0.0)
                .hypot(0.5 * solved.corner_rms_mm),
            Self::Scanned(scan) => scan.place_sigma_mm(),
            Self::BesideCard(card) => {
                let opposite = [
                    Point::new(bounds.min.x, bounds.max.y),
                    Point::new(bounds.max.x, bounds.min.y),
                ];
                let [a, b] = [[bounds.min, bounds.max], opposite]
                    .map(|[p, q]| card.sigma_mm_between(p, q).unwrap_or(0.0));
                a.max(b).hypot(0.5 * card.corner_rms_mm)
            }
        }
    }

    /// The picture's size where the whole of it is the field, px.
    pub(crate) fn whole_picture_px(&self) -> Option<[u32; 2]> {
        match self {
            Self::OnSheet { .. } => None,
            Self::Scanned(scan) => Some(scan.size_px()),
            Self::BesideCard(card) => Some(card.size_px),
        }
    }
}

/// Whether a place lies on the picture's pixels.
fn within(at: PhotoPoint, size_px: [u32; 2]) -> bool {
    [(at.x, size_px[0]), (at.y, size_px[1])]
        .iter()
        .all(|&(v, n)| v >= -0.5 && v <= f64::from(n) - 0.5)
}

impl SheetPlane for Taken {
    fn sheet_from_photo(&self, photo_px: [f64; 2]) -> Option<Point> {
        match self {
            Self::OnSheet { solved, .. } => SheetPlane::sheet_from_photo(&solved.camera, photo_px),
            Self::Scanned(scan) => scan.sheet_from_photo(photo_px),
            Self::BesideCard(card) => SheetPlane::sheet_from_photo(&card.camera, photo_px),
        }
    }

    fn photo_from_sheet(&self, sheet_mm: Point) -> Option<[f64; 2]> {
        match self {
            Self::OnSheet { solved, .. } => solved.camera.photo_from_sheet(sheet_mm),
            Self::Scanned(scan) => scan.photo_from_sheet(sheet_mm),
            Self::BesideCard(card) => card.camera.photo_from_sheet(sheet_mm),
        }
    }

    fn rise_px(&self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        match self {
            Self::OnSheet { solved, .. } => solved.camera.rise_px(photo_px),
            Self::Scanned(scan) => scan.rise_px(photo_px),
            Self::BesideCard(card) => card.camera.rise_px(photo_px),
        }
    }
}

impl Look {
    /// The whole of a scan; its background shows along its rim.
    pub(crate) fn at_scan(scan: &Scan) -> Self {
        Self {
            border_px: whole(scan.size_px()),
            white_px: rim_px(scan.size_px(), scan.px_per_mm()),
            may_be_covered: true,
            may_be_dark: true,
            lean_known: true,
            px_per_mm: scan.px_per_mm(),
        }
    }

    /// The whole of a photo; the commonest even surface is its background. Which way heights lean is not known until the card is
    /// found.
    pub(crate) fn at_photo(image: &LinearImage<'_>, px_per_mm: f64) -> Self {
        Self {
            border_px: whole([image.width as u32, image.height as u32]),
            white_px: commonest_px(image, px_per_mm),
            may_be_covered: false,
            may_be_dark: true,
            lean_known: false,
            px_per_mm,
        }
    }
}

fn whole(size_px: [u32; 2]) -> Vec<[f64; 2]> {
    let [w, h] = size_px.map(|n| f64::from(n) - 0.5);
    vec![[-0.5, -0.5], [w, -0.5], [w, h], [-0.5, h]]
}
