//! How many pixels a file says lie on an inch.

use super::exif;

/// Densities beyond these are no scanner's or camera's, pixels per inch.
const SOUND: std::ops::RangeInclusive<f64> = 1.0..=100_000.0;

fn sound(dpi: [f64; 2]) -> Option<[f64; 2]> {
    dpi.iter().all(|d| SOUND.contains(d)).then_some(dpi)
}

/// A PNG's chunk of physical pixel dimensions, in pixels per metre (ISO/IEC 15948, 11.3.5.3).
pub(super) fn of_png(bytes: &[u8]) -> Option<[f64; 2]> {
    let mut at = 8;
    loop {
        let head = bytes.get(at..at + 8)?;
        let length = u32::from_be_bytes(head[..4].try_into().ok()?) as usize;
        let data = bytes.get(at + 8..(at + 8).checked_add(length)?)?;
        match &head[4..] {
            b"pHYs" => {
                let [x, y] = [data.get(..4)?, data.get(4..8)?]
                    .map(|b| f64::from(u32::from_be_bytes([b[0], b[1], b[2], b[3]])));
                return sound([x * 0.0254, y * 0.0254]).filter(|_| data.get(8) == Some(&1));
            }
            b"IDAT" | b"IEND" => return None,
            _ => at += 12 + length,
        }
    }
}

/// A JPEG's JFIF segment, which comes first where there is one (ITU-T T.871, 10.1): units 1 an inch, 2 a
/// centimetre.
pub(super) fn of_jfif(bytes: &[u8]) -> Option<[f64; 2]> {
    let head = bytes.get(2..18)?;
    if head[..2] != [0xFF, 0xE0] || &head[4..9] != b"JFIF\0" {
        return None;
    }
    let per_inch = match head[11] {
        1 => 1.0,
        2 => 2.54,
        _ => return None,
    };
    let number = |k: usize| f64::from(u16::from_be_bytes([head[k], head[k + 1]]));
    sound([number(12) * per_inch, number(14) * per_inch])
}

/// The resolution tags of TIFF and EXIF.
pub(super) fn of_exif(read: &exif::Read) -> Option<[f64; 2]> {
    sound(exif::resolution_dpi(read)?)
}
