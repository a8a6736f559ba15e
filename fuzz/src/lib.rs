//! What several targets share.

use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};
use capture::scan::{Scan, ScannerProfile};
use capture::{Stroke, ThicknessAt};

/// Reads a drawing under limits that keep one round short.
pub fn drawing(bytes: &[u8], format: DrawingFormat) {
    let limits = DrawingLimits {
        entities: 5_000,
        points: 20_000,
        rings: 200,
        ..DrawingLimits::default()
    };
    match Drawing::read(bytes, format, None, &limits) {
        Ok(read) => {
            assert!(!read.outlines.is_empty());
            for drawn in &read.outlines {
                assert!(drawn.outline.area_mm2() > 0.0);
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a file of strokes.
pub fn strokes(bytes: &[u8]) {
    match Stroke::list_from_json(bytes) {
        Ok(strokes) => {
            for stroke in strokes {
                assert!(!stroke.points.is_empty() && stroke.width_mm > 0.0);
                let far = |p: &shape::Point| !(p.x.abs() <= 5_000.0 && p.y.abs() <= 5_000.0);
                assert!(!stroke.points.iter().any(far));
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a table of thicknesses.
pub fn thicknesses(bytes: &[u8]) {
    match ThicknessAt::list_from_csv(bytes) {
        Ok(rows) => {
            for row in rows {
                assert!(row.thickness_mm >= 0.0 && row.thickness_mm.is_finite());
                assert!(row.at.x.is_finite() && row.at.y.is_finite());
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a scanner's profile, and lays it under a scan.
pub fn scanner_profile(bytes: &[u8]) {
    match ScannerProfile::from_json(bytes) {
        Ok(read) => {
            let again = ScannerProfile::from_json(read.to_json().as_bytes());
            assert_eq!(again.as_ref(), Ok(&read));
            let _ = Scan::try_new([2480, 3508], Some([300.0, 300.0]), Some(read));
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads art behind the parts for a small board.
pub fn art(bytes: &[u8]) {
    match press::art::read_svg(bytes, [40.0, 60.0]) {
        Ok(read) => {
            assert_eq!(read.rgba.len(), 4 * read.width_px as usize * read.height_px as usize);
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}
