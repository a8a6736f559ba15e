//! The verdict.

use crate::decision::{Decision, updated};
use crate::intake::payoffs::{Payoffs, good_in, normal};
use crate::intake::{DeviceKind, Experience, Intake, IntakePart};
use crate::sheet::unsound;
use crate::{Chance, Currency, LedgerError, Money};
use serde::Serialize;

/// What can be done with a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ActionKind {
    /// Mend it and sell it.
    Repair,
    /// Take it apart and sell its parts.
    Donor,
    /// Make a piece of it.
    Display,
    /// Hand it in for recycling.
    Recycle,
}

impl ActionKind {
    /// What one does then, in a sentence.
    fn doing(self) -> &'static str {
        match self {
            Self::Repair => "repairing it",
            Self::Donor => "taking it apart for its parts",
            Self::Display => "making a piece of it",
            Self::Recycle => "handing it in",
        }
    }

    /// As a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Repair => "repair",
            Self::Donor => "donor",
            Self::Display => "display",
            Self::Recycle => "recycle",
        }
    }
}

/// What an action brings on the average.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Action {
    /// Which.
    pub action: ActionKind,
    /// Income less cost on the average, minor units, to the nearest.
    pub expected_minor: i64,
    /// What it costs on the average, minor units, to the nearest.
    pub cost_minor: i64,
}

/// The chance of a condition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConditionChance {
    /// Which.
    pub condition: String,
    /// What it is.
    pub title: String,
    /// Its chance after what was seen.
    pub chance: Chance,
    /// The chance of a repair then.
    pub repair: Chance,
    /// Between these that chance lies with a probability of 0.9.
    pub repair_interval90: [Chance; 2],
    /// The shop's own devices with it.
    pub n: u32,
    /// Standing of its chances before those were counted.
    pub standing: piece::Standing,
}

/// What a part is good for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartYield {
    /// What people call it.
    pub name: String,
    /// The chance that it comes out good.
    #[serde(rename = "yield")]
    pub chance: Chance,
    /// The shop's own cases behind it.
    pub n: u32,
    /// What it brings on the average, minor units, before fees.
    pub expected_minor: i64,
    /// Why it counts as it does.
    pub note: String,
}

/// What a check would be worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckWorth {
    /// The sign.
    pub sign: String,
    /// What is looked at.
    pub title: String,
    /// How.
    pub how: String,
    /// What can hurt.
    pub caution: Option<String>,
    /// What knowing it would be worth on the average, minor units.
    pub worth_minor: i64,
    /// What looking costs in time, minor units.
    pub cost_minor: i64,
    /// How long it takes.
    pub minutes: f64,
    /// Standing of what the sign is taken to tell.
    pub standing: piece::Standing,
}

/// Something that must not be passed over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// Stable.
    pub code: &'static str,
    /// What it is.
    pub text: String,
    /// What to do.
    pub remedy: String,
}

/// What to do with a device.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// What it is called.
    pub device: String,
    /// Its kind.
    pub kind: String,
    /// All amounts are in it.
    pub currency: Currency,
    /// The action that brings most.
    pub verdict: ActionKind,
    /// In a plain sentence.
    pub sentence: String,
    /// The chance that a repair succeeds.
    pub repair_chance: Chance,
    /// The chance of repair at which repair brings as much as the best of the rest; `None` where none would, or
    /// repair is not weighed.
    pub break_even_chance: Option<Chance>,
    /// What each action brings, best first.
    pub actions: Vec<Action>,
    /// What is not weighed, and what is missing for it.
    pub not_weighed: Vec<String>,
    /// What may be wrong, likeliest first.
    pub conditions: Vec<ConditionChance>,
    /// Its parts.
    pub parts: Vec<PartYield>,
    /// What knowing all (what is wrong, and whether the repair would succeed) would be worth, minor units: no check is
    /// worth more.
    pub perfect_information_minor: i64,
    /// The checks that were not made, most worth first.
    pub next_checks: Vec<CheckWorth>,
    /// What must not be passed over.
    pub warnings: Vec<Warning>,
    /// Devices of this kind that the shop's numbers rest on.
    pub n: u32,
    /// Standing of the kind's own numbers.
    pub standing: piece::Standing,
    /// Where they are from.
    pub source: String,
}

/// Judges a device. `planned` is what somebody wants to do with it; without it, what brings most.
///
/// # Errors
/// [`LedgerError`] for signs that the kind does not know, or where no action can be weighed.
pub fn judge(
    intake: &Intake,
    kind: &DeviceKind,
    experience: &Experience,
    planned: Option<ActionKind>,
) -> Result<Verdict, LedgerError> {
    let seen = intake.seen(kind)?;
    let n_conditions = kind.conditions.len();
    let mut chances = experience.shares(kind);
    for &(sign, value) in &seen {
        let likelihoods: Vec<f64> = (0..n_conditions)
            .map(|c| experience.likelihood(kind, sign, c)[value])
            .collect();
        chances = updated(&chances, &likelihoods).ok_or_else(|| {
            unsound(
                format!("signs.{}", kind.signs[sign].id),
                "contradicts the other signs: the kind's likelihoods say that they are never seen together",
            )
        })?;
    }
    let repairs: Vec<f64> = (0..n_conditions)
        .map(|c| experience.repair(kind, c).mean().get())
        .collect();
    let repair_chance = Chance::of(chances.iter().zip(&repairs).map(|(c, r)| c * r).sum());
    let payoffs = Payoffs::new(intake, kind, experience);

    // By condition, for checks; by condition and outcome of the repair, for perfect knowledge.
    let decision = payoffs.decision(&chances)?;
    let expected = decision.expected();
    let (best, most) = decision.best();
    let split: Vec<f64> = chances
        .iter()
        .zip(&repairs)
        .flat_map(|(c, r)| [c * r, c * (1.0 - r)])
        .collect();
    let perfect = Decision::try_new(normal(split), payoffs.by_outcome())
        .map_or(0.0, |d| d.value_of_perfect_information());

    let mut actions: Vec<Action> = payoffs
        .actions
        .iter()
        .zip(&expected)
        .map(|(a, e)| Action {
            action: a.kind,
            expected_minor: whole(*e),
            cost_minor: whole(a.costs.iter().zip(&chances).map(|(k, c)| k * c).sum()),
        })
        .collect();
    let verdict = payoffs.actions[best].kind;
    actions.sort_by_key(|a| std::cmp::Reverse(a.expected_minor));
    let rest = payoffs
        .actions
        .iter()
        .zip(&expected)
        .filter(|(a, _)| a.kind != ActionKind::Repair);
    let rest = rest.map(|(_, e)| *e).fold(f64::NEG_INFINITY, f64::max);
    let break_even_chance = payoffs.break_even(&chances, rest);

    let mut next_checks: Vec<CheckWorth> = (0..kind.signs.len())
        .filter(|s| !seen.iter().any(|(sign, _)| sign == s))
        .map(|s| {
            let sign = &kind.signs[s];
            let likelihood: Vec<Vec<f64>> = (0..n_conditions)
                .map(|c| experience.likelihood(kind, s, c))
                .collect();
            let worth =
                decision
                    .value_of_check(&likelihood)
                    .ok_or_else(|| LedgerError::Missing {
                        what: format!("how often {:?} is seen in each condition", sign.id),
                        remedy: "give a chance for each of its answers in each condition".into(),
                    })?;
            Ok(CheckWorth {
                sign: sign.id.clone(),
                title: sign.title.clone(),
                how: sign.how.clone(),
                caution: sign.caution.clone(),
                worth_minor: whole(worth),
                cost_minor: whole(
                    intake.money.labour_per_hour_minor.get() as f64 * sign.minutes / 60.0,
                ),
                minutes: sign.minutes,
                standing: sign.standing.unwrap_or(kind.standing),
            })
        })
        .collect::<Result<_, LedgerError>>()?;
    next_checks.sort_by_key(|c| {
        (
            std::cmp::Reverse(c.worth_minor - c.cost_minor),
            c.sign.clone(),
        )
    });

    let mut conditions: Vec<ConditionChance> = (0..n_conditions)
        .map(|c| {
            let belief = experience.repair(kind, c);
            ConditionChance {
                condition: kind.conditions[c].id.clone(),
                title: kind.conditions[c].title.clone(),
                chance: Chance::of(chances[c]),
                repair: belief.mean(),
                repair_interval90: belief.interval90(),
                n: experience.n_of(c),
                standing: kind.conditions[c].standing.unwrap_or(kind.standing),
            }
        })
        .collect();
    conditions.sort_by(|a, b| b.chance.get().total_cmp(&a.chance.get()));
    let parts = intake
        .parts
        .iter()
        .map(|p| part_yield(p, kind, experience, &chances))
        .collect();
    let warnings = warnings(kind, repair_chance, planned.unwrap_or(verdict), &payoffs);
    let sentence = sentence(&Told {
        intake,
        verdict,
        repair_chance,
        most,
        actions: &actions,
        likeliest: &conditions[0],
        next: next_checks.first(),
        sacrifices: !warnings.is_empty(),
    });
    Ok(Verdict {
        device: intake.device.clone(),
        kind: kind.id.clone(),
        currency: intake.currency,
        verdict,
        sentence,
        repair_chance,
        break_even_chance,
        actions,
        not_weighed: payoffs.not_weighed,
        conditions,
        parts,
        perfect_information_minor: whole(perfect),
        next_checks,
        warnings,
        n: experience.n(),
        standing: kind.standing,
        source: kind.source.clone(),
    })
}

/// An expected amount, for people: no amount that anybody pays.
fn whole(minor: f64) -> i64 {
    minor.round() as i64
}

fn part_yield(
    part: &IntakePart,
    kind: &DeviceKind,
    experience: &Experience,
    chances: &[f64],
) -> PartYield {
    let each: Vec<(f64, u32, &str)> = (0..chances.len())
        .map(|c| good_in(part, kind, experience, c))
        .collect();
    let chance: f64 = each.iter().zip(chances).map(|(e, c)| e.0 * c).sum();
    let value = if part.paired {
        0.0
    } else {
        part.value_minor.unwrap_or_default().get() as f64
    };
    PartYield {
        name: part.name.clone(),
        chance: Chance::of(chance.min(1.0)),
        n: each.iter().map(|e| e.1).sum(),
        expected_minor: whole(chance * value),
        note: each[0].2.into(),
    }
}

fn warnings(
    kind: &DeviceKind,
    repair: Chance,
    doing: ActionKind,
    payoffs: &Payoffs,
) -> Vec<Warning> {
    let mut list = Vec::new();
    if doing != ActionKind::Repair && repair >= kind.warn_from {
        list.push(Warning {
            code: "verdict.likely-repairable",
            text: format!(
                "This device can likely be repaired ({repair}): taking it apart ends that."
            ),
            remedy: "Make the next checks first; repair it, or pass it on to somebody who does."
                .into(),
        });
    }
    if doing != ActionKind::Repair && payoffs.repair.is_none() {
        list.push(Warning {
            code: "verdict.repair-not-weighed",
            text: "Repair is not weighed, because nobody said what the device is worth repaired."
                .into(),
            remedy: "Give money.repaired_minor before it is taken apart.".into(),
        });
    }
    list
}

struct Told<'a> {
    intake: &'a Intake,
    verdict: ActionKind,
    repair_chance: Chance,
    most: f64,
    actions: &'a [Action],
    likeliest: &'a ConditionChance,
    next: Option<&'a CheckWorth>,
    sacrifices: bool,
}

fn sentence(told: &Told<'_>) -> String {
    let money = |minor: i64| Money::new(minor, told.intake.currency);
    let what = match told.verdict {
        ActionKind::Repair => "Repair it",
        ActionKind::Donor => "Take it apart for its parts",
        ActionKind::Display => "Make a piece of it",
        ActionKind::Recycle => "Hand it in for recycling",
    };
    let mut text = format!(
        "{what}: that brings {} on the average",
        money(whole(told.most))
    );
    if let Some(second) = told.actions.iter().find(|a| a.action != told.verdict) {
        text += &format!(
            ", {} more than {}",
            money(whole(told.most) - second.expected_minor),
            second.action.doing()
        );
    }
    text += &format!(
        ". Most likely ({}): {}; a repair would succeed with {}.",
        told.likeliest.chance, told.likeliest.title, told.repair_chance
    );
    match told.next {
        Some(check) if check.worth_minor > check.cost_minor => {
            text += &format!(
                " Before that, look at this: {} (worth {}, costs {}).",
                check.title,
                money(check.worth_minor),
                money(check.cost_minor)
            );
        }
        _ => text += " No further check would pay.",
    }
    if told.sacrifices {
        text += " Mind the warning.";
    }
    text
}
