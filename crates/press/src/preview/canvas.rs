//! The painted part of a preview: wall, frame, board and shadows, pixel by pixel.

use super::moulding::{Moulding, face_colour};
use super::shadow;
use crate::{Affine, Picture};
use shape::on_rows;
use shape::{Bounds, Outline, Point, Vector, mapped};

/// What is painted behind the parts; boxes in board coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scene {
    /// The frame's outer edge.
    pub(super) frame: Bounds,
    /// What is seen of the board.
    pub(super) window: Bounds,
    /// Width of the spacer along the window's edge, mm.
    pub(super) spacer_mm: f64,
    /// From the glazing to the board, mm.
    pub(super) depth_mm: f64,
}

const WALL: [f32; 3] = [228.0, 225.0, 219.0];
const BOARD: [f32; 3] = [246.0, 242.0, 233.0];
const SPACER: [f32; 3] = [236.0, 231.0, 220.0];

/// Pixels of the page, 0 to 255 per channel (sRGB), rows from the top.
pub(super) struct Canvas {
    size_px: [u32; 2],
    page: Bounds,
    px_per_mm: f64,
    pixels: Vec<[f32; 3]>,
}

impl Canvas {
    pub(super) fn new(size_px: [u32; 2], page: Bounds, px_per_mm: f64) -> Self {
        let count = size_px[0] as usize * size_px[1] as usize;
        Self {
            size_px,
            page,
            px_per_mm,
            pixels: vec![[255.0; 3]; count],
        }
    }

    /// The middle of a pixel in board coordinates.
    fn at(&self, x: u32, y: u32) -> Point {
        Point::new(
            self.page.min.x + (f64::from(x) + 0.5) / self.px_per_mm,
            self.page.max.y - (f64::from(y) + 0.5) / self.px_per_mm,
        )
    }

    /// Paints wall, frame and board.
    pub(super) fn paint_scene(&mut self, scene: &Scene) {
        let moulding = Moulding::between(scene.frame, scene.window);
        let [w, _] = self.size_px;
        let mut pixels = std::mem::take(&mut self.pixels);
        on_rows(&mut pixels, w as usize, |y, row| {
            for (x, pixel) in row.iter_mut().enumerate() {
                let (x, y) = (x as u32, y as u32);
                let p = self.at(x, y);
                let colour = if scene.window.contains(p) {
                    board_colour(scene, p)
                } else if scene.frame.contains(p) {
                    face_colour(&moulding, p)
                } else {
                    wall_colour(scene, self.page, p)
                };
                let grain = 0.9 * (noise(x, y) - 0.5);
                *pixel = colour.map(|v| v + grain);
            }
        });
        self.pixels = pixels;
    }

    /// Prints pixels of the same size (RGBA, solid) on what shows in a box: each takes its share of the light away.
    pub(super) fn multiply(&mut self, printed: &[u8], within: Bounds) {
        let [w, h] = self.size_px;
        if printed.len() != self.pixels.len() * 4 {
            return;
        }
        let column = |x: f64| ((x - self.page.min.x) * self.px_per_mm).clamp(0.0, f64::from(w));
        let row = |y: f64| ((self.page.max.y - y) * self.px_per_mm).clamp(0.0, f64::from(h));
        let (left, right) = (column(within.min.x) as usize, column(within.max.x) as usize);
        let (top, bottom) = (row(within.max.y) as usize, row(within.min.y) as usize);
        for y in top..bottom {
            let start = y * w as usize;
            let pixels = &mut self.pixels[start + left..start + right];
            let inks = printed[4 * (start + left)..4 * (start + right)].chunks_exact(4);
            for (pixel, ink) in pixels.iter_mut().zip(inks) {
                for (v, &share) in pixel.iter_mut().zip(ink) {
                    *v *= f32::from(share) / 255.0;
                }
            }
        }
    }

    /// Darkens the board where parts take the light, each with the height of its foot and its own, mm: a soft shadow that
    /// grows away from the light with the height, and a narrow dark one where the part lies on the board.
    pub(super) fn cast_shadows(&mut self, parts: &[(&Outline, f64, f64)]) {
        let casts: Vec<(&Outline, shadow::Cast)> = parts
            .iter()
            .flat_map(|&(outline, foot_mm, height_mm)| {
                casts_of(foot_mm, height_mm).map(|cast| (outline, cast))
            })
            .collect();
        let pixels_from_board = Affine {
            xx: self.px_per_mm,
            xy: 0.0,
            x0: -self.page.min.x * self.px_per_mm,
            yx: 0.0,
            yy: -self.px_per_mm,
            y0: self.page.max.y * self.px_per_mm,
        };
        // A few at a time: a large part's shadow has as many pixels as the page.
        for some in casts.chunks(16) {
            let patches = mapped(some, |(outline, cast)| {
                shadow::soft_patch(outline, cast, pixels_from_board, self.size_px)
            });
            for ((_, cast), patch) in some.iter().zip(patches) {
                if let Some(patch) = patch {
                    self.darken(&patch, cast.strength as f32);
                }
            }
        }
    }

    fn darken(&mut self, patch: &shadow::Patch, strength: f32) {
        let tints = Tints::of(strength);
        let page_w = self.size_px[0] as usize;
        for (row, line) in patch.cover.chunks_exact(patch.width).enumerate() {
            let start = (patch.top + row) * page_w + patch.left;
            let Some(target) = self.pixels.get_mut(start..start + patch.width) else {
                continue;
            };
            for (pixel, &cover) in target.iter_mut().zip(line) {
                for (v, t) in pixel.iter_mut().zip(tints.at(cover)) {
                    *v *= t;
                }
            }
        }
    }

    pub(super) fn into_picture(self) -> Picture {
        let rgba: Vec<u8> = self
            .pixels
            .iter()
            .flat_map(|p| {
                let [r, g, b] = p.map(|v| v.round().clamp(0.0, 255.0) as u8);
                [r, g, b, 255]
            })
            .collect();
        Picture {
            width_px: self.size_px[0],
            height_px: self.size_px[1],
            rgba: rgba.into(),
            page_from_unit: Affine::scaled(
                self.page.width_mm(),
                self.page.height_mm(),
                Point::default(),
            ),
        }
    }
}

/// The shadows of a part: the one that it casts, and the one where it lies.
fn casts_of(foot_mm: f64, height_mm: f64) -> [shadow::Cast; 2] {
    let h = (foot_mm + height_mm).clamp(0.1, 40.0);
    let cast = shadow::Cast {
        offset: Vector::new(0.25 + 0.30 * h, -0.30 - 0.42 * h),
        blur_mm: 0.45 + 0.22 * h,
        strength: 0.32,
    };
    let contact = shadow::Cast {
        offset: Vector::new(0.15, -0.2),
        blur_mm: 0.45 + 0.03 * h,
        // What stands off the board lets light in below.
        strength: 0.42 / (1.0 + 0.35 * foot_mm),
    };
    [cast, contact]
}

/// What is left of each channel's light under shadow, in steps finer than a pixel's.
struct Tints(Vec<[f32; 3]>);

impl Tints {
    const STEPS: usize = 1024;

    fn of(strength: f32) -> Self {
        let tint = |step: usize| {
            let keep = 1.0 - strength * step as f32 / Self::STEPS as f32;
            // Shadows on warm board are a little warm too.
            [keep, keep.powf(1.03), keep.powf(1.06)]
        };
        Self((0..=Self::STEPS).map(tint).collect())
    }

    fn at(&self, cover: f32) -> [f32; 3] {
        let step = (cover * Self::STEPS as f32 + 0.5) as usize;
        self.0[step.min(Self::STEPS)]
    }
}

/// 0 to 1 over a soft edge of the given width about `at`.
fn soft_step(value: f64, at: f64, width: f64) -> f64 {
    let t = ((value - at) / width + 0.5).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// How much of a box with soft edges covers a point.
fn soft_box(b: Bounds, width: f64, p: Point) -> f64 {
    soft_step(p.x, b.min.x, width)
        * soft_step(-p.x, -b.max.x, width)
        * soft_step(p.y, b.min.y, width)
        * soft_step(-p.y, -b.max.y, width)
}

fn shaded(colour: [f32; 3], by: f64) -> [f32; 3] {
    colour.map(|v| v * by as f32)
}

/// Lighter towards the light, darker in the frame's shadow.
fn wall_colour(scene: &Scene, page: Bounds, p: Point) -> [f32; 3] {
    let across = (p.x - page.min.x) / page.width_mm();
    let up = (p.y - page.min.y) / page.height_mm();
    let light = 1.035 - 0.075 * across - 0.09 * (1.0 - up);
    let reach = 0.03 * scene.frame.height_mm().max(scene.frame.width_mm());
    let moved = |dx: f64, dy: f64, by: f64| {
        let v = Vector::new(dx, dy);
        let b = scene.frame.grown(by);
        Bounds {
            min: b.min + v,
            max: b.max + v,
        }
    };
    let wide = soft_box(
        moved(0.8 * reach, -1.25 * reach, 0.1 * reach),
        3.2 * reach,
        p,
    );
    let near = soft_box(moved(0.12 * reach, -0.2 * reach, 0.0), 0.55 * reach, p);
    shaded(WALL, light * (1.0 - 0.34 * wide) * (1.0 - 0.35 * near))
}

/// The board deep in the frame: spacer along the edge, the frame's shadow from the upper left.
fn board_colour(scene: &Scene, p: Point) -> [f32; 3] {
    let window = scene.window;
    let inner = window.grown(-scene.spacer_mm);
    let depth = scene.depth_mm.clamp(5.0, 80.0);
    let fall = Vector::new(0.16 * depth, -0.24 * depth);
    if !inner.contains(p) {
        // The spacer stands up to the glazing: only the lip's thickness shades it.
        let lit = Bounds {
            min: window.min + Vector::new(0.9, -6.0),
            max: window.max + Vector::new(6.0, -1.3),
        };
        let light = 0.80 + 0.20 * soft_box(lit, 1.6, p);
        return shaded(SPACER, light * side_light(inner, p));
    }
    let lit = Bounds {
        min: Point::new(inner.min.x + fall.x, inner.min.y - 8.0),
        max: Point::new(inner.max.x + 8.0, inner.max.y + fall.y),
    };
    let open = soft_box(lit, 0.55 * depth, p);
    let near = soft_box(inner.grown(-0.6), 2.6, p);
    let centre = inner.centre();
    let far = ((p.x - centre.x) / inner.width_mm()).powi(2)
        + ((p.y - centre.y) / inner.height_mm()).powi(2);
    let light = (0.76 + 0.24 * open) * (0.86 + 0.14 * near) * (1.01 - 0.045 * far);
    shaded(BOARD, light)
}

/// The spacer's inner edge catches light on the sides away from it.
fn side_light(inner: Bounds, p: Point) -> f64 {
    let edge = 0.45;
    let beside = p.y >= inner.min.y - edge && p.y <= inner.max.y + edge;
    let over = p.x >= inner.min.x - edge && p.x <= inner.max.x + edge;
    let close_right = beside && p.x >= inner.max.x && p.x - inner.max.x < edge;
    let close_left = beside && p.x <= inner.min.x && inner.min.x - p.x < edge;
    let close_below = over && p.y <= inner.min.y && inner.min.y - p.y < edge;
    let close_above = over && p.y >= inner.max.y && p.y - inner.max.y < edge;
    if close_left || close_above {
        0.86
    } else if close_right || close_below {
        1.05
    } else {
        1.0
    }
}

/// Noise of 0 to 1 that hides the steps of soft gradients.
pub(super) fn noise(x: u32, y: u32) -> f32 {
    let mut h = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77);
    h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
    h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
    (h ^ (h >> 15)) as f32 / u32::MAX as f32
}
