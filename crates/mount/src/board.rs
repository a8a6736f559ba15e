//! The board: how far it bows under what it carries.

use crate::catalogue::{Board, Catalogue};
use std::f64::consts::PI;

/// Deflection of the middle of a plate that is held at its four edges and free to turn there, under an even load:
/// Navier's double series (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, art. 30). Sides in mm, load
/// in MPa, rigidity in N mm; the result in mm.
pub fn plate_bow_mm(sides_mm: [f64; 2], load_mpa: f64, rigidity_n_mm: f64) -> f64 {
    let [a, b] = sides_mm;
    let mut sum = 0.0;
    for m in (1..60).step_by(2) {
        for n in (1..60).step_by(2) {
            let (mf, nf) = (f64::from(m), f64::from(n));
            let sign = if ((m + n) / 2 - 1) % 2 == 0 {
                1.0
            } else {
                -1.0
            };
            let k = (mf / a).powi(2) + (nf / b).powi(2);
            sum += sign / (mf * nf * k * k);
        }
    }
    16.0 * load_mpa / (PI.powi(6) * rigidity_n_mm) * sum
}

/// Rigidity of a plate, N mm.
pub fn plate_rigidity_n_mm(e_mpa: f64, thickness_mm: f64, poisson: f64) -> f64 {
    e_mpa * thickness_mm.powi(3) / (12.0 * (1.0 - poisson * poisson))
}

/// What a board's middle does.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bow {
    pub(crate) mass_g: f64,
    /// Lying flat, held at its edges, mm: worse than on the wall.
    pub(crate) rest_mm: f64,
    /// In a shock in carriage, mm.
    pub(crate) shock_mm: f64,
    pub(crate) allowed_mm: f64,
}

/// How a board of that size bows under a mass that lies evenly on it.
pub(crate) fn bow(
    board: &Board,
    size_mm: [f64; 2],
    carries_g: f64,
    shock_g: f64,
    catalogue: &Catalogue,
) -> Bow {
    let r = &catalogue.rules;
    let area = size_mm[0] * size_mm[1];
    let mass_g = board.mass_g_m2.value * area / 1e6;
    let load = (mass_g + carries_g) / 1000.0 * r.gravity_m_s2.value / area;
    let rigidity =
        plate_rigidity_n_mm(board.e_mpa.value, board.thickness_mm.value, r.poisson.value);
    let rest_mm = plate_bow_mm(size_mm, load, rigidity);
    Bow {
        mass_g,
        rest_mm,
        shock_mm: rest_mm * shock_g,
        allowed_mm: r.bow_span_share.value * size_mm[0].min(size_mm[1]),
    }
}
/// The boards that may carry a piece.
pub(crate) struct Boards<'a> {
    /// Those that bow little enough and in a shock do not reach the glazing, the lightest first.
    pub(crate) would_do: Vec<(&'a str, &'a Board)>,
    /// Where none does.
    stiffest: Option<(&'a str, &'a Board)>,
}

impl<'a> Boards<'a> {
    pub(crate) fn of(
        size_mm: [f64; 2],
        air_mm: f64,
        carries_g: f64,
        shock_g: f64,
        catalogue: &'a Catalogue,
    ) -> Self {
        let bow_of = |b: &Board| bow(b, size_mm, carries_g, shock_g, catalogue);
        let all = || catalogue.boards.iter().map(|(id, b)| (id.as_str(), b));
        let mut would_do: Vec<(&str, &Board)> = all()
            .filter(|(_, b)| {
                let bow = bow_of(b);
                bow.rest_mm <= bow.allowed_mm && bow.shock_mm < air_mm
            })
            .collect();
        would_do.sort_by(|a, b| {
            let mass = |b: &Board| b.mass_g_m2.value;
            mass(a.1).total_cmp(&mass(b.1)).then(a.0.cmp(b.0))
        });
        let stiffest = all().min_by(|a, b| {
            let rest = |b: &Board| bow_of(b).rest_mm;
            rest(a.1).total_cmp(&rest(b.1)).then(a.0.cmp(b.0))
        });
        Self { would_do, stiffest }
    }

    /// Those that are worth trying, best first: of several on which adhesives hold alike, the lightest.
    pub(crate) fn worth_trying(&self) -> Vec<(&'a str, &'a Board)> {
        let mut kept: Vec<(&str, &Board)> = Vec::new();
        for &(id, b) in self
            .would_do
            .iter()
            .chain(self.stiffest.iter().filter(|_| self.would_do.is_empty()))
        {
            let alike = |k: &Board| {
                k.face == b.face && k.facing_mpa.value.total_cmp(&b.facing_mpa.value).is_eq()
            };
            if !kept.iter().any(|(_, k)| alike(k)) {
                kept.push((id, b));
            }
        }
        kept
    }
}
