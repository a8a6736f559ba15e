//! Outlines of a photo become parts in the drawer, each with its own picture.

use super::backs::take_backs;
use super::bench::Bench;
use super::capture_calls::find;
use super::edits::inner_point;
use super::heard::Of;
use super::jobs::Progress;
use super::photo_work::mark;
use super::piece_calls::answer;
use super::refusal::Refusal;
use super::studies::{decode, mark_of};
use crate::captured_part::{self, CUTOUT_PX_PER_MM};
use crate::say::{sentence, told_apart};
use crate::tidy::Tidy;
use axum::Json;
use axum::extract::State;
use capture::{Capture, Captured, Cutout, CutoutError, cut_out};
use piece::{Part, PartId, Piece};
use serde_json::{Value, json};
use shape::Watch;
use std::sync::Arc;
use workshop::{Photo, PhotoId, Role, Work, WorkSaved, Workshop};

/// `POST /photo/{id}/take`: the outlines become parts of the piece, each with its own picture.
pub(crate) async fn take(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PhotoId>,
) -> Result<Json<Value>, Refusal> {
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
        captured_part::own_outline(&found.outline, Tidy::USUAL)?,
        found.sigma.total_mm,
        found.thickness_mm,
    );
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
