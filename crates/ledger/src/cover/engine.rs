//! The branch-and-bound solver behind a covering program.

use super::{Budget, Choice, CoverError, Program, StoppedBy, TOLERANCE};
use microlp::{
    ComparisonOp, OptimizationDirection, Problem, ResumeOptions, SolutionStatus, SolveOptions,
    SolveOutcome, Variable,
};
use shape::Watch;

/// Nodes between two looks at the watch.
const NODES_A_ROUND: u64 = 200;

/// A program at the solver, which can take more rows between two runs.
pub(super) struct Search {
    problem: Problem,
    variables: Vec<Variable>,
    /// Costs are handed over in this unit: their greatest common divisor.
    unit: u64,
    nodes: u64,
    nodes_left: u64,
}

impl Search {
    pub(super) fn new(program: &Program, budget: Budget) -> Self {
        let unit = program.columns.iter().fold(0, |a, c| gcd(a, c.cost)).max(1);
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let variables: Vec<Variable> = program
            .columns
            .iter()
            .map(|c| problem.add_binary_var((c.cost / unit) as f64))
            .collect();
        let mut rows = vec![Vec::new(); program.needs.len()];
        let mut groups = vec![Vec::new(); program.columns.len()];
        for (c, &variable) in program.columns.iter().zip(&variables) {
            groups[c.group].push((variable, 1.0));
            for &(row, weight) in &c.entries {
                // In shares of the need: all rows are alike to the solver's tolerance. What is more
                // than enough counts as enough, which cuts fractional answers off and no whole one.
                let share = (weight / program.needs[row]).min(1.0);
                rows[row].push((variable, share));
            }
        }
        for (row, &need) in rows.iter().zip(&program.needs) {
            if need > 0.0 {
                problem.add_constraint(row.as_slice(), ComparisonOp::Ge, 1.0);
                add_count(&mut problem, row);
            }
        }
        for group in groups.iter().filter(|g| g.len() > 1) {
            problem.add_constraint(group.as_slice(), ComparisonOp::Le, 1.0);
        }
        Self {
            problem,
            variables,
            unit,
            nodes: 0,
            nodes_left: budget.nodes,
        }
    }

    /// One of these columns at least.
    pub(super) fn add_row(&mut self, columns: &[usize]) {
        let row: Vec<(Variable, f64)> = columns.iter().map(|&c| (self.variables[c], 1.0)).collect();
        self.problem.add_constraint(row, ComparisonOp::Ge, 1.0);
    }

    /// Places of the search tree that were looked at.
    pub(super) fn nodes(&self) -> u64 {
        self.nodes
    }

    /// The best choice under the rows so far.
    pub(super) fn run(&mut self, watch: &dyn Watch) -> Result<Choice, CoverError> {
        let round = |left: u64| Some(left.min(NODES_A_ROUND));
        let mut options = SolveOptions::default();
        options.node_limit = round(self.nodes_left);
        options.tolerances.feasibility = TOLERANCE;
        let solver = |e: microlp::Error| match e {
            microlp::Error::Infeasible => CoverError::Rule,
            other => CoverError::Solver(other.to_string()),
        };
        let mut outcome = self.problem.solve_with(options).map_err(solver)?;
        let mut counted = 0;
        let stopped_by = loop {
            let solved = outcome.stats().nodes_solved;
            let new = solved.saturating_sub(counted);
            counted = solved;
            self.nodes += new;
            self.nodes_left = self.nodes_left.saturating_sub(new);
            if matches!(&outcome, SolveOutcome::Solution(s) if s.status() == SolutionStatus::Optimal)
            {
                break StoppedBy::Proof;
            }
            if self.nodes_left == 0 {
                break StoppedBy::Steps;
            }
            let share = 1.0 - self.nodes_left as f64 / (self.nodes + self.nodes_left) as f64;
            if watch.step("choosing", share).is_err() {
                break StoppedBy::Watch;
            }
            let mut more = ResumeOptions::default();
            more.node_limit = round(self.nodes_left);
            outcome = outcome.resume_with(more).map_err(solver)?;
        };
        let stats = outcome.stats();
        let SolveOutcome::Solution(solution) = outcome else {
            return Err(CoverError::NothingYet);
        };
        let columns: Vec<usize> = (0..self.variables.len())
            .filter(|&c| solution.var_value(self.variables[c]) > 0.5)
            .collect();
        let cost = (solution.objective().round() as u64) * self.unit;
        let bound = match stopped_by {
            StoppedBy::Proof => cost,
            _ => {
                let below = stats.best_bound.unwrap_or(0.0).max(0.0);
                // Whole units: what is just below one is the next one.
                ((below - 1e-6 * (1.0 + below)).ceil().max(0.0) as u64) * self.unit
            }
        };
        Ok(Choice {
            columns,
            cost,
            bound: bound.min(cost),
            stopped_by,
            nodes: self.nodes,
        })
    }
}

/// Where several columns are needed to fill a row, so many at least must be taken: the sum of shares alone would let a
/// fraction of one do.
fn add_count(problem: &mut Problem, row: &[(Variable, f64)]) {
    let mut shares: Vec<f64> = row.iter().map(|e| e.1).collect();
    shares.sort_by(|a, b| b.total_cmp(a));
    let mut sum = 0.0;
    let mut count = 0;
    for share in shares {
        if sum >= 1.0 - 2.0 * TOLERANCE {
            break;
        }
        sum += share;
        count += 1;
    }
    if count > 1 {
        let row: Vec<(Variable, f64)> = row.iter().map(|&(v, _)| (v, 1.0)).collect();
        problem.add_constraint(row, ComparisonOp::Ge, f64::from(count));
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
