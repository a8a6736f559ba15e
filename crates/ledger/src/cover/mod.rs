//! Covering programs: the least cost at which every row gets what it needs.
//!
//! Choose columns so that each row's weights add up to its need, at least cost, at most one column of
//! each group. Set cover is the case where all weights and needs are 1. Needs that are no sums come in
//! through a [`Rule`]: it looks at a choice and names columns of which one more must be taken.
//!
//! Method: rows and columns that others make needless are taken out (`thin`), the rest goes to a
//! branch-and-bound solver (`engine`, the crate `microlp`) with rows that cut fractions off (`cuts`), and where the answer breaks a rule, the
//! columns that the rule names become a row and the search goes on. The rows are at all times true
//! for every choice that meets the rule, so that the last answer is the best one.

mod cuts;
mod engine;
mod orlib;
mod thin;

pub use orlib::{CoverFileError, MAX_COVER_BYTES, read_cover_file};

use shape::Watch;

/// What a row's weights may lack of its need, as a share of the need, and still count as enough.
const TOLERANCE: f64 = 1e-9;

/// The largest sum of all costs: beyond it, floating-point bounds would lose the last unit.
const MOST_COST: u64 = 1 << 50;

/// After so many answers that break the rule, the best choice so far is given, with its bound.
const MOST_RULE_ROUNDS: usize = 2_000;

/// One thing that can be chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What it costs, in the program's unit.
    pub cost: u64,
    /// At most one column of a group is chosen.
    pub group: usize,
    /// Rows that it helps, with the weight that it brings to each.
    pub entries: Vec<(usize, f64)>,
}

/// A covering program.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Program {
    /// What each row needs; 0 or less is met already.
    pub needs: Vec<f64>,
    /// What can be chosen.
    pub columns: Vec<Column>,
    /// Of one of these lists at least, nothing may be chosen: so another choice than a given one is asked for. Empty: nothing
    /// is ruled out.
    pub not_all: Vec<Vec<usize>>,
}

/// What is known before a search begins.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Start {
    /// Columns to begin with; what they lack is added.
    pub columns: Vec<usize>,
    /// No choice costs less than this.
    pub bound: u64,
}

/// A need that is no sum of weights.
///
/// It must be monotone: a choice that meets it still does after more was taken.
pub trait Rule {
    /// Empty where the choice meets the need. Else lists of columns: every choice that meets it has one at least of each
    /// list, and this one has none of any.
    fn lacking(&self, chosen: &[usize]) -> Vec<Vec<usize>>;
}

/// How much work a search may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Places of the search tree that may be looked at.
    pub nodes: u64,
}

impl Budget {
    /// For questions beside the main one, of which there are many: a hundredth.
    pub fn beside(self) -> Self {
        Self {
            nodes: (self.nodes / 100).max(1),
        }
    }
}

impl Default for Budget {
    /// Some minutes of one core at most.
    fn default() -> Self {
        Self { nodes: 200_000 }
    }
}

/// Why a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoppedBy {
    /// Nothing was left to try: the choice is the best.
    Proof,
    /// The steps of the budget were used up.
    Steps,
    /// The caller's watch said so.
    Watch,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Chosen columns, in order.
    pub columns: Vec<usize>,
    /// What they cost together.
    pub cost: u64,
    /// No choice costs less than this.
    pub bound: u64,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
    /// Places of the search tree that were looked at.
    pub nodes: u64,
}

impl Choice {
    /// No other choice is cheaper, and that was proved.
    pub fn is_proved(&self) -> bool {
        self.bound == self.cost
    }
}

/// Why there is no choice.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CoverError {
    /// A row that all columns together do not satisfy.
    #[error("row {} cannot get what it needs, whatever is chosen", .row + 1)]
    Row {
        /// Which, from 0.
        row: usize,
    },
    /// No choice meets the rule.
    #[error("no choice meets all needs")]
    Rule,
    /// A weight, a need or a reference that cannot be.
    #[error("column {}: {problem}", .column + 1)]
    Column {
        /// Which, from 0.
        column: usize,
        /// What is wrong with it.
        problem: &'static str,
    },
    /// Costs that add up to more than can be handled exactly.
    #[error("the costs add up to more than {MOST_COST}; use a larger unit")]
    Costs,
    /// The search ended before it found any choice.
    #[error("the search ended before it found a choice; give it more time")]
    NothingYet,
    /// The solver gave up on its arithmetic.
    #[error("the solver cannot go on: {0}")]
    Solver(String),
}

/// Finds the cheapest choice.
///
/// # Errors
/// [`CoverError`]: there is none, or the program is not sound.
pub fn solve(
    program: &Program,
    rule: Option<&dyn Rule>,
    budget: Budget,
    watch: &dyn Watch,
) -> Result<Choice, CoverError> {
    solve_from(program, rule, None, budget, watch)
}

/// Finds the cheapest choice, with something known before: a choice that is good already makes the search shorter, and a
/// bound that it reaches is its proof.
///
/// # Errors
/// [`CoverError`]: there is none, or the program is not sound.
pub fn solve_from(
    program: &Program,
    rule: Option<&dyn Rule>,
    start: Option<&Start>,
    budget: Budget,
    watch: &dyn Watch,
) -> Result<Choice, CoverError> {
    check(program)?;
    if let Some(row) = unmet_row(program, &all_columns(program)) {
        return Err(CoverError::Row { row });
    }
    let thinned = thin::thin(program, rule.is_some());
    let mut search = engine::Search::new(&thinned.program, budget);
    let mut best: Option<(Vec<usize>, u64)> =
        start.and_then(|s| completed(program, rule, s.columns.clone()));
    let mut bound = start.map_or(0, |s| s.bound);
    if let Some((columns, cost)) = best.take_if(|b| b.1 <= bound) {
        return Ok(Choice {
            columns,
            cost,
            bound: cost,
            stopped_by: StoppedBy::Proof,
            nodes: 0,
        });
    }
    let mut stopped_by = StoppedBy::Steps;
    for round in 0..MOST_RULE_ROUNDS {
        let share = round as f64 / MOST_RULE_ROUNDS as f64;
        if watch.step("choosing", share).is_err() && best.is_some() {
            stopped_by = StoppedBy::Watch;
            break;
        }
        if let Some((columns, _)) = &best {
            search.begin_with(&thinned.thinned(columns));
        }
        let found = match search.run(watch) {
            Ok(found) => found,
            // What was put together on the way is an answer too.
            Err(CoverError::NothingYet) if best.is_some() => break,
            Err(e) => return Err(e),
        };
        let columns = thinned.original(&found.columns);
        let rows = lacking(program, rule, &columns);
        bound = bound.max(found.bound);
        match completed(program, rule, columns) {
            Some(whole) if best.as_ref().is_none_or(|b| whole.1 < b.1) => best = Some(whole),
            Some(_) => {}
            // What was added to it may make it the choice that is ruled out; the rows bring the search on.
            None if !program.not_all.is_empty() && !rows.is_empty() => {}
            None => return Err(CoverError::Rule),
        }
        let there = best.as_ref().map_or(u64::MAX, |b| b.1);
        if found.stopped_by != StoppedBy::Proof || there <= bound {
            let (columns, cost) = best.ok_or(CoverError::NothingYet)?;
            let proved = cost <= bound;
            return Ok(Choice {
                columns,
                cost,
                bound: bound.min(cost),
                stopped_by: if proved {
                    StoppedBy::Proof
                } else {
                    found.stopped_by
                },
                nodes: found.nodes,
            });
        }
        for row in rows {
            let row = thinned.thinned(&row);
            if row.is_empty() {
                return Err(CoverError::Rule);
            }
            search.add_row(&row);
        }
    }
    let (columns, cost) = best.ok_or(CoverError::NothingYet)?;
    Ok(Choice {
        columns,
        cost,
        bound: bound.min(cost),
        stopped_by,
        nodes: search.nodes(),
    })
}

/// What a choice lacks, within our own tolerance, not the solver's: rows of the program first, then the rule's.
fn lacking(program: &Program, rule: Option<&dyn Rule>, columns: &[usize]) -> Vec<Vec<usize>> {
    match unmet_row(program, columns) {
        Some(row) => vec![one_more_of_row(program, row, columns)],
        None => rule.map_or_else(Vec::new, |r| r.lacking(columns)),
    }
}

/// A choice with what it lacks added, the cheapest first, and what is then needless taken out, the dearest first. `None`
/// where nothing can be added any more, or what comes of it is ruled out.
fn completed(
    program: &Program,
    rule: Option<&dyn Rule>,
    mut columns: Vec<usize>,
) -> Option<(Vec<usize>, u64)> {
    let cost_of = |c: &usize| program.columns[*c].cost;
    for _ in 0..=program.columns.len() {
        let rows = lacking(program, rule, &columns);
        let Some(row) = rows.first() else { break };
        let cheapest = *row.iter().min_by_key(|c| cost_of(c))?;
        columns.retain(|&c| program.columns[c].group != program.columns[cheapest].group);
        columns.push(cheapest);
    }
    let mut order = columns.clone();
    order.sort_by_key(|c| (std::cmp::Reverse(cost_of(c)), *c));
    for c in order {
        let without: Vec<usize> = columns.iter().copied().filter(|&d| d != c).collect();
        if lacking(program, rule, &without).is_empty() {
            columns = without;
        }
    }
    columns.sort_unstable();
    let cost = columns.iter().map(cost_of).sum();
    (lacking(program, rule, &columns).is_empty() && !is_ruled_out(program, &columns))
        .then_some((columns, cost))
}

/// The cheapest that comes of a choice when one of its columns may not be taken any more, nor one of the same list of
/// [`Program::not_all`], and what is then lacking is added, the cheapest first.
pub(crate) fn without_one(
    program: &Program,
    rule: &dyn Rule,
    columns: &[usize],
) -> Option<Vec<usize>> {
    /// The rule without some columns.
    struct Without<'a>(&'a dyn Rule, &'a [usize]);
    impl Rule for Without<'_> {
        fn lacking(&self, chosen: &[usize]) -> Vec<Vec<usize>> {
            let mut rows = self.0.lacking(chosen);
            for row in &mut rows {
                row.retain(|c| !self.1.contains(c));
            }
            rows
        }
    }
    let bare = Program {
        needs: vec![f64::NEG_INFINITY; program.needs.len()],
        ..program.clone()
    };
    let each = program.not_all.iter().filter_map(|list| {
        let left: Vec<usize> = columns
            .iter()
            .copied()
            .filter(|c| !list.contains(c))
            .collect();
        completed(&bare, Some(&Without(rule, list)), left)
    });
    each.min_by_key(|c| c.1).map(|c| c.0)
}

/// Whether a choice has something of each list of [`Program::not_all`].
fn is_ruled_out(program: &Program, columns: &[usize]) -> bool {
    let lists = &program.not_all;
    !lists.is_empty() && lists.iter().all(|l| l.iter().any(|c| columns.contains(c)))
}

/// Every group's best for every row: no choice can have more.
fn all_columns(program: &Program) -> Vec<usize> {
    (0..program.columns.len()).collect()
}

/// The first row that does not get what it needs. Of each group, a row gets the largest weight that is chosen.
fn unmet_row(program: &Program, chosen: &[usize]) -> Option<usize> {
    let mut best = std::collections::BTreeMap::new();
    for &column in chosen {
        let c = &program.columns[column];
        for &(row, weight) in &c.entries {
            let there = best.entry((row, c.group)).or_insert(0.0f64);
            *there = there.max(weight);
        }
    }
    let mut sums = vec![0.0; program.needs.len()];
    for ((row, _), weight) in best {
        sums[row] += weight;
    }
    (0..sums.len()).find(|&row| sums[row] < program.needs[row] * (1.0 - TOLERANCE))
}

/// Columns of which a choice must have one more, so that the row can get what it needs.
fn one_more_of_row(program: &Program, row: usize, chosen: &[usize]) -> Vec<usize> {
    let weight_in = |c: &Column| c.entries.iter().find(|e| e.0 == row).map_or(0.0, |e| e.1);
    let has = |group: usize| {
        let there = chosen.iter().map(|&c| &program.columns[c]);
        there
            .filter(|c| c.group == group)
            .map(weight_in)
            .fold(0.0, f64::max)
    };
    let more = |&c: &usize| {
        let c = &program.columns[c];
        weight_in(c) > has(c.group)
    };
    (0..program.columns.len()).filter(more).collect()
}

fn check(program: &Program) -> Result<(), CoverError> {
    let mut total = 0u64;
    let mut seen = vec![usize::MAX; program.needs.len()];
    for (column, c) in program.columns.iter().enumerate() {
        let bad = |problem| CoverError::Column { column, problem };
        total = total.checked_add(c.cost).ok_or(CoverError::Costs)?;
        if c.group >= program.columns.len() {
            return Err(bad("its group's number is not below the number of columns"));
        }
        for &(row, weight) in &c.entries {
            let Some(last) = seen.get_mut(row) else {
                return Err(bad("names a row that is not there"));
            };
            if *last == column {
                return Err(bad("names a row twice"));
            }
            *last = column;
            if weight.is_nan() || weight <= 0.0 {
                return Err(bad("has a weight that is not positive"));
            }
        }
    }
    let listed = program.not_all.iter().flatten();
    if let Some(&column) = listed.clone().find(|c| **c >= program.columns.len()) {
        return Err(CoverError::Column {
            column,
            problem: "is ruled out and not there",
        });
    }
    if total > MOST_COST {
        return Err(CoverError::Costs);
    }
    match program.needs.iter().position(|need| !need.is_finite()) {
        Some(row) => Err(CoverError::Row { row }),
        None => Ok(()),
    }
}
