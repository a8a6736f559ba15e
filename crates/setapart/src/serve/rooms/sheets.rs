//! Sheets: what will print, as pictures; the print check; the files.

use crate::commands::sheets::{self as command, Note, Request};
use crate::files::Outputs;
use crate::say;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::{Heard, Of, id_of};
use crate::serve::jobs::{Progress, locked};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::sheet_choices::{self, Asked, Wish};
use crate::serve::rooms::{Room, Shown, open};
use crate::serve::scene;
use axum::Json;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use press::to_svg;
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::path::Path as FilePath;
use std::sync::{Arc, Mutex};
use workshop::{PieceId, RevisionId};

/// Sets of sheets that are kept, each at most this large, bytes.
const KEPT: usize = 3;
const MOST_BYTES: usize = 128 << 20;

/// Pages of the template that are shown; all of them are in the file.
const SHOWN_PAGES: usize = 12;

/// Sheets that were drawn, the last first.
#[derive(Default)]
pub(crate) struct Drawn {
    kept: Mutex<VecDeque<Arc<SheetSet>>>,
}

/// One set of sheets.
struct SheetSet {
    piece: PieceId,
    revision: RevisionId,
    asked: Asked,
    /// The piece's number in an edition.
    edition: Option<String>,
    /// What was left out or is worth knowing.
    notes: Vec<Note>,
    /// Files that people keep.
    files: Vec<(String, Vec<u8>)>,
    /// Pictures of pages, for this page alone.
    pages: Vec<String>,
}

impl Drawn {
    fn find(&self, piece: PieceId, revision: RevisionId) -> Option<Arc<SheetSet>> {
        let kept = locked(&self.kept);
        kept.iter()
            .find(|s| s.piece == piece && s.revision == revision)
            .cloned()
    }

    fn put(&self, set: SheetSet) {
        let mut kept = locked(&self.kept);
        kept.retain(|s| s.piece != set.piece);
        kept.push_front(Arc::new(set));
        kept.truncate(KEPT);
    }
}

/// `GET /piece/{id}/sheets`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Sheets, |bench, on, settings| {
        let asked = Asked::of(settings);
        let drawn = bench.drawn.find(on.id, on.state.revision);
        let drawn = drawn.filter(|d| d.asked == asked);
        Ok(Shown {
            title: format!("Sheets of {}", on.piece.name),
            scripts: &["sheets.js"],
            body: sheets(on, &asked, drawn.as_deref()),
        })
    })
    .await
}

fn sheets(on: &OnBench, asked: &Asked, drawn: Option<&SheetSet>) -> Markup {
    let stops = scene::findings(&on.piece)
        .iter()
        .any(|f| f.level == piece::Level::Stop);
    let edition = drawn.and_then(|d| d.edition.as_deref()).unwrap_or_default();
    html! {
        h1 class="quiet" { "Sheets" }
        @if on.piece.placements.is_empty() {
            section class="empty" {
                h2 { "Nothing to print yet" }
                p { "Sheets show the parts where they lie on the board. Put them there first." }
                p { a class="button primary" href=(Room::Board.href(on.id)) { "To the Board" } }
            }
        } @else {
            div class="print-check card" {
                h2 { "Print check" }
                p class="soft" {
                    "Each page has a bar of 100 mm (or 4 inches) along two sides. Print one page at 100 %, without “fit to page”, measure both bars, \
                     and type in what they measure: the sheets are stretched to undo it. A miss of more than 1 % is no printer's: the page was fitted."
                }
                (sheet_choices::form(asked, edition, drawn.is_some()))
                @if stops {
                    p class="caution" { "The docket says stop. Sheets can be drawn, but do not cut or glue by them before it is cleared." }
                }
                div class="job" id="job" hidden {}
            }
            @if let Some(set) = drawn { (shown(on, set)) }
        }
    }
}

fn shown(on: &OnBench, set: &SheetSet) -> Markup {
    let href = |name: &str| format!("/piece/{}/sheets/{}/{name}", on.id, on.state.revision);
    html! {
        @if !set.notes.is_empty() {
            ul class="notes caution" aria-label="Worth knowing" {
                @for note in &set.notes { li { (say::sentence(&note.told("work it out in the room Build"))) } }
            }
        }
        section class="files" aria-label="Files" {
            h2 { "Files" }
            ul {
                @for (name, bytes) in &set.files {
                    li {
                        a href=(href(name)) download=(name.replace('/', "-")) { (name) }
                        span class="soft" { (size_in_words(bytes.len())) }
                    }
                }
            }
        }
        section class="pages" aria-label="Pictures" {
            @for (name, _) in set.files.iter().filter(|(n, _)| n.ends_with(".png")) {
                figure class="wide" {
                    img src=(href(name)) alt={ "Picture of " (name) } loading="lazy";
                    figcaption { (name) }
                }
            }
            @for k in 0..set.pages.len() {
                figure {
                    img src=(href(&format!("page-{}.svg", k + 1))) alt={ "Template page " (k + 1) } loading="lazy";
                    figcaption { "Template, page " (k + 1) }
                }
            }
        }
    }
}

fn size_in_words(bytes: usize) -> String {
    match bytes {
        n if n >= 1 << 20 => format!("{:.1} MB", n as f64 / f64::from(1 << 20)),
        n => format!("{} KB", n.div_ceil(1 << 10)),
    }
}

/// `POST /piece/{id}/sheets`: a job that draws them all.
pub(crate) async fn draw(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(wish): Heard<Wish>,
) -> Result<Json<Value>, Refusal> {
    let at = Arc::clone(&bench);
    bench
        .work(move |bench| {
            // What the bars say is checked before anything is drawn.
            let (asked, edition) = bench.workshop.change_settings(|settings| {
                let (asked, edition) = wish.checked(settings)?;
                asked.keep_in(settings);
                Ok::<_, Refusal>((asked, edition))
            })?;
            let job = bench.jobs.add("Drawing the sheets", move |watch| {
                draw_all(&at, id, asked, edition, watch)
            })?;
            Ok(Json(json!({ "job": job })))
        })
        .await
}

fn draw_all(
    bench: &Bench,
    id: PieceId,
    asked: Asked,
    edition: Option<String>,
    watch: &Progress,
) -> Result<Value, Refusal> {
    let on = bench.piece(id)?;
    // The store's pictures lie where the document says, from the workshop's folder.
    let cutouts = command::read_cutouts(&on.piece, bench.workshop.folder())?;
    let (paper, printed, look) = asked.as_words(edition.as_deref())?;
    let request = Request::new(&on.piece, paper, printed, &look)?;
    let mut outputs = Outputs::default();
    let folder = FilePath::new("");
    let drawn = command::draw(&on.piece, &cutouts, &request, watch, folder, &mut outputs)?;
    let shown = drawn.template_pages.iter().take(SHOWN_PAGES);
    let pages: Vec<String> = shown.map(to_svg).collect();
    let files: Vec<(String, Vec<u8>)> = outputs
        .into_files()
        .map(|(path, bytes)| (path.to_string_lossy().replace('\\', "/"), bytes))
        .collect();
    let bytes: usize = files.iter().map(|(_, b)| b.len()).sum();
    if bytes > MOST_BYTES {
        return Err(Refusal::bad(
            format!(
                "The sheets have {} MB, more than can be kept here.",
                bytes >> 20
            ),
            "Use `setapart sheets`, which writes them to a folder.",
        ));
    }
    bench.drawn.put(SheetSet {
        piece: id,
        revision: on.state.revision,
        asked,
        edition,
        notes: drawn.notes,
        files,
        pages,
    });
    Ok(json!({ "go": Room::Sheets.href(id) }))
}

/// `GET /piece/{id}/sheets/{revision}/{*name}`: a file or a page's picture.
pub(crate) async fn file(
    State(bench): State<Arc<Bench>>,
    Path((id, revision, name)): Path<(String, String, String)>,
) -> Result<Response, Refusal> {
    let gone = || Refusal::not_there("such sheet any more: draw them again");
    let (piece, revision) = (id_of(&id)?, revision.parse().map_err(|_| gone())?);
    let set = bench.drawn.find(piece, revision).ok_or_else(gone)?;
    let page = name
        .strip_prefix("page-")
        .and_then(|n| n.strip_suffix(".svg"))
        .and_then(|n| n.parse::<usize>().ok())
        .and_then(|n| set.pages.get(n.checked_sub(1)?));
    let bytes = match page {
        Some(page) => page.as_bytes().to_vec(),
        None => {
            let found = set.files.iter().find(|(n, _)| *n == name);
            found.ok_or_else(gone)?.1.clone()
        }
    };
    let kind = match name.rsplit('.').next() {
        Some("pdf") => "application/pdf",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("html") => "text/html; charset=utf-8",
        Some("json") => "application/json",
        _ => "application/octet-stream",
    };
    Ok(([(header::CONTENT_TYPE, kind)], bytes).into_response())
}
