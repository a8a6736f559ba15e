//! Photographs from files: decoded under limits, turned upright, with the focal length they carry.
//!
//! Pixels are x right, y down, pixel centres at integers, as everywhere in this crate.

mod density;
mod exif;
mod heic;
mod jpeg;
mod jpeg_end;
mod jpeg_scan;
mod linear;

pub use linear::LinearLuma;

use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageFormat, ImageReader};
use std::fmt;
use std::io::{Cursor, ErrorKind};

/// A place in a photo, pixels: x right, y down, (0, 0) the centre of the upper-left pixel.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhotoPoint {
    /// To the right, px.
    pub x: f64,
    /// Downwards, px.
    pub y: f64,
}

impl PhotoPoint {
    /// A place from its coordinates, px.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another place, px.
    pub fn distance_px(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// Where two lines meet, each through two places. `None` where they are parallel, or their stretches between these places span
/// less than `least_px2`.
pub(crate) fn meeting(
    [p0, p1]: [PhotoPoint; 2],
    [q0, q1]: [PhotoPoint; 2],
    least_px2: f64,
) -> Option<PhotoPoint> {
    let (p, q) = ([p1.x - p0.x, p1.y - p0.y], [q1.x - q0.x, q1.y - q0.y]);
    let det = p[0] * q[1] - p[1] * q[0];
    if det.abs() < least_px2 {
        return None;
    }
    let t = ((q0.x - p0.x) * q[1] - (q0.y - p0.y) * q[0]) / det;
    let meeting = PhotoPoint::new(p0.x + t * p[0], p0.y + t * p[1]);
    (meeting.x.is_finite() && meeting.y.is_finite()).then_some(meeting)
}

/// What a photo may ask for before it is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest file, bytes.
    pub file_bytes: usize,
    /// Largest picture, pixels.
    pub pixels: u64,
    /// Longest side, pixels.
    pub side_px: u32,
    /// Largest decoded picture in the file's own pixel form, bytes.
    pub decoded_bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            file_bytes: 64 << 20,
            pixels: 120_000_000,
            side_px: 65_535,
            decoded_bytes: 512 << 20,
        }
    }
}

impl Limits {
    /// Refuses a picture that a header announces.
    fn allow(&self, width: u32, height: u32, decoded_bytes: u64) -> Result<(), PhotoError> {
        let fits = u64::from(width) * u64::from(height) <= self.pixels
            && width.max(height) <= self.side_px
            && decoded_bytes <= self.decoded_bytes;
        fits.then_some(()).ok_or(PhotoError::TooLarge {
            width,
            height,
            limits: *self,
        })
    }
}

/// Why a file gave no photo.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoError {
    /// No format that is read here starts like this.
    #[error("not an image that can be read; give a JPEG, HEIC, PNG, TIFF or WebP file")]
    NotAnImage,
    /// The file ends before its picture does.
    #[error("the {format} file is cut short; copy it again from the camera")]
    Truncated {
        /// The file's format.
        format: &'static str,
    },
    /// The file is damaged or uses something its decoder does not know.
    #[error("the {format} file cannot be decoded: {problem}")]
    Damaged {
        /// The file's format.
        format: &'static str,
        /// What the decoder said.
        problem: String,
    },
    /// The file itself is too large.
    #[error("the file has {bytes} bytes, the limit is {limit}; save the photo smaller")]
    FileTooLarge {
        /// Its size.
        bytes: usize,
        /// The largest size taken.
        limit: usize,
    },
    /// The header asks for too large a picture; nothing has been decoded.
    #[error(
        "the picture is {width} x {height} pixels, too large ({}); save it smaller",
        limit_in_words(.limits)
    )]
    TooLarge {
        /// Width that the header gives, px.
        width: u32,
        /// Height that the header gives, px.
        height: u32,
        /// The limits it broke.
        limits: Limits,
    },
}

fn limit_in_words(limits: &Limits) -> String {
    format!(
        "the limit is {} megapixels, {} on a side, {} MiB decoded",
        limits.pixels / 1_000_000,
        limits.side_px,
        limits.decoded_bytes >> 20
    )
}

/// A decoded photo, upright.
#[derive(Clone, PartialEq)]
pub struct Photo {
    width: u32,
    height: u32,
    /// Three bytes for each pixel: only [`Photo::decode`] makes a photo.
    rgb8: Vec<u8>,
    /// The lens's focal length as the file gives it for a frame of 36 x 24 mm, mm.
    ///
    /// By the diagonal: `focal_px = focal_35mm * diagonal_px / 43.2666`.
    pub focal_35mm: Option<f64>,
    /// How many pixels lie on an inch to the right and downwards, as the file says: PNG's pHYs, JPEG's JFIF or
    /// EXIF, TIFF's resolution tags. Scanners mean it; cameras write 72 or 96 for nothing.
    pub dpi: Option<[f64; 2]>,
}

/// A file's picture as stored, and what the file says of it.
struct Decoded {
    picture: DynamicImage,
    /// How the picture is still to be turned.
    orientation: Orientation,
    exif: Option<Vec<u8>>,
    /// What the format itself says beside EXIF.
    dpi: Option<[f64; 2]>,
    /// The decoder has turned it by an odd number of quarters already.
    turned: bool,
}

impl Photo {
    /// Decodes a JPEG, HEIC, PNG, TIFF or WebP file; 16 bits a channel are rounded to 8. The header is checked against `limits` before memory
    /// for the pixels is taken; the pixels are turned as the EXIF orientation says; what is
    /// transparent becomes white.
    ///
    /// # Errors
    /// [`PhotoError`], with the remedy.
    pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Self, PhotoError> {
        if bytes.len() > limits.file_bytes {
            return Err(PhotoError::FileTooLarge {
                bytes: bytes.len(),
                limit: limits.file_bytes,
            });
        }
        let known = image::guess_format(bytes)
            .ok()
            .and_then(|f| Some((f, name_of(f)?)));
        let decoded = match known {
            _ if heic::looks_like(bytes) => heic::decode(bytes, limits)?,
            Some((ImageFormat::Jpeg, _)) => jpeg::decode(bytes, limits)?,
            Some((format, name)) => decode_other(bytes, format, name, limits)?,
            None => return Err(PhotoError::NotAnImage),
        };
        let Decoded {
            mut picture,
            orientation,
            exif,
            dpi,
            turned,
        } = decoded;
        picture.apply_orientation(orientation);
        let exif = exif.and_then(exif::read);
        let dpi = dpi.or_else(|| density::of_exif(exif.as_ref()?));
        let crosswise = turned
            || matches!(
                orientation,
                Orientation::Rotate90
                    | Orientation::Rotate270
                    | Orientation::Rotate90FlipH
                    | Orientation::Rotate270FlipH
            );
        let upright = if picture.color().has_alpha() {
            on_white(picture)
        } else {
            picture.into_rgb8()
        };
        Ok(Self {
            width: upright.width(),
            height: upright.height(),
            rgb8: upright.into_raw(),
            focal_35mm: exif.as_ref().and_then(exif::focal_35mm_of),
            dpi: dpi.map(|[x, y]| if crosswise { [y, x] } else { [x, y] }),
        })
    }

    /// The photo's brightness in linear light.
    pub fn linear_luma(&self) -> LinearLuma {
        LinearLuma::of(self)
    }

    /// Width and height, px.
    pub fn size_px(&self) -> [u32; 2] {
        [self.width, self.height]
    }

    /// Its pixels row by row from the top, three bytes each: red, green, blue, in stored (sRGB) values.
    pub fn rgb8(&self) -> &[u8] {
        &self.rgb8
    }

    /// The same, for who keeps them.
    pub fn into_rgb8(self) -> Vec<u8> {
        self.rgb8
    }
}

/// Without the pixels, which would fill screens.
impl fmt::Debug for Photo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Photo")
            .field("size_px", &self.size_px())
            .field("focal_35mm", &self.focal_35mm)
            .field("dpi", &self.dpi)
            .finish_non_exhaustive()
    }
}

/// The picture of a file that is no JPEG, as stored.
fn decode_other(
    bytes: &[u8],
    format: ImageFormat,
    name: &'static str,
    limits: &Limits,
) -> Result<Decoded, PhotoError> {
    let failed = |e: ImageError| failure(&e, name);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut decoder_limits = image::Limits::default();
    decoder_limits.max_alloc = Some(limits.decoded_bytes);
    reader.limits(decoder_limits);
    let mut decoder = reader.into_decoder().map_err(failed)?;
    let (width, height) = decoder.dimensions();
    limits.allow(width, height, decoder.total_bytes())?;
    let exif = match format {
        // A TIFF file is itself what EXIF data look like.
        ImageFormat::Tiff => Some(bytes.to_vec()),
        _ => decoder.exif_metadata().ok().flatten(),
    };
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(failed)?;
    let dpi = match format {
        ImageFormat::Png => density::of_png(bytes),
        _ => None,
    };
    Ok(Decoded {
        picture,
        orientation,
        exif,
        dpi,
        turned: false,
    })
}

/// Formats that are read, by the name a message gives them.
fn name_of(format: ImageFormat) -> Option<&'static str> {
    match format {
        ImageFormat::Jpeg => Some("JPEG"),
        ImageFormat::Png => Some("PNG"),
        ImageFormat::Tiff => Some("TIFF"),
        ImageFormat::WebP => Some("WebP"),
        _ => None,
    }
}

fn failure(error: &ImageError, format: &'static str) -> PhotoError {
    let mut cause: Option<&(dyn std::error::Error + 'static)> = Some(error);
    while let Some(e) = cause {
        if e.downcast_ref::<std::io::Error>()
            .is_some_and(|io| io.kind() == ErrorKind::UnexpectedEof)
        {
            return PhotoError::Truncated { format };
        }
        cause = e.source();
    }
    PhotoError::Damaged {
        format,
        problem: error.to_string(),
    }
}

/// Drops transparency: shows the picture as it would look lying on white paper.
fn on_white(picture: DynamicImage) -> image::RgbImage {
    let see_through = picture.into_rgba8();
    let (width, height) = see_through.dimensions();
    let mut opaque = image::RgbImage::new(width, height);
    for (to, from) in opaque.pixels_mut().zip(see_through.pixels()) {
        let [r, g, b, alpha] = from.0.map(u32::from);
        to.0 = [r, g, b].map(|c| ((c * alpha + 255 * (255 - alpha) + 127) / 255) as u8);
    }
    opaque
}
