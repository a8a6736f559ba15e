//! Where circles may be: every edge votes for the middles of the circles that it may lie on.
//!
//! Method: the circle Hough transform with the edges' directions (Kimme, Ballard and Sklansky, Comm. ACM 18 (1975) 120-122).

use super::face::{CELL_MM, Circle, Face};

/// Radii that are looked for, cells: from the first on, this far apart, so many.
const FIRST_RADIUS: f64 = 3.0;
const RADIUS_STEP: f64 = 1.0;
const RADII: usize = 15;

/// Light changes by at least so much from one cell to the next on an edge, natural logarithm; an edge of so much has a whole vote.
const LEAST_CHANGE: f32 = 0.05;
const WHOLE_VOTE: f32 = 0.3;

/// Votes, as a share of those that a whole circle would give, from which on one is asked about.
const LEAST_SHARE: f32 = 0.35;

/// Circles on a face that have more votes than those beside them and a little larger or smaller.
pub(super) fn circles(face: &Face) -> Vec<Circle> {
    let (w, h) = (face.width, face.height);
    if w < 8 || h < 8 {
        return Vec::new();
    }
    let edges = edges(face);
    let radius = |k: usize| FIRST_RADIUS + k as f64 * RADIUS_STEP;
    let shares = |k: usize| {
        let whole = (std::f64::consts::TAU * radius(k)) as f32;
        let mut votes = box_sums(&votes(&edges, radius(k), w, h), w, h);
        votes.iter_mut().for_each(|v| *v /= whole);
        votes
    };
    let mut found = Vec::new();
    // Only a radius and those beside it are held: a large face has millions of cells.
    let mut held: Vec<Vec<f32>> = vec![shares(0)];
    for k in 0..RADII {
        if k + 1 < RADII {
            held.push(shares(k + 1));
        }
        let own = &held[usize::from(k > 0)];
        for y in 1..h - 1 {
            for x in 1..w - 1 {
                let share = own[y * w + x];
                if share > LEAST_SHARE && is_most(share, &held, y * w + x, w) {
                    found.push(Circle {
                        centre: face.point_of(x, y),
                        radius_mm: radius(k) * CELL_MM,
                    });
                }
            }
        }
        if k > 0 {
            held.remove(0);
        }
    }
    found
}

/// Whether no share round a cell is larger, on any of the radii.
fn is_most(share: f32, radii: &[Vec<f32>], cell: usize, w: usize) -> bool {
    radii.iter().all(|shares| {
        let rows = [cell - w, cell, cell + w];
        rows.iter()
            .all(|&c| shares[c - 1..=c + 1].iter().all(|&v| v <= share))
    })
}

/// An edge's cell, the direction in which light grows, and its vote.
struct Edge {
    at: [f64; 2],
    along: [f64; 2],
    vote: f32,
}

fn edges(face: &Face) -> Vec<Edge> {
    let (w, h) = (face.width, face.height);
    let grey: Vec<f32> = face
        .light
        .iter()
        .map(|l| l.iter().sum::<f32>() / 3.0)
        .collect();
    // Smoothed by a quarter, a half, a quarter, along both axes.
    let mut rows = grey.clone();
    for (own, from) in rows.chunks_exact_mut(w).zip(grey.chunks_exact(w)) {
        for x in 1..w - 1 {
            own[x] = 0.25 * (from[x - 1] + from[x + 1]) + 0.5 * from[x];
        }
    }
    let mut smooth = rows.clone();
    for c in w..w * (h - 1) {
        smooth[c] = 0.25 * (rows[c - w] + rows[c + w]) + 0.5 * rows[c];
    }
    let mut found = Vec::new();
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            let c = y * w + x;
            let change = [smooth[c + 1] - smooth[c - 1], smooth[c + w] - smooth[c - w]];
            let change = change.map(|v| 0.5 * v);
            let much = change[0].hypot(change[1]);
            if much > LEAST_CHANGE {
                found.push(Edge {
                    at: [x as f64, y as f64],
                    along: change.map(|v| f64::from(v / much)),
                    vote: (much / WHOLE_VOTE).min(1.0),
                });
            }
        }
    }
    found
}

/// Every edge's vote a radius away, to both sides: holes may be darker or lighter than the face.
fn votes(edges: &[Edge], radius: f64, w: usize, h: usize) -> Vec<f32> {
    let mut votes = vec![0.0f32; w * h];
    for edge in edges {
        for side in [radius, -radius] {
            let [x, y] = [0, 1].map(|k| (edge.at[k] + side * edge.along[k]).round());
            if x >= 0.0 && y >= 0.0 && x < w as f64 && y < h as f64 {
                votes[y as usize * w + x as usize] += edge.vote;
            }
        }
    }
    votes
}

/// Sums over three by three cells; the border keeps zero.
fn box_sums(values: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut rows = vec![0.0f32; w * h];
    for (own, from) in rows.chunks_exact_mut(w).zip(values.chunks_exact(w)) {
        for x in 1..w - 1 {
            own[x] = from[x - 1] + from[x] + from[x + 1];
        }
    }
    let mut sums = vec![0.0f32; w * h];
    for c in w..w * (h - 1) {
        sums[c] = rows[c - w] + rows[c] + rows[c + w];
    }
    sums
}
