//! The board: the frame as it will hang.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::drafts;
use crate::serve::heard::Of;
use crate::serve::page;
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, open, word};
use crate::serve::{scene, words};
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use piece::Spread;
use serde_json::Value;
use std::sync::Arc;
use workshop::PieceId;

/// `GET /piece/{id}/board`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Board, |_, on, _| {
        Ok(Shown {
            title: format!("Board of {}", on.piece.name),
            scripts: &["board.js"],
            body: board(on),
        })
    })
    .await
}

/// `GET /piece/{id}/board.json`: what the board shows.
pub(crate) async fn data(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let mut all = scene::whole(&on);
            all["drafts"] = drafts::of(bench, &on)?;
            Ok(Json(all))
        })
        .await
}

fn board(on: &OnBench) -> Markup {
    let empty = on.piece.parts.is_empty();
    html! {
        h1 class="quiet" { "Board" }
        div class="work-bar" {
            @if !empty {
                button type="button" id="arrange" class="primary" { "Arrange" }
                button type="button" id="settle" title="Put right what is wrong, and move as little as can be" { "Settle" }
                button type="button" id="frames" { "Frames that fit" }
            }
            label class="inline" { "Style"
                select id="style" {
                    option value="exploded" selected[on.piece.layout.style == piece::Style::Exploded] { "Exploded" }
                    option value="knolled" selected[on.piece.layout.style == piece::Style::Knolled] { "Knolled" }
                }
            }
            label class="inline" { "Gap" input id="gap" class="length" type="text" inputmode="decimal"
                data-mm=(on.piece.layout.gap_mm) size="6"; }
            @if !empty {
                span class="sizes" role="group" aria-label="Size on the screen" {
                    @for (zoom, name, pressed) in [("1", "Fit", "true"), ("0", "Life size", "false"), ("2.5", "Near", "false")] {
                        button type="button" data-zoom=(zoom) aria-pressed=(pressed) { (name) }
                    }
                }
            }
            (about())
            span id="saved" class="soft" role="status" {}
        }
        div class="job" id="job" hidden {}
        @if empty {
            section class="empty" {
                h2 { "No parts yet" }
                p { "The board shows the parts as they will hang. Photograph them first." }
                p { a class="button primary" href=(Room::Capture.href(on.id)) { "To Capture" } }
            }
        } @else {
            div class="wall" {
                section class="label" id="label" aria-label="The chosen part"
                    data-stand-ins=(words::choices(&words::STAND_INS).to_string()) {}
                div class="hanging" id="hanging" {}
            }
            details class="keys" {
                summary { "Keys on the board" }
                dl {
                    @for (keys, what) in KEYS { dt { (keys) } dd { (what) } }
                }
            }
        }
    }
}

const SPREADS: [(Spread, &str); 4] = [
    (Spread::Right, "to the right"),
    (Spread::Left, "to the left"),
    (Spread::Up, "upwards"),
    (Spread::Down, "downwards"),
];

/// What is said of the piece as a whole; `board-about.js` fills it in.
fn about() -> Markup {
    html! {
        details class="about" id="about" {
            summary class="button" { "The piece" }
            div class="about-fields" {
                label class="block" { "Name" input type="text" name="name" maxlength="120" required autocomplete="off"; }
                label class="block" { "Device" input type="text" name="device" maxlength="120" autocomplete="off" placeholder="not known"; }
                label class="block" { "Made by" input type="text" name="maker" maxlength="120" autocomplete="off" placeholder="not known"; }
                label class="block" { "Year" input type="text" name="year" maxlength="120" autocomplete="off" placeholder="not known"; }
                label class="block" title="The way the layers run across the board, front first" { "Spread"
                    select id="spread" { @for (spread, name) in SPREADS { option value=(word(&spread)) { (name) } } }
                }
            }
            label class="check" { input type="checkbox" name="nesting"; "Parts may lie in the holes and notches of others" }
            div role="group" aria-labelledby="keep-outs-title" {
                h3 id="keep-outs-title" { "Places kept free of parts" }
                ol id="keep-outs" {}
                p class="buttons" { button type="button" id="keep-free" { "Keep a place free" } }
            }
        }
    }
}

/// What keys do while a part or a caption has the focus.
const KEYS: [(&str, &str); 10] = [
    ("Arrows", "move by 1 mm"),
    ("Shift and arrows", "move by 0.1 mm"),
    (
        "comma, full stop",
        "turn by 1 degree, left and right; with Shift by 0.1",
    ),
    ("T, Shift and T", "turn by a quarter"),
    ("P", "pin, or let loose"),
    ("Page Down, Page Up", "the next part, the one before"),
    ("Space", "choose one more, or one fewer"),
    ("C", "from a part to its caption and back"),
    ("Delete", "take off the board"),
    ("Escape", "leave a drag, or choose nothing"),
];

/// The docket as it is after an edit.
pub(crate) fn docket(on: &OnBench) -> String {
    page::docket(on.id, &on.piece, &scene::findings(&on.piece)).into_string()
}
