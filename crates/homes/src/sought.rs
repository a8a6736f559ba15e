//! The parts that are looked for, and what each looks like from one side.

use crate::field::{SURE_STEP, gradients, of_brightness};
use crate::raster::Raster;
use rustfft::num_complex::Complex32;
use shape::{Outline, Point, Pose, Vector};
use std::sync::Arc;

/// Scale at which parts and inside photos are compared at last, px/mm.
pub(crate) const FINE_PX_PER_MM: f64 = 5.0;

/// A part's own picture.
#[derive(Debug, Clone)]
pub struct Picture {
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// Rows from the top of sRGB and alpha (not premultiplied), four bytes a pixel.
    pub rgba8: Arc<[u8]>,
    /// Scale.
    pub px_per_mm: f64,
    /// Carries the picture (mm from its lower-left corner, x right, y up) into the coordinates of the outline that it
    /// belongs to: of the front, the part's own; of the back, the part's own mirrored about the outline's vertical
    /// centre line ([`Outline::mirrored`]).
    pub outline_from_picture: Pose,
}

/// A part that is looked for.
#[derive(Debug, Clone)]
pub struct Sought {
    /// Its true outline in its own coordinates, mm, as it is seen from the device's front.
    pub outline: Outline,
    /// How well that outline is known, one sigma, mm.
    pub sigma_mm: Option<f64>,
    /// Its greatest height, mm, where it is known.
    pub thickness_mm: Option<f64>,
    /// Its face that looks to the device's front.
    pub front: Option<Picture>,
    /// Its other face.
    pub back: Option<Picture>,
}

/// Which of a part's faces a photo shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The one whose outline the part carries.
    Front,
    /// The other one, mirrored.
    Back,
}

impl Side {
    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Self::Front => Self::Back,
            Self::Back => Self::Front,
        }
    }
}

/// An outline that covers itself to this share after a turn has no right way up.
const SAME_TURNED: f64 = 0.96;

/// Where an edge of the part lies and which way it looks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct EdgePoint {
    /// From the part's centre, mm.
    pub(crate) at: [f64; 2],
    /// Inside: the way brightness grows. On the rim: the outward normal. Unit length.
    pub(crate) way: Complex32,
    /// How much it counts.
    pub(crate) weight: f32,
    /// On the outline, where either side may be the brighter one.
    pub(crate) rim: bool,
}

/// One face of a part as it is looked for.
#[derive(Debug, Clone)]
pub(crate) struct View {
    /// The outline as seen from this side.
    pub(crate) outline: Outline,
    /// What poses turn about: the middle of the outline's area.
    pub(crate) centre: Point,
    /// Farthest point of the outline from there, mm.
    pub(crate) radius_mm: f64,
    /// Its picture at [`FINE_PX_PER_MM`].
    pub(crate) picture: Option<Raster>,
}

impl View {
    /// All parts from one side, several at a time.
    pub(crate) fn of_all(parts: &[Sought], side: Side) -> Vec<Self> {
        shape::mapped(parts, |p| Self::of(p, side))
    }

    pub(crate) fn of(sought: &Sought, side: Side) -> Self {
        let (outline, picture) = match side {
            Side::Front => (sought.outline.clone(), &sought.front),
            Side::Back => (sought.outline.mirrored(), &sought.back),
        };
        let picture = picture.as_ref().map(|p| drawn(p, &outline));
        Self {
            picture,
            ..Self::of_outline(outline)
        }
    }

    /// An outline alone, as it is seen.
    pub(crate) fn of_outline(outline: Outline) -> Self {
        let centre = outline.centroid();
        let points = outline.outer().points();
        let radius_mm = points
            .iter()
            .map(|p| p.distance_mm(centre))
            .fold(0.0, f64::max);
        Self {
            outline,
            centre,
            radius_mm,
            picture: None,
        }
    }

    /// Whether the outline looks the same after a turn about its middle, radians.
    pub(crate) fn is_same_turned(&self, turn: f64) -> bool {
        self.common_turned_mm2(turn) > SAME_TURNED * self.outline.area_mm2()
    }

    /// How far the outline's edges lie from each other after a turn about its middle, radians: the mean, mm.
    pub(crate) fn off_by_turn_mm(&self, turn: f64) -> f64 {
        let alone_mm2 = self.outline.area_mm2() - self.common_turned_mm2(turn);
        2.0 * alone_mm2 / self.outline.perimeter_mm()
    }

    /// What the outline covers of itself after a turn about its middle.
    fn common_turned_mm2(&self, turn: f64) -> f64 {
        let turned = (self.outline).placed(Pose::about(self.centre, turn.to_degrees()));
        shape::intersection_area_mm2(&self.outline, &turned)
    }

    /// Edge points at a scale, at most about `most` of each kind, inside ones first.
    pub(crate) fn edge_points(&self, px_per_mm: f64, most: usize) -> Vec<EdgePoint> {
        let mut all = self.inside_points(px_per_mm);
        thin_out(&mut all, most);
        let mut rim = self.rim_points(1.0 / px_per_mm);
        thin_out(&mut rim, most);
        let rim_weight: f32 = rim.iter().map(|p| p.weight).sum();
        let inside_weight: f32 = all.iter().map(|p| p.weight).sum();
        // A face full of print outweighs its outline, but never by more than this.
        let scale = (0.5f32).min(1.5 * rim_weight / inside_weight.max(1e-6));
        all.iter_mut().for_each(|p| p.weight *= scale);
        all.extend(rim);
        all
    }

    /// Points of the outline, `step_mm` apart, with their outward normals.
    pub(crate) fn rim_points(&self, step_mm: f64) -> Vec<EdgePoint> {
        let mut all = Vec::new();
        for ring in self.outline.rings() {
            let length = ring.length_mm();
            let count = (length / step_mm).round().max(8.0);
            let step = length / count;
            let mut next = 0.5 * step;
            let mut passed = 0.0;
            for (a, b) in ring.sides() {
                let side = a.distance_mm(b);
                if side <= 0.0 {
                    continue;
                }
                let along = (b - a) * (1.0 / side);
                while next <= passed + side {
                    let p = a + along * (next - passed);
                    all.push(EdgePoint {
                        at: [p.x - self.centre.x, p.y - self.centre.y],
                        // Material on the left: the outward normal is to the right.
                        way: Complex32::new(along.y as f32, -along.x as f32),
                        weight: 1.0,
                        rim: true,
                    });
                    next += step;
                }
                passed += side;
            }
        }
        all
    }

    /// Edges that the picture shows inside the outline, signed: the way brightness grows.
    pub(crate) fn inside_points(&self, px_per_mm: f64) -> Vec<EdgePoint> {
        let Some(fine) = &self.picture else {
            return Vec::new();
        };
        let picture = fine.coarser(px_per_mm);
        let mut all = Vec::new();
        for j in 2..picture.height.saturating_sub(2) {
            for i in 2..picture.width.saturating_sub(2) {
                let whole = (j - 2..=j + 2)
                    .all(|y| (i - 2..=i + 2).all(|x| picture.alpha[y * picture.width + x] > 0.98));
                if !whole {
                    continue;
                }
                let grey = of_brightness(gradients(&picture, i, j));
                let length = grey.norm();
                let weight = length / (length + SURE_STEP);
                if weight < 0.2 {
                    continue;
                }
                let p = picture.origin
                    + Vector::new(i as f64 / picture.px_per_mm, j as f64 / picture.px_per_mm);
                all.push(EdgePoint {
                    at: [p.x - self.centre.x, p.y - self.centre.y],
                    way: grey / length,
                    weight,
                    rim: false,
                });
            }
        }
        all
    }
}

/// Keeps about `most` of the points, evenly.
pub(crate) fn thin_out(points: &mut Vec<EdgePoint>, most: usize) {
    let n = points.len();
    if n > most && most > 0 {
        let kept: Vec<EdgePoint> = (0..most).map(|k| points[k * n / most]).collect();
        let share = n as f32 / most as f32;
        *points = kept;
        points.iter_mut().for_each(|p| p.weight *= share);
    }
}

/// A picture in the coordinates of its outline, opaque inside the outline alone.
fn drawn(picture: &Picture, outline: &Outline) -> Raster {
    let k = FINE_PX_PER_MM;
    let bounds = outline.bounds().grown(0.6);
    let width = ((bounds.width_mm() * k).ceil() as usize).max(2);
    let height = ((bounds.height_mm() * k).ceil() as usize).max(2);
    let picture_from_outline = picture.outline_from_picture.inverse();
    let samples = ((picture.px_per_mm / k).round() as usize).clamp(1, 6);
    let mut rgb = Vec::with_capacity(width * height);
    let mut alpha = Vec::with_capacity(width * height);
    for j in 0..height {
        for i in 0..width {
            let mut sum = [0.0f32; 4];
            for v in 0..samples {
                for u in 0..samples {
                    let off = |s: usize| (s as f64 + 0.5) / samples as f64 - 0.5;
                    let p =
                        bounds.min + Vector::new((i as f64 + off(u)) / k, (j as f64 + off(v)) / k);
                    let c = picture.at(picture_from_outline.apply(p));
                    for n in 0..4 {
                        sum[n] += c[n];
                    }
                }
            }
            let a = sum[3].max(1e-6);
            rgb.push([sum[0] / a, sum[1] / a, sum[2] / a]);
            alpha.push(sum[3] / (samples * samples) as f32);
        }
    }
    let mut raster = Raster {
        width,
        height,
        px_per_mm: k,
        origin: bounds.min,
        rgb,
        alpha,
    };
    fill_outside(&mut raster);
    raster
}

impl Picture {
    /// The mean colour of what is opaque, 0 to 1.
    pub(crate) fn mean_rgb(&self) -> [f32; 3] {
        let mut sum = [0.0f64; 4];
        for p in self.rgba8.as_chunks::<4>().0 {
            let a = f64::from(p[3]);
            (0..3).for_each(|k| sum[k] += a * f64::from(p[k]));
            sum[3] += a;
        }
        std::array::from_fn(|k| (sum[k] / (255.0 * sum[3].max(1.0))) as f32)
    }

    /// Stored values times alpha, and alpha, 0 to 1; nothing outside. `p` in mm from the lower-left corner.
    fn at(&self, p: Point) -> [f32; 4] {
        let x = p.x * self.px_per_mm;
        let y = self.height as f64 - p.y * self.px_per_mm;
        if !(x >= 0.0 && y >= 0.0 && x < self.width as f64 && y < self.height as f64) {
            return [0.0; 4];
        }
        let k = (y as usize * self.width + x as usize) * 4;
        let Some([r, g, b, a]) = self
            .rgba8
            .get(k..k + 4)
            .and_then(|s| <[u8; 4]>::try_from(s).ok())
        else {
            return [0.0; 4];
        };
        let a = f32::from(a) / 255.0;
        let share = |c: u8| f32::from(c) / 255.0 * a;
        [share(r), share(g), share(b), a]
    }
}

/// Gives what lies outside the outline the colour of its nearest inside pixels, so that smoothing makes no edge there.
fn fill_outside(raster: &mut Raster) {
    let (w, h) = (raster.width, raster.height);
    let mut known: Vec<bool> = raster.alpha.iter().map(|a| *a > 0.5).collect();
    for _ in 0..4 {
        let before = known.clone();
        let rgb = raster.rgb.clone();
        for j in 0..h {
            for i in 0..w {
                let k = j * w + i;
                if before[k] {
                    continue;
                }
                let mut sum = [0.0f32; 3];
                let mut count = 0.0f32;
                for y in j.saturating_sub(1)..(j + 2).min(h) {
                    for x in i.saturating_sub(1)..(i + 2).min(w) {
                        if before[y * w + x] {
                            let c = rgb[y * w + x];
                            (0..3).for_each(|n| sum[n] += c[n]);
                            count += 1.0;
                        }
                    }
                }
                if count > 0.0 {
                    raster.rgb[k] = sum.map(|s| s / count);
                    known[k] = true;
                }
            }
        }
    }
}
