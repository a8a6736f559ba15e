//! Homes: where each part sat in the device, over photos of it opened.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::{Heard, Of, id_of};
use crate::serve::inside::{self, Sighting};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, open, word};
use axum::Json;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use homes::{Outcome, Place, SURE, Side};
use maud::{Markup, html};
use piece::{DeviceSide, Part, PartId};
use serde::Deserialize;
use serde_json::{Value, json};
use shape::Ring;
use std::sync::Arc;
use workshop::{Edit, Photo, PieceId};

/// `GET /piece/{id}/homes`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Homes, |bench, on, _| {
        let photos = inside::inside_photos(bench, on.id)?;
        Ok(Shown {
            title: format!("Homes of {}", on.piece.name),
            scripts: &["homes.js"],
            body: homes(on, &photos),
        })
    })
    .await
}

fn homes(on: &OnBench, photos: &[(Photo, u32)]) -> Markup {
    let from = inside::side_of(&on.piece);
    html! {
        h1 class="quiet" { "Homes" }
        @if on.piece.parts.is_empty() {
            section class="empty" {
                h2 { "No parts yet" }
                p { "Homes say where each part sat in the device. Capture the parts first." }
                p { a class="button primary" href=(Room::Capture.href(on.id)) { "To Capture" } }
            }
        } @else {
            div class="work-bar" {
                label class="inline" { "Opened from"
                    select id="opened-from" {
                        @for (side, name) in [(DeviceSide::Front, "the front"), (DeviceSide::Back, "the back")] {
                            option value=(word(&side)) selected[side == from] { (name) }
                        }
                    }
                }
                button type="button" class="primary" id="find" disabled[photos.is_empty()] { "Find the homes" }
                button type="button" id="take-sure" hidden {}
                span class="soft" id="saved" role="status" {}
            }
            div class="job" id="job" hidden {}
            @if photos.is_empty() {
                section class="hint card" {
                    p { "Two or three photos, taken while the device is opened, tell where its parts sat: lay it on the capture sheet at each stage, \
                         and photograph it from above. "
                        a href=(Room::Capture.href(on.id)) { "Bring them in under Capture" }
                        ", and say there, under “How it was taken”, that they show the opened device. Without photos, put each part in its place by hand." }
                }
            }
            div class="in-device" {
                section class="device" aria-label="The device" {
                    div class="strip" id="underlays" role="group" aria-label="Photo under the parts" {}
                    div id="device" {}
                    details class="keys" {
                        summary { "Keys" }
                        p { "Arrows move the chosen part by 1 mm, with Shift by 0.1 mm; “,” and “.” turn it by 1 degree, with Shift by 0.1; Enter takes over what is offered." }
                    }
                }
                section class="seats" id="seats" aria-label="Parts by layer" {}
            }
        }
    }
}

/// `GET /piece/{id}/homes.json`: parts with their homes, and what was found of them.
pub(crate) async fn data(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let sighting = bench.sightings.of(id);
            Ok(Json(scene(&on, sighting.as_deref())))
        })
        .await
}

fn scene(on: &OnBench, sighting: Option<&Sighting>) -> Value {
    let offered = |part: &Part| -> Option<&Outcome> {
        let seen = sighting?;
        let at = seen.parts.iter().position(|id| *id == part.id)?;
        seen.found.parts.get(at)
    };
    let parts: Vec<Value> = (1..)
        .zip(&on.piece.parts)
        .map(|(number, part)| part_data(number, part, offered(part), sighting))
        .collect();
    let underlays = sighting.iter().flat_map(|s| &s.underlays).enumerate();
    let underlays: Vec<Value> = underlays
        .map(|(k, u)| {
            json!({
                "stage": u.stage, "name": u.name, "href": format!("/piece/{}/homes/{k}.png", on.id),
                "x": u.lower_left.x, "y": u.lower_left.y, "w": u.size_mm[0], "h": u.size_mm[1],
            })
        })
        .collect();
    json!({
        "revision": on.state.revision,
        "device": sighting.map(|s| json!({
            "size_mm": s.found.size_mm,
            "rings": s.found.device.rings().map(Ring::points).collect::<Vec<_>>(),
        })),
        "from_behind": match sighting {
            Some(s) => s.opened_from == Side::Back,
            None => inside::side_of(&on.piece) == DeviceSide::Back,
        },
        "parts": parts,
        "underlays": underlays,
        "findings": sighting.map(|s| &s.findings),
    })
}

fn part_data(
    number: usize,
    part: &Part,
    outcome: Option<&Outcome>,
    sighting: Option<&Sighting>,
) -> Value {
    let place = outcome.and_then(Outcome::place);
    json!({
        "id": part.id,
        "number": number,
        "name": part.name,
        "rings": part.outline.rings().map(Ring::points).collect::<Vec<_>>(),
        "home": part.home,
        "offer": place.map(|p| offer(p, sighting)),
        "told": match outcome {
            Some(Outcome::Found(_)) | None => Value::Null,
            Some(Outcome::Beside { stage }) => format!("lies beside the device at stage {stage}").into(),
            Some(Outcome::NotFound) => "found in no photo".into(),
        },
    })
}

fn offer(place: &Place, sighting: Option<&Sighting>) -> Value {
    let ids: Vec<&PartId> = place
        .alike
        .iter()
        .filter_map(|&k| sighting?.parts.get(k))
        .collect();
    json!({
        "home": place.home,
        "confidence": place.confidence,
        "sure": place.confidence >= SURE,
        "turned_over": place.front_is == Side::Back,
        "alike": ids,
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wish {
    opened_from: DeviceSide,
}

/// `POST /piece/{id}/homes`: a job that looks for the parts in the photos of the opened device.
pub(crate) async fn find(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(wish): Heard<Wish>,
) -> Result<Json<Value>, Refusal> {
    bench.work(move |bench| {
        let on = bench.piece(id)?;
        if inside::inside_photos(bench, id)?.is_empty() {
            return Err(Refusal::bad(
                "No photo shows the opened device yet.",
                "Bring some in under Capture, and say there, under “How it was taken”, that they show it.",
            ));
        }
        if inside::side_of(&on.piece) != wish.opened_from {
            let mut piece = (*on.piece).clone();
            piece.choices.opened_from = Some(wish.opened_from);
            let edit = Edit::new("side that the device is opened from");
            let conflict = [
                "Another window changed the piece meanwhile.",
                "Do it once more.",
            ];
            bench.save(id, on.state.revision, piece, &edit, conflict)?;
        }
        let at = Arc::clone(bench);
        let job = bench.jobs.add("Looking for the parts", move |watch| {
            inside::look_for(&at, id, watch)?;
            Ok(json!({ "go": Room::Homes.href(id) }))
        })?;
        Ok(json!({ "job": job }))
    })
    .await
    .map(Json)
}

/// `GET /piece/{id}/homes/{k}.png`: a photo in the device's frame.
pub(crate) async fn underlay(
    State(bench): State<Arc<Bench>>,
    Path((id, name)): Path<(String, String)>,
) -> Result<Response, Refusal> {
    let gone = || Refusal::not_there("such photo any more: find the homes again");
    let sighting = bench.sightings.of(id_of(&id)?).ok_or_else(gone)?;
    let k: Option<usize> = name.strip_suffix(".png").and_then(|n| n.parse().ok());
    let shown = k.and_then(|k| sighting.underlays.get(k)).ok_or_else(gone)?;
    let headers = [
        (header::CONTENT_TYPE, "image/png"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    Ok((headers, shown.png.clone()).into_response())
}
