//! Correlation of two fields of complex numbers by their spectra.

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};
use std::sync::Arc;

/// Transforms of one size in two dimensions. The transformed picture lies on its side: nobody looks at it but
/// [`Spectrum::back`], and turning it twice would cost more than the sums.
pub(crate) struct Spectrum {
    pub(crate) width: usize,
    pub(crate) height: usize,
    rows: Arc<dyn Fft<f32>>,
    columns: Arc<dyn Fft<f32>>,
    rows_back: Arc<dyn Fft<f32>>,
    columns_back: Arc<dyn Fft<f32>>,
}

impl Spectrum {
    /// Transforms of at least this size, the next that is quick.
    pub(crate) fn at_least(width: usize, height: usize) -> Self {
        let (width, height) = (quick(width), quick(height));
        // Built without the library's vector code, whose last bits differ between machines.
        let mut planner = FftPlanner::new();
        Self {
            width,
            height,
            rows: planner.plan_fft_forward(width),
            columns: planner.plan_fft_forward(height),
            rows_back: planner.plan_fft_inverse(width),
            columns_back: planner.plan_fft_inverse(height),
        }
    }

    /// Forwards, in place; `rows` is how many rows from the bottom hold anything.
    pub(crate) fn forth(
        &self,
        field: &mut Vec<Complex32>,
        rows: usize,
        scratch: &mut Vec<Complex32>,
    ) {
        let used = rows.min(self.height) * self.width;
        self.rows.process(&mut field[..used]);
        transpose(field, self.width, self.height, scratch);
        self.columns.process(scratch);
        std::mem::swap(field, scratch);
    }

    /// Back, in place, not divided by the number of values.
    pub(crate) fn back(&self, field: &mut Vec<Complex32>, scratch: &mut Vec<Complex32>) {
        self.columns_back.process(field);
        transpose(field, self.height, self.width, scratch);
        self.rows_back.process(scratch);
        std::mem::swap(field, scratch);
    }

    /// Where a transformed picture has the opposite frequency.
    pub(crate) fn opposite(&self, at: usize) -> usize {
        let (i, j) = (at / self.height, at % self.height);
        let back = |k: usize, n: usize| if k == 0 { 0 } else { n - k };
        back(i, self.width) * self.height + back(j, self.height)
    }

    pub(crate) fn len(&self) -> usize {
        self.width * self.height
    }
}

/// The next number without prime factors above 5.
fn quick(n: usize) -> usize {
    let smooth = |mut k: usize| {
        for p in [2, 3, 5] {
            while k.is_multiple_of(p) {
                k /= p;
            }
        }
        k == 1
    };
    (n.max(8)..).find(|&k| smooth(k)).unwrap_or(n)
}

/// Turns rows into columns, in blocks that stay in the cache.
fn transpose(from: &[Complex32], width: usize, height: usize, to: &mut Vec<Complex32>) {
    const BLOCK: usize = 16;
    to.resize(width * height, Complex32::new(0.0, 0.0));
    for j0 in (0..height).step_by(BLOCK) {
        for i0 in (0..width).step_by(BLOCK) {
            for j in j0..(j0 + BLOCK).min(height) {
                for i in i0..(i0 + BLOCK).min(width) {
                    to[i * height + j] = from[j * width + i];
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Random;

    /// Truth: the sum written out.
    #[test]
    fn correlation_by_spectra_is_correlation() {
        let plan = Spectrum::at_least(11, 7);
        let (w, h) = (plan.width, plan.height);
        let mut chance = Random::new(3);
        let mut field = || -> Vec<Complex32> {
            (0..w * h)
                .map(|_| {
                    Complex32::new(
                        chance.between(-1.0, 1.0) as f32,
                        chance.between(-1.0, 1.0) as f32,
                    )
                })
                .collect()
        };
        let (picture, pattern) = (field(), field());
        let mut scratch = Vec::new();
        let (mut p, mut t) = (picture.clone(), pattern.clone());
        plan.forth(&mut p, h, &mut scratch);
        plan.forth(&mut t, h, &mut scratch);
        let mut product: Vec<Complex32> = t.iter().zip(&p).map(|(t, p)| t.conj() * p).collect();
        plan.back(&mut product, &mut scratch);
        for (dx, dy) in [(0, 0), (3, 2), (w - 1, h - 2)] {
            let mut sum = Complex32::new(0.0, 0.0);
            for y in 0..h {
                for x in 0..w {
                    sum += pattern[y * w + x].conj() * picture[(y + dy) % h * w + (x + dx) % w];
                }
            }
            let got = product[dy * w + dx] / (w * h) as f32;
            assert!((got - sum).norm() < 1e-3, "{got} {sum}");
        }
    }
}
