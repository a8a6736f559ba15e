//! Stored sRGB values seen as linear light.
//!
//! Edges are located in linear light, where blur mixes the two sides in proportion to area: in stored
//! values a dark part on white looks about 0.4 px smaller on each side than it is.

use crate::photo::Photo;
use std::sync::LazyLock;

/// Linear light of each stored value, 0 to 1 (IEC 61966-2-1, the sRGB transfer function).
pub(crate) static LINEAR_FROM_SRGB: LazyLock<[f32; 256]> = LazyLock::new(|| {
    std::array::from_fn(|v| {
        let v = v as f64 / 255.0;
        let linear = if v <= 0.04045 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        };
        linear as f32
    })
});

/// What lies between the places of a grid, from the four round it; the border repeated outside.
#[inline]
pub(crate) fn bilinear(
    [width, height]: [usize; 2],
    [x, y]: [f64; 2],
    at: impl Fn(usize, usize) -> [f32; 3],
) -> [f32; 3] {
    let x = x.clamp(0.0, (width - 1) as f64);
    let y = y.clamp(0.0, (height - 1) as f64);
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(width - 1), (y0 + 1).min(height - 1));
    let (u, v) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
    let (a, b) = (at(x0, y0), at(x1, y0));
    let (c, d) = (at(x0, y1), at(x1, y1));
    std::array::from_fn(|k| {
        let top = a[k] + (b[k] - a[k]) * u;
        let low = c[k] + (d[k] - c[k]) * u;
        top + (low - top) * v
    })
}

/// A photo's pixels, read as linear light. x right, y down, pixel centres at integers.
#[derive(Clone, Copy)]
pub(crate) struct LinearImage<'a> {
    pub(crate) width: usize,
    pub(crate) height: usize,
    rgb: &'a [u8],
    lut: &'static [f32; 256],
}

impl<'a> LinearImage<'a> {
    /// A photo's own pixels; `None` for a photo without any.
    pub(crate) fn of(photo: &'a Photo) -> Option<Self> {
        let [width, height] = photo.size_px().map(|side| side as usize);
        Self::new(width, height, photo.rgb8())
    }

    /// `rgb` holds rows of 8-bit sRGB triples and is at least `width * height * 3` long.
    pub(crate) fn new(width: usize, height: usize, rgb: &'a [u8]) -> Option<Self> {
        (width > 0 && height > 0 && rgb.len() >= width * height * 3).then(|| Self {
            width,
            height,
            rgb,
            lut: &LINEAR_FROM_SRGB,
        })
    }

    /// What is stored of one pixel.
    pub(crate) fn stored(&self, x: usize, y: usize) -> [u8; 3] {
        let k = (y * self.width + x) * 3;
        [self.rgb[k], self.rgb[k + 1], self.rgb[k + 2]]
    }

    /// Linear light of one pixel.
    pub(crate) fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        self.stored(x, y).map(|v| self.lut[usize::from(v)])
    }

    /// Linear light between pixels (bilinear), the border repeated outside.
    pub(crate) fn sample(&self, x: f64, y: f64) -> [f32; 3] {
        bilinear([self.width, self.height], [x, y], |x, y| self.pixel(x, y))
    }

    /// Stored values between pixels (bilinear), the border repeated outside: for pictures to look at.
    pub(crate) fn sample_stored(&self, x: f64, y: f64) -> [u8; 3] {
        let x = x.clamp(0.0, (self.width - 1) as f64);
        let y = y.clamp(0.0, (self.height - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (u, v) = (x - x0 as f64, y - y0 as f64);
        let at = |x: usize, y: usize, k: usize| f64::from(self.stored(x, y)[k]);
        std::array::from_fn(|k| {
            let top = at(x0, y0, k) * (1.0 - u) + at(x1, y0, k) * u;
            let low = at(x0, y1, k) * (1.0 - u) + at(x1, y1, k) * u;
            (top * (1.0 - v) + low * v).round() as u8
        })
    }
}
