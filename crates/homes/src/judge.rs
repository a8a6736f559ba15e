//! What speaks for a pose and what against it: the outline's edges, and the face tile by tile.

use crate::field::{Field, brightness};
use crate::raster::Raster;
use crate::search::Stand;
use crate::sought::View;
use rustfft::num_complex::Complex32;

/// A tile is as wide as this at most, mm.
const WIDEST_TILE_MM: f64 = 2.5;

/// Contrast (standard deviation of stored values) above which a tile has a pattern to be compared.
const PATTERN: f64 = 0.03;

/// Likeness (correlation) from which a patterned tile counts as seen.
const LIKE: f64 = 0.4;

/// An edge agreeing as well as this is there.
const EDGE_THERE: f32 = 0.3;

/// One square of a part's face.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tile {
    /// Its middle from the part's centre, mm.
    pub(crate) at: [f64; 2],
    /// The photo shows there what the part looks like there.
    pub(crate) seen: bool,
    /// There is a pattern to be seen.
    pub(crate) patterned: bool,
}

/// A point of the outline, 1.2 mm from the next.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RimPoint {
    /// From the part's centre, mm.
    pub(crate) at: [f64; 2],
    /// The photo has an edge there that runs the same way.
    pub(crate) seen: bool,
}

/// What a photo says of a part at a pose.
#[derive(Debug, Clone, Default)]
pub(crate) struct Evidence {
    pub(crate) rim: Vec<RimPoint>,
    pub(crate) tiles: Vec<Tile>,
    pub(crate) side_mm: f64,
    /// Share of the outline along which there is an edge.
    pub(crate) rim_share: f64,
    /// Mean agreement of the outline's edges, at most 1.
    pub(crate) rim_mean: f64,
    /// Share of the tiles that have a pattern.
    pub(crate) patterned: f64,
    /// Share of those that are seen; of the plain ones too.
    pub(crate) pattern_seen: f64,
    pub(crate) plain_seen: f64,
    /// Middle difference of colour apart from brightness, stored values.
    pub(crate) colour_off: f64,
    /// How much brighter the photo is than the part's picture, logarithm.
    pub(crate) brighter: f64,
}

impl Evidence {
    /// Share of all tiles that are seen.
    pub(crate) fn tiles_seen(&self) -> f64 {
        let n = self.tiles.len().max(1) as f64;
        self.tiles.iter().filter(|t| t.seen).count() as f64 / n
    }
}

/// Looks at a pose. `fine` and `picture` are the photo's at the fine scale.
pub(crate) fn judge(view: &View, stand: &Stand, fine: &Field, picture: &Raster) -> Evidence {
    let mut evidence = Evidence::default();
    judge_rim(view, stand, fine, &mut evidence);
    judge_face(view, stand, picture, &mut evidence);
    evidence
}

fn judge_rim(view: &View, stand: &Stand, fine: &Field, evidence: &mut Evidence) {
    let (s, c) = stand.turn.sin_cos();
    let rotation = Complex32::new(c as f32, s as f32);
    let k = fine.px_per_mm;
    let step = (view.radius_mm * 0.15).clamp(0.4, 1.2);
    let points = view.rim_points(step);
    let mut sum = 0.0;
    for p in &points {
        let way = p.way * rotation;
        let along = (way * way).conj();
        // Within 0.4 mm of where it should be: rounded edges and shade move it.
        let best = (-2..=2)
            .filter_map(|t| {
                let off = f64::from(t) * 0.2;
                let x =
                    stand.x + stand.scale * (c * p.at[0] - s * p.at[1]) + off * f64::from(way.re);
                let y =
                    stand.y + stand.scale * (s * p.at[0] + c * p.at[1]) + off * f64::from(way.im);
                fine.unsigned_at([x * k, y * k]).map(|u| (along * u).re)
            })
            .fold(f32::NEG_INFINITY, f32::max);
        sum += f64::from(best.max(-1.0));
        evidence.rim.push(RimPoint {
            at: p.at,
            seen: best > EDGE_THERE,
        });
    }
    let n = points.len().max(1) as f64;
    evidence.rim_share = evidence.rim.iter().filter(|p| p.seen).count() as f64 / n;
    evidence.rim_mean = sum / n;
}

/// Sums over one tile.
#[derive(Default, Clone, Copy)]
struct Sums {
    n: f64,
    all: f64,
    part: [f64; 3],
    photo: [f64; 3],
    pp: f64,
    qq: f64,
    pq: f64,
    p: f64,
    q: f64,
}

fn judge_face(view: &View, stand: &Stand, photo: &Raster, evidence: &mut Evidence) {
    let Some(face) = &view.picture else {
        return;
    };
    let side_mm = (view.radius_mm / 3.0).clamp(0.8, WIDEST_TILE_MM);
    evidence.side_mm = side_mm;
    let columns = (face.width as f64 / face.px_per_mm / side_mm).ceil() as usize + 1;
    let rows = (face.height as f64 / face.px_per_mm / side_mm).ceil() as usize + 1;
    let mut sums = vec![Sums::default(); columns * rows];
    let to_plate = stand.to_plate();
    for j in 0..face.height {
        for i in 0..face.width {
            let k = j * face.width + i;
            if face.alpha[k] < 0.98 {
                continue;
            }
            let (u, v) = (i as f64 / face.px_per_mm, j as f64 / face.px_per_mm);
            let p = [
                face.origin.x + u - view.centre.x,
                face.origin.y + v - view.centre.y,
            ];
            let at = to_plate(p).map(|v| v * photo.px_per_mm);
            let tile = &mut sums[(v / side_mm) as usize * columns + (u / side_mm) as usize];
            tile.all += 1.0;
            if !photo.holds(at) {
                continue;
            }
            let (a, b) = (face.rgb[k], photo.at(at));
            let (x, y) = (f64::from(brightness(a)), f64::from(brightness(b)));
            tile.n += 1.0;
            for n in 0..3 {
                tile.part[n] += f64::from(a[n]);
                tile.photo[n] += f64::from(b[n]);
            }
            tile.p += x;
            tile.q += y;
            tile.pp += x * x;
            tile.qq += y * y;
            tile.pq += x * y;
        }
    }
    let least = 0.3 * (side_mm * face.px_per_mm).powi(2);
    let looks: Vec<(usize, Look)> = sums
        .iter()
        .enumerate()
        .filter(|(_, t)| t.all >= least)
        .map(|(k, t)| (k, Look::of(t)))
        .collect();
    if looks.is_empty() {
        return;
    }
    let brighter = middle(looks.iter().map(|(_, l)| l.brighter).collect());
    let mut counts = [[0.0f64; 2]; 2];
    let mut off = Vec::new();
    for (k, look) in &looks {
        let seen = look.seen(brighter.clamp(-0.35, 0.35));
        let patterned = look.pattern > PATTERN;
        counts[usize::from(patterned)][usize::from(seen)] += 1.0;
        off.push(look.colour_off);
        evidence.tiles.push(Tile {
            at: [
                face.origin.x + ((k % columns) as f64 + 0.5) * side_mm - view.centre.x,
                face.origin.y + ((k / columns) as f64 + 0.5) * side_mm - view.centre.y,
            ],
            seen,
            patterned,
        });
    }
    let share = |c: [f64; 2]| {
        if c[0] + c[1] > 0.0 {
            c[1] / (c[0] + c[1])
        } else {
            0.0
        }
    };
    evidence.patterned = (counts[1][0] + counts[1][1]) / looks.len() as f64;
    evidence.pattern_seen = share(counts[1]);
    evidence.plain_seen = share(counts[0]);
    evidence.colour_off = middle(off);
    evidence.brighter = brighter;
}

/// How one tile looks in both pictures.
struct Look {
    /// Contrast of the part's picture, of the photo, and how alike they vary.
    pattern: f64,
    contrast: f64,
    like: f64,
    brighter: f64,
    colour_off: f64,
    whole: bool,
}

impl Look {
    fn of(t: &Sums) -> Self {
        let n = t.n.max(1.0);
        let (p, q) = (t.p / n, t.q / n);
        let (pp, qq) = ((t.pp / n - p * p).max(0.0), (t.qq / n - q * q).max(0.0));
        let pq = t.pq / n - p * q;
        // Colour apart from brightness: shares of red and blue.
        let shares = |c: [f64; 3]| {
            let sum = c.iter().sum::<f64>() / n + 0.12;
            [(c[0] / n + 0.04) / sum, (c[2] / n + 0.04) / sum]
        };
        let (a, b) = (shares(t.part), shares(t.photo));
        Self {
            pattern: pp.sqrt(),
            contrast: qq.sqrt(),
            like: pq / (pp * qq).sqrt().max(1e-5),
            brighter: ((q + 0.03) / (p + 0.03)).ln(),
            colour_off: (a[0] - b[0]).hypot(a[1] - b[1]),
            whole: t.n > 0.9 * t.all,
        }
    }

    fn seen(&self, brighter: f64) -> bool {
        let light = (self.brighter - brighter).abs();
        if !self.whole {
            return false;
        }
        if self.pattern > PATTERN {
            self.like > LIKE && self.colour_off < 0.12
        } else {
            light < 0.45
                && self.colour_off < 0.06
                && self.contrast < PATTERN.max(2.0 * self.pattern)
        }
    }
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}
