//! Light or dark, mm or inch: kept in the store, so that every window and every start has them.

use super::bench::Bench;
use super::body;
use super::refusal::Refusal;
use axum::Json;
use axum::body::Body;
use axum::extract::State;
use axum::http::HeaderMap;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{Theme, Units};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wish {
    #[serde(default)]
    theme: Option<Theme>,
    #[serde(default)]
    units: Option<Units>,
}

/// `POST /settings`.
pub(crate) async fn set(
    State(bench): State<Arc<Bench>>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let wish: Wish = body::receive_json(&headers, body, &bench.room).await?;
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
