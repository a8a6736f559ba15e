//! A piece's history: all that was done, also what was taken back, and the way to any of its states.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::{Heard, Of};
use crate::serve::html_page;
use crate::serve::page::Page;
use crate::serve::piece_calls::answer;
use crate::serve::refusal::Refusal;
use crate::serve::rooms::Room;
use axum::Json;
use axum::extract::{Query, State};
use axum::response::Response;
use maud::{Markup, html};
use serde::Deserialize;
use serde_json::Value;
use std::sync::Arc;
use workshop::{Entry, PieceId, RevisionId};

/// Entries on one page.
const ON_A_PAGE: usize = 100;

#[derive(Deserialize)]
pub(crate) struct Older {
    /// Only what is older than this.
    #[serde(default)]
    before: Option<RevisionId>,
}

/// `GET /piece/{id}/history`, the newest first; `?before=` goes on with older ones.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Query(older): Query<Older>,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let settings = bench.workshop.settings()?;
            // One more tells whether there is another page.
            let mut entries = bench.workshop.history(id, older.before, ON_A_PAGE + 1)?;
            let more = entries.len() > ON_A_PAGE;
            entries.truncate(ON_A_PAGE);
            let title = format!("History of {}", on.piece.name);
            let page = Page {
                title: &title,
                settings: &settings,
                on_bench: Some(&on),
                room: None,
                scripts: &["history.js"],
                styles: &["shelf.css"],
                findings: None,
                body: history(&on, &entries, more),
            };
            Ok(html_page(page.render()))
        })
        .await
}

fn history(on: &OnBench, entries: &[Entry], more: bool) -> Markup {
    html! {
        div class="shelf" {
            div class="shelf-head" { h1 { "History" } a class="button" href=(Room::Board.href(on.id)) { "To the Board" } }
            p class="soft" { "All that was done to this piece, the newest first, also what was taken back. Going back to a state loses nothing: what is \
                newest stays here." }
            ol class="history card" {
                @for e in entries {
                    li {
                        span class="when soft" { time data-ms=(e.at_ms) {} }
                        span { (e.label) }
                        @if e.revision == on.state.revision {
                            strong { "the piece stands here" }
                        } @else {
                            button type="button" data-go=(e.revision) { "Go to this" span class="quiet" { ": " (e.label) } }
                        }
                    }
                }
            }
            @if let Some(last) = entries.last().filter(|_| more) {
                p { a class="button" href={ "?before=" (last.revision) } { "What was before" } }
            }
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct GoTo {
    revision: RevisionId,
}

/// `POST /piece/{id}/go`: the piece stands at an earlier or later state.
pub(crate) async fn go(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(to): Heard<GoTo>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let opened = bench.workshop.go_to(id, to.revision)?;
            Ok(answer(&bench.keep(opened), true))
        })
        .await
        .map(Json)
}
