//! Drawings: what their outlines measure, and what bad ones are told.

mod drawing {
    mod bad;
    mod dxf;
    mod gerber;
    mod svg;
}

use capture::drawing::{
    Drawing, DrawingError, DrawingFormat, DrawingLimits, DrawingUnit, DrawingWarning,
};

fn read(text: &str, format: DrawingFormat) -> Result<Drawing, DrawingError> {
    Drawing::read(text.as_bytes(), format, None, &DrawingLimits::default())
}

fn read_in(text: &str, format: DrawingFormat, unit: DrawingUnit) -> Drawing {
    Drawing::read(
        text.as_bytes(),
        format,
        Some(unit),
        &DrawingLimits::default(),
    )
    .expect("sound")
}

fn areas(drawing: &Drawing) -> Vec<f64> {
    drawing
        .outlines
        .iter()
        .map(|d| d.outline.area_mm2())
        .collect()
}

/// A circle's area less what chords within 0.005 mm take off it: between 2/3 of the sagitta and all of it,
/// all round (a segment's area is 2/3 chord times sagitta).
fn assert_circle_area(area: f64, radius: f64) {
    let truth = std::f64::consts::PI * radius * radius;
    let loss = std::f64::consts::TAU * radius * 0.005;
    assert!(
        area < truth && area > truth - loss,
        "{area} of {truth}, {loss}"
    );
}

fn units_assumed(drawing: &Drawing) -> Option<f64> {
    drawing.warnings.iter().find_map(|w| match w {
        DrawingWarning::UnitAssumed { unit_mm } => Some(*unit_mm),
        _ => None,
    })
}
