//! A small network of two hidden layers, as the fine eye and the wall eye are, and both halves of the round eye.

use super::weights::Reader;
use pulp::{Simd, WithSimd};

/// Weights by input, then output. `FIRST` and `SECOND` are multiples of sixteen, which all registers divide.
pub(super) struct TwoLayers<
    const INPUTS: usize,
    const FIRST: usize,
    const SECOND: usize,
    const OUTPUTS: usize,
> {
    first: Vec<[f32; FIRST]>,
    first_bias: [f32; FIRST],
    second: Vec<[f32; SECOND]>,
    second_bias: [f32; SECOND],
    last: Vec<[f32; OUTPUTS]>,
    last_bias: [f32; OUTPUTS],
}

impl<const INPUTS: usize, const FIRST: usize, const SECOND: usize, const OUTPUTS: usize>
    TwoLayers<INPUTS, FIRST, SECOND, OUTPUTS>
{
    /// The network of a file that starts with these letters; `None` where it is not whole, or longer.
    pub(super) fn read(file: &[u8], letters: &[u8; 4]) -> Option<Self> {
        let mut reader = Reader::after(file, letters)?;
        let network = Self::take(&mut reader)?;
        reader.is_empty().then_some(network)
    }

    /// The network that follows in a file.
    pub(super) fn take(reader: &mut Reader<'_>) -> Option<Self> {
        Some(Self {
            first: reader.rows(INPUTS)?,
            first_bias: *reader.rows(1)?.first()?,
            second: reader.rows(FIRST)?,
            second_bias: *reader.rows(1)?.first()?,
            last: reader.rows(SECOND)?,
            last_bias: *reader.rows(1)?.first()?,
        })
    }

    /// What the network says, with whatever registers the processor has.
    pub(super) fn answer(&self, inputs: &[f32; INPUTS]) -> [f32; OUTPUTS] {
        pulp::Arch::new().dispatch(Look {
            network: self,
            inputs,
        })
    }
}

struct Look<'a, const INPUTS: usize, const FIRST: usize, const SECOND: usize, const OUTPUTS: usize>
{
    network: &'a TwoLayers<INPUTS, FIRST, SECOND, OUTPUTS>,
    inputs: &'a [f32; INPUTS],
}

impl<const INPUTS: usize, const FIRST: usize, const SECOND: usize, const OUTPUTS: usize> WithSimd
    for Look<'_, INPUTS, FIRST, SECOND, OUTPUTS>
{
    type Output = [f32; OUTPUTS];

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> [f32; OUTPUTS] {
        let n = self.network;
        let one = layer(simd, self.inputs, &n.first, n.first_bias).map(|v| v.max(0.0));
        let two = layer(simd, &one, &n.second, n.second_bias).map(|v| v.max(0.0));
        let mut said = n.last_bias;
        for (v, row) in two.iter().zip(&n.last) {
            for (sum, weight) in said.iter_mut().zip(row) {
                *sum += v * weight;
            }
        }
        said
    }
}

/// Sums of products in one fixed order, each step rounded once; `N` is a multiple of sixteen, which all registers divide.
#[inline(always)]
fn layer<S: Simd, const N: usize>(
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
