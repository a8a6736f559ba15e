//! What a photo shows, and the backs of parts that are in the drawer.

use super::bench::Bench;
use super::capture_calls::{find, shown};
use super::heard::{Heard, Of};
use super::jobs::Progress;
use super::piece_calls::answer;
use super::refusal::Refusal;
use super::studies::{decode, mark_of};
use super::taking::{keep_cutout, no_picture};
use crate::captured_part::{CUTOUT_PX_PER_MM, back_cutout};
use axum::Json;
use axum::extract::State;
use capture::{cut_out_in, join_outlines};
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{PhotoId, Role};

/// `POST /photo/{id}/role`: what the photo shows.
pub(crate) async fn set_role(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PhotoId>,
    Heard(role): Heard<Role>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            bench.workshop.set_role(id, role)?;
            shown(bench, id)
        })
        .await
        .map(Json)
}

/// Joins the outlines of a photo of parts turned over to the parts in the drawer, whose backs they are.
pub(super) fn take_backs(bench: &Bench, id: PhotoId, watch: &Progress) -> Result<Value, Refusal> {
    let photo = bench.workshop.photo(id)?;
    let on = bench.piece(photo.piece)?;
    if on.piece.parts.is_empty() {
        return Err(Refusal::bad(
            "There are no parts in the drawer yet whose backs these could be.",
            "Bring in a photo of the same parts with their faces up first.",
        ));
    }
    let on_table = bench.studies.look(&bench.workshop, &photo, watch)?;
    let capture = on_table.capture(&photo.work)?;
    let picture = decode(&bench.workshop, &photo)?;
    let backs: Vec<_> = capture
        .parts
        .iter()
        .filter(|c| !mark_of(&photo.work, c).is_some_and(|m| m.left_out))
        .collect();
    let outlines: Vec<_> = backs.iter().map(|c| &c.outline).collect();
    let fronts: Vec<_> = on.piece.parts.iter().map(|p| &p.outline).collect();
    let stopped = |_| Refusal::bad("Stopped.", "Nothing was changed.");
    let joined = join_outlines(&fronts, &outlines, watch).map_err(stopped)?;
    if joined.is_empty() {
        return Err(Refusal::bad(
            "None of these outlines is that of a part in the drawer turned over.",
            "Photograph the same parts, and give both photos their heights.",
        ));
    }
    let mut piece = (*on.piece).clone();
    let mut without_picture = Vec::new();
    for faces in &joined {
        let (back, part) = (backs[faces.back], &mut piece.parts[faces.front]);
        let pose = faces.front_seen_from_behind(&part.outline, &back.outline);
        let top_mm = back.thickness_mm.unwrap_or(0.0);
        let cut = cut_out_in(
            pose,
            &picture,
            &capture.taken,
            &back.outline,
            top_mm,
            CUTOUT_PX_PER_MM,
        );
        let cut = match cut {
            Ok(cut) => cut,
            Err(e) => {
                let whose = format!("The back of {}", part.name);
                without_picture.push(no_picture(&whose, &e));
                continue;
            }
        };
        let (lower_left, px_per_mm) = (cut.lower_left, cut.px_per_mm);
        let image = keep_cutout(bench, cut)?;
        part.back_cutout = Some(back_cutout(image, px_per_mm, lower_left));
    }
    let names = |twins: bool| -> Vec<&str> {
        let some = joined.iter().filter(|f| f.ambiguous || !twins);
        some.map(|f| on.piece.parts[f.front].name.as_str())
            .collect()
    };
    let told = json!({ "backs": names(false), "swapped": names(true), "alone": backs.len() - joined.len() });
    let edit = workshop::Edit::new(format!("Backs of {} parts", joined.len()));
    let conflict = [
        "The piece was changed while the backs were cut out.",
        "Do it once more.",
    ];
    let on = bench.save(photo.piece, on.state.revision, piece, &edit, conflict)?;
    let mut result = find(bench, &on_table, &photo)?;
    result["joined"] = told;
    result["without_picture"] = without_picture.into();
    result["piece"] = answer(&on, false);
    Ok(result)
}
