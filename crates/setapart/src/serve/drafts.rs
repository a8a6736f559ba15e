//! What somebody types and has not entered yet: kept with each pause, so that a closed window or a crash takes nothing along.

use super::bench::{Bench, OnBench};
use super::heard::{Heard, Of};
use super::refusal::Refusal;
use axum::Json;
use axum::extract::State;
use piece::PartId;
use serde::Deserialize;
use serde_json::{Map, Value, json};
use std::sync::Arc;
use workshop::{PieceId, WorkshopError};

/// Longest words that are kept, bytes: a caption's.
const MOST_BYTES: usize = 2_000;

/// Words of a caption that is being written; `None` once they are entered or given up.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Typed {
    part: PartId,
    text: Option<String>,
}

fn place(id: PieceId, part: &PartId) -> String {
    format!("piece/{id}/caption/{part}")
}

/// `POST /piece/{id}/draft`.
pub(crate) async fn keep(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(typed): Heard<Typed>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let known = on.piece.parts.iter().any(|p| p.id == typed.part);
            if !known || typed.text.as_ref().is_some_and(|t| t.len() > MOST_BYTES) {
                return Err(Refusal::bad(
                    "These words cannot be kept.",
                    "Enter them, or write fewer.",
                ));
            }
            let place = place(id, &typed.part);
            match &typed.text {
                Some(text) => {
                    let based_on = Some(on.state.revision);
                    bench
                        .workshop
                        .keep_draft(&place, Some(id), based_on, text)?;
                }
                None => bench.workshop.drop_draft(&place)?,
            }
            Ok(json!({}))
        })
        .await
        .map(Json)
}

/// Captions of a piece that somebody began to write, by part.
pub(crate) fn of(bench: &Bench, on: &OnBench) -> Result<Value, WorkshopError> {
    let mut all = Map::new();
    for part in &on.piece.parts {
        if let Some(draft) = bench.workshop.draft(&place(on.id, &part.id))? {
            all.insert(part.id.to_string(), Value::String(draft.body));
        }
    }
    Ok(Value::Object(all))
}
