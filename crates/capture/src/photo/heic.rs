//! HEIC: photos in HEVC, as phones write them.

use super::{Decoded, Limits, PhotoError};
use heifer::Error;
use heifer::heifer_hevc_dec::Error as HevcError;
use heifer::heifer_isobmff::boxes::{Grid, Property};
use heifer::heifer_isobmff::{Error as ContainerError, HeifFile, ItemId};
use image::metadata::Orientation;
use image::{DynamicImage, RgbaImage};

const NAME: &str = "HEIC";

/// The file starts as HEIF files do (ISO/IEC 14496-12, file type box).
pub(super) fn looks_like(bytes: &[u8]) -> bool {
    const BRANDS: [&[u8]; 8] = [
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"mif2", b"msf1",
    ];
    bytes.get(4..8) == Some(b"ftyp") && bytes.get(8..12).is_some_and(|b| BRANDS.contains(&b))
}

/// The picture, upright already: the file's own turns and mirrors (`irot`, `imir`) are applied by the
/// decoder, and the EXIF orientation beside them, which by the standard only informs (ISO/IEC 23008-12), is
/// not applied again.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Decoded, PhotoError> {
    let file = HeifFile::parse(bytes).map_err(|e| failure(&e.into()))?;
    let id = file.primary_id;
    let size = file.image_size(id).map_err(|e| failure(&e.into()))?;
    let (width, height) = size.ok_or_else(|| damaged("its picture states no size"))?;
    // Four bytes for each of the largest sides that can be written would overflow.
    let bytes_of = |w: u32, h: u32| (u64::from(w) * u64::from(h)).saturating_mul(4);
    let allowed = |w: u32, h: u32| limits.allow(w, h, bytes_of(w, h));
    allowed(width, height)?;
    // What a grid is put together to may differ from the size that is announced.
    for item in &file.items {
        if let Ok(grid) = file.grid(item.id) {
            allowed(grid.output_width, grid.output_height)?;
            if !tiles_cover(&file, item.id, &grid) {
                return Err(damaged("its tiles do not cover the picture"));
            }
        }
    }
    let exif = file.exif(id).ok().flatten();
    let quarter_turns: usize = file.item_properties(id).map_or(0, |properties| {
        properties
            .map(|p| match p {
                Property::Rotation(quarters) => usize::from(*quarters),
                _ => 0,
            })
            .sum()
    });
    let options = heifer::Options {
        max_threads: 0,
        // The coded picture is rounded up to whole blocks and may be larger by them.
        max_pixels: limits.pixels.min(limits.decoded_bytes / 4).max(64 * 64),
    };
    let image = heifer::decode_rgba8(bytes, &options).map_err(|e| failure(&e))?;
    let (width, height, has_alpha) = (image.width, image.height, image.has_alpha);
    let rgba = RgbaImage::from_raw(width, height, image.data)
        .ok_or_else(|| damaged("it has fewer pixels than its header says"))?;
    let picture = DynamicImage::from(rgba);
    let picture = if has_alpha {
        picture
    } else {
        picture.into_rgb8().into()
    };
    Ok(Decoded {
        picture,
        orientation: Orientation::NoTransforms,
        exif,
        dpi: None,
        turned: quarter_turns % 2 == 1,
    })
}

/// Whether as many tiles as it says, all of the first one's size, cover a grid (ISO/IEC 23008-12, 6.6.2.3.1). The decoder
/// (heifer 0.3.22) takes that for granted, and panics where the picture is wider.
fn tiles_cover(file: &HeifFile<'_>, id: ItemId, grid: &Grid) -> bool {
    let tiles = file.referenced_items(id, b"dimg");
    let first = tiles
        .first()
        .and_then(|&t| file.image_size(t).ok().flatten());
    first.is_some_and(|(w, h)| {
        let covers = |count: u32, side: u32, whole: u32| {
            u64::from(count) * u64::from(side) >= u64::from(whole)
        };
        tiles.len() == usize::from(grid.columns) * usize::from(grid.rows)
            && covers(grid.columns.into(), w, grid.output_width)
            && covers(grid.rows.into(), h, grid.output_height)
    })
}

fn damaged(problem: &str) -> PhotoError {
    PhotoError::Damaged {
        format: NAME,
        problem: problem.into(),
    }
}

fn failure(error: &Error) -> PhotoError {
    match error {
        Error::Container(ContainerError::UnexpectedEof) | Error::Hevc(HevcError::UnexpectedEof) => {
            PhotoError::Truncated { format: NAME }
        }
        e => damaged(&e.to_string()),
    }
}
