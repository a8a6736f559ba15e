//! Records of the ledger: what came of verdicts. The store keeps them and knows what they refer to; what evidence means is the
//! ledger's, whose forms they carry as JSON.

use crate::database::Fault;
use crate::drawer::{check_length, damage};
use crate::words::Word;
use crate::{OutcomeId, PieceId, Subject, Workshop, WorkshopError};
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::Path;

/// Largest form of the ledger in one record, bytes of JSON.
const MAX_FORM_BYTES: usize = 1 << 20;

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
