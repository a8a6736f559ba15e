//! Rows and columns that others make needless.

use super::{Column, Program};

/// A program without them, and how its columns are called in the whole one.
pub(super) struct Thinned {
    pub(super) program: Program,
    /// For each column left: which one it was.
    kept: Vec<usize>,
    /// For each column there was: which one it is now.
    now: Vec<Option<usize>>,
}

impl Thinned {
    /// The whole program's names of columns.
    pub(super) fn original(&self, columns: &[usize]) -> Vec<usize> {
        columns.iter().map(|&c| self.kept[c]).collect()
    }

    /// This program's names of those columns that are left.
    pub(super) fn thinned(&self, columns: &[usize]) -> Vec<usize> {
        columns.iter().filter_map(|&c| self.now[c]).collect()
    }
}

/// Takes out what needs no thought.
///
/// - A row that is met whenever another one is.
/// - A column whose rows other columns, of one row each, fill at no greater cost (Beasley 1987), where they fill them
///   alone. With a rule, columns mean more than their weights, and all are kept.
pub(super) fn thin(program: &Program, ruled: bool) -> Thinned {
    // Where a choice is ruled out, a column that others could stand for may be part of the best one left.
    let ruled = ruled || !program.not_all.is_empty();
    let mut needs = program.needs.clone();
    let by_row = columns_of_rows(program);
    if !ruled {
        drop_rows(program, &by_row, &mut needs);
    }
    let mut keep = vec![true; program.columns.len()];
    if !ruled {
        drop_columns(program, &by_row, &needs, &mut keep);
    }
    let kept: Vec<usize> = (0..keep.len()).filter(|&c| keep[c]).collect();
    let mut now = vec![None; keep.len()];
    // Groups and rows are numbered anew, without gaps.
    let mut group_now = vec![None; keep.len()];
    let mut groups = 0;
    let mut columns = Vec::with_capacity(kept.len());
    let row_now: Vec<Option<usize>> = {
        let mut n = 0;
        let mut next = |open: bool| {
            open.then(|| {
                n += 1;
                n - 1
            })
        };
        needs.iter().map(|&need| next(need > 0.0)).collect()
    };
    for (k, &c) in kept.iter().enumerate() {
        now[c] = Some(k);
        let old = &program.columns[c];
        let group = *group_now[old.group].get_or_insert_with(|| {
            groups += 1;
            groups - 1
        });
        let entries = old.entries.iter();
        columns.push(Column {
            cost: old.cost,
            group,
            entries: entries
                .filter_map(|&(row, w)| Some((row_now[row]?, w)))
                .collect(),
        });
    }
    let listed = program.not_all.iter();
    let not_all = listed.map(|l| l.iter().filter_map(|&c| now[c]).collect());
    Thinned {
        program: Program {
            needs: needs.into_iter().filter(|&need| need > 0.0).collect(),
            columns,
            not_all: not_all.collect(),
        },
        kept,
        now,
    }
}

/// For each row, its columns with their weights, in order.
fn columns_of_rows(program: &Program) -> Vec<Vec<(usize, f64)>> {
    let mut rows = vec![Vec::new(); program.needs.len()];
    for (c, column) in program.columns.iter().enumerate() {
        for &(row, weight) in &column.entries {
            rows[row].push((c, weight));
        }
    }
    rows
}

/// Row `b` is met with row `a` where each column brings `b` as large a share of its need as it brings `a`.
fn drop_rows(program: &Program, by_row: &[Vec<(usize, f64)>], needs: &mut [f64]) {
    for a in 0..by_row.len() {
        if needs[a] <= 0.0 {
            continue;
        }
        // A row that is implied has all columns of this one, so it is among the rows of its rarest column.
        let Some(&(rarest, _)) = by_row[a]
            .iter()
            .min_by_key(|(c, _)| program.columns[*c].entries.len())
        else {
            continue;
        };
        for &(b, _) in &program.columns[rarest].entries {
            if b != a
                && needs[b] > 0.0
                && by_row[b].len() >= by_row[a].len()
                && is_implied(&by_row[a], needs[a], &by_row[b], needs[b])
            {
                needs[b] = 0.0;
            }
        }
    }
}

/// Both lists are in order of columns.
fn is_implied(a: &[(usize, f64)], need_a: f64, b: &[(usize, f64)], need_b: f64) -> bool {
    let mut rest = b.iter();
    a.iter().all(|&(column, weight)| {
        rest.by_ref()
            .find(|e| e.0 >= column)
            .is_some_and(|e| e.0 == column && e.1 / need_b >= weight / need_a)
    })
}

/// The cheapest columns that fill each row alone, one after the other, may cost no more than a column of all these rows.
fn drop_columns(program: &Program, by_row: &[Vec<(usize, f64)>], needs: &[f64], keep: &mut [bool]) {
    let alone_in_group = {
        let mut sizes = vec![0u32; program.columns.len()];
        for c in &program.columns {
            sizes[c.group] += 1;
        }
        move |c: usize| sizes[program.columns[c].group] == 1
    };
    // Dearest first, so that of two that could stand for each other one stays.
    let mut order: Vec<usize> = (0..program.columns.len()).collect();
    order.sort_by_key(|&c| std::cmp::Reverse((program.columns[c].cost, c)));
    for c in order {
        let column = &program.columns[c];
        if !alone_in_group(c) {
            continue;
        }
        let mut filled: Vec<usize> = Vec::new();
        let mut cost = 0u64;
        let stood_for = column.entries.iter().all(|&(row, _)| {
            if needs[row] <= 0.0 || filled.contains(&row) {
                return true;
            }
            let fills = |&(d, w): &(usize, f64)| {
                (d != c && keep[d] && w >= needs[row] && alone_in_group(d)).then_some(d)
            };
            // The cheapest; of those, the one that fills most.
            let Some(best) = by_row[row].iter().filter_map(fills).min_by_key(|&d| {
                let d = &program.columns[d];
                (d.cost, std::cmp::Reverse(d.entries.len()))
            }) else {
                return false;
            };
            cost += program.columns[best].cost;
            let entries = program.columns[best].entries.iter();
            filled.extend(entries.filter(|e| e.1 >= needs[e.0]).map(|e| e.0));
            cost <= column.cost
        });
        if stood_for {
            keep[c] = false;
        }
    }
}
