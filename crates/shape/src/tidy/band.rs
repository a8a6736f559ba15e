//! Normal equations of a ring: each side meets the next two on either hand, so that the matrix is narrow once the ring is
//! folded flat.

/// Unknowns of one side.
pub(super) const PER_SIDE: usize = 3;

/// Sides that a fold brings between a side and the second after it, with the side itself: half the matrix's band, in unknowns.
const BAND: usize = 5 * PER_SIDE;

/// A symmetric matrix over the unknowns of a ring's sides, lower half, row by row; and the right-hand side.
pub(super) struct Normal {
    sides: usize,
    /// Row i holds columns i - BAND + 1 to i, in folded order.
    rows: Vec<[f64; BAND]>,
    gradient: Vec<f64>,
}

impl Normal {
    pub(super) fn of_sides(sides: usize) -> Self {
        let n = PER_SIDE * sides;
        Self {
            sides,
            rows: vec![[0.0; BAND]; n],
            gradient: vec![0.0; n],
        }
    }

    /// Where an unknown stands once the ring is folded: sides 0, last, 1, last but one, ...
    fn folded(&self, unknown: usize) -> usize {
        let (side, which) = (unknown / PER_SIDE, unknown % PER_SIDE);
        let place = if 2 * side < self.sides {
            2 * side
        } else {
            2 * (self.sides - 1 - side) + 1
        };
        PER_SIDE * place + which
    }

    /// Adds residuals that depend on these unknowns, of sides that are at most two apart.
    pub(super) fn add<const N: usize>(&mut self, unknowns: [usize; N], residuals: &Residuals<N>) {
        let places = unknowns.map(|u| self.folded(u));
        for (a, &i) in places.iter().enumerate() {
            self.gradient[i] += residuals.gradient[a];
            for (b, &j) in places.iter().enumerate() {
                if j <= i {
                    self.rows[i][j + BAND - 1 - i] += residuals.matrix[a][b];
                }
            }
        }
    }

    /// The step that lessens the residuals most, its diagonal made heavier by the damping; `None` where the matrix is not
    /// definite.
    pub(super) fn step(&self, damping: f64) -> Option<Vec<f64>> {
        let n = self.rows.len();
        let mut l = self.rows.clone();
        let mut x: Vec<f64> = self.gradient.iter().map(|g| -g).collect();
        for row in &mut l {
            // An unknown that nothing depends on stays where it is.
            row[BAND - 1] = (row[BAND - 1] + 1e-12) * (1.0 + damping);
        }
        // Cholesky, and the forward half of the solution on the way.
        for i in 0..n {
            let first = (i + 1).saturating_sub(BAND);
            for j in first..=i {
                let from = first.max((j + 1).saturating_sub(BAND));
                let mut sum = l[i][j + BAND - 1 - i];
                for k in from..j {
                    sum -= l[i][k + BAND - 1 - i] * l[j][k + BAND - 1 - j];
                }
                l[i][j + BAND - 1 - i] = if j < i {
                    sum / l[j][BAND - 1]
                } else if sum > 0.0 {
                    sum.sqrt()
                } else {
                    return None;
                };
            }
            for k in first..i {
                x[i] -= l[i][k + BAND - 1 - i] * x[k];
            }
            x[i] /= l[i][BAND - 1];
        }
        for i in (0..n).rev() {
            x[i] /= l[i][BAND - 1];
            for k in (i + 1).saturating_sub(BAND)..i {
                x[k] -= l[i][k + BAND - 1 - i] * x[i];
            }
        }
        Some((0..n).map(|unknown| x[self.folded(unknown)]).collect())
    }
}

/// What weighted residuals that depend on the same N unknowns add to the normal equations.
pub(super) struct Residuals<const N: usize> {
    matrix: [[f64; N]; N],
    gradient: [f64; N],
}

impl<const N: usize> Residuals<N> {
    pub(super) fn none() -> Self {
        Self {
            matrix: [[0.0; N]; N],
            gradient: [0.0; N],
        }
    }

    pub(super) fn one(slopes: [f64; N], residual: f64, weight: f64) -> Self {
        let mut one = Self::none();
        one.add(slopes, residual, weight);
        one
    }

    pub(super) fn add(&mut self, slopes: [f64; N], residual: f64, weight: f64) {
        for i in 0..N {
            let w = weight * slopes[i];
            self.gradient[i] += w * residual;
            for j in 0..N {
                self.matrix[i][j] += w * slopes[j];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Random;

    /// Truth: the equations themselves, multiplied out without folding.
    #[test]
    fn a_step_solves_the_damped_normal_equations_of_rings_of_any_length() {
        let mut dice = Random::new(5);
        for sides in [3, 4, 5, 6, 9, 40, 41] {
            let n = PER_SIDE * sides;
            let mut normal = Normal::of_sides(sides);
            let mut full = vec![vec![0.0; n]; n];
            let mut gradient = vec![0.0; n];
            for k in 0..sides {
                for _ in 0..12 {
                    let unknowns: [usize; 6] = std::array::from_fn(|w| {
                        PER_SIDE * ((k + 2 * (w / PER_SIDE)) % sides) + w % PER_SIDE
                    });
                    let slopes: [f64; 6] = std::array::from_fn(|_| dice.between(-1.0, 1.0));
                    let (residual, weight) = (dice.between(-1.0, 1.0), dice.between(0.1, 2.0));
                    normal.add(unknowns, &Residuals::one(slopes, residual, weight));
                    for (&u, a) in unknowns.iter().zip(&slopes) {
                        gradient[u] += weight * a * residual;
                        for (&v, b) in unknowns.iter().zip(&slopes) {
                            full[u][v] += weight * a * b;
                        }
                    }
                }
            }
            let damping = 0.1;
            let x = normal.step(damping).expect("a definite matrix");
            for u in 0..n {
                let row: f64 = (0..n).map(|v| full[u][v] * x[v]).sum();
                let left = row + damping * full[u][u] * x[u] + gradient[u];
                assert!(left.abs() < 1e-8, "{sides} sides, unknown {u}: {left}");
            }
        }
    }

    #[test]
    fn a_matrix_that_is_not_definite_gives_no_step() {
        let mut normal = Normal::of_sides(3);
        normal.add([0], &Residuals::one([1.0], 1.0, -1.0));
        assert!(normal.step(0.0).is_none());
    }
}
