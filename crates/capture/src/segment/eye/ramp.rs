//! What the lean of heights adds to a level's channels: a plane through the numbers of each.

use super::planes::Planes;
use crate::segment::lean::Lean;

/// A lean of a quarter, 15 degrees off the vertical, counts as one.
pub(super) const SCALE: f64 = 4.0;

/// For each channel: how much the lean along x, along y, and that it is known, add.
pub(super) struct Ramp {
    weights: Vec<[f32; 3]>,
}

impl Ramp {
    /// `weights` by channel: for the lean along x, along y, and for knowing it.
    pub(super) fn new(weights: &[f32]) -> Self {
        Self {
            weights: weights.as_chunks().0.to_vec(),
        }
    }

    /// Adds it to the level's numbers; `lean` is in the level's own cells. An unknown lean adds nothing.
    pub(super) fn add_to(&self, to: &mut Planes, lean: Option<Lean>) {
        let Some(lean) = lean else {
            return;
        };
        let (stride, width) = (to.stride, to.width);
        to.fill_rows(|y, row| {
            let first = lean.at(0.0, y as f64);
            for (c, [along_x, along_y, known]) in self.weights.iter().enumerate() {
                let of =
                    |v: [f64; 2]| SCALE * (f64::from(*along_x) * v[0] + f64::from(*along_y) * v[1]);
                let (start, step) = (of(first) + f64::from(*known), of(lean.per_x));
                let own = &mut row[c * stride + 1..c * stride + 1 + width];
                for (x, number) in own.iter_mut().enumerate() {
                    *number += (start + step * x as f64) as f32;
                }
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::super::planes::Room;
    use super::*;

    fn zeros() -> Planes {
        Planes::bordered([2, 5, 4], &mut Room::default())
    }

    #[test]
    fn a_ramp_adds_what_the_lean_weighs() {
        let lean = Lean {
            at_first: [0.1, -0.2],
            per_x: [0.01, 0.0],
            per_y: [0.0, 0.03],
        };
        let ramp = Ramp::new(&[1.0, 0.0, 0.0, 0.5, 2.0, -1.0]);
        let mut planes = zeros();
        ramp.add_to(&mut planes, Some(lean));
        let at =
            |p: &Planes, c: usize, x: usize, y: usize| p.bordered_row(y + 1)[c * p.stride + 1 + x];
        assert!((at(&planes, 0, 3, 2) - 4.0 * 0.13).abs() < 1e-6);
        let want = 4.0 * (0.5 * 0.13 + 2.0 * (-0.2 + 0.06)) - 1.0;
        assert!((at(&planes, 1, 3, 2) - want as f32).abs() < 1e-6);
        assert_eq!(at(&planes, 1, 5, 2), 0.0);
        let mut unknown = zeros();
        ramp.add_to(&mut unknown, None);
        assert_eq!(at(&unknown, 1, 3, 2), 0.0);
    }
}
