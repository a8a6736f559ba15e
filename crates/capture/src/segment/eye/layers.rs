//! The few kinds of layers that the eye is made of.
//!
//! Each number is a sum in one fixed order with no fused steps, whatever the processor's width: the same photo gives the
//! same bytes on every machine.

use super::planes::{Planes, RUN};

/// Channels that are worked out together.
const GROUP: usize = 4;

/// Weights of one layer, packed for its loops.
pub(super) struct Layer {
    inputs: usize,
    outputs: usize,
    /// By group of outputs, input, tap, output within the group.
    packed: Vec<f32>,
    bias: Vec<f32>,
    rectified: bool,
}

impl Layer {
    /// `weights` by output, input, tap.
    pub(super) fn new(
        [outputs, inputs, taps]: [usize; 3],
        weights: &[f32],
        bias: Vec<f32>,
        rectified: bool,
    ) -> Self {
        let mut packed = Vec::with_capacity(weights.len());
        for group in 0..outputs / GROUP {
            for i in 0..inputs {
                for t in 0..taps {
                    packed.extend(
                        (0..GROUP).map(|o| weights[((group * GROUP + o) * inputs + i) * taps + t]),
                    );
                }
            }
        }
        Self {
            inputs,
            outputs,
            packed,
            bias,
            rectified,
        }
    }

    /// Every number from the three by three round it.
    pub(super) fn around(&self, from: &Planes) -> Planes {
        let mut to = Planes::zeros(self.outputs, from.width, from.height);
        let stride = from.stride;
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            let above = [0, 1, 2].map(|k| from.bordered_row(y + k));
            arch.dispatch(
                #[inline(always)]
                || self.around_row(above, row, from.width, stride),
            );
        });
        to
    }

    #[inline(always)]
    fn around_row(&self, rows: [&[f32]; 3], to: &mut [f32], width: usize, stride: usize) {
        let per_group = self.inputs * 9 * GROUP;
        for (group, packed) in self.packed.chunks_exact(per_group).enumerate() {
            for x in (0..width).step_by(RUN) {
                let mut sums = self.start(group);
                for (i, taps) in packed.as_chunks::<{ 9 * GROUP }>().0.iter().enumerate() {
                    for (k, row) in rows.iter().enumerate() {
                        let Some(near) = row[i * stride + x..].first_chunk::<{ RUN + 2 }>() else {
                            continue;
                        };
                        for dx in 0..3 {
                            for o in 0..GROUP {
                                let weight = taps[(3 * k + dx) * GROUP + o];
                                for l in 0..RUN {
                                    sums[o][l] += weight * near[dx + l];
                                }
                            }
                        }
                    }
                }
                self.store(group, &sums, to, x, width, stride);
            }
        }
    }

    /// Half the size: every number from its own two by two.
    pub(super) fn halved(&self, from: &Planes) -> Planes {
        let mut to = Planes::zeros(self.outputs, from.width / 2, from.height / 2);
        let (stride, width) = (to.stride, to.width);
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            let pair = [1, 2].map(|k| from.bordered_row(2 * y + k));
            arch.dispatch(
                #[inline(always)]
                || self.halved_row(pair, from.stride, row, width, stride),
            );
        });
        to
    }

    #[inline(always)]
    fn halved_row(
        &self,
        rows: [&[f32]; 2],
        from_stride: usize,
        to: &mut [f32],
        width: usize,
        stride: usize,
    ) {
        let per_group = self.inputs * 4 * GROUP;
        for (group, packed) in self.packed.chunks_exact(per_group).enumerate() {
            for x in (0..width).step_by(RUN) {
                let mut sums = self.start(group);
                for (i, taps) in packed.as_chunks::<{ 4 * GROUP }>().0.iter().enumerate() {
                    for (k, row) in rows.iter().enumerate() {
                        // The last run of a row ends early.
                        let own = &row[i * from_stride + 1 + 2 * x..(i + 1) * from_stride];
                        let mut near = [0.0f32; 2 * RUN];
                        let there = own.len().min(2 * RUN);
                        near[..there].copy_from_slice(&own[..there]);
                        for dx in 0..2 {
                            for o in 0..GROUP {
                                let weight = taps[(2 * k + dx) * GROUP + o];
                                for l in 0..RUN {
                                    sums[o][l] += weight * near[2 * l + dx];
                                }
                            }
                        }
                    }
                }
                self.store(group, &sums, to, x, width, stride);
            }
        }
    }

    /// Every number from the one at its place.
    pub(super) fn mixed(&self, from: &Planes) -> Planes {
        let mut to = Planes::zeros(self.outputs, from.width, from.height);
        let stride = from.stride;
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            let own = from.bordered_row(y + 1);
            arch.dispatch(
                #[inline(always)]
                || self.mixed_row(own, row, from.width, stride),
            );
        });
        to
    }

    #[inline(always)]
    fn mixed_row(&self, from: &[f32], to: &mut [f32], width: usize, stride: usize) {
        let per_group = self.inputs * GROUP;
        for (group, packed) in self.packed.chunks_exact(per_group).enumerate() {
            for x in (0..width).step_by(RUN) {
                let mut sums = self.start(group);
                for (i, taps) in packed.as_chunks::<GROUP>().0.iter().enumerate() {
                    let Some(own) = from[i * stride + 1 + x..].first_chunk::<RUN>() else {
                        continue;
                    };
                    for o in 0..GROUP {
                        for l in 0..RUN {
                            sums[o][l] += taps[o] * own[l];
                        }
                    }
                }
                self.store(group, &sums, to, x, width, stride);
            }
        }
    }

    #[inline(always)]
    fn start(&self, group: usize) -> [[f32; RUN]; GROUP] {
        std::array::from_fn(|o| [self.bias[group * GROUP + o]; RUN])
    }

    #[inline(always)]
    fn store(
        &self,
        group: usize,
        sums: &[[f32; RUN]; GROUP],
        to: &mut [f32],
        x: usize,
        width: usize,
        stride: usize,
    ) {
        let least = if self.rectified {
            0.0
        } else {
            f32::NEG_INFINITY
        };
        let there = (width - x).min(RUN);
        for (o, sums) in sums.iter().enumerate() {
            let first = (group * GROUP + o) * stride + 1 + x;
            for (to, sum) in to[first..first + there].iter_mut().zip(sums) {
                *to = sum.max(least);
            }
        }
    }
}

/// Adds a picture of half the size, each of its numbers to two by two.
pub(super) fn add_doubled(to: &mut Planes, half: &Planes) {
    let (stride, width, channels) = (to.stride, to.width, to.channels);
    to.fill_rows(|y, row| {
        let from = half.bordered_row(y / 2 + 1);
        for c in 0..channels {
            let own = &mut row[c * stride + 1..c * stride + 1 + width];
            let from = &from[c * half.stride + 1..];
            for (pair, add) in own.chunks_mut(2).zip(from) {
                for v in pair {
                    *v += add;
                }
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers that look like noise and are the same each time.
    fn noise(count: usize, mut state: u32) -> Vec<f32> {
        (0..count)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 16) as f32 / 32768.0 - 1.0
            })
            .collect()
    }

    fn filled(channels: usize, width: usize, height: usize) -> Planes {
        let mut planes = Planes::zeros(channels, width, height);
        let stride = planes.stride;
        planes.fill_rows(|y, row| {
            for c in 0..channels {
                let own = noise(width, (y * 31 + c) as u32);
                row[c * stride + 1..c * stride + 1 + width].copy_from_slice(&own);
            }
        });
        planes
    }

    fn at(planes: &Planes, c: usize, x: i64, y: i64) -> f64 {
        let inside =
            (0..planes.width as i64).contains(&x) && (0..planes.height as i64).contains(&y);
        if inside {
            f64::from(planes.bordered_row(y as usize + 1)[c * planes.stride + 1 + x as usize])
        } else {
            0.0
        }
    }

    /// A layer by its definition: the sum over inputs and taps, taken in double precision.
    fn by_definition(
        from: &Planes,
        [outputs, inputs, taps]: [usize; 3],
        weights: &[f32],
        bias: &[f32],
        rectified: bool,
        got: &Planes,
    ) {
        let side = [(1, 1, 0), (4, 2, 0), (9, 3, -1)];
        let (_, side, first) = side[side.iter().position(|s| s.0 == taps).unwrap()];
        let step = if taps == 4 { 2 } else { 1 };
        assert_eq!(got.channels, outputs);
        for o in 0..outputs {
            for y in 0..got.height as i64 {
                for x in 0..got.width as i64 {
                    let mut sum = f64::from(bias[o]);
                    for i in 0..inputs {
                        for t in 0..taps as i64 {
                            let w = weights[(o * inputs + i) * taps + t as usize];
                            let (dx, dy) = (t % side + first, t / side + first);
                            sum += f64::from(w) * at(from, i, step * x + dx, step * y + dy);
                        }
                    }
                    let want = if rectified { sum.max(0.0) } else { sum };
                    let got = at(got, o, x, y);
                    assert!((got - want).abs() < 1e-4, "{o} {x} {y}: {got} {want}");
                }
            }
        }
    }

    #[test]
    fn layers_are_what_their_definition_says() {
        // Widths of less than a run, a whole one, and one with a rest.
        for width in [2usize, 16, 38] {
            let from = filled(8, width, 6);
            for (taps, rectified) in [(9, true), (4, true), (1, false)] {
                let weights = noise(12 * 8 * taps, 7);
                let bias = noise(12, 3);
                let layer = Layer::new([12, 8, taps], &weights, bias.clone(), rectified);
                let got = match taps {
                    9 => layer.around(&from),
                    4 => layer.halved(&from),
                    _ => layer.mixed(&from),
                };
                by_definition(&from, [12, 8, taps], &weights, &bias, rectified, &got);
            }
        }
    }

    #[test]
    fn a_doubled_picture_is_added_two_by_two() {
        let mut to = filled(4, 8, 6);
        let before = filled(4, 8, 6);
        let half = filled(4, 4, 3);
        add_doubled(&mut to, &half);
        for (c, x, y) in [(0, 0, 0), (3, 7, 5), (2, 4, 3)] {
            let want = at(&before, c, x, y) + at(&half, c, x / 2, y / 2);
            assert!((at(&to, c, x, y) - want).abs() < 1e-6);
        }
        assert!(at(&to, 1, 8, 0) == 0.0);
    }
}
