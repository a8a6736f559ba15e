//! The branch-and-bound solver behind a covering program.

use super::cuts::{Cut, Relaxed, cuts};
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
    /// A choice to begin with, as the solver takes it.
    begin: Option<Vec<(Variable, f64)>>,
}

impl Search {
    pub(super) fn new(program: &Program, budget: Budget) -> Self {
        let unit = program.columns.iter().fold(0, |a, c| gcd(a, c.cost)).max(1);
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let costs = program.columns.iter().map(|c| (c.cost / unit) as f64);
        let variables: Vec<Variable> = costs.clone().map(|c| problem.add_binary_var(c)).collect();
        let mut rows = vec![Vec::new(); program.needs.len()];
        let mut groups: Vec<Cut> = vec![(Vec::new(), 1.0); program.columns.len()];
        for (column, c) in program.columns.iter().enumerate() {
            groups[c.group].0.push((column, 1.0));
            for &(row, weight) in &c.entries {
                // In shares of the need: all rows are alike to the solver's tolerance. What is more
                // than enough counts as enough, which cuts fractional answers off and no whole one.
                let share = (weight / program.needs[row]).min(1.0);
                rows[row].push((column, share));
            }
        }
        let mut at_least: Vec<Cut> = Vec::new();
        let mut open = Vec::new();
        for (row, &need) in rows.into_iter().zip(&program.needs) {
            if need > 0.0 {
                at_least.extend(count_of(&row));
                at_least.push((row.clone(), 1.0));
                open.push(row);
            }
        }
        let mut at_most: Vec<Cut> = groups.into_iter().filter(|g| g.0.len() > 1).collect();
        if !program.not_all.is_empty() {
            // A list has columns of one group, of which one at most is chosen.
            let listed = program.not_all.iter().flatten();
            let most = program.not_all.len() as f64 - 1.0;
            at_most.push((listed.map(|&c| (c, 1.0)).collect(), most));
        }
        // Columns that fill whatever row they are in leave no fractions of rows to cut off.
        if open.iter().flatten().any(|e| e.1 < 1.0) {
            let costs: Vec<f64> = costs.collect();
            let relaxed = Relaxed {
                costs: &costs,
                at_least: at_least.clone(),
                at_most: at_most.clone(),
            };
            at_least.extend(cuts(relaxed, &open));
        }
        for (rows, op) in [(at_least, ComparisonOp::Ge), (at_most, ComparisonOp::Le)] {
            for (row, bound) in rows {
                let row: Vec<(Variable, f64)> =
                    row.into_iter().map(|(c, w)| (variables[c], w)).collect();
                problem.add_constraint(row, op, bound);
            }
        }
        Self {
            problem,
            variables,
            unit,
            nodes: 0,
            nodes_left: budget.nodes,
            begin: None,
        }
    }

    /// A choice to begin with. One that breaks a row is passed over.
    pub(super) fn begin_with(&mut self, columns: &[usize]) {
        let value = |c: usize| f64::from(u8::from(columns.contains(&c)));
        let all = (0..self.variables.len()).map(|c| (self.variables[c], value(c)));
        self.begin = Some(all.collect());
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
        options.warm_start.clone_from(&self.begin);
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
fn count_of(row: &[(usize, f64)]) -> Option<Cut> {
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
    (count > 1).then(|| {
        (
            row.iter().map(|&(c, _)| (c, 1.0)).collect(),
            f64::from(count),
        )
    })
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
