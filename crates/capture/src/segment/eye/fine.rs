//! The fine eye: where across a ring's normal the edge runs, and how sure that is.
//!
//! Two small layers of sums, taught on millions of places along the true silhouettes of rendered photos (`reference/eye`).

use super::weights::Reader;
use pulp::{Simd, WithSimd};
use std::sync::LazyLock;

/// Places across the edge at which light is read, cells outwards (negative: on the part's side).
pub(crate) const ACROSS: [f32; 33] = [
    -14.0, -11.0, -9.0, -7.5, -6.0, -5.5, -5.0, -4.5, -4.0, -3.5, -3.0, -2.5, -2.0, -1.5, -1.0,
    -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 7.5, 9.0, 11.0, 14.0,
];

/// Numbers that are read: three channels at each place.
const INPUTS: usize = 3 * ACROSS.len();

/// Widths of the two layers.
const FIRST: usize = 64;
const SECOND: usize = 48;

/// The fine eye's file, made by `reference/eye/touch.py`.
const FILE: &[u8] = include_bytes!("fine.bin");

/// What the fine eye says of one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reading {
    /// How far outwards the edge lies, cells.
    pub(crate) at: f32,
    /// How well that is known, one sigma, cells.
    pub(crate) sigma: f32,
}

struct Fine {
    /// By input, then output.
    first: Vec<[f32; FIRST]>,
    first_bias: [f32; FIRST],
    second: Vec<[f32; SECOND]>,
    second_bias: [f32; SECOND],
    last: Vec<[f32; 2]>,
    last_bias: [f32; 2],
}

static FINE: LazyLock<Option<Fine>> = LazyLock::new(|| Fine::read(FILE));

/// Reads an edge from the light over paper across it (natural logarithm per channel at each place of [`ACROSS`]).
pub(crate) fn read(light: &[[f32; 3]; ACROSS.len()]) -> Reading {
    let Some(fine) = &*FINE else {
        return Reading {
            at: 0.0,
            sigma: 1.0,
        };
    };
    pulp::Arch::new().dispatch(Look {
        fine,
        light: light.as_flattened(),
    })
}

impl Fine {
    fn read(file: &[u8]) -> Option<Self> {
        let mut reader = Reader::after(file, b"SFIN")?;
        let fine = Self {
            first: reader.rows(INPUTS)?,
            first_bias: *reader.rows(1)?.first()?,
            second: reader.rows(FIRST)?,
            second_bias: *reader.rows(1)?.first()?,
            last: reader.rows(SECOND)?,
            last_bias: *reader.rows(1)?.first()?,
        };
        reader.is_empty().then_some(fine)
    }

    #[inline(always)]
    fn reading<S: Simd>(&self, simd: S, light: &[f32]) -> Reading {
        let one = layer(simd, light, &self.first, self.first_bias).map(|v| v.max(0.0));
        let two = layer(simd, &one, &self.second, self.second_bias).map(|v| v.max(0.0));
        let [mut at, mut spread] = self.last_bias;
        for (v, [to_at, to_spread]) in two.iter().zip(&self.last) {
            at += v * to_at;
            spread += v * to_spread;
        }
        // It learnt the mean absolute error; for errors of that kind one sigma is the square root of two times that.
        let sigma = std::f32::consts::SQRT_2 * spread.clamp(-4.0, 2.0).exp();
        Reading {
            at: at.clamp(-FARTHEST_OFF, FARTHEST_OFF),
            sigma,
        }
    }
}

/// The edge is never looked for farther off than this, cells: beyond it the fine eye was not taught.
const FARTHEST_OFF: f32 = 3.0;

/// One look, with whatever registers the processor has.
struct Look<'a> {
    fine: &'a Fine,
    light: &'a [f32],
}

impl WithSimd for Look<'_> {
    type Output = Reading;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Reading {
        self.fine.reading(simd, self.light)
    }
}

/// Sums of products in one fixed order, each step rounded once; `N` is a multiple of sixteen, which all registers divide.
#[inline(always)]
pub(super) fn layer<S: Simd, const N: usize>(
    simd: S,
    input: &[f32],
    weights: &[[f32; N]],
    bias: [f32; N],
) -> [f32; N] {
    let mut all = bias;
    let (sums, _) = S::as_mut_simd_f32s(&mut all);
    for (v, row) in input.iter().zip(weights) {
        let v = simd.splat_f32s(*v);
        for (sum, weight) in sums.iter_mut().zip(S::as_simd_f32s(row).0) {
            *sum = simd.mul_add_f32s(v, *weight, *sum);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_program_is_whole() {
        assert!(FINE.is_some());
        assert!(Fine::read(&FILE[..FILE.len() - 2]).is_none());
        assert!(Fine::read(&[FILE, &[0, 0]].concat()).is_none());
    }

    /// Truth: by construction. A dark edge blurred as a lens does, with no shade, lies where it was put.
    #[test]
    fn a_clean_edge_is_read_where_it_lies() {
        for shift in [-1.5f32, -0.7, 0.0, 0.4, 1.2] {
            let light = ACROSS.map(|s| {
                // Light half-way at the edge, blurred over about a cell, in linear light.
                let share = 1.0 / (1.0 + (-(s - shift) * 2.2).exp());
                [(0.08 + 0.92 * share).ln(); 3]
            });
            let reading = read(&light);
            assert!((reading.at - shift).abs() < 0.35, "{shift}: {reading:?}");
            assert!(reading.sigma < 1.0);
        }
    }
}
