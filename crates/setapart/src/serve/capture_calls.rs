//! What the Capture room asks: photos in, outlines, strokes and heights, parts into the drawer.

use super::backs::take_backs;
use super::bench::Bench;
use super::body;
use super::edits::inner_point;
use super::jobs::Progress;
use super::piece_calls::answer;
use super::refusal::Refusal;
use super::studies::{OnTable, decode, mark_of};
use super::{asked, piece_of};
use crate::captured_part::{self, CUTOUT_PX_PER_MM};
use crate::say::{sentence, told_apart};
use crate::tidy::Tidy;
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use capture::{Capture, Captured, Cutout, CutoutError, cut_out};
use piece::{Part, PartId, Piece};
use serde::Deserialize;
use serde_json::{Value, json};
use shape::{Point, Watch};
use std::sync::Arc;
use workshop::{
    Mark, Photo, PhotoId, RevisionId, Role, Stroke, StrokeKind, Taken, Work, WorkSaved, Workshop,
};

/// Largest photo, bytes: as capture has it.
pub(crate) const MOST_PHOTO_BYTES: u64 = 64 << 20;

/// Photos of one piece.
const MOST_PHOTOS: usize = 200;

/// Points of one stroke.
const MOST_POINTS: usize = 4_000;

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
    Path(id): Path<String>,
    Query(named): Query<Named>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let piece = piece_of(&id)?;
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
fn tell(
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

pub(super) fn photo_of(text: &str) -> Result<PhotoId, Refusal> {
    text.parse()
        .map_err(|_| Refusal::not_there(format!("photo {text:?}")))
}

/// `GET /photo/{id}.json`: a photo with what was found; where that is out of date, the work that looks again.
pub(crate) async fn data(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Json<Value>, Refusal> {
    let id = photo_of(id.strip_suffix(".json").unwrap_or(&id))?;
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

/// What is done to the work on a photo.
#[derive(Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
enum Change {
    /// Something is drawn over the photo, in its pixels.
    Draw {
        kind: StrokeKind,
        width_px: f64,
        points_px: Vec<[f64; 2]>,
    },
    /// The height of the outer edge of the part over a point of the plane.
    Height {
        at_mm: [f64; 2],
        thickness_mm: Option<f64>,
    },
    /// The height of all parts that no mark names.
    HeightOfAll { thickness_mm: Option<f64> },
    /// It is no part of the piece, or it is.
    LeaveOut { at_mm: [f64; 2], left_out: bool },
    /// How the picture was taken.
    Way { taken: Taken },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WorkChange {
    base: RevisionId,
    change: Change,
}

/// `POST /photo/{id}/work`.
pub(crate) async fn work(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    asked(
        &bench,
        photo_of(&id),
        &headers,
        body,
        |bench, id, asked: WorkChange| {
            let photo = bench.workshop.photo(id)?;
            let on_table = bench.studies.get(&photo);
            let mut work = photo.work.clone();
            let label = apply(&mut work, &asked.change, on_table.as_deref())?;
            let edit = workshop::Edit::new(label);
            // What cannot be is told before it is stored. Taken in another way, the picture is looked at anew.
            let on_table = on_table.filter(|_| !matches!(asked.change, Change::Way { .. }));
            let captured = match &on_table {
                Some(table) => Some((table, table.capture(&work)?)),
                None => None,
            };
            match bench.workshop.save_work(id, asked.base, &work, &edit)? {
                WorkSaved::Saved(state) => {
                    let photo = bench.workshop.photo(id)?;
                    if let Some((table, capture)) = captured
                        && photo.state.revision == state.revision
                    {
                        return tell(bench, table, &photo, &capture);
                    }
                }
                WorkSaved::Stale(_) => {
                    return Err(Refusal::new(
                        StatusCode::CONFLICT,
                        "Another window worked on this photo meanwhile.",
                        "Load the page again, and do it once more.",
                    ));
                }
            }
            shown(bench, id)
        },
    )
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
struct Seen {
    revision: RevisionId,
}

/// `POST /photo/{id}/undo` and `/redo`: the work on a photo has its own history.
pub(crate) async fn step(
    State(bench): State<Arc<Bench>>,
    Path((id, way)): Path<(String, String)>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    asked(
        &bench,
        photo_of(&id),
        &headers,
        body,
        move |bench, id, seen: Seen| {
            match way.as_str() {
                "undo" => bench.workshop.undo_work(id, seen.revision)?,
                "redo" => bench.workshop.redo_work(id, seen.revision)?,
                _ => return Err(Refusal::not_there("such way")),
            };
            shown(bench, id)
        },
    )
    .await
}

/// `POST /photo/{id}/remove`: takes a photo away; its parts stay.
pub(crate) async fn remove(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Json<Value>, Refusal> {
    let id = photo_of(&id)?;
    bench
        .work(move |bench| {
            bench.workshop.set_photo_binned(id, true)?;
            Ok(Json(json!({})))
        })
        .await
}

fn apply(work: &mut Work, change: &Change, on_table: Option<&OnTable>) -> Result<String, Refusal> {
    match change {
        Change::Draw {
            kind,
            width_px,
            points_px,
        } => {
            let table = on_table.ok_or_else(|| {
                Refusal::new(
                    StatusCode::CONFLICT,
                    "The photo is being looked at again.",
                    "Draw when its outlines are there.",
                )
            })?;
            work.strokes
                .push(stroke(table, *kind, *width_px, points_px)?);
            Ok(match kind {
                StrokeKind::Include => "Stroke: part of it".into(),
                StrokeKind::Exclude => "Stroke: no part".into(),
                StrokeKind::Split => "Stroke: two parts".into(),
            })
        }
        Change::Height {
            at_mm,
            thickness_mm,
        } => {
            check_height(*thickness_mm)?;
            mark(work, *at_mm).thickness_mm = *thickness_mm;
            Ok("Height of a part".into())
        }
        Change::HeightOfAll { thickness_mm } => {
            check_height(*thickness_mm)?;
            work.thickness_mm = *thickness_mm;
            Ok("Height of all parts".into())
        }
        Change::LeaveOut { at_mm, left_out } => {
            mark(work, *at_mm).left_out = *left_out;
            Ok(if *left_out {
                "Leave out".into()
            } else {
                "Take in again".into()
            })
        }
        Change::Way { taken } => {
            work.taken = *taken;
            Ok("How the picture was taken".into())
        }
    }
}

fn check_height(mm: Option<f64>) -> Result<(), Refusal> {
    match mm {
        Some(mm) if !(0.0..=200.0).contains(&mm) => Err(Refusal::bad(
            "A height must be 0 to 200 mm.",
            "Measure the part's outer edge with a caliper.",
        )
        .of_field("thickness_mm")),
        _ => Ok(()),
    }
}

/// The mark at a place, made where there is none within half a millimetre.
fn mark(work: &mut Work, at_mm: [f64; 2]) -> &mut Mark {
    let near = |m: &Mark| Point::from(m.at_mm).distance_mm(Point::from(at_mm)) < 0.5;
    let k = work.marks.iter().position(near).unwrap_or_else(|| {
        work.marks.push(Mark {
            at_mm,
            thickness_mm: None,
            part: None,
            left_out: false,
        });
        work.marks.len() - 1
    });
    &mut work.marks[k]
}

fn stroke(
    table: &OnTable,
    kind: StrokeKind,
    width_px: f64,
    points_px: &[[f64; 2]],
) -> Result<Stroke, Refusal> {
    if points_px.is_empty() || points_px.len() > MOST_POINTS {
        return Err(Refusal::bad(
            format!("A stroke has 1 to {MOST_POINTS} points."),
            "Draw it in shorter pieces.",
        ));
    }
    let points: Vec<Point> = points_px
        .iter()
        .filter_map(|p| table.plane_from_photo(*p))
        .collect();
    let Some(&first) = points.first() else {
        return Err(Refusal::bad(
            "The stroke lies outside the sheet.",
            "Draw over the parts, inside the corner marks.",
        ));
    };
    // How large a pixel is there.
    let beside = [points_px[0][0] + 10.0, points_px[0][1]];
    let mm_per_px = table
        .plane_from_photo(beside)
        .map_or(0.1, |p| p.distance_mm(first) / 10.0);
    Ok(Stroke {
        kind,
        width_mm: (width_px * mm_per_px).clamp(0.2, 50.0),
        points_mm: points.iter().map(|p| [p.x, p.y]).collect(),
    })
}

/// `POST /photo/{id}/take`: the outlines become parts of the piece, each with its own picture.
pub(crate) async fn take(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Json<Value>, Refusal> {
    let id = photo_of(&id)?;
    let at = Arc::clone(&bench);
    let job = bench.jobs.add("Cutting the parts out", move |watch| {
        match at.workshop.photo(id)?.role {
            Role::Parts => take_parts(&at, id, watch),
            Role::Backs => take_backs(&at, id, watch),
            Role::Inside { .. } => Err(Refusal::bad(
                "This photo shows the opened device: there are no loose parts in it.",
                "Where its parts sit is found in the room Homes. If it shows loose parts after all, say so under “How it was taken”.",
            )),
        }
    })?;
    Ok(Json(json!({ "job": job })))
}

fn take_parts(bench: &Bench, id: PhotoId, watch: &Progress) -> Result<Value, Refusal> {
    let photo = bench.workshop.photo(id)?;
    let on = bench.piece(photo.piece)?;
    let on_table = bench.studies.look(&bench.workshop, &photo, watch)?;
    let capture = on_table.capture(&photo.work)?;
    let picture = decode(&bench.workshop, &photo)?;
    let mut piece = (*on.piece).clone();
    let mut new: Vec<(&Captured, PartId)> = Vec::new();
    let mut renewed = 0;
    let mut without_picture = Vec::new();
    for (k, found) in capture.parts.iter().enumerate() {
        let share = k as f64 / capture.parts.len() as f64;
        if watch.step("cutting out", share).is_err() {
            return Err(Refusal::bad("Stopped.", "Nothing was changed."));
        }
        let mark = mark_of(&photo.work, found);
        if mark.is_some_and(|m| m.left_out) {
            continue;
        }
        let known = mark.and_then(|m| m.part.clone());
        let (made, none) = make_part(bench, &picture, &capture, found, &piece)?;
        let there = known.and_then(|id| piece.parts.iter().position(|p| p.id == id));
        if let Some(e) = none {
            let whose = there.map_or(&made.name, |k| &piece.parts[k].name);
            without_picture.push(no_picture(whose, &e));
        }
        match there {
            Some(there) => {
                let old = &mut piece.parts[there];
                old.outline = made.outline;
                old.sigma_mm = made.sigma_mm;
                old.cutout = made.cutout;
                renewed += 1;
            }
            None => {
                new.push((found, made.id.clone()));
                piece.parts.push(made);
            }
        }
    }
    let label = match (new.len(), renewed) {
        (0, n) => format!("Capture {n} parts again"),
        (n, _) => format!("Capture {n} parts"),
    };
    let edit = workshop::Edit::new(label);
    let conflict = [
        "The piece was changed while the parts were cut out.",
        "Do it once more.",
    ];
    let on = bench.save(photo.piece, on.state.revision, piece, &edit, conflict)?;
    keep_names(&bench.workshop, photo, &new)?;
    let photo = bench.workshop.photo(id)?;
    let mut result = find(bench, &on_table, &photo)?;
    result["new"] = new.len().into();
    result["renewed"] = renewed.into();
    result["without_picture"] = without_picture.into();
    result["piece"] = answer(&on, false);
    Ok(result)
}

/// The marks say which part is which, so that the same outlines are renewed next time, not doubled. What was drawn while the parts
/// were cut out stays: the names are put to that.
fn keep_names(
    workshop: &Workshop,
    mut photo: Photo,
    new: &[(&Captured, PartId)],
) -> Result<(), Refusal> {
    let edit = workshop::Edit::new("Parts into the drawer");
    loop {
        let mut work = photo.work;
        for (found, part) in new {
            name_mark(&mut work, found, part);
        }
        match workshop.save_work(photo.id, photo.state.revision, &work, &edit)? {
            WorkSaved::Saved(_) => return Ok(()),
            WorkSaved::Stale(now) => photo = *now,
        }
    }
}

fn name_mark(work: &mut Work, found: &Captured, id: &PartId) {
    let at = mark_of(work, found).map_or_else(
        || {
            let p = inner_point(&found.silhouette.in_sheet);
            [p.x, p.y]
        },
        |m| m.at_mm,
    );
    mark(work, at).part = Some(id.clone());
}

/// A part as it was captured, and why it has no picture, where it has none.
fn make_part(
    bench: &Bench,
    picture: &capture::photo::Photo,
    capture: &Capture,
    found: &Captured,
    piece: &Piece,
) -> Result<(Part, Option<CutoutError>), Refusal> {
    let top_mm = found.thickness_mm.unwrap_or(0.0);
    let cut = cut_out(
        picture,
        &capture.taken,
        &found.outline,
        top_mm,
        CUTOUT_PX_PER_MM,
    );
    let (cutout, none) = match cut {
        Err(e) => (None, Some(e)),
        Ok(cut) => {
            let (lower_left, px_per_mm) = (cut.lower_left, cut.px_per_mm);
            let image = keep_cutout(bench, cut)?;
            let own = captured_part::cutout(image, px_per_mm, lower_left, &found.outline);
            (Some(own), None)
        }
    };
    let number = (1..)
        .find(|n| {
            let id = format!("p{n}");
            piece.parts.iter().all(|p| p.id.as_str() != id)
        })
        .unwrap_or(1);
    let id = PartId::try_new(format!("p{number}")).map_err(Refusal::inside)?;
    let part = captured_part::part(
        id,
        format!("Part {number}"),
        &found.outline,
        Tidy::USUAL,
        found.sigma.total_mm,
        found.thickness_mm,
    )?;
    Ok((Part { cutout, ..part }, none))
}

/// What is told of a part whose picture could not be cut out; `whose` names it.
pub(super) fn no_picture(whose: &str, e: &CutoutError) -> String {
    let text = e.to_string();
    sentence(&format!("{whose} has no picture: {}", told_apart(&text).0))
}

/// Puts a cut-out into the store; what the document calls it.
pub(super) fn keep_cutout(bench: &Bench, cut: Cutout) -> Result<String, Refusal> {
    let png = captured_part::png(&captured_part::pixels(cut)?)?;
    Ok(bench.workshop.add_image(&png)?.to_string())
}
