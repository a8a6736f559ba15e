//! What is read from a photo's EXIF data.

use exif::{In, Reader, Tag, Value};

/// The focal length for a frame of 36 x 24 mm (`FocalLengthIn35mmFilm`), mm, from raw EXIF data.
/// Cameras that do not know it write 0.
pub(super) fn focal_35mm_of(raw: Vec<u8>) -> Option<f64> {
    let mut reader = Reader::new();
    // Phones write broken entries beside good ones.
    reader.continue_on_error(true);
    let exif = reader
        .read_raw(raw)
        .or_else(|e| e.distill_partial_result(|_| {}))
        .ok()?;
    let field = exif.get_field(Tag::FocalLengthIn35mmFilm, In::PRIMARY)?;
    let mm = match &field.value {
        Value::Short(v) => f64::from(*v.first()?),
        Value::Long(v) => f64::from(*v.first()?),
        Value::Rational(v) => v.first()?.to_f64(),
        _ => return None,
    };
    // Below 5 mm and above 1000 mm no camera photographs a sheet on a table.
    (5.0..=1000.0).contains(&mm).then_some(mm)
}
