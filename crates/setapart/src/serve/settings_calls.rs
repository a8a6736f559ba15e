//! Light or dark, mm or inch: kept in the store, so that every window and every start has them.

use super::bench::Bench;
use super::heard::Heard;
use super::refusal::Refusal;
use axum::Json;
use axum::extract::State;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{Theme, Units};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wish {
    #[serde(default)]
    theme: Option<Theme>,
    #[serde(default)]
    units: Option<Units>,
}

/// `POST /settings`.
pub(crate) async fn set(
    State(bench): State<Arc<Bench>>,
    Heard(wish): Heard<Wish>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            bench.workshop.change_settings(|settings| {
                settings.theme = wish.theme.unwrap_or(settings.theme);
                settings.units = wish.units.unwrap_or(settings.units);
                Ok(Json(json!({})))
            })
        })
        .await
}
