//! Rows that every whole choice satisfies and fractions of columns do not: they let the branch-and-bound search end sooner.
//!
//! Each comes from one row, sum of w x >= 1:
//!
//! - Columns S that do not fill it together leave r = 1 - w(S) to the others: sum over the others of min(w / r, 1) x >= 1
//!   (knapsack-cover inequalities; Carr, Fleischer, Leung and Phillips, SODA 2000).
//! - Times k and rounded up: sum of ceil(k w) x >= k (Chvátal and Gomory), of the row itself or of one of those.

use microlp::{
    ComparisonOp, OptimizationDirection, Problem, SolutionStatus, SolveOptions, SolveOutcome,
    Variable,
};

/// A row as the solver takes it: columns with their shares, and the least sum.
pub(super) type Cut = (Vec<(usize, f64)>, f64);

/// Times that the relaxation is solved.
const ROUNDS: usize = 40;

/// Factors that are tried.
const FACTORS: u32 = 12;

/// What the columns of S may leave at least, so that division by it keeps its digits.
const LEAST_LEFT: f64 = 1e-3;

/// A row counts as broken from this share on.
const BROKEN: f64 = 1e-3;

/// Far below what any whole choice misses a row by, far above rounding.
const ROUNDING: f64 = 1e-9;

/// A program without whole numbers: a box of 0 to 1, rows of at least, rows of at most.
pub(super) struct Relaxed<'a> {
    pub(super) costs: &'a [f64],
    pub(super) at_least: Vec<Cut>,
    pub(super) at_most: Vec<Cut>,
}

/// Rows that cut off fractional answers, found on what the relaxation answers round by round. Each of `rows` asks for 1.
pub(super) fn cuts(mut relaxed: Relaxed<'_>, rows: &[Vec<(usize, f64)>]) -> Vec<Cut> {
    let mut found: Vec<Cut> = Vec::new();
    let mut last = Vec::new();
    for _ in 0..ROUNDS {
        let Some(x) = relaxed.answer() else { break };
        last.clone_from(&x);
        let new: Vec<Cut> = rows.iter().filter_map(|row| broken(row, &x)).collect();
        if new.is_empty() {
            break;
        }
        relaxed.at_least.extend(new.iter().cloned());
        found.extend(new);
    }
    // What does not bear on the last answer only slows the search.
    let sum = |row: &[(usize, f64)]| row.iter().map(|e| e.1 * last[e.0]).sum::<f64>();
    found.retain(|(row, least)| last.is_empty() || sum(row) <= least * (1.0 + 1e-6));
    found
}

impl Relaxed<'_> {
    fn answer(&self) -> Option<Vec<f64>> {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let costs = self.costs.iter();
        let variables: Vec<Variable> = costs.map(|&c| problem.add_var(c, (0.0, 1.0))).collect();
        for (rows, op) in [
            (&self.at_least, ComparisonOp::Ge),
            (&self.at_most, ComparisonOp::Le),
        ] {
            for (row, bound) in rows {
                let row: Vec<(Variable, f64)> =
                    row.iter().map(|&(c, w)| (variables[c], w)).collect();
                problem.add_constraint(row, op, *bound);
            }
        }
        match problem.solve_with(SolveOptions::default()).ok()? {
            SolveOutcome::Solution(s) if s.status() == SolutionStatus::Optimal => {
                Some(variables.iter().map(|&v| s.var_value(v)).collect())
            }
            _ => None,
        }
    }
}

/// The row that an answer breaks most, of those that come from one row.
fn broken(row: &[(usize, f64)], x: &[f64]) -> Option<Cut> {
    let mut order: Vec<(usize, f64)> = row.iter().copied().filter(|e| x[e.0] > 1e-9).collect();
    order.sort_by(|a, b| x[b.0].total_cmp(&x[a.0]).then(a.0.cmp(&b.0)));
    let mut best: Option<(f64, Cut)> = None;
    let mut left = 1.0;
    for taken in 0..=order.len() {
        if taken > 0 {
            left -= order[taken - 1].1;
        }
        if left < LEAST_LEFT {
            break;
        }
        let in_s = |c: usize| order[..taken].iter().any(|e| e.0 == c);
        let others: Vec<(usize, f64)> = row
            .iter()
            .filter(|e| !in_s(e.0))
            .map(|&(c, w)| (c, (w / left).min(1.0)))
            .collect();
        for factor in 0..=FACTORS {
            let k = f64::from(factor);
            let weight = |w: f64| match factor {
                0 => w,
                _ => (k * w - ROUNDING).ceil(),
            };
            let least = match factor {
                0 => 1.0 - 2.0 * ROUNDING / left,
                _ => k,
            };
            let sum: f64 = others.iter().map(|&(c, w)| weight(w) * x[c]).sum();
            let misses = 1.0 - sum / least;
            if misses > BROKEN && best.as_ref().is_none_or(|b| misses > b.0) {
                let cut = others.iter().map(|&(c, w)| (c, weight(w))).collect();
                best = Some((misses, (cut, least)));
            }
        }
    }
    best.map(|b| b.1)
}
