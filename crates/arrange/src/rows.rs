//! Plans of straight rows: each band is a row, each station in it one cell.

use crate::plan::{Plan, Setting};
use shape::Random;

/// Most rows that the first plans try.
const ROWS: usize = 12;

/// Rows as lists of cells.
type Rows = Vec<Vec<usize>>;

/// The cells by size and by kind, cut into one to [`ROWS`] rows of nearly equal length.
pub(crate) fn first_plans(setting: &Setting<'_>) -> Vec<Plan> {
    let n = setting.cells.len();
    let along = |c: usize| setting.extents[c].0.whole_mm() + setting.spacing.gap_mm;
    let across = |c: usize| setting.extents[c].1.body;
    let mut by_size: Vec<usize> = (0..n).collect();
    by_size.sort_by(|&a, &b| across(b).total_cmp(&across(a)).then(a.cmp(&b)));
    // The kinds in the order of their largest cells; each kind's cells by size.
    let first_of_kind = |c: usize| {
        let kind = setting.cells[c].layer;
        by_size.iter().position(|&o| setting.cells[o].layer == kind)
    };
    let mut by_kind = by_size.clone();
    by_kind.sort_by_key(|&c| first_of_kind(c));
    let mut plans: Vec<Plan> = Vec::new();
    for n_rows in 1..=ROWS.min(n) {
        for order in [&by_size, &by_kind] {
            let whole: f64 = order.iter().map(|&c| along(c)).sum();
            let mut rows: Rows = vec![Vec::new(); n_rows];
            let mut so_far = 0.0;
            for &c in order {
                let middle = so_far + 0.5 * along(c);
                let row = (middle / whole * n_rows as f64) as usize;
                rows[row.min(n_rows - 1)].push(c);
                so_far += along(c);
            }
            let plan = plan_of(rows, false);
            if !plans.contains(&plan) {
                plans.push(plan);
            }
        }
    }
    plans
}

fn plan_of(rows: Rows, grid: bool) -> Plan {
    Plan {
        bands: rows
            .into_iter()
            .filter(|row| !row.is_empty())
            .map(|row| row.into_iter().map(|c| vec![vec![c]]).collect())
            .collect(),
        grid,
    }
}

fn rows_of(plan: &Plan) -> Rows {
    plan.bands
        .iter()
        .map(|band| band.iter().flatten().flatten().copied().collect())
        .collect()
}

/// A plan with one thing changed; `None` where the drawn change does not apply.
pub(crate) fn changed(plan: &Plan, random: &mut Random) -> Option<Plan> {
    let mut rows = rows_of(plan);
    let mut grid = plan.grid;
    let r = random.below(rows.len());
    let k = random.below(rows[r].len());
    match random.below(12) {
        // A cell goes anywhere, now and then into a row of its own.
        0..=3 => {
            let cell = rows[r].remove(k);
            let to = random.below(rows.len() + 1);
            if to == rows.len() || (rows[to].is_empty() && to != r) {
                let at = random.below(rows.len() + 1);
                rows.insert(at, vec![cell]);
            } else {
                let at = random.below(rows[to].len() + 1);
                rows[to].insert(at, cell);
            }
        }
        // Two cells change places.
        4..=7 => {
            let r2 = random.below(rows.len());
            let k2 = random.below(rows[r2].len());
            let (a, b) = (rows[r][k], rows[r2][k2]);
            rows[r][k] = b;
            rows[r2][k2] = a;
        }
        // Two rows change places.
        8 => {
            let r2 = random.below(rows.len());
            rows.swap(r, r2);
        }
        // A row runs the other way.
        9 => rows[r].reverse(),
        // A row is cut in two, or joined with the next.
        10 => {
            if random.below(2) == 0 {
                if k == 0 {
                    return None;
                }
                let rest = rows[r].split_off(k);
                rows.insert(r + 1, rest);
            } else {
                if r + 1 >= rows.len() {
                    return None;
                }
                let next = rows.remove(r + 1);
                rows[r].extend(next);
            }
        }
        // Rows of equally many cells share their columns, or no longer do.
        _ => grid = !grid,
    }
    let new = plan_of(rows, grid);
    (new != *plan).then_some(new)
}
