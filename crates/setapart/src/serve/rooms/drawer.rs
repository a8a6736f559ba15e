//! The drawer: the piece's parts as they are, and what is known of each.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::Of;
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, catalogue, open};
use crate::serve::{scene, words};
use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use piece::{Part, PartKind};
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::PieceId;

/// `GET /piece/{id}/drawer`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Drawer, |_, on, _| {
        Ok(Shown {
            title: format!("Drawer of {}", on.piece.name),
            scripts: &["drawer.js"],
            body: drawer(on, &materials()?),
        })
    })
    .await
}

/// Names of materials that mounting knows.
fn materials() -> Result<Vec<String>, Refusal> {
    Ok(catalogue()?.materials.into_keys().collect())
}

fn drawer(on: &OnBench, materials: &[String]) -> Markup {
    let largest_mm = on
        .piece
        .parts
        .iter()
        .map(|p| {
            let b = p.outline.bounds();
            b.width_mm().max(b.height_mm())
        })
        .fold(40.0, f64::max);
    html! {
        h1 class="quiet" { "Drawer" }
        @if on.piece.parts.is_empty() {
            section class="empty" {
                h2 { "The drawer is empty" }
                p { "Parts come here from their photos, with their outlines and their own pictures." }
                p { a class="button primary" href=(Room::Capture.href(on.id)) { "To Capture" } }
            }
        } @else {
            div class="work-bar" {
                p class="soft" { (on.piece.parts.len()) " parts, all at one scale. The number is the item number on every sheet." }
                span id="saved" class="soft" role="status" {}
            }
            div class="in-drawer" {
                ol class="tray" aria-label="Parts" {
                    @for (k, part) in on.piece.parts.iter().enumerate() {
                        li { (cell(on, part, k + 1, largest_mm)) }
                    }
                }
                datalist id="materials" { @for m in materials { option value=(m) {} } }
                section class="label" id="label" aria-label="The chosen part" data-words=(words().to_string()) {
                    p class="soft" { "Choose a part to say what is known of it." }
                }
            }
        }
    }
}

fn cell(on: &OnBench, part: &Part, number: usize, largest_mm: f64) -> Markup {
    let shown = part.shown_outline();
    let b = shown.bounds();
    // A square of the largest part's side, so that all are seen at one scale; small ones twice as large.
    let side_mm = largest_mm;
    let (cx, cy) = (b.centre().x, -b.centre().y);
    let view = format!(
        "{:.2} {:.2} {side_mm:.2} {side_mm:.2}",
        cx - 0.5 * side_mm,
        cy - 0.5 * side_mm
    );
    let placed = on.piece.placement(&part.id).is_some();
    html! {
        button type="button" class="cell" data-part=(part.id) data-know=(known(part).to_string()) aria-pressed="false" {
            svg viewBox=(view) aria-hidden="true" class="cut-out" {
                path class={ "face kind-" (kind_word(part.kind)) } d=(scene::path_of(&shown)) {}
                @if let Some(c) = part.shown_cutout() {
                    image class="picture" data-image=(c.image) data-scale=(c.px_per_mm) data-x=(c.origin_mm[0]) data-y=(c.origin_mm[1]) {}
                }
            }
            span class="item" { (number) }
            strong { (part.name) }
            span class="soft size" data-mm=(format!("{:.3} {:.3}", b.width_mm(), b.height_mm())) {}
            @if part.thickness_mm.is_none() { span class="flag" { "height?" } }
            @if !placed { span class="flag" { "not on the board" } }
            @if part.stand_in.is_some() { span class="flag" { "stand-in" } }
            @if !part.hazards.is_empty() { span class="flag hazard" { "caution" } }
        }
    }
}

/// What the form's choices are called.
fn words() -> Value {
    json!({
        "kinds": words::kinds(),
        "freed_by": words::choices(&words::FREED_BY),
        "stand_ins": words::choices(&words::STAND_INS),
    })
}

/// What can be said of a part, as the form needs it.
fn known(part: &Part) -> Value {
    json!({
        "name": part.name,
        "kind": part.kind,
        "quantity": part.quantity,
        "thickness_mm": part.thickness_mm,
        "sigma_mm": part.sigma_mm,
        "mass_g": part.mass_g,
        "back_face": part.back_face,
        "group": part.group,
        "turns": part.turns,
        "hazards": part.hazards,
        "stand_in": part.stand_in,
        "home": part.home,
        "face_shown": part.face_shown,
        "has_back": part.back_cutout.is_some(),
        "area_mm2": part.outline.area_mm2(),
        "wall_mm": part.wall_mm,
        "inner_depth_mm": part.inner_depth_mm,
        "lift_mm": part.lift_mm,
        "back_films": part.back_films,
        "freed_by": part.freed_by,
        "trim": part.trim,
        "storage": part.storage,
    })
}

fn kind_word(kind: PartKind) -> String {
    serde_json::to_value(kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}
