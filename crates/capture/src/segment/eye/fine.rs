//! The fine eye: where across a ring's normal the edge runs, and how sure that is.
//!
//! It sees the light across the edge, which way walls lean there and how light the ground itself is. Two small layers of sums, taught on millions of places along the true silhouettes of rendered photos (`reference/eye`).

use super::ramp::SCALE;
use super::two_layers::TwoLayers;
use std::sync::LazyLock;

/// Places across the edge at which light is read, cells outwards (negative: on the part's side).
pub(crate) const ACROSS: [f32; 33] = [
    -14.0, -11.0, -9.0, -7.5, -6.0, -5.5, -5.0, -4.5, -4.0, -3.5, -3.0, -2.5, -2.0, -1.5, -1.0,
    -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 7.5, 9.0, 11.0, 14.0,
];

/// Numbers that are read: three channels at each place, three of the lean, and the ground's light.
const INPUTS: usize = 3 * ACROSS.len() + 6;

/// Widths of the two layers.
const FIRST: usize = 96;
const SECOND: usize = 48;

/// The fine eye's file, made by `reference/eye/touch.py`.
const FILE: &[u8] = include_bytes!("fine.bin");
const LETTERS: &[u8; 4] = b"SFIN";

/// What the fine eye says of one place.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Reading {
    /// How far outwards the edge lies, cells.
    pub(crate) at: f32,
    /// How well that is known, one sigma, cells.
    pub(crate) sigma: f32,
}

type Fine = TwoLayers<INPUTS, FIRST, SECOND, 2>;

static FINE: LazyLock<Option<Fine>> = LazyLock::new(|| Fine::read(FILE, LETTERS));

/// What is seen at a place of an edge.
pub(crate) struct Across {
    /// Light over the ground's, natural logarithm per channel, at each place of [`ACROSS`].
    pub(crate) light: [[f32; 3]; ACROSS.len()],
    /// How far the top of something appears moved outwards and along the edge, as a share of its height: where it moves inwards, the
    /// edge is the foot of a wall that is seen. `None` where nobody knows.
    pub(crate) lean: Option<[f64; 2]>,
    /// The ground's own light, natural logarithm per channel, 0 where the photo is as light as it can be: what is nearly black, or
    /// nearly too light to be told, blurs otherwise.
    pub(crate) ground_light: [f32; 3],
}

/// Reads where an edge runs.
pub(crate) fn read(across: &Across) -> Reading {
    let Some(fine) = &*FINE else {
        return Reading {
            at: 0.0,
            sigma: 1.0,
        };
    };
    let mut inputs = [0.0f32; INPUTS];
    let (light, about) = inputs.split_at_mut(3 * ACROSS.len());
    light.copy_from_slice(across.light.as_flattened());
    let [outwards, along] = across.lean.unwrap_or_default().map(|v| (SCALE * v) as f32);
    let known = f32::from(u8::from(across.lean.is_some()));
    about[..3].copy_from_slice(&[outwards, along.abs(), known]);
    about[3..].copy_from_slice(&across.ground_light);
    let [at, spread] = fine.answer(&inputs);
    // It learnt the mean absolute error; for errors of that kind one sigma is the square root of two times that.
    let sigma = std::f32::consts::SQRT_2 * spread.clamp(-4.0, 2.0).exp();
    Reading {
        at: at.clamp(-FARTHEST_OFF, FARTHEST_OFF),
        sigma,
    }
}

/// The edge is never looked for farther off than this, cells: beyond it the fine eye was not taught.
const FARTHEST_OFF: f32 = 3.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_program_is_whole() {
        assert!(FINE.is_some());
        assert!(Fine::read(&FILE[..FILE.len() - 2], LETTERS).is_none());
        assert!(Fine::read(&[FILE, &[0, 0]].concat(), LETTERS).is_none());
    }

    /// Truth: by construction. A dark edge blurred as a lens does, with no shade, lies where it was put.
    #[test]
    fn a_clean_edge_is_read_where_it_lies() {
        let shifts = [-1.5f32, -0.7, 0.0, 0.4, 1.2];
        let leans = [None, Some([0.0, 0.1]), Some([-0.05, 0.0])];
        for (shift, lean) in shifts.into_iter().flat_map(|s| leans.map(|l| (s, l))) {
            let light = ACROSS.map(|s| {
                // Light half-way at the edge, blurred over about a cell, in linear light.
                let share = 1.0 / (1.0 + (-(s - shift) * 2.2).exp());
                [(0.08 + 0.92 * share).ln(); 3]
            });
            let reading = read(&Across {
                light,
                lean,
                ground_light: [-0.4; 3],
            });
            assert!(
                (reading.at - shift).abs() < 0.35,
                "{shift} {lean:?}: {reading:?}"
            );
            assert!(reading.sigma < 1.0);
        }
    }
}
