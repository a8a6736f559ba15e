//! Pictures in millimetres: an inside photo seen in the sheet's plane, and a part's own picture.

use capture::Taken;
use capture::camera::SheetPoint3;
use capture::photo::Photo;
use shape::{Bounds, Point, on_rows};

/// A picture over a plane. Row 0 is the lowest; a pixel's centre is `origin` + (i, j) / `px_per_mm`.
#[derive(Debug, Clone)]
pub(crate) struct Raster {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) px_per_mm: f64,
    /// Centre of the lower-left pixel, mm.
    pub(crate) origin: Point,
    /// Stored values (sRGB), 0 to 1.
    pub(crate) rgb: Vec<[f32; 3]>,
    /// How much of each pixel is the picture's, 0 to 1; empty where all of it is.
    pub(crate) alpha: Vec<f32>,
}

impl Raster {
    /// What a photo shows within `bounds` of the sheet's plane (z = 0), box-averaged so that nothing aliases.
    pub(crate) fn of_photo(photo: &Photo, taken: &Taken, bounds: Bounds, px_per_mm: f64) -> Self {
        let width = ((bounds.width_mm() * px_per_mm).ceil() as usize).max(2);
        let height = ((bounds.height_mm() * px_per_mm).ceil() as usize).max(2);
        let origin = bounds.min;
        let places = Places::of(taken, bounds, width, height, px_per_mm);
        let mut rgb = vec![[0.0f32; 3]; width * height];
        on_rows(&mut rgb, width, |j, row| {
            for (i, to) in row.iter_mut().enumerate() {
                *to = places.averaged(photo, i as f64, j as f64);
            }
        });
        Self {
            width,
            height,
            px_per_mm,
            origin,
            rgb,
            alpha: Vec::new(),
        }
    }

    /// The same picture at a coarser scale: averaged with a bell as wide as the new pixels.
    pub(crate) fn coarser(&self, px_per_mm: f64) -> Self {
        let step = self.px_per_mm / px_per_mm;
        if step <= 1.001 {
            return self.clone();
        }
        let sigma = (0.25 * (step * step - 1.0)).sqrt();
        let mut premultiplied = vec![[0.0f32; 4]; self.rgb.len()];
        on_rows(&mut premultiplied, self.width, |j, row| {
            for (i, to) in row.iter_mut().enumerate() {
                let k = j * self.width + i;
                let a = self.alpha.get(k).copied().unwrap_or(1.0);
                let [r, g, b] = self.rgb[k];
                *to = [r * a, g * a, b * a, a];
            }
        });
        let smooth = smoothed(&premultiplied, self.width, self.height, sigma);
        let width = ((self.width as f64 / step).ceil() as usize).max(2);
        let height = ((self.height as f64 / step).ceil() as usize).max(2);
        let mut coarse = vec![[0.0f32; 4]; width * height];
        on_rows(&mut coarse, width, |j, row| {
            for (i, to) in row.iter_mut().enumerate() {
                let at = [i as f64 * step, j as f64 * step];
                *to = between(&smooth, self.width, self.height, at);
            }
        });
        let unmixed = |[r, g, b, a]: &[f32; 4]| [r, g, b].map(|v| v / a.max(1e-4));
        let rgb = coarse.iter().map(unmixed).collect();
        let alpha = if self.alpha.is_empty() {
            Vec::new()
        } else {
            coarse.iter().map(|c| c[3]).collect()
        };
        Self {
            width,
            height,
            px_per_mm,
            origin: self.origin,
            rgb,
            alpha,
        }
    }

    /// Whether a place in pixels lies on the picture.
    pub(crate) fn holds(&self, [x, y]: [f64; 2]) -> bool {
        x >= 0.0 && y >= 0.0 && x <= self.width as f64 - 1.0 && y <= self.height as f64 - 1.0
    }

    /// The value between pixels; the border repeated outside.
    pub(crate) fn at(&self, place: [f64; 2]) -> [f32; 3] {
        between(&self.rgb, self.width, self.height, place)
    }
}

/// What is mixed between pixels.
pub(crate) trait Blend: Copy {
    /// Part of the way from this to another.
    fn towards(self, other: Self, share: f32) -> Self;
}

impl<const N: usize> Blend for [f32; N] {
    #[inline]
    fn towards(self, other: Self, share: f32) -> Self {
        std::array::from_fn(|k| self[k] + (other[k] - self[k]) * share)
    }
}

/// The value between pixels (bilinear); the border repeated outside.
#[inline]
pub(crate) fn between<T: Blend>(values: &[T], width: usize, height: usize, [x, y]: [f64; 2]) -> T {
    let x = x.clamp(0.0, (width - 1) as f64);
    let y = y.clamp(0.0, (height - 1) as f64);
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(width - 1), (y0 + 1).min(height - 1));
    let (u, v) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
    let low = values[y0 * width + x0].towards(values[y0 * width + x1], u);
    let high = values[y1 * width + x0].towards(values[y1 * width + x1], u);
    low.towards(high, v)
}

/// Averaged with a Gaussian bell of this many pixels; the border repeated outside.
pub(crate) fn smoothed<const N: usize>(
    values: &[[f32; N]],
    width: usize,
    height: usize,
    sigma: f64,
) -> Vec<[f32; N]> {
    let reach = (3.0 * sigma).ceil() as usize;
    if reach == 0 {
        return values.to_vec();
    }
    let mut bell: Vec<f32> = (0..=2 * reach)
        .map(|k| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp() as f32)
        .collect();
    let sum: f32 = bell.iter().sum();
    bell.iter_mut().for_each(|b| *b /= sum);
    let mut along = vec![[0.0f32; N]; values.len()];
    on_rows(&mut along, width, |j, to| {
        let row = &values[j * width..][..width];
        for (i, to) in to.iter_mut().enumerate() {
            for (k, b) in bell.iter().enumerate() {
                let from = (i + k).saturating_sub(reach).min(width - 1);
                for n in 0..N {
                    to[n] += b * row[from][n];
                }
            }
        }
    });
    let mut out = vec![[0.0f32; N]; values.len()];
    on_rows(&mut out, width, |j, to| {
        for (k, b) in bell.iter().enumerate() {
            let from = (j + k).saturating_sub(reach).min(height - 1);
            for (t, f) in to.iter_mut().zip(&along[from * width..][..width]) {
                for n in 0..N {
                    t[n] += b * f[n];
                }
            }
        }
    });
    out
}

/// Where the pixels of a rectified picture lie in the photo: exact on a coarse mesh, bilinear between.
struct Places {
    step: f64,
    columns: usize,
    rows: usize,
    mesh: Vec<[f32; 2]>,
    /// Samples a side for each pixel, so that all of the photo's pixels count.
    samples: usize,
}

impl Places {
    fn of(taken: &Taken, bounds: Bounds, width: usize, height: usize, px_per_mm: f64) -> Self {
        let step = 8.0;
        let columns = (width as f64 / step).ceil() as usize + 2;
        let rows = (height as f64 / step).ceil() as usize + 2;
        let at = |i: f64, j: f64| {
            let p = Point::new(bounds.min.x + i / px_per_mm, bounds.min.y + j / px_per_mm);
            taken
                .project(SheetPoint3::over(p, 0.0))
                .map_or([-1e6f32; 2], |q| [q.x as f32, q.y as f32])
        };
        // One cell of mesh outside the picture on each side, for the samples at its rim.
        let mesh: Vec<[f32; 2]> = (0..rows * columns)
            .map(|k| {
                at(
                    ((k % columns) as f64 - 0.5) * step,
                    ((k / columns) as f64 - 0.5) * step,
                )
            })
            .collect();
        let middle = (rows / 2) * columns + columns / 2;
        let [a, b] = [mesh[middle], mesh[(middle + 1).min(mesh.len() - 1)]];
        let photo_px = f64::from((a[0] - b[0]).hypot(a[1] - b[1])) / step;
        Self {
            step,
            columns,
            rows,
            mesh,
            samples: (photo_px.round() as usize).clamp(1, 6),
        }
    }

    fn averaged(&self, photo: &Photo, i: f64, j: f64) -> [f32; 3] {
        let n = self.samples as f64;
        let mut sum = [0.0f32; 3];
        for v in 0..self.samples {
            for u in 0..self.samples {
                let at = [
                    (i + (u as f64 + 0.5) / n - 0.5) / self.step + 0.5,
                    (j + (v as f64 + 0.5) / n - 0.5) / self.step + 0.5,
                ];
                let [x, y] = between(&self.mesh, self.columns, self.rows, at);
                let c = stored(photo, x, y);
                for k in 0..3 {
                    sum[k] += c[k];
                }
            }
        }
        sum.map(|s| s / (255.0 * (n * n) as f32))
    }
}

/// A photo's stored values between pixels; the border repeated outside.
#[inline]
fn stored(photo: &Photo, x: f32, y: f32) -> [f32; 3] {
    let [w, h] = photo.size_px().map(|side| side as usize);
    let rgb8 = photo.rgb8();
    let x = x.clamp(0.0, (w - 1) as f32);
    let y = y.clamp(0.0, (h - 1) as f32);
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (u, v) = (x - x0 as f32, y - y0 as f32);
    let at = |x: usize, y: usize, k: usize| f32::from(rgb8[(y * w + x) * 3 + k]);
    std::array::from_fn(|k| {
        let low = at(x0, y0, k) + (at(x1, y0, k) - at(x0, y0, k)) * u;
        let high = at(x0, y1, k) + (at(x1, y1, k) - at(x0, y1, k)) * u;
        low + (high - low) * v
    })
}
