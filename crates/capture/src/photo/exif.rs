//! What is read from a photo's EXIF data, which has the form of a TIFF file.

use exif::{In, Reader, Tag, Value};

/// EXIF data, read.
pub(super) type Read = exif::Exif;

/// Reads raw EXIF data, or a whole TIFF file, as far as it is sound.
pub(super) fn read(raw: Vec<u8>) -> Option<Read> {
    let mut reader = Reader::new();
    // Phones write broken entries beside good ones.
    reader.continue_on_error(true);
    reader
        .read_raw(raw)
        .or_else(|e| e.distill_partial_result(|_| {}))
        .ok()
}

fn number(exif: &Read, tag: Tag) -> Option<f64> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Short(v) => Some(f64::from(*v.first()?)),
        Value::Long(v) => Some(f64::from(*v.first()?)),
        Value::Rational(v) => Some(v.first()?.to_f64()),
        _ => None,
    }
}

/// The focal length for a frame of 36 x 24 mm (`FocalLengthIn35mmFilm`), mm. Cameras that do not know it write
/// 0.
pub(super) fn focal_35mm_of(exif: &Read) -> Option<f64> {
    // Below 5 mm and above 1000 mm no camera photographs a sheet on a table.
    number(exif, Tag::FocalLengthIn35mmFilm).filter(|mm| (5.0..=1000.0).contains(mm))
}

/// `XResolution` and `YResolution` in pixels per inch; `ResolutionUnit` 2 is an inch, also where it is
/// missing, 3 a centimetre, 1 none (TIFF 6.0, section 8).
pub(super) fn resolution_dpi(exif: &Read) -> Option<[f64; 2]> {
    let per_inch = match number(exif, Tag::ResolutionUnit).unwrap_or(2.0) as u32 {
        2 => 1.0,
        3 => 2.54,
        _ => return None,
    };
    let x = number(exif, Tag::XResolution)?;
    let y = number(exif, Tag::YResolution)?;
    Some([x * per_inch, y * per_inch])
}
