//! The moulding: dark wood with a round outer edge, a hollow and a slim metal slip at the window.

use shape::{Bounds, Point};

/// A moulding between the frame's outer edge and the window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moulding {
    frame: Bounds,
    width_mm: f64,
}

impl Moulding {
    pub(super) fn between(frame: Bounds, window: Bounds) -> Self {
        Self {
            frame,
            width_mm: window.min.x - frame.min.x,
        }
    }
}

/// Share of the width and how much the face leans outwards there; between them it leans evenly.
const PROFILE: [(f64, f64); 9] = [
    (0.00, 1.60),
    (0.05, 0.75),
    (0.10, 0.10),
    (0.30, 0.02),
    (0.62, -0.16),
    (0.78, -0.34),
    (0.84, 0.45),
    (0.88, -0.20),
    (1.00, -1.10),
];

/// Where the slip begins, as a share of the width.
const SLIP: f64 = 0.93;

/// The moulding's stained wood and the lip's metal, sRGB of 0 to 255.
pub(super) const WOOD: [f32; 3] = [74.0, 59.0, 48.0];
pub(super) const METAL: [f32; 3] = [186.0, 160.0, 116.0];

/// Towards the light, x right, y up, z to the eye; of length one to two decimals.
pub(super) const LIGHT: [f64; 3] = [-0.44, 0.62, 0.65];

/// The colour of the moulding's face at a point that lies on it.
pub(super) fn face_colour(moulding: &Moulding, p: Point) -> [f32; 3] {
    let f = moulding.frame;
    // Which side of the mitre: the nearest outer edge.
    let sides = [
        (p.x - f.min.x, [-1.0, 0.0], p.y),
        (f.max.x - p.x, [1.0, 0.0], p.y + 311.0),
        (p.y - f.min.y, [0.0, -1.0], p.x + 577.0),
        (f.max.y - p.y, [0.0, 1.0], p.x + 839.0),
    ];
    let mut sorted = sides;
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let [(depth, outward, along), (second, ..), ..] = sorted;
    let share = (depth / moulding.width_mm).clamp(0.0, 1.0);
    let lean = lean_at(share);
    let length = (1.0 + lean * lean).sqrt();
    let facing = (lean * (outward[0] * LIGHT[0] + outward[1] * LIGHT[1]) + LIGHT[2]) / length;
    let diffuse = facing.max(0.0);
    // A soft sheen where the face looks half-way between light and eye.
    let sheen = (facing - 0.62).max(0.0).powi(2) * 2.4;
    let (base, shine) = if share >= SLIP {
        (METAL, 60.0)
    } else {
        let g = grain(along, depth) as f32;
        (WOOD.map(|v| v * (0.86 + 0.28 * g)), 46.0)
    };
    let mut light = 0.34 + 0.92 * diffuse;
    // The joint at the corner is a hair's breadth of shade.
    if second - depth < 0.22 {
        light *= 0.80;
    }
    // The groove before the slip.
    if (SLIP - share).abs() < 0.012 {
        light *= 0.55;
    }
    base.map(|v| v * light as f32 + (sheen * shine) as f32)
}

fn lean_at(share: f64) -> f64 {
    let next = PROFILE
        .iter()
        .position(|&(s, _)| s >= share)
        .unwrap_or(PROFILE.len() - 1)
        .max(1);
    let ((s0, l0), (s1, l1)) = (PROFILE[next - 1], PROFILE[next]);
    l0 + (l1 - l0) * ((share - s0) / (s1 - s0)).clamp(0.0, 1.0)
}

/// Wood grain of 0 to 1: streaks that run along the moulding and wander a little.
fn grain(along_mm: f64, across_mm: f64) -> f64 {
    let wander = 1.8 * value_noise(along_mm / 55.0, 3.0);
    let a = value_noise(along_mm / 42.0, (across_mm + wander) / 0.9);
    let b = value_noise(along_mm / 11.0 + 71.0, (across_mm + wander) / 0.32);
    0.62 * a + 0.38 * b
}

/// Smooth noise of 0 to 1 on a grid of step one.
fn value_noise(x: f64, y: f64) -> f64 {
    let (x0, y0) = (x.floor(), y.floor());
    let smooth = |t: f64| t * t * (3.0 - 2.0 * t);
    let (tx, ty) = (smooth(x - x0), smooth(y - y0));
    let at = |dx: i32, dy: i32| {
        let (ix, iy) = (x0 as i32 + dx, y0 as i32 + dy);
        let mut h = (ix as u32).wrapping_mul(0x9E37_79B1) ^ (iy as u32).wrapping_mul(0xC2B2_AE3D);
        h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
        h = (h ^ (h >> 13)).wrapping_mul(0x297A_2D39);
        f64::from(h ^ (h >> 16)) / f64::from(u32::MAX)
    };
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    mix(mix(at(0, 0), at(1, 0), tx), mix(at(0, 1), at(1, 1), tx), ty)
}
