//! Which lots to buy, so that every part is there as surely as is asked, at least cost.

mod chances;
mod lots;
mod market;
mod program;
mod supply;

pub use chances::{LotChances, LotCondition};
pub use lots::{FitWord, Lot, LotPart, Need, Sibling};
pub use market::Market;

use crate::cover;
use crate::cover::{Budget, Choice, CoverError, Program, Start, StoppedBy, solve_from};
use crate::drawer::Drawer;
use crate::table::{Cell, Table};
use crate::{Chance, Currency, LedgerError, Money};
use market::MAX_LOTS_BYTES;
use piece::PartId;
use program::{Buy, Exact, Offered};
use serde::Serialize;
use shape::Watch;
use supply::Supply;

/// Confidences of the curve.
const CURVE: [f64; 10] = [0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98, 0.99, 0.995];

/// A question to the market.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// Lots and prices.
    pub market: &'a Market,
    /// What is needed ([`Market::needs_of`]).
    pub needs: Vec<Need>,
    /// What is in stock.
    pub drawer: &'a Drawer,
    /// The piece's name, for stock that is kept for it.
    pub piece: Option<&'a str>,
    /// Chances by condition.
    pub chances: &'a LotChances,
    /// How much work the search may do.
    pub budget: Budget,
}

/// What to buy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Selection {
    /// Lots, with how many of each.
    pub buy: Vec<Bought>,
    /// Parts for which a stand-in is made.
    pub stand_ins: Vec<StoodIn>,
    /// What all of it costs, minor units.
    pub cost_minor: i64,
    /// The chance that every part (but stand-ins) is there; where lots die too many ways to be summed up, no less
    /// than this.
    pub confidence: Chance,
    /// It is no more than this; the same where it was summed up.
    pub confidence_at_most: Chance,
    /// Each need, with its own chance.
    pub parts: Vec<PartConfidence>,
}

/// A lot that is bought.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Bought {
    /// Its id.
    pub lot: String,
    /// What people call it.
    pub title: String,
    /// How many.
    pub count: u32,
    /// Price and carriage, minor units.
    pub cost_minor: i64,
}

/// A part for which a stand-in is made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StoodIn {
    /// Which part.
    pub part: PartId,
    /// What the stand-in costs, minor units.
    pub cost_minor: i64,
}

/// How sure a part is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartConfidence {
    /// Which part.
    pub part: PartId,
    /// What people call it.
    pub name: String,
    /// How many good ones are needed.
    pub quantity: u32,
    /// What is asked.
    pub asked: Chance,
    /// The chance that so many are there; `None` where a stand-in stands for it.
    pub confidence: Option<Chance>,
    /// Bought lots that have it.
    pub from: Vec<String>,
    /// How many free ones the drawer has.
    pub in_drawer: u32,
}

/// One confidence of the curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Asked of each part.
    pub confidence: Chance,
    /// What it costs, minor units; `None` where it is out of reach.
    pub cost_minor: Option<i64>,
    /// The whole piece's chance then.
    pub whole: Option<Chance>,
    /// Nothing cheaper does, and that was proved.
    pub proved: bool,
}

/// What costing reads of an answer that was written as JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
pub struct Purchase {
    /// What all of it costs.
    pub cost_minor: crate::Minor,
    /// Of this currency.
    pub currency: Currency,
}

impl Purchase {
    /// Reads an answer.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        crate::sheet::read_json(bytes, MAX_LOTS_BYTES)
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What to buy.
    #[serde(flatten)]
    pub selection: Selection,
    /// Of this currency.
    pub currency: Currency,
    /// The same as `cost_minor`.
    pub cost: i64,
    /// Nothing cheaper does, and that was proved.
    pub proved: bool,
    /// Nothing cheaper than this does, minor units.
    pub bound_minor: i64,
    /// Why the search ended: `proof`, `steps` or `watch`.
    pub stopped_by: &'static str,
    /// The best choice that does without something of the first one.
    pub runner_up: Option<Selection>,
    /// No other such choice is cheaper than the runner-up, and that was proved.
    pub runner_up_proved: bool,
}

impl Question<'_> {
    /// What to buy, and the runner-up.
    ///
    /// # Errors
    /// [`LedgerError`]: a part that no lot has, a confidence out of reach, chances that are not known.
    pub fn answer(&self, watch: &dyn Watch) -> Result<Answer, LedgerError> {
        let supply = self.supply()?;
        self.reachable(&supply)?;
        let purchase = Offered::new(&supply, self.market, &self.needs)?;
        let best = self.choose(&supply, &purchase, None, self.budget, watch)?;
        let second = self.runner_up(&supply, &purchase, &best, watch)?;
        let cost = i64::try_from(best.cost).unwrap_or(i64::MAX);
        Ok(Answer {
            selection: self.told(&supply, &purchase, &best)?,
            currency: self.market.currency,
            cost,
            proved: best.is_proved(),
            bound_minor: i64::try_from(best.bound).unwrap_or(cost),
            stopped_by: match best.stopped_by {
                StoppedBy::Proof => "proof",
                StoppedBy::Steps => "steps",
                StoppedBy::Watch => "watch",
            },
            runner_up_proved: second.as_ref().is_some_and(Choice::is_proved),
            runner_up: second
                .map(|s| self.told(&supply, &purchase, &s))
                .transpose()?,
        })
    }

    /// What other confidences cost, asked of every part alike.
    ///
    /// From the lowest up: what does for one confidence is completed for the next, and no choice can cost less than the
    /// one below.
    ///
    /// # Errors
    /// [`LedgerError`] as for [`Question::answer`], but for confidences out of reach: those cost nothing and are empty.
    pub fn curve(&self, watch: &dyn Watch) -> Result<Vec<CurvePoint>, LedgerError> {
        let mut points = Vec::new();
        let mut below: Vec<Buy> = Vec::new();
        let mut bound = 0;
        for confidence in CURVE {
            let confidence = Chance::of(confidence);
            let mut at = self.clone();
            for need in &mut at.needs {
                need.confidence = Some(confidence);
            }
            let supply = at.supply()?;
            let empty = CurvePoint {
                confidence,
                cost_minor: None,
                whole: None,
                proved: true,
            };
            match at.reachable(&supply) {
                Ok(()) => {}
                Err(LedgerError::OutOfReach { .. }) => {
                    points.push(empty);
                    continue;
                }
                Err(e) => return Err(e),
            }
            let purchase = Offered::new(&supply, self.market, &at.needs)?;
            let start = Start {
                columns: purchase.columns_of(&below),
                bound,
            };
            let best = at.choose(
                &supply,
                &purchase,
                Some(&start),
                self.budget.beside(),
                watch,
            )?;
            let told = at.told(&supply, &purchase, &best)?;
            below = best.columns.iter().map(|&c| purchase.meaning[c]).collect();
            bound = best.bound;
            points.push(CurvePoint {
                confidence,
                cost_minor: Some(told.cost_minor),
                whole: Some(told.confidence),
                proved: best.is_proved(),
            });
        }
        Ok(points)
    }

    fn supply(&self) -> Result<Supply, LedgerError> {
        Supply::new(
            self.market,
            &self.needs,
            self.drawer,
            self.piece,
            self.chances,
        )
    }

    /// All lots together must do; what they cannot do is told by name.
    fn reachable(&self, supply: &Supply) -> Result<(), LedgerError> {
        let all: Vec<u32> = supply.offers.iter().map(|o| o.most).collect();
        let none = vec![0; all.len()];
        let open: Vec<usize> = (0..self.needs.len())
            .filter(|&i| self.needs[i].stand_in_minor.is_none() && !supply.meets(i, &none))
            .collect();
        let nowhere = |&&i: &&usize| supply.wanted[i].sources.iter().all(|s| s.offers.is_empty());
        let missing: Vec<String> = open
            .iter()
            .filter(nowhere)
            .map(|&i| self.needs[i].title().to_owned())
            .collect();
        if !missing.is_empty() {
            return Err(LedgerError::NoLot { parts: missing });
        }
        let worst = open
            .iter()
            .filter(|&&i| !supply.meets(i, &all))
            .max_by(|&&a, &&b| supply.failing(a, &all).total_cmp(&supply.failing(b, &all)));
        match worst {
            None => Ok(()),
            Some(&i) => Err(LedgerError::OutOfReach {
                part: self.needs[i].title().to_owned(),
                asked: supply.wanted[i].asked.to_string(),
                reachable: Chance::of(1.0 - supply.failing(i, &all)).to_string(),
            }),
        }
    }

    fn choose(
        &self,
        supply: &Supply,
        purchase: &Offered,
        start: Option<&Start>,
        budget: Budget,
        watch: &dyn Watch,
    ) -> Result<Choice, LedgerError> {
        let exact = Exact { supply, purchase };
        solve_from(&purchase.program, Some(&exact), start, budget, watch).map_err(|e| match e {
            // Checked before: a part that cannot be had is told by name there.
            CoverError::Row { .. } | CoverError::Rule => LedgerError::Cover(CoverError::Rule),
            other => LedgerError::Cover(other),
        })
    }

    /// Any other choice that makes sense lacks something of the best one: one search for the cheapest of those. It costs no
    /// less than the best one, and begins with the cheapest that comes of doing without one thing.
    fn runner_up(
        &self,
        supply: &Supply,
        purchase: &Offered,
        best: &Choice,
        watch: &dyn Watch,
    ) -> Result<Option<Choice>, LedgerError> {
        if best.columns.is_empty() {
            return Ok(None);
        }
        let program = Program {
            not_all: best
                .columns
                .iter()
                .map(|&c| purchase.as_much_as(c))
                .collect(),
            ..purchase.program.clone()
        };
        let exact = Exact { supply, purchase };
        let start = cover::without_one(&program, &exact, &best.columns).map(|columns| Start {
            columns,
            bound: best.bound,
        });
        let beside = self.budget.beside();
        match solve_from(&program, Some(&exact), start.as_ref(), beside, watch) {
            Ok(second) => Ok(Some(second)),
            // There is no other, or none was found in the time that a second place is worth.
            Err(CoverError::Row { .. } | CoverError::Rule | CoverError::NothingYet) => Ok(None),
            Err(e) => Err(LedgerError::Cover(e)),
        }
    }

    fn told(
        &self,
        supply: &Supply,
        purchase: &Offered,
        choice: &Choice,
    ) -> Result<Selection, LedgerError> {
        let (bought, stood_in) = purchase.bought(supply, &choice.columns);
        let lot = |offer: usize| &self.market.lots[supply.offers[offer].lot];
        let mut buy = Vec::new();
        for (offer, &count) in bought.iter().enumerate().filter(|b| *b.1 > 0) {
            buy.push(Bought {
                lot: lot(offer).id.clone(),
                title: lot(offer).title().to_owned(),
                count,
                cost_minor: lot(offer).cost_minor(count)?,
            });
        }
        let stand_ins: Vec<StoodIn> = (0..self.needs.len())
            .filter(|&i| stood_in[i])
            .map(|i| StoodIn {
                part: self.needs[i].part.clone(),
                cost_minor: self.needs[i].stand_in_minor.unwrap_or_default().get(),
            })
            .collect();
        let whole = supply.whole(&bought, &stood_in);
        let parts = self.needs.iter().enumerate().map(|(i, need)| {
            let offers = supply.wanted[i].sources.iter().flat_map(|s| &s.offers);
            let drawer = self
                .drawer
                .stock
                .iter()
                .filter(|s| s.part == need.part && s.is_free_for(self.piece));
            PartConfidence {
                part: need.part.clone(),
                name: need.title().to_owned(),
                quantity: need.quantity,
                asked: supply.wanted[i].asked,
                confidence: (!stood_in[i]).then(|| Chance::of(1.0 - supply.failing(i, &bought))),
                from: offers
                    .filter(|f| bought[f.offer] > 0)
                    .map(|f| lot(f.offer).id.clone())
                    .collect(),
                in_drawer: drawer.map(|s| s.count).sum(),
            }
        });
        Ok(Selection {
            cost_minor: crate::money::sum(
                buy.iter()
                    .map(|b| b.cost_minor)
                    .chain(stand_ins.iter().map(|s| s.cost_minor)),
                "the purchase",
            )?,
            parts: parts.collect(),
            confidence: Chance::of(whole.least),
            confidence_at_most: Chance::of(whole.most),
            buy,
            stand_ins,
        })
    }
}

impl Answer {
    /// The answer as tables: what to buy, and how sure each part is.
    pub fn tables(&self) -> Vec<Table> {
        let currency = self.currency;
        let names = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        let mut lines: Vec<Vec<Cell>> = self
            .selection
            .buy
            .iter()
            .map(|b| {
                vec![
                    b.lot.as_str().into(),
                    b.title.as_str().into(),
                    Cell::Number(b.count.into()),
                    Cell::Money(b.cost_minor),
                ]
            })
            .collect();
        lines.extend(self.selection.stand_ins.iter().map(|s| {
            vec![
                "stand-in".into(),
                s.part.as_str().into(),
                Cell::Number(1.0),
                Cell::Money(s.cost_minor),
            ]
        }));
        lines.push(vec![
            "in all".into(),
            Cell::Empty,
            Cell::Empty,
            Cell::Money(self.cost),
        ]);
        let buy = Table {
            title: "Buy".into(),
            currency,
            columns: names(&["lot", "what", "count", "cost"]),
            lines,
        };
        let parts = self.selection.parts.iter().map(|p| {
            vec![
                p.part.as_str().into(),
                p.name.as_str().into(),
                Cell::Number(p.quantity.into()),
                Cell::Number(p.in_drawer.into()),
                p.from.join(" ").into(),
                Cell::Share(p.asked.get()),
                p.confidence
                    .map_or("stand-in".into(), |c| Cell::Share(c.get())),
            ]
        });
        let parts = Table {
            title: "Parts".into(),
            currency,
            columns: names(&[
                "part",
                "name",
                "needed",
                "in_drawer",
                "from",
                "asked",
                "confidence",
            ]),
            lines: parts.collect(),
        };
        vec![buy, parts]
    }

    /// What it costs.
    pub fn cost(&self) -> Money {
        Money::new(self.cost, self.currency)
    }
}
