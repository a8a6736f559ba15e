//! What pages ask of one piece: edits, undo, redo, arranging, frames, pictures.

use super::bench::{Bench, OnBench};
use super::edits::{Edit, EditError, apply_all};
use super::heard::{Heard, Of};
use super::jobs::Progress;
use super::pictures::Size;
use super::refusal::Refusal;
use super::rooms::board;
use super::{download, scene};
use crate::say::{capital, sentence};
use arrange::{ArrangeError, Arranged, RealFont, STOCK_SIZES};
use axum::Json;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use piece::Piece;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{
    ImageName, Merged, Opened, PieceId, Prefer, RevisionId, Stale, Workshop, WorkshopError,
};

/// Steps in one request.
const MOST_EDITS: usize = 500;

/// A request to change a piece.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Change {
    /// The revision that the page shows.
    base: RevisionId,
    edits: Vec<Edit>,
    /// Changes of one gesture are undone as one.
    #[serde(default)]
    gesture: Option<String>,
    /// Where another window changed the same thing: whose counts.
    #[serde(default)]
    prefer: Option<Whose>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Whose {
    Mine,
    Theirs,
}

/// `POST /piece/{id}/edits`.
pub(crate) async fn edit(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(change): Heard<Change>,
) -> Result<Response, Refusal> {
    if change.edits.is_empty() || change.edits.len() > MOST_EDITS {
        return Err(Refusal::bad(
            format!("1 to {MOST_EDITS} steps can be done at once."),
            "Do them in smaller portions.",
        ));
    }
    bench.work(move |bench| done(bench, id, &change)).await
}

fn done(bench: &Bench, id: PieceId, change: &Change) -> Result<Response, Refusal> {
    let base = bench.piece_at(id, change.base)?;
    let mut piece = (*base).clone();
    let label = capital(&change.edits[0].label(&base));
    apply_all(&mut piece, &change.edits).map_err(|(k, e)| refuse(k, &e))?;
    let mut edit = workshop::Edit::new(match change.edits.len() {
        1 => label,
        n => format!("{label}, and {} more", n - 1),
    });
    if let Some(gesture) = &change.gesture {
        edit = edit.of_gesture(gesture);
    }
    let whole = change.edits.iter().any(Edit::changes_parts);
    match bench
        .workshop
        .save_or_merge(id, change.base, &piece, &edit)?
    {
        Merged::AsGiven(state) => {
            let on = bench.keep(Opened { id, piece, state });
            Ok(Json(answer(&on, whole)).into_response())
        }
        Merged::Together(opened) => {
            let on = bench.keep(*opened);
            // What the other window did may concern the parts themselves.
            Ok(Json(answer(&on, true)).into_response())
        }
        Merged::Conflict(stale) => settle_conflict(bench, id, &piece, &edit, *stale, change.prefer),
    }
}

/// Both windows changed the same thing: the user says whose counts.
fn settle_conflict(
    bench: &Bench,
    id: PieceId,
    mine: &Piece,
    edit: &workshop::Edit,
    stale: Stale,
    prefer: Option<Whose>,
) -> Result<Response, Refusal> {
    let on = bench.keep(stale.now);
    let Some(whose) = prefer else {
        let refusal = json!({
            "problem": "Another window changed the same thing meanwhile.",
            "remedy": "Keep yours, or take the other one. Either way, undo brings back the former.",
            "conflict": true,
            "now": answer(&on, true),
        });
        return Ok((StatusCode::CONFLICT, Json(refusal)).into_response());
    };
    let prefer = match whose {
        Whose::Mine => Prefer::Yours,
        Whose::Theirs => Prefer::Theirs,
    };
    let merged =
        workshop::merge_preferring(&stale.base, mine, &on.piece, prefer).unwrap_or_else(|| {
            match whose {
                Whose::Mine => mine.clone(),
                Whose::Theirs => (*on.piece).clone(),
            }
        });
    let conflict = [
        "Another window keeps changing the same thing.",
        "Close it, load this page again, and do it once more.",
    ];
    let on = bench.save(id, on.state.revision, merged, edit, conflict)?;
    Ok(Json(answer(&on, true)).into_response())
}

fn refuse(k: usize, e: &EditError) -> Refusal {
    let refusal = Refusal::bad(sentence(&e.to_string()), "Nothing was changed.");
    match e {
        EditError::Field { field, .. } => refusal.of_field(*field),
        _ => refusal.of_field(format!("edits[{k}]")),
    }
}

/// What a page hears after a change: the scene, the docket, and the parts where they changed.
pub(crate) fn answer(on: &OnBench, whole: bool) -> Value {
    let mut all = if whole {
        scene::whole(on)
    } else {
        scene::scene(on)
    };
    all["docket"] = board::docket(on).into();
    all
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Seen {
    revision: RevisionId,
}

/// `POST /piece/{id}/undo`.
pub(crate) async fn undo(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(seen): Heard<Seen>,
) -> Result<Json<Value>, Refusal> {
    step(bench, id, seen, Workshop::undo).await
}

/// `POST /piece/{id}/redo`.
pub(crate) async fn redo(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(seen): Heard<Seen>,
) -> Result<Json<Value>, Refusal> {
    step(bench, id, seen, Workshop::redo).await
}

/// Goes one step through a piece's history.
async fn step(
    bench: Arc<Bench>,
    id: PieceId,
    seen: Seen,
    go: fn(&Workshop, PieceId, RevisionId) -> Result<Opened, WorkshopError>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            let opened = go(&bench.workshop, id, seen.revision)?;
            Ok(Json(answer(&bench.keep(opened), true)))
        })
        .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Arranging {
    /// Move as little as can be.
    #[serde(default)]
    keep: bool,
    #[serde(default)]
    seed: Option<u64>,
}

/// `POST /piece/{id}/arrange`: a job that lays the piece out.
pub(crate) async fn arrange(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
    Heard(asked): Heard<Arranging>,
) -> Result<Json<Value>, Refusal> {
    let at = Arc::clone(&bench);
    let title = if asked.keep { "Settling" } else { "Arranging" };
    let job = bench
        .jobs
        .add(title, move |watch| lay_out(&at, id, &asked, watch))?;
    Ok(Json(json!({ "job": job })))
}

fn lay_out(
    bench: &Bench,
    id: PieceId,
    asked: &Arranging,
    watch: &Progress,
) -> Result<Value, Refusal> {
    let on = bench.piece(id)?;
    let options = arrange::Options {
        seed: asked.seed.unwrap_or(arrange::Options::default().seed),
        ..arrange::Options::default()
    };
    let arranged = if asked.keep {
        arrange::keep_with(&on.piece, &options, &RealFont, watch)
    } else {
        arrange::arrange(&on.piece, &options, watch)
    }?;
    // Someone who stops the search wants nothing moved.
    if watch.stopped() {
        return Err(ArrangeError::Cancelled.into());
    }
    let mut piece = (*on.piece).clone();
    let uncaptioned = arranged.uncaptioned.len();
    put(&mut piece, arranged);
    let label = if asked.keep { "Settle" } else { "Arrange" };
    let conflict = [
        "Parts were moved while the work went on, so its result was not taken.",
        "Start it again and leave the board alone meanwhile.",
    ];
    let edit = workshop::Edit::new(label);
    let on = bench.save(id, on.state.revision, piece, &edit, conflict)?;
    let mut result = answer(&on, false);
    result["uncaptioned"] = uncaptioned.into();
    Ok(result)
}

fn put(piece: &mut Piece, arranged: Arranged) {
    piece.placements = arranged.placements;
    piece.captions = arranged.captions;
    piece.axes = arrange::assembly_axes(piece);
}

/// `POST /piece/{id}/frames`: a job that looks for stock frames that fit.
pub(crate) async fn frames(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Json<Value>, Refusal> {
    let at = Arc::clone(&bench);
    let job = bench.jobs.add("Trying stock frames", move |watch| {
        let on = at.piece(id)?;
        let options = arrange::Options::default();
        let found = arrange::frames_for(&on.piece, &STOCK_SIZES, &options, &RealFont, watch)?;
        let fits: Vec<Value> = found
            .into_iter()
            .filter_map(|f| {
                let arranged = f.arranged?;
                let mut piece = (*on.piece).clone();
                piece.frame = f.frame;
                let frame = json!({
                    "name": f.name,
                    "frame": piece.frame,
                    "fill": f.fill,
                    "uncaptioned": arranged.uncaptioned.len(),
                    "placements": arranged.placements,
                    "captions": arranged.captions,
                });
                put(&mut piece, arranged);
                let mut frame = frame;
                frame["picture"] = scene::small_picture(&piece).into();
                Some(frame)
            })
            .collect();
        Ok(json!({ "frames": fits, "revision": on.state.revision }))
    })?;
    Ok(Json(json!({ "job": job })))
}

impl From<ArrangeError> for Refusal {
    fn from(e: ArrangeError) -> Self {
        Self::told(e, "Change the piece and try again.")
    }
}

/// `GET /piece/{id}/piece.json`: the document.
pub(crate) async fn document(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let text = on.piece.to_json();
            Ok(download("application/json", "piece.json", text))
        })
        .await
}

/// `GET /piece/{id}/small.svg`.
pub(crate) async fn small(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PieceId>,
) -> Result<Response, Refusal> {
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let svg = scene::small_picture(&on.piece);
            let headers = [(header::CONTENT_TYPE, "image/svg+xml")];
            Ok((headers, svg).into_response())
        })
        .await
}

/// `GET /picture/{scale}/{name}`: a cut-out at a quarter or half of its scale or in full, as near as the page
/// shows it; or a photo.
pub(crate) async fn picture(
    State(bench): State<Arc<Bench>>,
    Path((scale, name)): Path<(String, String)>,
) -> Result<Response, Refusal> {
    let name: ImageName = format!("images/{name}")
        .parse()
        .map_err(|_| Refusal::not_there("such picture"))?;
    let size = match scale.as_str() {
        "quarter" => Size::OneIn(4),
        "half" => Size::OneIn(2),
        "full" => Size::OneIn(1),
        "small" => Size::Side(super::pictures::SMALL_SIDE_PX),
        "photo" => Size::Side(super::pictures::PHOTO_SIDE_PX),
        _ => return Err(Refusal::not_there("such size")),
    };
    bench
        .work(move |bench| {
            let made = bench.pictures.get(&bench.workshop, &name, size)?;
            // Its name says what is in it: it never changes.
            let headers = [
                (header::CONTENT_TYPE, made.media_type),
                (
                    header::CACHE_CONTROL,
                    "private, max-age=31536000, immutable",
                ),
            ];
            Ok((headers, made.bytes.to_vec()).into_response())
        })
        .await
}
