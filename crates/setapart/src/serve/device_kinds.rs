//! Kinds of device with the shop's own chances, and what its own devices taught.

use super::bench::Bench;
use super::ledger_forms::{bytes_of, told};
use super::refusal::Refusal;
use ledger::intake::{Case, DeviceKind, Experience, Intake};
use piece::PartKind;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use workshop::{Outcome, OutcomeId, PieceId, Settings, Verdict};

/// The setting that holds the kinds which the shop has changed, by their names.
const OWN_KINDS: &str = "device_kinds";

/// The kinds that come with the program, those that the shop has changed as it has them.
pub(super) fn kinds(bench: &Bench) -> Result<Vec<DeviceKind>, Refusal> {
    kinds_of(&bench.workshop.settings()?)
}

fn kinds_of(settings: &Settings) -> Result<Vec<DeviceKind>, Refusal> {
    let own = settings.others.get(OWN_KINDS);
    let shipped = DeviceKind::built_in().map_err(|e| told(&e))?;
    shipped
        .into_iter()
        .map(|kind| match own.and_then(|o| o.get(&kind.id)) {
            Some(kept) => DeviceKind::from_json(&bytes_of(kept)).map_err(|e| told(&e)),
            None => Ok(kind),
        })
        .collect()
}

/// The kind of that name.
pub(super) fn kind_of(kinds: Vec<DeviceKind>, id: &str) -> Result<DeviceKind, Refusal> {
    let found = kinds.into_iter().find(|k| k.id == id);
    found.ok_or_else(|| Refusal::not_there(format!("kind of device {id:?}")))
}

/// Changes a kind as the shop has it now, and gives what it is then; `None` from `change`: as it came along, again.
pub(super) fn change_kind(
    bench: &Bench,
    id: &str,
    change: impl FnOnce(&DeviceKind) -> Result<Option<DeviceKind>, Refusal>,
) -> Result<DeviceKind, Refusal> {
    bench.workshop.change_settings(|settings| {
        let before = kind_of(kinds_of(settings)?, id)?;
        let kind = change(&before)?;
        if kind.as_ref() == Some(&before) {
            return Ok(before);
        }
        let mut own: Map<String, Value> = match settings.others.remove(OWN_KINDS) {
            Some(Value::Object(own)) => own,
            _ => Map::new(),
        };
        match kind {
            Some(kind) => own.insert(id.to_owned(), json!(kind)),
            None => own.remove(id),
        };
        settings.others.insert(OWN_KINDS.to_owned(), own.into());
        kind_of(kinds_of(settings)?, id)
    })
}

/// What came of the device of a piece, as the form of its intake asks for it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Came {
    /// A condition's name; empty where nobody knows.
    pub(super) condition: String,
    pub(super) repaired: Option<bool>,
    /// For each part of the form: whether it came out good.
    pub(super) parts: Vec<Option<bool>>,
}

/// Part of a record: what came out, with the places of the form's parts.
#[derive(Serialize, Deserialize)]
struct Yielded {
    place: usize,
    kind: PartKind,
    good: bool,
}

/// What came of all devices of the shop, as the store has it.
pub(super) struct Past(Vec<(OutcomeId, Outcome)>);

impl Past {
    pub(super) fn of(bench: &Bench) -> Result<Self, Refusal> {
        let all = bench.workshop.outcomes()?;
        Ok(Self(all.into_iter().map(|(id, _, o)| (id, o)).collect()))
    }

    fn noted(&self, piece: PieceId) -> Option<&(OutcomeId, Outcome)> {
        self.0.iter().find(|(_, o)| o.piece == Some(piece))
    }

    /// What was noted of a piece's device, whose form has so many parts.
    pub(super) fn came(&self, piece: PieceId, parts: usize) -> Came {
        let mut came = Came {
            parts: vec![None; parts],
            ..Came::default()
        };
        if let Some((_, outcome)) = self.noted(piece) {
            let case = case_of(outcome);
            came.condition = case.condition;
            came.repaired = case.repaired;
            for y in yielded(outcome) {
                if let Some(place) = came.parts.get_mut(y.place) {
                    *place = Some(y.good);
                }
            }
        }
        came
    }

    /// Notes what came of a piece's device, where that is something new.
    pub(super) fn note(
        &self,
        bench: &Bench,
        piece: PieceId,
        intake: &Intake,
        came: &Came,
    ) -> Result<(), Refusal> {
        let before = self.noted(piece);
        let nothing = came.condition.is_empty()
            && came.repaired.is_none()
            && came.parts.iter().all(Option::is_none);
        if nothing && before.is_none() {
            return Ok(());
        }
        let outcome = outcome_of(piece, intake, came);
        if before.is_none_or(|(_, b)| *b != outcome) {
            let id = before.map(|(id, _)| *id);
            bench.workshop.set_outcome(id, &outcome)?;
        }
        Ok(())
    }

    /// Counts of the shop's devices of a kind, but for one piece's: what came of a device is no sign of what is wrong with it.
    pub(super) fn experience(&self, kind: &DeviceKind, but: Option<PieceId>) -> Experience {
        let mut counts = Experience::none(kind);
        for (_, outcome) in &self.0 {
            if outcome.kind != kind.id || (but.is_some() && outcome.piece == but) {
                continue;
            }
            let mut case = case_of(outcome);
            let parts = yielded(outcome).into_iter().map(|y| (y.kind, y.good));
            case.parts = parts.collect();
            counts.count(kind, &case);
        }
        counts
    }
}

fn outcome_of(piece: PieceId, intake: &Intake, came: &Came) -> Outcome {
    let seen = intake.signs.iter();
    let case = Case {
        condition: came.condition.clone(),
        repaired: came.repaired,
        signs: seen
            .filter_map(|(sign, value)| Some((sign.clone(), value.clone()?)))
            .collect(),
        parts: Vec::new(),
    };
    let parts = intake.parts.iter().zip(&came.parts).enumerate();
    let yields: Vec<Yielded> = parts
        .filter_map(|(place, (part, good))| {
            Some(Yielded {
                place,
                kind: part.kind,
                good: (*good)?,
            })
        })
        .collect();
    Outcome {
        kind: intake.kind.clone(),
        verdict: match came.repaired {
            Some(_) => Verdict::Repair,
            None if yields.is_empty() => Verdict::Display,
            None => Verdict::Donor,
        },
        reached: came.repaired,
        evidence: json!(case),
        yields: json!(yields),
        piece: Some(piece),
        note: String::new(),
    }
}

/// A record that another version wrote otherwise tells nothing.
fn case_of(outcome: &Outcome) -> Case {
    serde_json::from_value(outcome.evidence.clone()).unwrap_or_default()
}

fn yielded(outcome: &Outcome) -> Vec<Yielded> {
    serde_json::from_value(outcome.yields.clone()).unwrap_or_default()
}
