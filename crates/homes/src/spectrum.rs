//! Correlation of two fields of complex numbers by their spectra.

use crate::lanes::{LANES, Lanes};
use rustfft::num_complex::{Complex, Complex32};
use rustfft::num_traits::Zero;
use rustfft::{Fft, FftPlanner};
use std::sync::Arc;

/// Transforms of one size in two dimensions, of fields whose rows lie one after the other.
pub(crate) struct Spectrum {
    pub(crate) width: usize,
    pub(crate) height: usize,
    forth: Ways,
    back: Ways,
}

/// Transforms along the rows and along the columns, each of [`LANES`] at a time.
struct Ways {
    rows: Arc<dyn Fft<Lanes>>,
    columns: Arc<dyn Fft<Lanes>>,
}

/// Memory of transforms, to be used again.
#[derive(Default)]
pub(crate) struct Scratch {
    lines: Vec<Complex<Lanes>>,
    own: Vec<Complex<Lanes>>,
}

impl Spectrum {
    /// Transforms of at least this size, the next that is quick.
    pub(crate) fn at_least(width: usize, height: usize) -> Self {
        let (width, height) = (quick(width), quick(height));
        let mut planner = FftPlanner::new();
        Self {
            width,
            height,
            forth: Ways {
                rows: planner.plan_fft_forward(width),
                columns: planner.plan_fft_forward(height),
            },
            back: Ways {
                rows: planner.plan_fft_inverse(width),
                columns: planner.plan_fft_inverse(height),
            },
        }
    }

    /// Forwards, in place. Rows of nothing cost little.
    pub(crate) fn forth(&self, field: &mut [Complex32], scratch: &mut Scratch) {
        self.along_rows(&*self.forth.rows, field, scratch);
        self.along_columns(&*self.forth.columns, field, scratch);
    }

    /// Back, in place, not divided by the number of values.
    pub(crate) fn back(&self, field: &mut [Complex32], scratch: &mut Scratch) {
        self.along_columns(&*self.back.columns, field, scratch);
        self.along_rows(&*self.back.rows, field, scratch);
    }

    fn along_rows(&self, along: &dyn Fft<Lanes>, field: &mut [Complex32], scratch: &mut Scratch) {
        let lines = scratch.for_lines(along);
        for rows in field.chunks_mut(LANES * self.width) {
            if rows.iter().all(Complex32::is_zero) {
                continue;
            }
            // The last few may be fewer; what the other lanes hold then is not written.
            for (l, row) in rows.chunks(self.width).enumerate() {
                for (value, of_all) in row.iter().zip(&mut *lines.line) {
                    of_all.re.0[l] = value.re;
                    of_all.im.0[l] = value.im;
                }
            }
            along.process_with_scratch(lines.line, lines.own);
            for (l, row) in rows.chunks_mut(self.width).enumerate() {
                for (value, of_all) in row.iter_mut().zip(&*lines.line) {
                    *value = Complex32::new(of_all.re.0[l], of_all.im.0[l]);
                }
            }
        }
    }

    fn along_columns(
        &self,
        along: &dyn Fft<Lanes>,
        field: &mut [Complex32],
        scratch: &mut Scratch,
    ) {
        let lines = scratch.for_lines(along);
        for first in (0..self.width).step_by(LANES) {
            let some = first..(first + LANES).min(self.width);
            let rows = field.chunks(self.width);
            for (row, of_all) in rows.zip(&mut *lines.line) {
                for (l, value) in row[some.clone()].iter().enumerate() {
                    of_all.re.0[l] = value.re;
                    of_all.im.0[l] = value.im;
                }
            }
            along.process_with_scratch(lines.line, lines.own);
            let rows = field.chunks_mut(self.width);
            for (row, of_all) in rows.zip(&*lines.line) {
                for (l, value) in row[some.clone()].iter_mut().enumerate() {
                    *value = Complex32::new(of_all.re.0[l], of_all.im.0[l]);
                }
            }
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.width * self.height
    }
}

/// A line of numbers, and what its transform wants besides.
struct Lines<'a> {
    line: &'a mut [Complex<Lanes>],
    own: &'a mut [Complex<Lanes>],
}

impl Scratch {
    fn for_lines(&mut self, along: &dyn Fft<Lanes>) -> Lines<'_> {
        self.lines.resize(along.len(), Complex::zero());
        self.own
            .resize(along.get_inplace_scratch_len(), Complex::zero());
        Lines {
            line: &mut self.lines,
            own: &mut self.own,
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Random;

    fn field(plan: &Spectrum, seed: u64) -> Vec<Complex32> {
        let mut chance = Random::new(seed);
        let mut number = || chance.between(-1.0, 1.0) as f32;
        (0..plan.len())
            .map(|_| Complex32::new(number(), number()))
            .collect()
    }

    /// Truth: the library's own transforms of single numbers, row by row and column by column, to the last bit. Widths and heights
    /// that four does not divide, and rows of nothing.
    #[test]
    fn lines_side_by_side_are_each_line_by_itself() {
        for (width, height) in [(15, 9), (8, 30), (27, 25)] {
            let plan = Spectrum::at_least(width, height);
            assert_eq!((plan.width, plan.height), (width, height));
            let mut got = field(&plan, 7);
            got[3 * width..8 * width].fill(Complex32::new(0.0, 0.0));
            let mut wanted = got.clone();
            plan.forth(&mut got, &mut Scratch::default());
            let mut planner = FftPlanner::<f32>::new();
            planner.plan_fft_forward(width).process(&mut wanted);
            let along = planner.plan_fft_forward(height);
            for column in 0..width {
                let mut line: Vec<_> = (0..height).map(|j| wanted[j * width + column]).collect();
                along.process(&mut line);
                for (j, value) in line.into_iter().enumerate() {
                    wanted[j * width + column] = value;
                }
            }
            assert_eq!(got, wanted);
        }
    }

    /// Truth: the sum written out.
    #[test]
    fn correlation_by_spectra_is_correlation() {
        let plan = Spectrum::at_least(11, 7);
        let (w, h) = (plan.width, plan.height);
        let (picture, pattern) = (field(&plan, 3), field(&plan, 4));
        let mut scratch = Scratch::default();
        let (mut p, mut t) = (picture.clone(), pattern.clone());
        plan.forth(&mut p, &mut scratch);
        plan.forth(&mut t, &mut scratch);
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
