//! The round eye: whether a circle on a part's upper face is the rim of a hole through it, and how far off the rim lies.
//!
//! One small network reads the light along each of [`RAYS`] rays from the circle's middle; a second one hears what they say together:
//! the mean, the most and the least, and the means turned with the rays. Both were taught on round holes, print and pits of rendered
//! photos (`reference/eye/rounds.py`).

use super::two_layers::TwoLayers;
use super::weights::Reader;
use std::sync::LazyLock;

/// Rays round the circle; the first points to where the hole's foot appears moved.
pub(crate) const RAYS: usize = 24;

/// Places along a ray at which light is read: from the middle of the circle, in its radii, and from the middle of the foot, in the
/// foot's.
pub(crate) const FROM_RIM: [f64; 18] = [
    0.1, 0.25, 0.4, 0.55, 0.65, 0.72, 0.79, 0.86, 0.93, 1.0, 1.07, 1.14, 1.21, 1.3, 1.4, 1.55,
    1.75, 2.0,
];
pub(crate) const FROM_FOOT: [f64; 6] = [0.5, 0.7, 0.85, 1.0, 1.15, 1.3];

/// Light over paper along one ray, natural logarithm per channel.
pub(crate) type Ray = [[f32; 3]; FROM_RIM.len() + FROM_FOOT.len()];

/// Numbers of a ray's light, those that are known of a ray besides, and of a circle besides its rays.
const OF_LIGHT: usize = 3 * (FROM_RIM.len() + FROM_FOOT.len());
const OF_RAY: usize = 6;
const OF_CIRCLE: usize = 3;

/// Numbers that a ray is told in.
const TOLD: usize = 24;

type OneRay = TwoLayers<{ OF_LIGHT + OF_RAY }, 80, 48, TOLD>;
type Together = TwoLayers<{ 5 * TOLD + OF_CIRCLE }, 48, 32, 4>;

/// The round eye's file, made by `reference/eye/rounds.py`.
const FILE: &[u8] = include_bytes!("round.bin");
const LETTERS: &[u8] = b"SRND";

static EYE: LazyLock<Option<(OneRay, Together)>> = LazyLock::new(|| read(FILE));

fn read(file: &[u8]) -> Option<(OneRay, Together)> {
    let mut reader = Reader::after(file, LETTERS)?;
    let both = (OneRay::take(&mut reader)?, Together::take(&mut reader)?);
    reader.is_empty().then_some(both)
}

/// What is asked about a circle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asked {
    /// Its radius, mm.
    pub(crate) radius_mm: f64,
    /// How far the hole's foot appears moved against it, mm.
    pub(crate) shift_mm: f64,
    /// The part's height, mm.
    pub(crate) height_mm: f64,
}

/// What the round eye says of a circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Answer {
    /// The logarithm of the odds that it is a hole's rim.
    pub(crate) odds: f32,
    /// How far off the rim's middle lies, along the first ray and to its left, in radii of the circle.
    pub(crate) off: [f64; 2],
    /// How much larger the rim's radius is, as a share of the circle's.
    pub(crate) wider: f64,
}

/// The direction of a ray, with the first along x.
pub(crate) fn ray(k: usize) -> [f64; 2] {
    let (sin, cos) = (k as f64 * std::f64::consts::TAU / RAYS as f64).sin_cos();
    [cos, sin]
}

/// Asks about a circle with the light along its rays.
pub(crate) fn answer(asked: Asked, light: &[Ray; RAYS]) -> Answer {
    let Some((one_ray, together)) = &*EYE else {
        return Answer {
            odds: f32::NEG_INFINITY,
            off: [0.0; 2],
            wider: 0.0,
        };
    };
    let shift = asked.shift_mm / asked.radius_mm;
    let of_circle = [
        asked.radius_mm.ln() as f32,
        shift as f32,
        asked.height_mm.max(0.1).ln() as f32,
    ];
    let mut heard = [0.0f32; 5 * TOLD + OF_CIRCLE];
    let (sums, own) = heard.split_at_mut(5 * TOLD);
    own.copy_from_slice(&of_circle);
    let (means, ends) = sums.split_at_mut(TOLD);
    let (most, ends) = ends.split_at_mut(TOLD);
    let (least, turned) = ends.split_at_mut(TOLD);
    most.fill(f32::NEG_INFINITY);
    least.fill(f32::INFINITY);
    let share = 1.0 / RAYS as f32;
    for (k, light) in light.iter().enumerate() {
        let [cos, sin] = ray(k);
        // How deep the foot's rim lies inside the circle there, in radii.
        let deep = 1.0 - (shift + cos).hypot(sin);
        let mut inputs = [0.0f32; OF_LIGHT + OF_RAY];
        let (seen, known) = inputs.split_at_mut(OF_LIGHT);
        seen.copy_from_slice(light.as_flattened());
        let [radius, shift, height] = of_circle;
        known.copy_from_slice(&[cos as f32, sin as f32, deep as f32, shift, radius, height]);
        for (i, said) in one_ray.answer(&inputs).into_iter().enumerate() {
            means[i] += share * said;
            most[i] = most[i].max(said);
            least[i] = least[i].min(said);
            turned[i] += share * said * cos as f32;
            turned[TOLD + i] += share * said * sin as f32;
        }
    }
    let [odds, along, left, wider] = together.answer(&heard);
    Answer {
        odds,
        off: [along, left].map(|v| f64::from(v.clamp(-MOST_OFF, MOST_OFF))),
        wider: f64::from(wider.clamp(-MOST_OFF, MOST_OFF)),
    }
}

/// It was taught circles no farther off than this, in radii.
const MOST_OFF: f32 = 0.5;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_program_is_whole() {
        assert!(read(FILE).is_some());
        assert!(read(&FILE[..FILE.len() - 2]).is_none());
        assert!(read(&[FILE, &[0, 0]].concat()).is_none());
    }
}
