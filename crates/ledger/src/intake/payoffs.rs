//! What each action brings in each condition.

use crate::decision::Decision;
use crate::intake::judge::ActionKind;
use crate::intake::{DeviceKind, Experience, Intake, IntakePart, PartState};
use crate::{Chance, LedgerError};
use piece::PartKind;

/// An action with what it brings and costs in each condition, minor units.
pub(super) struct Payoff {
    pub(super) kind: ActionKind,
    by_condition: Vec<f64>,
    pub(super) costs: Vec<f64>,
}

/// All actions that can be weighed.
pub(super) struct Payoffs {
    pub(super) actions: Vec<Payoff>,
    /// For each condition, what a repair brings that succeeds, and one that fails.
    pub(super) repair: Option<Vec<[f64; 2]>>,
    pub(super) not_weighed: Vec<String>,
}

impl Payoffs {
    pub(super) fn new(intake: &Intake, kind: &DeviceKind, experience: &Experience) -> Self {
        let money = &intake.money;
        let hour = money.labour_per_hour_minor.get() as f64;
        let kept = 1.0 - f64::from(money.selling_fee);
        let conditions = 0..kind.conditions.len();
        let mut actions = Vec::new();
        let mut not_weighed = Vec::new();

        if intake.parts.iter().any(|p| p.value_minor.is_some()) {
            let cost = hour * kind.teardown_hours;
            let sold = |c: usize| -> f64 {
                let each = intake.parts.iter().map(|p| {
                    let good = good_in(p, kind, experience, c).0;
                    // A paired part brings nothing alone.
                    if p.paired {
                        0.0
                    } else {
                        good * p.value_minor.unwrap_or_default().get() as f64
                    }
                });
                each.sum()
            };
            actions.push(Payoff {
                kind: ActionKind::Donor,
                by_condition: conditions.clone().map(|c| kept * sold(c) - cost).collect(),
                costs: vec![cost; kind.conditions.len()],
            });
        } else {
            not_weighed.push("donor: no part has a value; give parts[].value_minor".into());
        }
        if let (Some(price), Some(cost)) = (money.piece_price_minor, money.piece_cost_minor) {
            let sells = money.piece_sells.unwrap_or(kind.piece_sells).get();
            let cost = cost.get() as f64;
            let value = sells * kept * price.get() as f64 - cost;
            actions.push(Payoff {
                kind: ActionKind::Display,
                by_condition: vec![value; kind.conditions.len()],
                costs: vec![cost; kind.conditions.len()],
            });
        } else {
            not_weighed.push("display: price and cost of the piece are not known; give money.piece_price_minor and money.piece_cost_minor".into());
        }
        let nothing = vec![0.0; kind.conditions.len()];
        actions.push(Payoff {
            kind: ActionKind::Recycle,
            by_condition: nothing.clone(),
            costs: nothing,
        });

        let mut repair = None;
        if let Some(worth) = money.repaired_minor {
            let worth = worth.get() as f64;
            let after = f64::from(kind.kept_after_repair);
            let costs: Vec<f64> = conditions
                .clone()
                .map(|c| {
                    let condition = &kind.conditions[c];
                    let parts = money
                        .repair_parts_minor
                        .map_or(worth * f64::from(condition.parts_share), |m| m.get() as f64);
                    hour * condition.hours + parts
                })
                .collect();
            let outcomes: Vec<[f64; 2]> = conditions
                .map(|c| {
                    // After a repair that failed one knows what is wrong, and does the best of the rest.
                    let rest = actions
                        .iter()
                        .map(|a| a.by_condition[c])
                        .fold(0.0, f64::max);
                    [kept * worth - costs[c], after * rest - costs[c]]
                })
                .collect();
            let by_condition = outcomes
                .iter()
                .enumerate()
                .map(|(c, [good, bad])| {
                    let p = experience.repair(kind, c).mean().get();
                    p * good + (1.0 - p) * bad
                })
                .collect();
            actions.insert(
                0,
                Payoff {
                    kind: ActionKind::Repair,
                    by_condition,
                    costs,
                },
            );
            repair = Some(outcomes);
        } else {
            not_weighed.push(
                "repair: what the device is worth repaired is not known; give money.repaired_minor"
                    .into(),
            );
        }
        Self {
            actions,
            repair,
            not_weighed,
        }
    }

    pub(super) fn decision(&self, chances: &[f64]) -> Result<Decision, LedgerError> {
        let rows = self
            .actions
            .iter()
            .map(|a| a.by_condition.clone())
            .collect();
        Decision::try_new(normal(chances.to_vec()), rows).ok_or(LedgerError::TooMuch {
            what: "what actions bring",
        })
    }

    /// Payoffs by condition and by whether a repair would succeed.
    pub(super) fn by_outcome(&self) -> Vec<Vec<f64>> {
        let row = |a: &Payoff| match (&self.repair, a.kind) {
            (Some(outcomes), ActionKind::Repair) => outcomes.iter().flatten().copied().collect(),
            _ => a.by_condition.iter().flat_map(|v| [*v, *v]).collect(),
        };
        self.actions.iter().map(row).collect()
    }

    /// Repair brings p V + (1-p) F - C, with V, F and C their averages over what may be wrong: equal to the rest at
    /// p = (rest - F + C) / (V - F).
    pub(super) fn break_even(&self, chances: &[f64], rest: f64) -> Option<Chance> {
        let outcomes = self.repair.as_ref()?;
        let mean = |k: usize| {
            outcomes
                .iter()
                .zip(chances)
                .map(|(o, c)| o[k] * c)
                .sum::<f64>()
        };
        let (good, bad) = (mean(0), mean(1));
        let p = (rest - bad) / (good - bad);
        (good > bad && p <= 1.0).then(|| Chance::of(p.max(0.0)))
    }
}

/// The chance that a part is good in a condition, the own cases behind it, and why.
pub(super) fn good_in(
    part: &IntakePart,
    kind: &DeviceKind,
    experience: &Experience,
    condition: usize,
) -> (f64, u32, &'static str) {
    let belief = experience.part(kind, condition, part.kind);
    match part.state {
        // A used cell is never sold on: handed in.
        _ if part.kind == PartKind::Cell => (0.0, 0, "a used cell is handed in, not sold"),
        PartState::Works => (1.0, 0, "tried, and works"),
        PartState::Whole if part.paired => (
            belief.mean().get(),
            belief.n,
            "paired with its board: worth nothing alone, good to show",
        ),
        PartState::Whole => (belief.mean().get(), belief.n, ""),
        PartState::Fails => (0.0, 0, "tried, and does not work; may be good to show"),
        PartState::Cracked => (0.0, 0, "cracked; may be good to show, edges taped"),
        PartState::Rusty => (0.0, 0, "rusty; may be good to show when it is clean"),
        PartState::ChipsLifted => (0.0, 0, "chips lifted; may be good to show"),
        PartState::Missing => (0.0, 0, "not there"),
    }
}

/// Sums that should be 1 and are off by rounding.
pub(super) fn normal(chances: Vec<f64>) -> Vec<f64> {
    let sum: f64 = chances.iter().sum();
    chances.into_iter().map(|c| c / sum).collect()
}
