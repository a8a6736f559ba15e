//! How bright the bare paper is at each place of the field.
//!
//! Lamps, windows and the lens make the paper's light vary slowly across a sheet. Its logarithm is
//! modelled per colour channel as a cubic in x and y, fitted to the cells that look like bare paper and
//! refitted until the set of such cells settles. Parts and shadows fall out as cells off the surface.

use super::grid::FieldGrid;
use nalgebra::{DMatrix, DVector};

/// Terms of a cubic in two variables.
const TERMS: usize = 10;

/// How far a cell may lie from the surface (natural logarithm) to count as paper, per round. It
/// starts wide, since the first surface is only a guess.
const TOLERANCE: [f32; 8] = [0.25, 0.18, 0.12, 0.08, 0.06, 0.05, 0.05, 0.05];

/// The least share of the field that has to be bare paper for the surface to mean anything.
const LEAST_PAPER: f64 = 0.04;

/// Darkest light that a logarithm is taken of: below it an 8-bit photo holds only noise.
const DARKEST: f32 = 0.002;

/// The field's cells relative to bare paper.
pub(crate) struct Relative {
    /// Natural logarithm of cell over paper, per channel; zero outside the field.
    pub(crate) log: Vec<[f32; 3]>,
    /// Spread of bare paper about the surface, one sigma of the logarithm (robust): what shade and
    /// unevenness leave.
    pub(crate) noise: f32,
    /// Difference of neighbouring cells on bare paper, one sigma of one cell (robust): the camera's own
    /// noise.
    pub(crate) grain: f32,
}

/// Fits the paper's light and divides by it; `None` where too little of the field looks like paper.
pub(crate) fn relative_to_paper(grid: &FieldGrid) -> Option<Relative> {
    let (w, h) = (grid.width, grid.height);
    let terms = |cell: usize| -> [f64; TERMS] {
        let x = (cell % w) as f64 / w as f64 - 0.5;
        let y = (cell / w) as f64 / h as f64 - 0.5;
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
    };
    let log_of = |cell: usize| grid.light[cell].map(|v| v.max(DARKEST).ln());

    // Every seventh cell in both directions (a prime stride that no print raster shares).
    let sampled: Vec<usize> = (0..h)
        .step_by(7)
        .flat_map(|y| (0..w).step_by(7).map(move |x| y * w + x))
        .filter(|&cell| grid.inside(cell))
        .collect();
    if sampled.len() < 10 * TERMS {
        return None;
    }
    let rows: Vec<([f64; TERMS], [f32; 3])> = sampled
        .iter()
        .map(|&cell| (terms(cell), log_of(cell)))
        .collect();

    // First guess: level paper as bright as the field's brightest tenth but for glints.
    let mut brightness: Vec<f32> = rows
        .iter()
        .map(|(_, l)| l.iter().sum::<f32>() / 3.0)
        .collect();
    brightness.sort_by(f32::total_cmp);
    let bright = brightness[brightness.len() * 95 / 100];
    let mut chosen: Vec<bool> = rows
        .iter()
        .map(|(_, l)| (l.iter().sum::<f32>() / 3.0 - bright).abs() < 0.35)
        .collect();
    let mut surface = [[0.0f64; TERMS]; 3];
    for (round, tolerance) in TOLERANCE.into_iter().enumerate() {
        // A plane first, then more bends as the set of paper cells gets cleaner.
        let used = [3, 6, 6, TERMS, TERMS, TERMS, TERMS, TERMS][round];
        surface = fit(&rows, &chosen, used)?;
        for (k, (t, l)) in rows.iter().enumerate() {
            let off = residual(&surface, t, l);
            chosen[k] = off.iter().all(|v| v.abs() < tolerance);
        }
    }
    let paper = chosen.iter().filter(|&&c| c).count();
    if (paper as f64) < LEAST_PAPER * rows.len() as f64 {
        return None;
    }
    let mut spread: Vec<f32> = rows
        .iter()
        .zip(&chosen)
        .filter(|(_, c)| **c)
        .map(|((t, l), _)| residual(&surface, t, l).iter().sum::<f32>().abs() / 3.0)
        .collect();
    spread.sort_by(f32::total_cmp);
    // Median of absolute values of a normal variable times 1.4826 is its sigma.
    let noise = (1.4826 * spread[spread.len() / 2]).max(1e-3);

    let log: Vec<[f32; 3]> = (0..w * h)
        .map(|cell| {
            if grid.inside(cell) {
                residual(&surface, &terms(cell), &log_of(cell))
            } else {
                [0.0; 3]
            }
        })
        .collect();
    let grain = grain_of(grid, &log, &sampled);
    Some(Relative { log, noise, grain })
}

fn grain_of(grid: &FieldGrid, log: &[[f32; 3]], sampled: &[usize]) -> f32 {
    let level = |cell: usize| log[cell].iter().sum::<f32>() / 3.0;
    let mut steps: Vec<f32> = sampled
        .iter()
        .filter(|&&c| c % grid.width + 1 < grid.width && grid.inside(c + 1))
        .filter(|&&c| level(c).abs() < 0.1 && level(c + 1).abs() < 0.1)
        .map(|&c| (level(c) - level(c + 1)).abs())
        .collect();
    steps.sort_by(f32::total_cmp);
    let median = steps.get(steps.len() / 2).copied().unwrap_or(0.01);
    (1.4826 * median / std::f32::consts::SQRT_2).max(1e-3)
}

fn residual(surface: &[[f64; TERMS]; 3], terms: &[f64; TERMS], log: &[f32; 3]) -> [f32; 3] {
    std::array::from_fn(|k| {
        let at: f64 = surface[k].iter().zip(terms).map(|(s, t)| s * t).sum();
        log[k] - at as f32
    })
}

/// Least squares with the first `used` terms; `None` where the cells do not pin them down.
fn fit(
    rows: &[([f64; TERMS], [f32; 3])],
    chosen: &[bool],
    used: usize,
) -> Option<[[f64; TERMS]; 3]> {
    let mut normal = DMatrix::<f64>::zeros(used, used);
    let mut right = [(); 3].map(|()| DVector::<f64>::zeros(used));
    for ((t, l), _) in rows.iter().zip(chosen).filter(|(_, c)| **c) {
        for i in 0..used {
            for j in 0..used {
                normal[(i, j)] += t[i] * t[j];
            }
            for (k, r) in right.iter_mut().enumerate() {
                r[i] += t[i] * f64::from(l[k]);
            }
        }
    }
    let mut surface = [[0.0; TERMS]; 3];
    let solver = normal.cholesky()?;
    for (k, r) in right.iter().enumerate() {
        let x = solver.solve(r);
        surface[k][..used].copy_from_slice(x.as_slice());
    }
    Some(surface)
}
