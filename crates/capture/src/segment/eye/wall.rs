//! The wall eye: whether an edge that looks to the camera's foot is the foot of a wall, or its top with the wall taken for paper.
//!
//! A wall may be as dark as shade, or mirror the paper. But its height says where its other rim must show: an edge beyond the one that
//! was found, or before it. Two small layers of sums, taught on both rims of the walls of rendered photos (`reference/eye/walls.py`).

use super::two_layers::TwoLayers;
use std::sync::LazyLock;

/// Places across an edge at which light is read, cells of a fifth of a millimetre outwards.
pub(crate) const ACROSS: [f64; 9] = [-3.0, -2.0, -1.25, -0.6, 0.0, 0.6, 1.25, 2.0, 3.0];

/// Light over paper across three edges, natural logarithm per channel: where the foot would be if the edge that was found were the top, at
/// the edge, and where the top would be if it were the foot.
pub(crate) type Across = [[[f32; 3]; ACROSS.len()]; 3];

const INPUTS: usize = 3 * 3 * ACROSS.len() + 2;
const FIRST: usize = 48;
const SECOND: usize = 32;

const FILE: &[u8] = include_bytes!("wall.bin");
const LETTERS: &[u8; 4] = b"SWAL";

type Wall = TwoLayers<INPUTS, FIRST, SECOND, 1>;

static WALL: LazyLock<Option<Wall>> = LazyLock::new(|| Wall::read(FILE, LETTERS));

/// The logarithm of the odds that an edge is a wall's top. The wall would look `width` cells wide across the edge, and its top be
/// moved by `lean` cells against its foot.
pub(crate) fn odds_of_top(light: &Across, width: f64, lean: f64) -> f32 {
    let Some(wall) = &*WALL else {
        return f32::NEG_INFINITY;
    };
    let mut inputs = [0.0f32; INPUTS];
    let (seen, sizes) = inputs.split_at_mut(INPUTS - 2);
    seen.copy_from_slice(light.as_flattened().as_flattened());
    sizes.copy_from_slice(&[width, lean].map(|v| v.max(0.1).ln() as f32));
    let [odds] = wall.answer(&inputs);
    odds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_program_is_whole() {
        assert!(WALL.is_some());
        assert!(Wall::read(&FILE[..FILE.len() - 2], LETTERS).is_none());
        assert!(Wall::read(&[FILE, &[0, 0]].concat(), LETTERS).is_none());
    }

    /// Truth: by construction. A grey face, a darker wall, bright paper: two edges as far apart as the wall is wide.
    #[test]
    fn both_rims_of_a_plain_wall_are_told() {
        let width = 4.0;
        // Light at a place outwards of the foot.
        let light = |s: f64| {
            let step = |at: f64| 1.0 / (1.0 + (-(s - at) * 3.0).exp());
            let lit = 0.3 - 0.24 * step(-width) + 0.94 * step(0.0);
            [(lit as f32).ln(); 3]
        };
        let across = |edge: f64| -> Across {
            [edge + width, edge, edge - width].map(|key| ACROSS.map(|o| light(key + o)))
        };
        let (foot, top) = (across(0.0), across(-width));
        assert!(odds_of_top(&foot, width, width) < 0.0);
        assert!(odds_of_top(&top, width, width) > 0.0);
    }
}
