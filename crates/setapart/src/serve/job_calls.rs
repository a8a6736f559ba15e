//! What pages hear while work goes on, and of what other windows do: server-sent events.

use super::bench::Bench;
use super::heard::Of;
use super::jobs::Report;
use super::refusal::Refusal;
use axum::Json;
use axum::extract::{Path, State};
use axum::response::Sse;
use axum::response::sse::{Event, KeepAlive};
use futures_util::Stream;
use futures_util::stream::unfold;
use serde_json::{Value, json};
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{broadcast, watch};
use workshop::{PieceId, Subject};

/// Quiet on the line after which a page hears that it is still there.
const QUIET: Duration = Duration::from_secs(15);

type Told = Result<Event, Infallible>;

fn alive() -> KeepAlive {
    KeepAlive::new().interval(QUIET)
}

/// `GET /jobs/{id}`: each report of a job, until it has ended.
pub(crate) async fn hear(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Sse<impl Stream<Item = Told>>, Refusal> {
    let reports = id
        .parse()
        .ok()
        .and_then(|id| bench.jobs.hear(id))
        .ok_or_else(|| Refusal::not_there("such work any more"))?;
    Ok(Sse::new(unfold(Some((reports, true)), tell)).keep_alive(alive()))
}

async fn tell(
    state: Option<(watch::Receiver<Report>, bool)>,
) -> Option<(Told, Option<(watch::Receiver<Report>, bool)>)> {
    let (mut reports, first) = state?;
    if !first && reports.changed().await.is_err() {
        return None;
    }
    let report = reports.borrow_and_update().clone();
    let data = serde_json::to_string(&report).unwrap_or_default();
    let next = (!report.has_ended()).then_some((reports, false));
    Some((Ok(Event::default().event("report").data(data)), next))
}

/// `POST /jobs/{id}/stop`.
pub(crate) async fn stop(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Json<Value>, Refusal> {
    match id.parse() {
        Ok(id) if bench.jobs.stop(id) => Ok(Json(json!({}))),
        _ => Err(Refusal::not_there("such work any more")),
    }
}

/// `GET /piece/{id}/news`: what happens to a piece, whichever window did it.
pub(crate) async fn news(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Sse<impl Stream<Item = Told>>, Refusal> {
    let events = bench.news.subscribe();
    Ok(Sse::new(unfold((events, id), tell_news)).keep_alive(alive()))
}

type News = (broadcast::Receiver<workshop::Event>, PieceId);

async fn tell_news((mut events, id): News) -> Option<(Told, News)> {
    loop {
        let (name, number) = match events.recv().await {
            Ok(event) if event.piece == Some(id) => match event.subject {
                Subject::Photo => ("photo", event.number),
                _ => ("piece", event.number),
            },
            Ok(_) => continue,
            // Fell behind: whatever it was, look again.
            Err(RecvError::Lagged(_)) => ("piece", None),
            Err(RecvError::Closed) => return None,
        };
        let data = json!({ "number": number }).to_string();
        return Some((Ok(Event::default().event(name).data(data)), (events, id)));
    }
}
