//! What parts can come from, and with which chance.
//!
//! The model, exact in all its parts:
//!
//! - A copy of a part from a living lot is good with the lot's chance for that part, whatever the other copies are.
//! - A lot is dead as a whole with its own chance: then nothing of it is good. Lots die on their own.
//! - A part of a sibling model fits or does not: one fact for all its copies from all lots of that model.
//! - What lies in the drawer is good with its own chance.
//!
//! So the number of good copies of one part is a mixture of Poisson binomials, worked out by folding one copy after
//! the other into its distribution. Parts of one lot hang together through the lot's death: the whole piece's confidence
//! is a sum over all patterns of dead and living lots.

use crate::donors::{LotChances, Market, Need};
use crate::drawer::Drawer;
use crate::{Chance, LedgerError};

/// Patterns of dead and living lots that are summed up for the piece's confidence; beyond, it is bracketed.
const MOST_PATTERNS: usize = 1 << 16;

/// What is asked of one need, and what it can come from.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    pub(super) quantity: usize,
    pub(super) asked: Chance,
    /// What it can come from, by model: the piece's own first, which surely fits.
    pub(super) sources: Vec<Source>,
}

/// Copies of a part of one model.
#[derive(Debug, Clone)]
pub(super) struct Source {
    pub(super) model: Option<String>,
    pub(super) fits: f64,
    /// Chances of single copies in the drawer.
    pub(super) stock: Vec<f64>,
    pub(super) offers: Vec<FromOffer>,
}

/// What one unit of an offer brings to a need.
#[derive(Debug, Clone, Copy)]
pub(super) struct FromOffer {
    pub(super) offer: usize,
    pub(super) chance: f64,
    pub(super) copies: u32,
}

/// A lot that can be bought, so many times.
#[derive(Debug, Clone)]
pub(super) struct Offer {
    pub(super) lot: usize,
    pub(super) dead: f64,
    pub(super) most: u32,
}

/// Needs and offers.
#[derive(Debug, Clone)]
pub(super) struct Supply {
    pub(super) wanted: Vec<Wanted>,
    pub(super) offers: Vec<Offer>,
}

/// How many units of an offer are bought, and what is known of them.
#[derive(Debug, Clone, Copy)]
enum Units {
    /// So many, each of which may be dead.
    Bought(u32),
    /// So many that live.
    Living(u32),
}

/// The chance of the whole piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Whole {
    /// It is no less than this.
    pub(super) least: f64,
    /// It is no more than this; the same where it was summed up.
    pub(super) most: f64,
}

impl Supply {
    pub(super) fn new(
        market: &Market,
        needs: &[Need],
        drawer: &Drawer,
        piece: Option<&str>,
        table: &LotChances,
    ) -> Result<Self, LedgerError> {
        let fits = |model: Option<&String>, need: &Need| match model {
            None => Chance::SURE,
            Some(m) => {
                let told = market
                    .siblings
                    .iter()
                    .find(|s| s.model == *m && s.part == need.part);
                told.map_or(Chance::NEVER, super::Sibling::fits)
            }
        };
        let mut offers = Vec::new();
        for (lot, there) in market.lots.iter().enumerate() {
            let by_condition = there
                .condition
                .as_deref()
                .and_then(|c| table.dead(c))
                .map(|b| b.mean());
            let dead = there.dead.or(by_condition).unwrap_or(Chance::NEVER);
            offers.push(Offer {
                lot,
                dead: dead.get(),
                most: there.available,
            });
        }
        let mut wanted = Vec::new();
        for need in needs {
            let mut sources = vec![Source {
                model: None,
                fits: 1.0,
                stock: Vec::new(),
                offers: Vec::new(),
            }];
            let mut source = |model: Option<&String>| {
                let place = sources
                    .iter()
                    .position(|s| s.model.as_ref() == model)
                    .unwrap_or_else(|| {
                        sources.push(Source {
                            model: model.cloned(),
                            fits: fits(model, need).get(),
                            stock: Vec::new(),
                            offers: Vec::new(),
                        });
                        sources.len() - 1
                    });
                (sources[place].fits > 0.0).then_some(place)
            };
            let mut found = Vec::new();
            for s in &drawer.stock {
                if s.part == need.part
                    && s.is_free_for(piece)
                    && s.good().get() > 0.0
                    && let Some(place) = source(s.model.as_ref())
                {
                    // More than enough is enough.
                    let copies = (s.count as usize).min(4 * need.quantity as usize);
                    found.push((place, vec![s.good().get(); copies], None));
                }
            }
            for (offer, o) in offers.iter().enumerate() {
                let lot = &market.lots[o.lot];
                if o.most == 0 || !lot.has(&need.part) {
                    continue;
                }
                let Some(place) = source(lot.model.as_ref()) else {
                    continue;
                };
                let chance = market.chance_in(o.lot, need, table)?.get();
                let count = lot
                    .parts
                    .as_ref()
                    .and_then(|p| p.get(&need.part))
                    .and_then(|p| p.count);
                let copies = count.or(need.per_device).unwrap_or(need.quantity);
                if chance > 0.0 && o.dead < 1.0 {
                    found.push((
                        place,
                        Vec::new(),
                        Some(FromOffer {
                            offer,
                            chance,
                            copies,
                        }),
                    ));
                }
            }
            for (place, stock, offer) in found {
                sources[place].stock.extend(stock);
                sources[place].offers.extend(offer);
            }
            wanted.push(Wanted {
                quantity: need.quantity as usize,
                asked: need.confidence.unwrap_or(market.confidence),
                sources,
            });
        }
        Ok(Self { wanted, offers })
    }

    /// The chance that there are too few good ones of a need, with so many units of each offer.
    pub(super) fn failing(&self, need: usize, bought: &[u32]) -> f64 {
        self.failing_where(need, |offer| Units::Bought(bought[offer]))
    }

    fn failing_where(&self, need: usize, units: impl Fn(usize) -> Units) -> f64 {
        let wanted = &self.wanted[need];
        let n = wanted.quantity;
        // Chance of each number of good ones so far; the last entry is n or more.
        let mut counts = vec![0.0; n + 1];
        counts[0] = 1.0;
        for source in &wanted.sources {
            let mut with = counts.clone();
            for &p in &source.stock {
                add_copy(&mut with, p);
            }
            for from in &source.offers {
                let (number, dead) = match units(from.offer) {
                    Units::Bought(number) => (number, self.offers[from.offer].dead),
                    Units::Living(number) => (number, 0.0),
                };
                for _ in 0..number {
                    let before = with.clone();
                    for _ in 0..from.copies {
                        add_copy(&mut with, from.chance);
                    }
                    for (w, b) in with.iter_mut().zip(before) {
                        *w = dead * b + (1.0 - dead) * *w;
                    }
                }
            }
            for (c, w) in counts.iter_mut().zip(with) {
                *c = (1.0 - source.fits) * *c + source.fits * w;
            }
        }
        counts[..n].iter().sum::<f64>().clamp(0.0, 1.0)
    }

    /// Whether a need is as sure as is asked.
    pub(super) fn meets(&self, need: usize, bought: &[u32]) -> bool {
        is_enough(self.failing(need, bought), self.wanted[need].asked)
    }

    /// The chance that all needs but those that a stand-in stands for are there at once.
    pub(super) fn whole(&self, bought: &[u32], stood_in: &[bool]) -> Whole {
        let open: Vec<usize> = (0..self.wanted.len()).filter(|&i| !stood_in[i]).collect();
        let serves = |offer: usize| {
            let has = |i: &&usize| {
                self.wanted[**i]
                    .sources
                    .iter()
                    .any(|s| s.offers.iter().any(|f| f.offer == offer))
            };
            open.iter().filter(has).count()
        };
        // A lot that serves one part alone, or cannot die, ties nothing together.
        let tying: Vec<usize> = (0..self.offers.len())
            .filter(|&o| bought[o] > 0 && self.offers[o].dead > 0.0 && serves(o) > 1)
            .collect();
        let patterns = tying
            .iter()
            .try_fold(1usize, |n, &o| n.checked_mul(bought[o] as usize + 1));
        if patterns.is_none_or(|n| n > MOST_PATTERNS) {
            // Good parts favour each other (they hang together through living lots): no less than the product,
            // and no more than the least.
            let each: Vec<f64> = open
                .iter()
                .map(|&i| 1.0 - self.failing(i, bought))
                .collect();
            return Whole {
                least: each.iter().product(),
                most: each.iter().copied().fold(1.0, f64::min),
            };
        }
        let mut living: Vec<u32> = tying.iter().map(|_| 0).collect();
        let mut total = 0.0;
        loop {
            let weight: f64 = tying
                .iter()
                .zip(&living)
                .map(|(&o, &k)| binomial(bought[o], k, 1.0 - self.offers[o].dead))
                .product();
            if weight > 0.0 {
                let units = |offer: usize| match tying.iter().position(|&o| o == offer) {
                    Some(place) => Units::Living(living[place]),
                    None => Units::Bought(bought[offer]),
                };
                total += weight
                    * open
                        .iter()
                        .map(|&i| 1.0 - self.failing_where(i, units))
                        .product::<f64>();
            }
            // The next pattern, as digits that carry.
            let Some(place) = (0..living.len()).find(|&p| living[p] < bought[tying[p]]) else {
                break;
            };
            living[place] += 1;
            living[..place].fill(0);
        }
        let total = total.clamp(0.0, 1.0);
        Whole {
            least: total,
            most: total,
        }
    }
}

/// Whether a chance of failing is as small as a confidence asks, rounding aside.
pub(super) fn is_enough(failing: f64, asked: Chance) -> bool {
    failing <= (1.0 - asked.get()) * (1.0 + 1e-9) + 1e-13
}

/// One more copy that is good with this chance; the last count stands for itself and all above.
fn add_copy(counts: &mut [f64], good: f64) {
    let last = counts.len() - 1;
    counts[last] += good * if last > 0 { counts[last - 1] } else { 0.0 };
    for k in (0..last).rev() {
        let from_below = if k > 0 { counts[k - 1] } else { 0.0 };
        counts[k] = (1.0 - good) * counts[k] + good * from_below;
    }
}

/// The chance of `k` of `n`.
fn binomial(n: u32, k: u32, p: f64) -> f64 {
    let ways: f64 = (0..k)
        .map(|j| f64::from(n - j) / f64::from(j + 1))
        .product();
    ways * p.powi(k as i32) * (1.0 - p).powi((n - k) as i32)
}
