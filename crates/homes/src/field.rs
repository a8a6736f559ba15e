//! Edges of a picture as fields of directions, in which light and shade hardly matter.
//!
//! Two fields: the direction of growing brightness (a part's own print keeps its sign), and the direction of an edge
//! regardless of which side is brighter, at twice its angle (what a part's outline looks like depends on what lies beside
//! it). Both are divided by their own strength, softly, so that a faint edge in the shade counts nearly as much as a strong one
//! in the light, and grain counts for little. Correlating such fields is orientation correlation (Fitch, Kadyrov, Christmas,
//! Kittler, BMVC 2002).

use crate::raster::Raster;
use rustfft::num_complex::Complex32;
use shape::on_rows;

/// Steps of stored value per pixel above which an edge is believed, as a share of the whole range.
pub(crate) const SURE_STEP: f32 = 0.035;

/// A picture's edges.
#[derive(Debug, Clone)]
pub(crate) struct Field {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) px_per_mm: f64,
    /// Where brightness grows: its direction, at most 1 long.
    pub(crate) signed: Vec<Complex32>,
    /// Direction of the edge's normal at twice its angle, at most 1 long.
    pub(crate) unsigned: Vec<Complex32>,
}

/// Red, green, blue in the brightness of stored values.
pub(crate) const BRIGHTNESS: [f32; 3] = [0.3, 0.59, 0.11];

pub(crate) fn brightness(c: [f32; 3]) -> f32 {
    c[0] * BRIGHTNESS[0] + c[1] * BRIGHTNESS[1] + c[2] * BRIGHTNESS[2]
}

/// Gradients of the three channels at a pixel, central differences, per pixel.
pub(crate) fn gradients(of: &Raster, i: usize, j: usize) -> [[f32; 2]; 3] {
    let at = |x: usize, y: usize| of.rgb[y * of.width + x];
    let (w, e) = (i.saturating_sub(1), (i + 1).min(of.width - 1));
    let (s, n) = (j.saturating_sub(1), (j + 1).min(of.height - 1));
    let (dx, dy) = ((e - w).max(1) as f32, (n - s).max(1) as f32);
    let (a, b, c, d) = (at(w, j), at(e, j), at(i, s), at(i, n));
    std::array::from_fn(|k| [(b[k] - a[k]) / dx, (d[k] - c[k]) / dy])
}

/// The gradient of brightness from those of the three channels.
pub(crate) fn of_brightness(g: [[f32; 2]; 3]) -> Complex32 {
    let along = |a: usize| (0..3).map(|k| BRIGHTNESS[k] * g[k][a]).sum();
    Complex32::new(along(0), along(1))
}

impl Field {
    pub(crate) fn of(picture: &Raster) -> Self {
        let none = Complex32::new(0.0, 0.0);
        let mut both = vec![[none; 2]; picture.width * picture.height];
        on_rows(&mut both, picture.width, |j, row| {
            for (i, [signed, unsigned]) in row.iter_mut().enumerate() {
                let g = gradients(picture, i, j);
                let grey = of_brightness(g);
                *signed = grey / (grey.norm() + SURE_STEP);
                let twice: Complex32 = (0..3)
                    .map(|k| {
                        let z = Complex32::new(g[k][0], g[k][1]);
                        z * z
                    })
                    .sum();
                let strength = twice.norm().sqrt();
                // Back to the length of one step, so that both fields weigh edges alike.
                let unit = if strength > 1e-9 {
                    twice / (strength * strength)
                } else {
                    none
                };
                *unsigned = unit * (strength / (strength + 1.5 * SURE_STEP));
            }
        });
        Self {
            width: picture.width,
            height: picture.height,
            px_per_mm: picture.px_per_mm,
            signed: both.iter().map(|b| b[0]).collect(),
            unsigned: both.iter().map(|b| b[1]).collect(),
        }
    }

    /// Where brightness grows, between pixels; nothing beyond the picture.
    #[inline]
    pub(crate) fn signed_at(&self, at: [f64; 2]) -> Option<Complex32> {
        self.between(&self.signed, at)
    }

    /// The edge's normal at twice its angle, between pixels; nothing beyond the picture.
    #[inline]
    pub(crate) fn unsigned_at(&self, at: [f64; 2]) -> Option<Complex32> {
        self.between(&self.unsigned, at)
    }

    #[inline]
    fn between(&self, f: &[Complex32], [x, y]: [f64; 2]) -> Option<Complex32> {
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        if i + 1 >= self.width || j + 1 >= self.height {
            return None;
        }
        let (u, v) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let k = j * self.width + i;
        let low = f[k] * (1.0 - u) + f[k + 1] * u;
        let high = f[k + self.width] * (1.0 - u) + f[k + self.width + 1] * u;
        Some(low * (1.0 - v) + high * v)
    }
}
