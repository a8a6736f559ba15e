//! Capture: photos in, outlines over them, what the machine cannot know drawn by hand, heights beside the parts.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::Of;
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, open};
use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};
use std::sync::Arc;
use workshop::{Photo, PieceId};

/// `GET /piece/{id}/capture`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Capture, |bench, on, _| {
        let photos = bench.workshop.photos(on.id)?;
        Ok(Shown {
            title: format!("Capture for {}", on.piece.name),
            scripts: &["capture.js"],
            body: capture(on, &photos, bench.phones.is_open()),
        })
    })
    .await
}

fn capture(on: &OnBench, photos: &[Photo], phones: bool) -> Markup {
    html! {
        h1 class="quiet" { "Capture" }
        div class="work-bar" {
            label class="button primary" for="pick" { "Bring in photos" }
            input id="pick" class="quiet" type="file" multiple
                accept="image/jpeg,image/png,image/webp,image/tiff,image/heic,.heic,.heif,.tif,.tiff";
            @if phones {
                button type="button" id="phone" { "Photograph with a phone" }
            }
            span class="soft drop-hint" { "or drop them anywhere on this page" }
        }
        ul id="arriving" class="arriving" aria-label="Photos on their way" {}
        @if photos.is_empty() {
            section class="empty" {
                h2 { "No photos yet" }
                ol class="how" {
                    li { "Print the " a href="/capture-sheet/a4.pdf" { "capture sheet" } " (or "
                        a href="/capture-sheet/letter.pdf" { "Letter" } ") at 100 %, without “fit to page”." }
                    li { "Lay the parts flat and apart inside its corner marks, the face up that is to be seen." }
                    li { "Photograph them from straight above, 30 to 40 cm up, all tags in view, without flash." }
                    li { "Bring the photos here. Then measure how high each part's edge is, and type it in beside the part." }
                }
            }
        } @else {
            nav class="photos" aria-label="Photos" {
                @for photo in photos {
                    button type="button" class="photo-choice" data-photo=(photo.id) aria-pressed="false" title=(photo.name) {
                        img src={ "/picture/small/" (photo.image.to_string().trim_start_matches("images/")) } alt="" width="96" height="72" loading="lazy";
                        span { (photo.name) }
                    }
                }
            }
            div class="table" {
                div class="sheet" {
                    div class="strokes" role="group" aria-label="Draw over the photo" {
                        @for (kind, name, what) in [
                            ("", "Choose", "Choose parts; drag to look round"),
                            ("include", "Part of it", "Draw over what belongs to a part"),
                            ("exclude", "No part", "Draw over what is paper or shade"),
                            ("split", "Two parts", "Draw a line between parts that touch"),
                        ] {
                            button type="button" data-kind=(kind) title=(what) aria-pressed=(if kind.is_empty() { "true" } else { "false" }) { (name) }
                        }
                        label class="inline" { "Breadth" input id="breadth" type="range" min="1" max="12" value="3" step="0.5"; }
                        span class="pair" {
                            button type="button" id="work-undo" disabled { "Undo stroke" }
                            button type="button" id="work-redo" disabled { "Redo" }
                        }
                        span class="sizes" role="group" aria-label="Size of the photo" {
                            @for (zoom, name) in [("1", "Fit"), ("2.5", "Near"), ("6", "Close")] {
                                button type="button" data-zoom=(zoom) aria-pressed=(if zoom == "1" { "true" } else { "false" }) { (name) }
                            }
                        }
                    }
                    div id="photo" class="photo" {}
                    div class="job" id="job" hidden {}
                }
                section id="found" class="found" aria-label="Parts in this photo" {}
            }
        }
        dialog id="phone-dialog" aria-labelledby="phone-title" {
            h2 id="phone-title" { "Photograph with a phone" }
            div id="phone-code" {}
            p class="buttons" { button type="button" id="phone-close" { "Done" } }
        }
        p class="quiet" { (on.piece.parts.len()) " parts in the drawer" }
    }
}
