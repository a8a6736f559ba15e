//! What several targets share.

use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};

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
