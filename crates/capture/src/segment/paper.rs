//! How bright bare paper is, or would be, at each place of the field.
//!
//! Lamps, windows and the lens make the paper's light vary slowly across a sheet. Its logarithm is
//! modelled per colour channel as a cubic in x and y. The white round the tags surely is paper, also where
//! a coloured card covers the whole field; cells of the field join in where they agree with it. Parts and
//! shadows fall out as samples off the surface.

use super::eye::FARTHEST;
use super::grid::FieldGrid;
use super::pieces::piece_of;
use crate::linear::{LINEAR_FROM_SRGB, LinearImage, bilinear};
use nalgebra::{DMatrix, DVector};
use shape::on_rows;

/// Terms of a cubic in two variables.
pub(super) const TERMS: usize = 10;

/// Terms of a quadratic: what the white round the tags can tell of the middle.
pub(super) const QUADRATIC: usize = 6;

/// How far a sample may lie from the surface (natural logarithm) to count as paper, per round. It starts
/// wide, since the first surface is only a guess.
const TOLERANCE: [f32; 7] = [0.25, 0.18, 0.12, 0.08, 0.06, 0.05, 0.05];

/// The least share of the white round the tags that has to agree for the surface to mean anything.
const LEAST_WHITE: f64 = 0.25;

/// The share of the field's samples from which on they may bend the surface beyond a quadratic.
const ENOUGH_PAPER: f64 = 0.08;

/// A card that covers the field shows in most of its rim between these distances from the field's edge, mm.
const CARD_RIM_MM: [f64; 2] = [4.0, 9.0];

/// Darkest light that a logarithm is taken of: below it an 8-bit photo holds only noise.
const DARKEST: f32 = 0.002;

/// The field's cells relative to bare paper.
pub(crate) struct Relative {
    /// Natural logarithm of cell over paper, per channel; also outside the field, where it means little.
    pub(crate) log: Vec<[f32; 3]>,
    /// Spread of bare paper about the surface, one sigma of the logarithm (robust): what shade and
    /// unevenness leave.
    pub(crate) noise: f32,
    /// What the light is relative to.
    pub(crate) ground: Ground,
    /// The ground's own light at the field's middle, natural logarithm per channel, 0 where the photo is as light as it can be.
    pub(crate) ground_light: [f32; 3],
}

/// What parts lie on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ground {
    /// Paper or a card, lit.
    Paper,
    /// A black lid, or none.
    Dark,
}

impl Relative {
    /// Light over paper between cells (bilinear), the border repeated outside; no farther from paper than the eye minds.
    pub(crate) fn sample(&self, grid: &FieldGrid, x: f64, y: f64) -> [f32; 3] {
        let light = bilinear([grid.width, grid.height], [x, y], |x, y| {
            self.log[y * grid.width + x]
        });
        light.map(|v| v.clamp(-FARTHEST, FARTHEST))
    }
}

pub(super) struct Sample {
    terms: [f64; TERMS],
    log: [f32; 3],
}

impl Sample {
    /// What one cell shows.
    pub(super) fn of_cell(
        image: &LinearImage<'_>,
        grid: &FieldGrid,
        [x, y]: [usize; 2],
        log_of: fn(f32) -> f32,
    ) -> Self {
        Self {
            terms: terms_at(grid, [x as f64, y as f64]),
            log: grid.light(image, x, y).map(log_of),
        }
    }
}

/// Fits the light of the background and divides by it; `None` where too little of it is seen. `white_px` are photo
/// points that show it (on a sheet, its own white) unless something lies on them. Only where it may be covered is a
/// card over it looked for: elsewhere the field's rim is what the background itself lies on.
pub(crate) fn relative_to_background(
    image: &LinearImage<'_>,
    grid: &mut FieldGrid,
    white_px: &[[f64; 2]],
    cells_per_mm: f64,
    may_be_covered: bool,
) -> Option<Relative> {
    let (w, h) = (grid.width, grid.height);
    let in_photo = |p: &&[f64; 2]| {
        p[0] > 2.0
            && p[1] > 2.0
            && p[0] < image.width as f64 - 3.0
            && p[1] < image.height as f64 - 3.0
    };
    let white: Vec<Sample> = white_px
        .iter()
        .filter(in_photo)
        .map(|&p| Sample {
            terms: terms_at(grid, grid.grid_from_photo(p)),
            log: mean_around(image, p).map(log_of),
        })
        .collect();
    if white.len() < 3 * QUADRATIC {
        return None;
    }
    // Every fourteenth cell in both directions: a stride that no print raster shares.
    let field: Vec<Sample> = (0..h)
        .step_by(14)
        .flat_map(|y| (0..w).step_by(14).map(move |x| (x, y)))
        .filter(|&(x, y)| grid.inside(y * w + x))
        .map(|(x, y)| Sample::of_cell(image, grid, [x, y], log_of))
        .collect();
    let paper = settle(first_guess(&white)?, &white, &field)?;
    let rim = CARD_RIM_MM.map(|mm| (mm * cells_per_mm) as u16);
    let depth = if may_be_covered {
        grid.depths(usize::from(rim[1]) + 1)
    } else {
        Vec::new()
    };
    let colour = may_be_covered
        .then(|| card_colour(image, grid, &paper, rim, &depth))
        .flatten();
    let card = colour.and_then(|colour| {
        let mut start = paper.surface;
        for k in 0..3 {
            start[k][0] += f64::from(colour[k]);
        }
        settle(start, &[], &field)
    });
    let surface = &card.as_ref().unwrap_or(&paper).surface;
    let ground_light = light_at_middle(surface);
    let mut log = relative_log(image, grid, surface, log_of);
    if let Some(card) = &card {
        // Bare paper beyond the card's edge is not part of the field.
        let beyond = beyond_card(grid, &paper.surface, &card.surface, &log, rim[1], &depth);
        for &cell in &beyond {
            log[cell] = [0.0; 3];
        }
        grid.leave_out(beyond.into_iter());
    }
    let noise = card.unwrap_or(paper).noise;
    Some(Relative {
        log,
        noise,
        ground: Ground::Paper,
        ground_light,
    })
}

/// The natural logarithm of light, that of next to none cut off.
pub(crate) fn log_of(light: f32) -> f32 {
    light.max(DARKEST).ln()
}

struct Settled {
    surface: [[f64; TERMS]; 3],
    noise: f32,
}

/// Refits a surface until the set of samples on it settles.
fn settle(mut surface: [[f64; TERMS]; 3], white: &[Sample], field: &[Sample]) -> Option<Settled> {
    // Both kinds of samples say as much, however many they are.
    let weight = 0.5 * field.len() as f64 / white.len().max(1) as f64;
    let mut white_in = vec![true; white.len()];
    let mut field_in = vec![false; field.len()];
    for tolerance in TOLERANCE {
        let near = |s: &Sample| residual(&surface, s).iter().all(|v| v.abs() < tolerance);
        white_in = white.iter().map(near).collect();
        field_in = field.iter().map(near).collect();
        let paper = field_in.iter().filter(|c| **c).count() as f64;
        let bent = paper > ENOUGH_PAPER * field.len() as f64 && tolerance < 0.2;
        let chosen = || {
            let white = white
                .iter()
                .zip(&white_in)
                .map(move |(s, c)| (s, *c, weight));
            let field = field.iter().zip(&field_in).map(|(s, c)| (s, *c, 1.0));
            white
                .chain(field)
                .filter(|(_, c, _)| *c)
                .map(|(s, _, w)| (s, w))
        };
        surface = fit(chosen, if bent { TERMS } else { QUADRATIC })?;
    }
    let agreed = white_in.iter().filter(|c| **c).count();
    if (agreed as f64) < LEAST_WHITE * white.len() as f64 {
        return None;
    }
    let paper = field
        .iter()
        .zip(&field_in)
        .chain(white.iter().zip(&white_in));
    let mut spread: Vec<f32> = paper
        .filter(|(_, c)| **c)
        .map(|(s, _)| residual(&surface, s).iter().sum::<f32>().abs() / 3.0)
        .collect();
    spread.sort_by(f32::total_cmp);
    // Median of absolute values of a normal variable times 1.4826 is its sigma.
    let noise = (1.4826 * spread.get(spread.len() / 2)?).max(1e-3);
    Some(Settled { surface, noise })
}

/// The colour, relative to paper, of a card that covers the field: what most of the field's rim shows.
fn card_colour(
    image: &LinearImage<'_>,
    grid: &FieldGrid,
    paper: &Settled,
    [near, far]: [u16; 2],
    depth: &[u16],
) -> Option<[f32; 3]> {
    let (w, h, stride) = (grid.width, grid.height, 5);
    let rim: Vec<[f32; 3]> = (0..h)
        .step_by(stride)
        .flat_map(|y| (0..w).step_by(stride).map(move |x| (x, y)))
        .filter(|&(x, y)| (near..=far).contains(&depth[y * w + x]))
        .map(|(x, y)| {
            residual(
                &paper.surface,
                &Sample::of_cell(image, grid, [x, y], log_of),
            )
        })
        .collect();
    if rim.is_empty() {
        return None;
    }
    // The middle of each channel stands for the card if most of the rim lies near it.
    let colour: [f32; 3] = std::array::from_fn(|k| {
        let mut v: Vec<f32> = rim.iter().map(|c| c[k]).collect();
        v.sort_by(f32::total_cmp);
        v[v.len() / 2]
    });
    let near = |c: &&[f32; 3]| (0..3).all(|k| (c[k] - colour[k]).abs() < 0.3);
    let share = rim.iter().filter(near).count() as f64 / rim.len() as f64;
    let coloured = colour.iter().any(|v| v.abs() > 0.12);
    (coloured && share > 0.5).then_some(colour)
}

/// Cells of bare paper between the card's edge and the field's.
fn beyond_card(
    grid: &FieldGrid,
    paper: &[[f64; TERMS]; 3],
    card: &[[f64; TERMS]; 3],
    log: &[[f32; 3]],
    deepest: u16,
    depth: &[u16],
) -> Vec<usize> {
    let (w, h) = (grid.width, grid.height);
    let white = |cell: usize| {
        let t = terms_at(grid, [(cell % w) as f64, (cell / w) as f64]);
        (0..3).all(|k| {
            let lift: f64 = (0..TERMS).map(|i| (paper[k][i] - card[k][i]) * t[i]).sum();
            (f64::from(log[cell][k]) - lift).abs() < 0.25
        })
    };
    let mut seen = vec![false; w * h];
    let mut take = |c: usize| {
        let own = !seen[c] && grid.inside(c) && depth[c] <= deepest && white(c);
        seen[c] |= own;
        own
    };
    let mut beyond = Vec::new();
    for first in (0..w * h).filter(|&c| grid.inside(c) && depth[c] == 1) {
        beyond.extend(piece_of([w, h], first, &mut take));
    }
    beyond
}

pub(super) fn relative_log(
    image: &LinearImage<'_>,
    grid: &FieldGrid,
    surface: &[[f64; TERMS]; 3],
    log_of: fn(f32) -> f32,
) -> Vec<[f32; 3]> {
    let (w, h) = (grid.width, grid.height);
    // A cell of one pixel shows one of 256 lights in each channel.
    let of_stored = LINEAR_FROM_SRGB.map(log_of);
    let mut log = vec![[0.0f32; 3]; w * h];
    on_rows(&mut log, w, |y, row| {
        let across = along_row(surface, y as f64 / h as f64 - 0.5);
        for (x, cell) in row.iter_mut().enumerate() {
            let u = x as f32 / w as f32 - 0.5;
            let log = match grid.pixel_of(x, y) {
                Some([x, y]) => image.stored(x, y).map(|v| of_stored[usize::from(v)]),
                None => grid.light(image, x, y).map(log_of),
            };
            *cell = std::array::from_fn(|c| {
                let [a, b, q, d] = across[c];
                log[c] - (a + u * (b + u * (q + u * d)))
            });
        }
    });
    log
}

/// A surface's own value at the grid's middle.
pub(super) fn light_at_middle(surface: &[[f64; TERMS]; 3]) -> [f32; 3] {
    surface.map(|terms| terms[0] as f32)
}

/// Mean light of three by three pixels.
pub(crate) fn mean_around(image: &LinearImage<'_>, p: [f64; 2]) -> [f32; 3] {
    let mut sum = [0.0f32; 3];
    for dy in -1..=1 {
        for dx in -1..=1 {
            let c = image.sample(p[0] + f64::from(dx), p[1] + f64::from(dy));
            for k in 0..3 {
                sum[k] += c[k] / 9.0;
            }
        }
    }
    sum
}

/// The terms at a place on the grid, cells; the grid is one wide and one high about its middle.
fn terms_at(grid: &FieldGrid, [x, y]: [f64; 2]) -> [f64; TERMS] {
    let (x, y) = (x / grid.width as f64 - 0.5, y / grid.height as f64 - 0.5);
    [
        1.0,
        x,
        y,
        x * x,
        x * y,
        y * y,
        x * x * x,
        x * x * y,
        x * y * y,
        y * y * y,
    ]
}

/// The surface along one row as cubics in x, per channel.
fn along_row(surface: &[[f64; TERMS]; 3], y: f64) -> [[f32; 4]; 3] {
    surface.each_ref().map(|s| {
        [
            s[0] + y * (s[2] + y * (s[5] + y * s[9])),
            s[1] + y * (s[4] + y * s[8]),
            s[3] + y * s[7],
            s[6],
        ]
        .map(|v| v as f32)
    })
}

/// A plane through the brighter white samples: some of them lie in shade, or under a part.
fn first_guess(white: &[Sample]) -> Option<[[f64; TERMS]; 3]> {
    let mut surface = fit(|| white.iter().map(|s| (s, 1.0)), 3)?;
    for _ in 0..6 {
        let mut off: Vec<f32> = white.iter().map(|s| level(residual(&surface, s))).collect();
        off.sort_by(f32::total_cmp);
        let middle = off[off.len() / 2];
        let bright = |s: &&Sample| level(residual(&surface, s)) > middle - 0.1;
        surface = fit(|| white.iter().filter(bright).map(|s| (s, 1.0)), 3)?;
    }
    Some(surface)
}

pub(super) fn level(log: [f32; 3]) -> f32 {
    log.iter().sum::<f32>() / 3.0
}

pub(super) fn residual(surface: &[[f64; TERMS]; 3], sample: &Sample) -> [f32; 3] {
    std::array::from_fn(|k| {
        let at: f64 = surface[k]
            .iter()
            .zip(&sample.terms)
            .map(|(s, t)| s * t)
            .sum();
        sample.log[k] - at as f32
    })
}

/// Least squares with the first `used` terms; `None` where the samples do not pin them down.
pub(super) fn fit<'s, I: Iterator<Item = (&'s Sample, f64)>>(
    samples: impl Fn() -> I,
    used: usize,
) -> Option<[[f64; TERMS]; 3]> {
    let mut normal = DMatrix::<f64>::zeros(used, used);
    let mut right = [(); 3].map(|()| DVector::<f64>::zeros(used));
    for (s, weight) in samples() {
        for i in 0..used {
            for j in 0..used {
                normal[(i, j)] += weight * s.terms[i] * s.terms[j];
            }
            for (k, r) in right.iter_mut().enumerate() {
                r[i] += weight * s.terms[i] * f64::from(s.log[k]);
            }
        }
    }
    // A trace of stiffness, so that a sheet seen in part does not send the bends astray.
    let stiff = 1e-4 * normal[(0, 0)];
    for i in 3..used {
        normal[(i, i)] += stiff;
    }
    let mut surface = [[0.0; TERMS]; 3];
    let solver = normal.cholesky()?;
    for (k, r) in right.iter().enumerate() {
        let x = solver.solve(r);
        surface[k][..used].copy_from_slice(x.as_slice());
    }
    Some(surface)
}
