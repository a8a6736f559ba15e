//! Photos of a piece: brought in, looked at, shown, taken away.

use super::bench::Bench;
use super::body;
use super::heard::{Heard, Of, id_of};
use super::refusal::Refusal;
use super::studies::OnTable;
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use capture::Capture;
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{Photo, PhotoId, PieceId, RevisionId, Role, Work};

/// Largest photo, bytes: as capture has it.
pub(crate) const MOST_PHOTO_BYTES: u64 = 64 << 20;

/// Photos of one piece.
const MOST_PHOTOS: usize = 200;

#[derive(Deserialize)]
pub(crate) struct Named {
    #[serde(default)]
    name: String,
}

impl Named {
    /// The name, shortened to what anyone reads.
    pub(crate) fn name(&self) -> &str {
        let end = self
            .name
            .char_indices()
            .nth(120)
            .map_or(self.name.len(), |(at, _)| at);
        &self.name[..end]
    }
}

/// `POST /piece/{id}/photos?name=…`: a photo as the body; its outlines are looked for at once.
pub(crate) async fn add(
    State(bench): State<Arc<Bench>>,
    Of(piece): Of<PieceId>,
    Query(named): Query<Named>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let received = body::receive(&headers, body, MOST_PHOTO_BYTES, &bench.room).await?;
    let at = Arc::clone(&bench);
    bench
        .work(move |bench| take_in(bench, at, piece, named.name(), &received.bytes))
        .await
}

/// Stores a photo and begins to look for its outlines.
pub(crate) fn take_in(
    bench: &Bench,
    at: Arc<Bench>,
    piece: workshop::PieceId,
    name: &str,
    bytes: &[u8],
) -> Result<Json<Value>, Refusal> {
    if bench.workshop.photos(piece)?.len() >= MOST_PHOTOS {
        return Err(Refusal::bad(
            format!("A piece has {MOST_PHOTOS} photos at most."),
            "Take some away first.",
        ));
    }
    let image = bench.workshop.add_image(bytes)?;
    if image.kind() == workshop::ImageKind::Svg {
        return Err(Refusal::bad(
            "This is a drawing, not a photo.",
            "Bring in JPEG, HEIC, PNG, TIFF or WebP. Of a drawing, `setapart capture FILE --new-piece PIECE.json` makes a piece that the shelf brings in.",
        ));
    }
    let name = if name.trim().is_empty() {
        "photo"
    } else {
        name
    };
    let work = Work::default();
    let photo = bench
        .workshop
        .add_photo(piece, &image, name, Role::Parts, &work)?;
    let job = look_later(&at, &photo)?;
    Ok(Json(json!({ "photo": photo.id, "job": job })))
}

fn look_later(bench: &Arc<Bench>, photo: &Photo) -> Result<u64, Refusal> {
    let (at, id) = (Arc::clone(bench), photo.id);
    bench
        .jobs
        .add(format!("Looking at {}", photo.name), move |watch| {
            let photo = at.workshop.photo(id)?;
            let on_table = at.studies.look(&at.workshop, &photo, watch)?;
            find(&at, &on_table, &photo)
        })
}

/// Finds the outlines as the work stands, keeps them, and tells the page.
pub(super) fn find(bench: &Bench, on_table: &OnTable, photo: &Photo) -> Result<Value, Refusal> {
    tell(bench, on_table, photo, &on_table.capture(&photo.work)?)
}

/// Keeps what was found for the work as it stands, and tells the page.
pub(super) fn tell(
    bench: &Bench,
    on_table: &OnTable,
    photo: &Photo,
    capture: &Capture,
) -> Result<Value, Refusal> {
    let found = on_table.found(photo, capture);
    bench.workshop.keep_found(photo.id, &found)?;
    Ok(photo_data(photo, Some(found.outlines)))
}

fn photo_data(photo: &Photo, found: Option<Value>) -> Value {
    json!({
        "id": photo.id,
        "name": photo.name,
        "picture": format!("/picture/photo/{}", photo.image.to_string().trim_start_matches("images/")),
        "revision": photo.state.revision,
        "undo": photo.state.undo,
        "redo": photo.state.redo,
        "work": photo.work,
        "shows": photo.role,
        "found": found,
    })
}

/// `GET /photo/{id}.json`: a photo with what was found; where that is out of date, the work that looks again.
pub(crate) async fn data(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Json<Value>, Refusal> {
    let id: PhotoId = id_of(id.strip_suffix(".json").unwrap_or(&id))?;
    let at = Arc::clone(&bench);
    bench
        .work(move |bench| {
            let photo = bench.workshop.photo(id)?;
            let found = bench.workshop.found(id)?;
            match found {
                Some(f) if f.for_work == photo.state.revision => {
                    Ok(Json(photo_data(&photo, Some(f.outlines))))
                }
                _ => {
                    let mut data = photo_data(&photo, None);
                    data["job"] = look_later(&at, &photo)?.into();
                    Ok(Json(data))
                }
            }
        })
        .await
}

/// A photo as it stands now: at once where its study is in memory, else with the work that looks again.
pub(super) fn shown(bench: &Arc<Bench>, id: PhotoId) -> Result<Value, Refusal> {
    let photo = bench.workshop.photo(id)?;
    if let Some(table) = bench.studies.get(&photo) {
        return find(bench, &table, &photo);
    }
    let mut data = photo_data(&photo, None);
    data["job"] = look_later(bench, &photo)?.into();
    Ok(data)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Seen {
    revision: RevisionId,
}

/// `POST /photo/{id}/undo` and `/redo`: the work on a photo has its own history.
pub(crate) async fn step(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PhotoId>,
    Path((_, way)): Path<(String, String)>,
    Heard(seen): Heard<Seen>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            match way.as_str() {
                "undo" => bench.workshop.undo_work(id, seen.revision)?,
                "redo" => bench.workshop.redo_work(id, seen.revision)?,
                _ => return Err(Refusal::not_there("such way")),
            };
            shown(bench, id)
        })
        .await
        .map(Json)
}

/// `POST /photo/{id}/remove`: takes a photo away; its parts stay.
pub(crate) async fn remove(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PhotoId>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            bench.workshop.set_photo_binned(id, true)?;
            Ok(Json(json!({})))
        })
        .await
}
