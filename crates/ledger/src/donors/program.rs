//! The purchase as a covering program.
//!
//! A column is "buy k of this lot", at most one of a lot, or "take a stand-in". For a part of which one is needed the
//! chance of failing is a product over lots, so that its logarithm is a sum: sum of -ln(1-p) at least -ln(1-c). That
//! is exact, but for sibling models, whose fit is one fact for several lots.
//!
//! For more than one, with N the number of good ones: whatever t in 0..1, E[t^N] <= P(N<n) (1 - t^n) + t^n, and E[t^N]
//! is again a product over lots (no less than it, where fits are shared). So P(N<n) <= e asks for
//! sum of -ln E[t^N of a lot] >= -ln(e (1 - t^n) + t^n): a row for each of several t. They cut off most choices that
//! are too weak; what they let through, the exact distribution refuses ([`Exact`]).

use super::supply::Supply;
use crate::LedgerError;
use crate::cover::{Column, Program, Rule};
use crate::donors::{Market, Need};

/// Places of t for parts of which more than one is needed.
const TILTS: [f64; 6] = [0.0, 0.15, 0.3, 0.45, 0.6, 0.8];

/// A failing chance below this counts as this: its logarithm is finite.
const LEAST_FAILING: f64 = 1e-300;

/// What a row asks less than it could, so that rounding never cuts off a choice that the exact distribution allows.
const SLACK: f64 = 4e-9;

/// What a column means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Buy {
    /// So many of an offer.
    Lot { offer: usize, count: u32 },
    /// A stand-in for a need.
    StandIn { need: usize },
}

/// The program, and what its columns mean.
pub(super) struct Offered {
    pub(super) program: Program,
    pub(super) meaning: Vec<Buy>,
}

impl Offered {
    pub(super) fn new(
        supply: &Supply,
        market: &Market,
        needs: &[Need],
    ) -> Result<Self, LedgerError> {
        let mut program = Program::default();
        let mut meaning = Vec::new();
        // For each offer: what one unit brings to each row.
        let mut brings: Vec<Vec<(usize, f64)>> = vec![Vec::new(); supply.offers.len()];
        let mut rows_of: Vec<Vec<usize>> = Vec::new();
        for wanted in &supply.wanted {
            let n = wanted.quantity as f64;
            let failing = (1.0 - wanted.asked.get()).max(LEAST_FAILING);
            let mut rows = Vec::new();
            let tilts = if wanted.quantity == 1 {
                &TILTS[..1]
            } else {
                &TILTS[..]
            };
            for &t in tilts {
                let stays = |p: f64, copies: u32| (1.0 - p * (1.0 - t)).powi(copies as i32);
                let log = |x: f64| -x.max(LEAST_FAILING).ln();
                let all = t.powi(wanted.quantity as i32);
                let need = log(failing * (1.0 - all) + all);
                let stock = wanted
                    .sources
                    .iter()
                    .flat_map(|s| {
                        s.stock
                            .iter()
                            .map(|p| log(1.0 - s.fits * (1.0 - stays(*p, 1))))
                    })
                    .sum::<f64>();
                rows.push((need - stock, Some(t)));
            }
            if wanted.quantity > 1 {
                // E[N] >= n P(N >= n).
                let stock: f64 = wanted
                    .sources
                    .iter()
                    .map(|s| s.fits * s.stock.iter().sum::<f64>())
                    .sum();
                rows.push((n * wanted.asked.get() - stock, None));
            }
            let mut places = Vec::new();
            for (need, tilt) in rows {
                let row = program.needs.len();
                program.needs.push(need - SLACK * (1.0 + need.abs()));
                places.push(row);
                for source in &wanted.sources {
                    for from in &source.offers {
                        let lives = source.fits * (1.0 - supply.offers[from.offer].dead);
                        let weight = match tilt {
                            Some(t) => {
                                let none_counts =
                                    (1.0 - from.chance * (1.0 - t)).powi(from.copies as i32);
                                -(1.0 - lives * (1.0 - none_counts)).max(LEAST_FAILING).ln()
                            }
                            None => lives * from.chance * f64::from(from.copies),
                        };
                        brings[from.offer].push((row, weight));
                    }
                }
            }
            rows_of.push(places);
        }
        let mut group = 0;
        for (offer, o) in supply.offers.iter().enumerate() {
            if brings[offer].is_empty() {
                continue;
            }
            for count in 1..=useful(supply, offer) {
                let cost = market.lots[o.lot].cost_minor(count)?;
                let entries = brings[offer]
                    .iter()
                    .filter(|e| program.needs[e.0] > 0.0 && e.1 > 0.0);
                program.columns.push(Column {
                    cost: u64::try_from(cost).unwrap_or(0),
                    group,
                    entries: entries
                        .map(|&(row, w)| (row, w * f64::from(count)))
                        .collect(),
                });
                meaning.push(Buy::Lot { offer, count });
            }
            group += 1;
        }
        for (need, rows) in rows_of.iter().enumerate() {
            if let Some(cost) = needs[need].stand_in_minor {
                let open = rows.iter().copied().filter(|&row| program.needs[row] > 0.0);
                program.columns.push(Column {
                    cost: u64::try_from(cost.get()).unwrap_or(0),
                    group,
                    entries: open.map(|row| (row, program.needs[row])).collect(),
                });
                meaning.push(Buy::StandIn { need });
                group += 1;
            }
        }
        Ok(Self { program, meaning })
    }

    /// The columns that bring what a column brings, or more of the same.
    pub(super) fn as_much_as(&self, column: usize) -> Vec<usize> {
        let does = |m: &Buy| match (m, self.meaning[column]) {
            (
                Buy::Lot { offer, count },
                Buy::Lot {
                    offer: of,
                    count: n,
                },
            ) => *offer == of && *count >= n,
            (other, this) => *other == this,
        };
        (0..self.meaning.len())
            .filter(|&c| does(&self.meaning[c]))
            .collect()
    }

    /// The columns that mean this here; of an offer, as many as there are where there are not so many.
    pub(super) fn columns_of(&self, buys: &[Buy]) -> Vec<usize> {
        let column = |buy: &Buy| {
            match *buy {
            Buy::Lot { offer, count } => (0..self.meaning.len()).rev().find(|&c| {
                matches!(self.meaning[c], Buy::Lot { offer: o, count: n } if o == offer && n <= count)
            }),
            stand_in => self.meaning.iter().position(|m| *m == stand_in),
        }
        };
        buys.iter().filter_map(column).collect()
    }

    /// Units of each offer, and needs with a stand-in.
    pub(super) fn bought(&self, supply: &Supply, columns: &[usize]) -> (Vec<u32>, Vec<bool>) {
        let mut bought = vec![0; supply.offers.len()];
        let mut stood_in = vec![false; supply.wanted.len()];
        for &c in columns {
            match self.meaning[c] {
                Buy::Lot { offer, count } => bought[offer] = bought[offer].max(count),
                Buy::StandIn { need } => stood_in[need] = true,
            }
        }
        (bought, stood_in)
    }
}

/// As many units as could ever help: those that alone do for all that the lot has.
fn useful(supply: &Supply, offer: usize) -> u32 {
    let most = supply.offers[offer].most;
    let mut bought = vec![0; supply.offers.len()];
    let helps: Vec<usize> = (0..supply.wanted.len())
        .filter(|&i| {
            supply.wanted[i]
                .sources
                .iter()
                .any(|s| s.offers.iter().any(|f| f.offer == offer))
        })
        .collect();
    for count in 1..most {
        bought[offer] = count;
        if helps.iter().all(|&i| supply.meets(i, &bought)) {
            return count;
        }
    }
    most
}

/// The exact distribution as a rule over the program's columns.
pub(super) struct Exact<'a> {
    pub(super) supply: &'a Supply,
    pub(super) purchase: &'a Offered,
}

impl Rule for Exact<'_> {
    fn lacking(&self, chosen: &[usize]) -> Vec<Vec<usize>> {
        let (bought, stood_in) = self.purchase.bought(self.supply, chosen);
        (0..self.supply.wanted.len())
            .filter(|&need| !stood_in[need] && !self.supply.meets(need, &bought))
            .map(|need| self.one_more_of(need, &bought))
            .collect()
    }
}

impl Exact<'_> {
    /// The choice is made as large as it can be and still be too weak; what lies beyond it, every choice that does must
    /// have some of. The larger, the stronger the row.
    fn one_more_of(&self, need: usize, bought: &[u32]) -> Vec<usize> {
        let mut level = bought.to_vec();
        let mut helping: Vec<(f64, usize)> = Vec::new();
        for source in &self.supply.wanted[need].sources {
            for from in &source.offers {
                helping.push((
                    source.fits * from.chance * f64::from(from.copies),
                    from.offer,
                ));
            }
        }
        helping.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for &(_, offer) in &helping {
            let (mut low, mut high) = (level[offer], self.supply.offers[offer].most);
            while low < high {
                let middle = high - (high - low) / 2;
                level[offer] = middle;
                if self.supply.meets(need, &level) {
                    high = middle - 1;
                } else {
                    low = middle;
                }
            }
            level[offer] = low;
        }
        let beyond = |&c: &usize| match self.purchase.meaning[c] {
            Buy::Lot { offer, count } => {
                count > level[offer] && helping.iter().any(|h| h.1 == offer)
            }
            Buy::StandIn { need: of } => of == need,
        };
        (0..self.purchase.meaning.len()).filter(beyond).collect()
    }
}
