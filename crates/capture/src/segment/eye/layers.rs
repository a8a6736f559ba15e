//! The few kinds of layers that the eye is made of.
//!
//! Each number is a sum in one fixed order, each step a product and a sum rounded once (IEEE 754's fused multiply-add, which
//! processors without one work out in software), whatever the processor's width: the same photo gives the same bytes on every
//! machine.

use super::planes::{Planes, RUN, Room};
use pulp::{Simd, WithSimd};

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
    pub(super) fn around(&self, from: &Planes, room: &mut Room) -> Planes {
        let mut to = Planes::bordered([self.outputs, from.width, from.height], room);
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            arch.dispatch(Around {
                layer: self,
                rows: [0, 1, 2].map(|k| from.bordered_row(y + k)),
                to: row,
                width: from.width,
                stride: from.stride,
            });
        });
        to
    }

    /// Half the size: every number from its own two by two.
    pub(super) fn halved(&self, from: &Planes, room: &mut Room) -> Planes {
        let mut to = Planes::bordered([self.outputs, from.width / 2, from.height / 2], room);
        let (stride, width) = (to.stride, to.width);
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            arch.dispatch(Halved {
                layer: self,
                rows: [1, 2].map(|k| from.bordered_row(2 * y + k)),
                from_stride: from.stride,
                to: row,
                width,
                stride,
            });
        });
        to
    }

    /// Every number from the one at its place.
    pub(super) fn mixed(&self, from: &Planes, room: &mut Room) -> Planes {
        let mut to = Planes::bordered([self.outputs, from.width, from.height], room);
        let arch = pulp::Arch::new();
        to.fill_rows(|y, row| {
            arch.dispatch(Mixed {
                layer: self,
                from: from.bordered_row(y + 1),
                to: row,
                width: from.width,
                stride: from.stride,
            });
        });
        to
    }
}

/// Two registers of numbers side by side, for each output of a group.
type Sums<S> = [[<S as Simd>::f32s; 2]; GROUP];

/// How many numbers of a row are worked out together: two registers.
const fn step<S: Simd>() -> usize {
    2 * S::F32_LANES
}

/// The first two registers of a slice; the caller has made sure that they are there.
#[inline(always)]
fn pair<S: Simd>(numbers: &[f32]) -> [S::f32s; 2] {
    let (registers, _) = S::as_simd_f32s(numbers);
    [registers[0], registers[1]]
}

#[inline(always)]
fn start<S: Simd>(simd: S, bias: &[f32]) -> Sums<S> {
    std::array::from_fn(|o| [simd.splat_f32s(bias[o]); 2])
}

/// Adds weight times number, rounded once.
#[inline(always)]
fn add<S: Simd>(simd: S, sums: &mut Sums<S>, weights: &[f32], near: [S::f32s; 2]) {
    for o in 0..GROUP {
        let weight = simd.splat_f32s(weights[o]);
        for h in 0..2 {
            sums[o][h] = simd.mul_add_f32s(weight, near[h], sums[o][h]);
        }
    }
}

/// Writes a group's sums to its channels' rows at `x`.
#[inline(always)]
fn store<S: Simd>(
    layer: &Layer,
    group: usize,
    sums: &Sums<S>,
    to: &mut [f32],
    x: usize,
    (width, stride): (usize, usize),
) {
    let least = if layer.rectified {
        0.0
    } else {
        f32::NEG_INFINITY
    };
    let there = (width - x).min(step::<S>());
    for (o, pair) in sums.iter().enumerate() {
        let mut numbers = [0.0f32; RUN];
        let (registers, _) = S::as_mut_simd_f32s(&mut numbers);
        registers[0] = pair[0];
        registers[1] = pair[1];
        let first = (group * GROUP + o) * stride + 1 + x;
        for (to, sum) in to[first..first + there].iter_mut().zip(&numbers) {
            *to = sum.max(least);
        }
    }
}

struct Around<'a> {
    layer: &'a Layer,
    rows: [&'a [f32]; 3],
    to: &'a mut [f32],
    width: usize,
    stride: usize,
}

impl WithSimd for Around<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Layer { inputs, bias, .. } = self.layer;
        let stride = self.stride;
        let groups = self.layer.packed.chunks_exact(inputs * 9 * GROUP);
        for (group, packed) in groups.enumerate() {
            for x in (0..self.width).step_by(step::<S>()) {
                let mut sums = start(simd, &bias[group * GROUP..]);
                for (i, taps) in packed.as_chunks::<{ 9 * GROUP }>().0.iter().enumerate() {
                    for (k, row) in self.rows.iter().enumerate() {
                        let near = &row[i * stride + x..i * stride + x + step::<S>() + 2];
                        for dx in 0..3 {
                            let weights = &taps[(3 * k + dx) * GROUP..][..GROUP];
                            add(simd, &mut sums, weights, pair::<S>(&near[dx..]));
                        }
                    }
                }
                let size = (self.width, stride);
                store::<S>(self.layer, group, &sums, self.to, x, size);
            }
        }
    }
}

struct Halved<'a> {
    layer: &'a Layer,
    rows: [&'a [f32]; 2],
    from_stride: usize,
    to: &'a mut [f32],
    width: usize,
    stride: usize,
}

impl WithSimd for Halved<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Layer { inputs, bias, .. } = self.layer;
        let from_stride = self.from_stride;
        let groups = self.layer.packed.chunks_exact(inputs * 4 * GROUP);
        for (group, packed) in groups.enumerate() {
            for x in (0..self.width).step_by(step::<S>()) {
                let mut sums = start(simd, &bias[group * GROUP..]);
                for (i, taps) in packed.as_chunks::<{ 4 * GROUP }>().0.iter().enumerate() {
                    for (k, row) in self.rows.iter().enumerate() {
                        // The last run of a row ends early.
                        let own = &row[i * from_stride + 1 + 2 * x..(i + 1) * from_stride];
                        let mut apart = [[0.0f32; RUN]; 2];
                        for (l, two) in own.chunks_exact(2).take(step::<S>()).enumerate() {
                            apart[0][l] = two[0];
                            apart[1][l] = two[1];
                        }
                        for (dx, near) in apart.iter().enumerate() {
                            let weights = &taps[(2 * k + dx) * GROUP..][..GROUP];
                            add(simd, &mut sums, weights, pair::<S>(near));
                        }
                    }
                }
                let size = (self.width, self.stride);
                store::<S>(self.layer, group, &sums, self.to, x, size);
            }
        }
    }
}

struct Mixed<'a> {
    layer: &'a Layer,
    from: &'a [f32],
    to: &'a mut [f32],
    width: usize,
    stride: usize,
}

impl WithSimd for Mixed<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Layer { inputs, bias, .. } = self.layer;
        let groups = self.layer.packed.chunks_exact(inputs * GROUP);
        for (group, packed) in groups.enumerate() {
            for x in (0..self.width).step_by(step::<S>()) {
                let mut sums = start(simd, &bias[group * GROUP..]);
                for (i, taps) in packed.as_chunks::<GROUP>().0.iter().enumerate() {
                    let own = &self.from[i * self.stride + 1 + x..][..step::<S>()];
                    add(simd, &mut sums, taps, pair::<S>(own));
                }
                let size = (self.width, self.stride);
                store::<S>(self.layer, group, &sums, self.to, x, size);
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
        let mut planes = Planes::bordered([channels, width, height], &mut Room::default());
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
                // Used before, by numbers that must not come through.
                let mut room = Room::default();
                room.give_back(filled(16, width + 9, 9));
                let got = match taps {
                    9 => layer.around(&from, &mut room),
                    4 => layer.halved(&from, &mut room),
                    _ => layer.mixed(&from, &mut room),
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
