//! Brightness in linear light, where the half-way level of a blurred edge is its true place.

use super::{Photo, PhotoPoint};
use crate::linear::LINEAR_FROM_SRGB;
use shape::on_rows;
use std::fmt;
use std::sync::LazyLock;

/// Luminance weights of red, green, blue for the sRGB primaries (ITU-R BT.709).
const WEIGHTS: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// What each stored value of each channel adds to the luminance. Display P3, which phones also write, has the
/// same curve as sRGB.
static SHARES: LazyLock<[[f32; 256]; 3]> =
    LazyLock::new(|| WEIGHTS.map(|weight| LINEAR_FROM_SRGB.map(|light| weight * light)));

/// A photo's luminance, proportional to light: 0 black, 1 the brightest that the file can store.
#[derive(Clone, PartialEq)]
pub struct LinearLuma {
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// Row by row from the top.
    pub data: Vec<f32>,
}

/// Without the pixels, which would fill screens.
impl fmt::Debug for LinearLuma {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = [self.width, self.height];
        f.debug_struct("LinearLuma")
            .field("size_px", &size)
            .finish_non_exhaustive()
    }
}

impl LinearLuma {
    /// The luminance of a photo. Each value depends on its own pixel alone, so the number of threads
    /// changes nothing.
    pub(super) fn of(photo: &Photo) -> Self {
        let (width, height) = (photo.width as usize, photo.height as usize);
        let mut data = vec![0.0_f32; width * height];
        let shares = &*SHARES;
        on_rows(&mut data, width, |y, row| {
            let rgb = &photo.rgb8[3 * y * width..];
            for (to, from) in row.iter_mut().zip(rgb.as_chunks::<3>().0) {
                let [r, g, b] = from.map(usize::from);
                *to = shares[0][r] + shares[1][g] + shares[2][b];
            }
        });
        Self {
            width,
            height,
            data,
        }
    }

    /// The value at a pixel; beyond the edge, the nearest pixel's.
    pub fn pixel(&self, x: i64, y: i64) -> f32 {
        let x = x.clamp(0, (self.width as i64 - 1).max(0)) as usize;
        let y = y.clamp(0, (self.height as i64 - 1).max(0)) as usize;
        self.data.get(y * self.width + x).copied().unwrap_or(0.0)
    }

    /// The value between pixels, linear in both directions; beyond the edge, the nearest pixel's.
    pub fn between(&self, p: PhotoPoint) -> f64 {
        let (x0, y0) = (p.x.floor(), p.y.floor());
        let (fx, fy) = (p.x - x0, p.y - y0);
        let (x, y) = (x0 as i64, y0 as i64);
        let at = |dx, dy| f64::from(self.pixel(x.saturating_add(dx), y.saturating_add(dy)));
        (at(0, 0) * (1.0 - fx) + at(1, 0) * fx) * (1.0 - fy)
            + (at(0, 1) * (1.0 - fx) + at(1, 1) * fx) * fy
    }

    /// The place is a pixel's centre or between pixels.
    pub fn holds(&self, p: PhotoPoint) -> bool {
        p.x >= 0.0
            && p.y >= 0.0
            && p.x <= self.width as f64 - 1.0
            && p.y <= self.height as f64 - 1.0
    }
}
