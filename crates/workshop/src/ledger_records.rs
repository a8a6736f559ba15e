//! Records of the ledger: lots on offer, and what came of verdicts. The store keeps them and knows what they refer to; what
//! chances and evidence mean is the ledger's, whose forms they carry as JSON.

use crate::database::Fault;
use crate::drawer::{check_length, damage};
use crate::words::Word;
use crate::{LotId, OutcomeId, PieceId, Subject, Workshop, WorkshopError};
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::Path;

/// Largest form of the ledger in one record, bytes of JSON.
const MAX_FORM_BYTES: usize = 1 << 20;

/// Where a lot stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LotState {
    /// It can be bought.
    Offered,
    /// The shop has it.
    Bought,
    /// Somebody else has it, or the offer ended.
    Gone,
}

impl Word for LotState {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Self::Offered, "offered"),
        (Self::Bought, "bought"),
        (Self::Gone, "gone"),
    ];
}

/// Dead devices on offer, from which parts could come.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Lot {
    /// What the shop calls it.
    pub name: String,
    /// The model of device.
    pub model: String,
    /// Its price, minor units of the currency.
    pub price_minor: i64,
    /// Shipping, minor units of the currency.
    pub shipping_minor: i64,
    /// Currency (ISO 4217).
    pub currency: String,
    /// What the seller says of it.
    pub condition: String,
    /// Where it stands.
    pub state: LotState,
    /// The chance of each part and of the whole lot, in the ledger's form.
    pub chances: Value,
    /// Whatever else is to be known.
    pub note: String,
}

/// The three ways to go with a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Repair it.
    Repair,
    /// Take parts from it.
    Donor,
    /// Show it.
    Display,
}

impl Word for Verdict {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Self::Repair, "repair"),
        (Self::Donor, "donor"),
        (Self::Display, "display"),
    ];
}

/// What came of a verdict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// Kind of device, as the ledger's intake form names it.
    pub kind: String,
    /// What was done.
    pub verdict: Verdict,
    /// Whether the aim was reached; `None` while it is open.
    pub reached: Option<bool>,
    /// What was seen at intake, in the ledger's form.
    pub evidence: Value,
    /// What came out whole, in the ledger's form.
    pub yields: Value,
    /// The piece that was made of it.
    pub piece: Option<PieceId>,
    /// Whatever else is to be known.
    pub note: String,
}

impl Workshop {
    /// All lots with their numbers, the newest first.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn lots(&self) -> Result<Vec<(LotId, Lot)>, WorkshopError> {
        self.read(|db| {
            let mut statement = db.prepare_cached(
                "SELECT id, name, model, price_minor, shipping_minor, currency, condition, state, chances, note \
                 FROM lot ORDER BY id DESC",
            )?;
            let mut rows = statement.query([])?;
            let mut all = Vec::new();
            while let Some(row) = rows.next()? {
                all.push(lot(row, self.inner.texts.database())?);
            }
            Ok(all)
        })
    }

    /// Notes a lot, or with `id` changes one.
    ///
    /// # Errors
    /// [`WorkshopError::Refused`] for money below zero or a currency that is none, [`WorkshopError::TooLarge`],
    /// [`WorkshopError::NoSuchEntry`].
    pub fn set_lot(&self, id: Option<LotId>, lot: &Lot) -> Result<LotId, WorkshopError> {
        let refused = |what, problem: &str| {
            Err(WorkshopError::Refused {
                what,
                problem: problem.into(),
            })
        };
        if lot.price_minor < 0 || lot.shipping_minor < 0 {
            return refused("the price", "must not be below zero");
        }
        if lot.currency.len() != 3 || !lot.currency.bytes().all(|b| b.is_ascii_uppercase()) {
            return refused("the currency", "must be three capital letters, such as EUR");
        }
        for (what, text) in [
            ("the name", &lot.name),
            ("the model", &lot.model),
            ("the condition", &lot.condition),
            ("the note", &lot.note),
        ] {
            check_length(what, text)?;
        }
        let chances = form("the lot's chances", &lot.chances)?;
        self.write(|w| {
            if let Some(id) = id {
                check_lot(w.db, id)?;
            }
            w.db.prepare_cached(
                "INSERT INTO lot (id, name, model, price_minor, shipping_minor, currency, condition, state, chances, \
                 note, added_ms) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) \
                 ON CONFLICT (id) DO UPDATE SET name = ?2, model = ?3, price_minor = ?4, shipping_minor = ?5, \
                 currency = ?6, condition = ?7, state = ?8, chances = ?9, note = ?10",
            )?
            .execute(params![
                id.map(|l| l.0),
                lot.name,
                lot.model,
                lot.price_minor,
                lot.shipping_minor,
                lot.currency,
                lot.condition,
                lot.state.word(),
                chances,
                lot.note,
                w.now_ms,
            ])?;
            let id = id.unwrap_or_else(|| LotId(w.db.last_insert_rowid()));
            w.happened(Subject::Lot, None, Some(id.0))?;
            Ok(id)
        })
    }

    /// All outcomes with their numbers and when they were noted (milliseconds since 1970, UTC), the newest first.
    ///
    /// # Errors
    /// Where the database cannot be read; [`WorkshopError::Damaged`] where one of them cannot.
    pub fn outcomes(&self) -> Result<Vec<(OutcomeId, i64, Outcome)>, WorkshopError> {
        self.read(|db| {
            let mut statement = db.prepare_cached(OUTCOMES)?;
            let mut rows = statement.query([])?;
            let mut all = Vec::new();
            while let Some(row) = rows.next()? {
                all.push(outcome(row, self.inner.texts.database())?);
            }
            Ok(all)
        })
    }

    /// Notes what came of a verdict, or with `id` changes what was noted.
    ///
    /// # Errors
    /// [`WorkshopError::TooLarge`], [`WorkshopError::NoSuchEntry`], [`WorkshopError::NoSuchPiece`].
    pub fn set_outcome(
        &self,
        id: Option<OutcomeId>,
        outcome: &Outcome,
    ) -> Result<OutcomeId, WorkshopError> {
        check_length("the kind", &outcome.kind)?;
        check_length("the note", &outcome.note)?;
        let evidence = form("the evidence", &outcome.evidence)?;
        let yields = form("the yields", &outcome.yields)?;
        self.write(|w| {
            if let Some(piece) = outcome.piece {
                crate::pieces::document_of(w.db, piece)?;
            }
            if let Some(id) = id {
                check_there(w.db, "SELECT 1 FROM outcome WHERE id = ?1", "outcome", id.0)?;
            }
            w.db.prepare_cached(
                "INSERT INTO outcome (id, at_ms, kind, verdict, reached, evidence, yields, piece, note) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) \
                 ON CONFLICT (id) DO UPDATE SET kind = ?3, verdict = ?4, reached = ?5, evidence = ?6, yields = ?7, \
                 piece = ?8, note = ?9",
            )?
            .execute(params![
                id.map(|o| o.0),
                w.now_ms,
                outcome.kind,
                outcome.verdict.word(),
                outcome.reached,
                evidence,
                yields,
                outcome.piece.map(|p| p.0),
                outcome.note,
            ])?;
            let id = id.unwrap_or_else(|| OutcomeId(w.db.last_insert_rowid()));
            w.happened(Subject::Outcome, outcome.piece, Some(id.0))?;
            Ok(id)
        })
    }
}

fn form(what: &'static str, value: &Value) -> Result<String, WorkshopError> {
    let text = value.to_string();
    if text.len() > MAX_FORM_BYTES {
        return Err(WorkshopError::TooLarge {
            what,
            found: text.len() as u64,
            limit: MAX_FORM_BYTES as u64,
            unit: "bytes",
        });
    }
    Ok(text)
}

/// Refuses a lot that is not there.
pub(crate) fn check_lot(db: &Connection, id: LotId) -> Result<(), Fault> {
    check_there(db, "SELECT 1 FROM lot WHERE id = ?1", "lot", id.0)
}

fn check_there(db: &Connection, sql: &str, what: &'static str, id: i64) -> Result<(), Fault> {
    let found: Option<i64> = db
        .prepare_cached(sql)?
        .query_row([id], |row| row.get(0))
        .optional()?;
    match found {
        Some(_) => Ok(()),
        None => Err(WorkshopError::NoSuchEntry { what, id }.into()),
    }
}

fn lot(row: &Row<'_>, database: &Path) -> Result<(LotId, Lot), Fault> {
    let id = LotId(row.get(0)?);
    let damaged = |problem: String| WorkshopError::Damaged {
        at: database.into(),
        problem: format!("lot {id}: {problem}"),
    };
    let state: String = row.get(7)?;
    let chances: String = row.get(8)?;
    let lot = Lot {
        name: row.get(1)?,
        model: row.get(2)?,
        price_minor: row.get(3)?,
        shipping_minor: row.get(4)?,
        currency: row.get(5)?,
        condition: row.get(6)?,
        state: LotState::of_word(&state).ok_or_else(|| damaged(format!("the state {state:?}")))?,
        chances: serde_json::from_str(&chances).map_err(|e| damaged(e.to_string()))?,
        note: row.get(9)?,
    };
    Ok((id, lot))
}

const OUTCOMES: &str = "SELECT id, at_ms, kind, verdict, reached, evidence, yields, piece, note FROM outcome ORDER BY id DESC";

/// One row of [`OUTCOMES`].
fn outcome(row: &Row<'_>, database: &Path) -> Result<(OutcomeId, i64, Outcome), Fault> {
    let id = OutcomeId(row.get(0)?);
    let damaged = |problem: String| WorkshopError::Damaged {
        at: database.into(),
        problem: format!("outcome {id}: {problem}"),
    };
    let verdict: String = row.get(3)?;
    let evidence: String = row.get(5)?;
    let yields: String = row.get(6)?;
    let outcome = Outcome {
        kind: row.get(2)?,
        verdict: Verdict::of_word(&verdict)
            .ok_or_else(|| damaged(format!("the verdict {verdict:?}")))?,
        reached: row.get(4)?,
        evidence: serde_json::from_str(&evidence).map_err(|e| damaged(e.to_string()))?,
        yields: serde_json::from_str(&yields).map_err(|e| damaged(e.to_string()))?,
        piece: row.get::<_, Option<i64>>(7)?.map(PieceId),
        note: row.get(8)?,
    };
    Ok((id, row.get(1)?, outcome))
}

/// What is wrong with outcomes that cannot be read.
pub(crate) fn unreadable(db: &Connection, database: &Path) -> Result<Vec<String>, Fault> {
    let mut statement = db.prepare(OUTCOMES)?;
    let mut rows = statement.query([])?;
    let mut problems = Vec::new();
    while let Some(row) = rows.next()? {
        problems.extend(damage(outcome(row, database))?);
    }
    Ok(problems)
}
