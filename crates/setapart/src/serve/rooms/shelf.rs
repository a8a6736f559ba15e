//! The shelf: all pieces, a new one, and the demo one click away.

use crate::cli::PaperName;
use crate::commands;
use crate::document::Document;
use crate::serve::bench::Bench;
use crate::serve::heard::{Heard, Of};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, open_beside};
use crate::serve::{body, demo_piece, download};
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use clap::ValueEnum;
use maud::{Markup, html};
use piece::Piece;
use serde::Deserialize;
use serde_json::{Value, json};
use std::io::Cursor;
use std::sync::Arc;
use workshop::{ImageName, Listed, PieceId};

/// `GET /`.
pub(crate) async fn page(State(bench): State<Arc<Bench>>) -> Result<Response, Refusal> {
    open_beside(bench, "Shelf", &["shelf.js"], &["shelf.css"], |bench| {
        let (pieces, binned) = (bench.workshop.pieces()?, bench.workshop.binned_pieces()?);
        Ok(shelf(&pieces, &binned))
    })
    .await
}

fn shelf(pieces: &[Listed], binned: &[Listed]) -> Markup {
    html! {
        div class="shelf" {
            div class="shelf-head" { h1 { "Shelf" } a class="button" href="/stock" { (crate::serve::icons::drawer()) "Stock of all devices" } }
            @if pieces.is_empty() {
                section class="empty" {
                    h2 { "Nothing on the shelf yet" }
                    p {
                        "A piece begins with the parts of one dead device. Print the capture sheet, lay the parts on it, \
                         photograph them from above, and bring the photos here."
                    }
                    p { "Or look round first: the demo piece takes apart an invented field recorder, eighteen parts on four photos." }
                }
            }
            div class="begin" {
                form id="new-piece" class="card" {
                    h2 { "Begin a piece" }
                    label { "What is it made of?" input name="name" type="text" maxlength="120" required
                        autocomplete="off" placeholder="Field recorder, 2022"; }
                    p class="error" hidden {}
                    button class="primary" { "Begin" }
                }
                div class="card" {
                    h2 { "Demo piece" }
                    p { "Captured from its photos and arranged, in front of you." }
                    button type="button" id="demo" { "Set up the demo piece" }
                    div class="job" id="demo-job" hidden {}
                }
                div class="card" {
                    h2 { "Bring in a piece" }
                    p { "A bundle with its pictures, or a piece.json: written by this program, here or elsewhere." }
                    p {
                        label class="button" for="import" { "Choose the file" }
                        input id="import" class="quiet" type="file" accept=".zip,.json,application/zip,application/json";
                    }
                }
                div class="card" {
                    h2 { "Capture sheet" }
                    p { "To print at 100 %: parts are photographed on it." }
                    p class="papers" {
                        @for (paper, name) in [("a4", "A4"), ("letter", "Letter"), ("a3", "A3"), ("tabloid", "Tabloid")] {
                            a href={ "/capture-sheet/" (paper) ".pdf" } { (name) } " "
                        }
                    }
                }
            }
            @if !pieces.is_empty() {
                ul class="pieces" {
                    @for p in pieces {
                        li {
                            a href=(Room::Board.href(p.id)) {
                                span class="small-frame" aria-hidden="true" {
                                    img src={ "/piece/" (p.id) "/small.svg?" (p.changed_ms) } alt="" loading="lazy";
                                }
                                strong { (p.name) }
                                span class="soft" { (p.parts) " parts, " (p.placed) " on the board" }
                            }
                            div class="piece-ways" {
                                a class="plain-way" href={ "/piece/" (p.id) "/history" } { "History" span class="quiet" { " of " (p.name) } }
                                a class="plain-way" href={ "/piece/" (p.id) "/bundle.zip" } download={ (file_name(&p.name)) ".zip" } { "Bundle" span class="quiet" { " of " (p.name) } }
                                button type="button" class="plain-way" data-bin=(p.id) data-into="yes" { "To the bin" span class="quiet" { ": " (p.name) } }
                            }
                        }
                    }
                }
            }
            @if !binned.is_empty() {
                details class="card" {
                    summary { "In the bin: " (crate::say::counted(binned.len(), "piece")) }
                    ul class="binned" {
                        @for p in binned {
                            li {
                                span { (p.name) span class="soft" { ", " (p.parts) " parts" } }
                                button type="button" data-bin=(p.id) data-into="" { "Take it out" span class="quiet" { ": " (p.name) } }
                            }
                        }
                    }
                    p class="soft" { "Nothing in the bin is lost; it stays in the workshop's folder." }
                }
            }
        }
    }
}

/// A file's name that every system takes.
fn file_name(piece: &str) -> String {
    let kept: String = piece
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let kept = kept.trim_matches('-').to_ascii_lowercase();
    if kept.is_empty() {
        "piece".into()
    } else {
        kept
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Binned {
    binned: bool,
}

/// `POST /piece/{id}/bin`: puts a piece in the bin, or takes it out.
pub(crate) async fn bin(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(asked): Heard<Binned>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            bench.workshop.set_binned(id, asked.binned)?;
            Ok(json!({ "binned": asked.binned }))
        })
        .await
        .map(Json)
}

/// `GET /piece/{id}/bundle.zip`: the piece with its cut-outs, without its photos, which may tell where they were taken.
pub(crate) async fn bundle(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let name = file_name(&bench.piece(id)?.piece.name);
            let mut out = Cursor::new(Vec::new());
            bench.workshop.write_bundle(id, false, &mut out)?;
            let name = format!("{name}.zip");
            Ok(download("application/zip", &name, out.into_inner()))
        })
        .await
}

/// Largest bundle or piece document that is taken in, bytes.
const MOST_IMPORT_BYTES: u64 = 128 << 20;

/// `POST /pieces/import`: a bundle or a piece document becomes a piece of its own. Cut-outs that neither it nor this workshop has
/// are left out, and told.
pub(crate) async fn import(
    State(bench): State<Arc<Bench>>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let received = body::receive(&headers, body, MOST_IMPORT_BYTES, &bench.room)
        .await
        .map_err(|e| match e.status {
            StatusCode::PAYLOAD_TOO_LARGE => Refusal {
                remedy:
                    "Bring it in with `setapart workshop import FILE`, which takes larger ones."
                        .into(),
                ..e
            },
            _ => e,
        })?;
    bench
        .work(move |bench| {
            if received.bytes.starts_with(b"PK") {
                let opened = bench.workshop.read_bundle(Cursor::new(&received.bytes))?;
                return Ok(Json(
                    json!({ "go": Room::Board.href(opened.id), "without_pictures": 0 }),
                ));
            }
            let mut piece = Piece::from_json(&received.bytes).map_err(|e| {
                let problem = match Document::stated_in(&received.bytes) {
                    Some(is) if is != Document::Piece => {
                        format!("This is {}, not a piece document.", is.in_words())
                    }
                    _ => format!("This is not a sound piece document: {e}."),
                };
                Refusal::bad(
                    problem,
                    "Bring in a bundle or a piece.json that this program wrote.",
                )
            })?;
            let mut without = 0;
            for part in &mut piece.parts {
                let there = |image: &str| {
                    let name = image.parse::<ImageName>();
                    name.is_ok_and(|n| bench.workshop.image(&n).is_ok())
                };
                if part.cutout.as_ref().is_some_and(|c| !there(&c.image)) {
                    part.cutout = None;
                    without += 1;
                }
                if part.back_cutout.as_ref().is_some_and(|c| !there(&c.image)) {
                    part.back_cutout = None;
                    without += 1;
                }
            }
            let opened = bench.workshop.new_piece(&piece)?;
            Ok(Json(
                json!({ "go": Room::Board.href(opened.id), "without_pictures": without }),
            ))
        })
        .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPiece {
    name: String,
}

/// `POST /pieces`: begins a piece.
pub(crate) async fn begin(
    State(bench): State<Arc<Bench>>,
    Heard(asked): Heard<NewPiece>,
) -> Result<Json<Value>, Refusal> {
    let name = asked.name.trim().to_owned();
    if name.is_empty() || name.chars().count() > 120 || name.chars().any(char::is_control) {
        return Err(Refusal::bad(
            "The name must have 1 to 120 letters.",
            "Say what the piece is made of.",
        )
        .of_field("name"));
    }
    bench
        .work(move |bench| {
            let piece = Piece::new(name, commands::demo::usual_frame());
            let opened = bench.workshop.new_piece(&piece)?;
            Ok(Json(json!({ "go": Room::Capture.href(opened.id) })))
        })
        .await
}

/// `POST /demo`: begins the demo piece.
pub(crate) async fn demo(State(bench): State<Arc<Bench>>) -> Result<Json<Value>, Refusal> {
    let at = Arc::clone(&bench);
    let id = bench.jobs.add("Setting up the demo piece", move |watch| {
        let opened = demo_piece::set_up(&at.workshop, watch)?;
        Ok(json!({ "go": Room::Board.href(opened.id) }))
    })?;
    Ok(Json(json!({ "job": id })))
}

/// `GET /capture-sheet/{paper}.pdf`.
pub(crate) async fn capture_sheet(
    State(bench): State<Arc<Bench>>,
    Path(paper): Path<String>,
) -> Result<Response, Refusal> {
    let name = paper.strip_suffix(".pdf").unwrap_or_default().to_owned();
    let paper = PaperName::from_str(&name, false).map_err(|_| Refusal::not_there("such paper"))?;
    bench
        .work(move |_| {
            let pdf = commands::capture_sheet::pdf(paper)?;
            let name = format!("capture-sheet-{name}.pdf");
            Ok(download("application/pdf", &name, pdf))
        })
        .await
}
