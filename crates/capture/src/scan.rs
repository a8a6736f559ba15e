//! Flatbed scans: the sheet's plane is the glass, and the pixels' places on it follow from the resolution.
//!
//! What lies on the glass is seen without parallax, so a part's thickness does not change its outline. A scan shows the
//! face that lies on the glass, as it looks when that face is turned up.

mod axis;
mod measure;
mod profile;

pub use axis::ScannerAxis;
pub use measure::measure_scanner;
pub use profile::{ProfileError, ScannerProfile};

use crate::photo::Limits;
use crate::plane::SheetPlane;
use shape::Point;

/// An inch, mm.
const INCH_MM: f64 = 25.4;

/// Resolutions that scans have, pixels per inch. Below, a pixel is wider than a quarter of a millimetre; viewers and
/// cameras write 72 and 96 for nothing.
pub(crate) const SCAN_DPI: std::ops::RangeInclusive<f64> = 100.0..=19_200.0;

/// Resolutions along x and y differ by no more than this factor.
const MOST_DPI_RATIO: f64 = 4.0;

/// How well a scanner's own scale is known that nobody measured, one sigma as a share: of a scanner whose halves differed
/// by 0.6 % along its sensor, each is off by half of that from what both together say (desktop scanners measured with
/// a ruler by their owners; no standard).
const UNMEASURED_SCANNER_SIGMA: f64 = 0.003;

/// Why a picture is not taken as a scan.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ScanError {
    /// Neither the file nor its user tells the resolution.
    #[error(
        "the file does not say how many pixels lie on an inch; give the resolution it was scanned with"
    )]
    NoResolution,
    /// No scanner's resolution.
    #[error(
        "{} x {} pixels an inch is no scan's resolution (100 to 19200, the two alike); give the one it was scanned \
         with, and scan at 300 or more",
        dpi[0], dpi[1]
    )]
    Resolution {
        /// What was given or read, pixels per inch along x and y.
        dpi: [f64; 2],
    },
    /// A few pixels or millimetres wide.
    #[error("the scan is only {:.1} x {:.1} mm; is the resolution right?", size_mm[0], size_mm[1])]
    TooSmall {
        /// Its size at that resolution, mm.
        size_mm: [f64; 2],
    },
    /// Its rim shows no even background.
    #[error(
        "the scan's rim shows no even background; close the lid or lay plain paper over the parts, and leave a \
         centimetre free all round"
    )]
    NoBackground,
    /// Nothing lies on the glass.
    #[error("no part is seen in the scan; lay the parts on the glass, away from its rim")]
    NothingThere,
}

/// What a scan may ask for before it is refused: A4 at 1200 dpi, 16 bits a channel, not compressed.
pub fn scan_limits() -> Limits {
    Limits {
        file_bytes: 900 << 20,
        pixels: 150_000_000,
        decoded_bytes: 900 << 20,
        ..Limits::default()
    }
}

/// How a scan's pixels lie on the glass, mm from the picture's lower-left corner, x right, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    size_px: [u32; 2],
    dpi: [f64; 2],
    profile: Option<ScannerProfile>,
    /// Where the profile puts the picture's lower-left corner.
    origin: Point,
    /// The picture's lower edge, mm from its upper one by the resolution alone.
    bottom_mm: f64,
}

impl Scan {
    /// A scan of that many pixels at that resolution along x and y, corrected where the scanner was measured.
    ///
    /// A profile holds for scans that begin at the same corner of the glass as the one it was measured on.
    ///
    /// # Errors
    /// [`ScanError::NoResolution`], [`ScanError::Resolution`] and [`ScanError::TooSmall`].
    pub fn try_new(
        size_px: [u32; 2],
        dpi: Option<[f64; 2]>,
        profile: Option<ScannerProfile>,
    ) -> Result<Self, ScanError> {
        let dpi = dpi.ok_or(ScanError::NoResolution)?;
        let alike = dpi[0] <= MOST_DPI_RATIO * dpi[1] && dpi[1] <= MOST_DPI_RATIO * dpi[0];
        if !alike || !dpi.iter().all(|d| SCAN_DPI.contains(d)) {
            return Err(ScanError::Resolution { dpi });
        }
        let scan = Self::unchecked(size_px, dpi, profile);
        let size_mm = scan.size_mm();
        if size_mm.iter().any(|mm| *mm < 5.0) || size_px.iter().any(|px| *px < 64) {
            return Err(ScanError::TooSmall { size_mm });
        }
        Ok(scan)
    }

    /// A picture taken for a scan while nothing is known of it but about how much it shows.
    pub(crate) fn assumed(size_px: [u32; 2], px_per_mm: f64) -> Self {
        Self::unchecked(size_px, [px_per_mm * INCH_MM; 2], None)
    }

    fn unchecked(size_px: [u32; 2], dpi: [f64; 2], profile: Option<ScannerProfile>) -> Self {
        let mut scan = Self {
            size_px,
            dpi,
            profile,
            origin: Point::default(),
            bottom_mm: f64::from(size_px[1]) * INCH_MM / dpi[1],
        };
        scan.origin = scan.on_glass([0.0, scan.bottom_mm]);
        scan
    }

    /// Width and height by the resolution alone, mm.
    pub fn size_mm(&self) -> [f64; 2] {
        [0, 1].map(|k| f64::from(self.size_px[k]) * INCH_MM / self.dpi[k])
    }

    /// The resolution along x and y, pixels per inch.
    pub fn dpi(&self) -> [f64; 2] {
        self.dpi
    }

    /// The correction in use.
    pub fn profile(&self) -> Option<&ScannerProfile> {
        self.profile.as_ref()
    }

    /// How far lengths may be off throughout, one sigma as a share.
    pub fn scale_sigma(&self) -> f64 {
        self.profile
            .as_ref()
            .map_or(UNMEASURED_SCANNER_SIGMA, ScannerProfile::scale_sigma)
    }

    /// How far a place may be off besides, one sigma, mm.
    pub(crate) fn place_sigma_mm(&self) -> f64 {
        self.profile.as_ref().map_or(0.0, |p| p.residual_rms_mm())
    }

    /// The distance between two places in the scan, mm.
    pub fn distance_mm(&self, from_px: [f64; 2], to_px: [f64; 2]) -> f64 {
        let [a, b] = [from_px, to_px].map(|p| self.on_glass(nominal_mm(p, self.dpi)));
        a.distance_mm(b)
    }

    pub(crate) fn size_px(&self) -> [u32; 2] {
        self.size_px
    }

    /// Where a place of the scan's plane lies in the picture.
    pub(crate) fn pixel_of(&self, place_mm: Point) -> [f64; 2] {
        let on_glass = Point::new(place_mm.x + self.origin.x, place_mm.y + self.origin.y);
        let nominal = match &self.profile {
            Some(p) => p.nominal(on_glass),
            None => [on_glass.x, -on_glass.y],
        };
        [0, 1].map(|k| nominal[k] * self.dpi[k] / INCH_MM - 0.5)
    }

    /// Pixels per millimetre: the root of the product of both.
    pub(crate) fn px_per_mm(&self) -> f64 {
        (self.dpi[0] * self.dpi[1]).sqrt() / INCH_MM
    }

    /// Where the profile puts a place given by the resolution: mm from the picture's upper-left corner, y up.
    fn on_glass(&self, nominal: [f64; 2]) -> Point {
        match &self.profile {
            Some(p) => p.on_glass(nominal),
            None => Point::new(nominal[0], -nominal[1]),
        }
    }
}

/// A place in a picture as its resolution gives it, mm right and down from its upper-left corner.
fn nominal_mm(px: [f64; 2], dpi: [f64; 2]) -> [f64; 2] {
    [0, 1].map(|k| (px[k] + 0.5) * INCH_MM / dpi[k])
}

impl SheetPlane for Scan {
    fn sheet_from_photo(&self, photo_px: [f64; 2]) -> Option<Point> {
        let p = self.on_glass(nominal_mm(photo_px, self.dpi));
        Some(Point::new(p.x - self.origin.x, p.y - self.origin.y))
    }

    fn photo_from_sheet(&self, sheet_mm: Point) -> Option<[f64; 2]> {
        Some(self.pixel_of(sheet_mm))
    }

    /// A scanner looks straight down on every place.
    fn rise_px(&self, _: [f64; 2]) -> Option<[f64; 2]> {
        Some([0.0; 2])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition of the inch (25.4 mm): 300 pixels at 300 dpi.
    #[test]
    fn pixels_lie_where_the_resolution_says() {
        let scan = Scan::try_new([600, 1200], Some([300.0, 600.0]), None).unwrap();
        let at = |x, y| scan.sheet_from_photo([x, y]).unwrap();
        assert!(at(-0.5, 1199.5).distance_mm(Point::new(0.0, 0.0)) < 1e-12);
        assert!(at(299.5, 599.5).distance_mm(Point::new(25.4, 25.4)) < 1e-12);
        assert!(at(599.5, -0.5).distance_mm(Point::new(50.8, 50.8)) < 1e-12);
        let [x, y] = scan.pixel_of(at(17.0, 23.0));
        assert!((x - 17.0).abs() < 1e-9 && (y - 23.0).abs() < 1e-9);
    }

    #[test]
    fn resolutions_that_no_scan_has_are_refused() {
        let of = |dpi| Scan::try_new([3000, 3000], dpi, None);
        assert_eq!(of(None), Err(ScanError::NoResolution));
        for dpi in [
            [0.0, 0.0],
            [-300.0, 300.0],
            [72.0, 72.0],
            [1e9, 1e9],
            [f64::NAN, 300.0],
            [300.0, f64::INFINITY],
            [100.0, 1200.0],
        ] {
            assert!(
                matches!(of(Some(dpi)), Err(ScanError::Resolution { .. })),
                "{dpi:?}"
            );
        }
        assert!(matches!(
            of(Some([19_200.0, 19_200.0])),
            Err(ScanError::TooSmall { .. })
        ));
    }
}
