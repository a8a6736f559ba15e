//! The work on a photo: strokes, heights, what is left out, how it was taken.

use super::bench::Bench;
use super::capture_calls::{shown, tell};
use super::heard::{Heard, Of};
use super::refusal::Refusal;
use super::studies::OnTable;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use serde_json::Value;
use shape::Point;
use std::sync::Arc;
use workshop::{Mark, PhotoId, RevisionId, Stroke, StrokeKind, Taken, Work, WorkSaved};

/// Points of one stroke.
const MOST_POINTS: usize = 4_000;

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
pub(crate) struct WorkChange {
    base: RevisionId,
    change: Change,
}

/// `POST /photo/{id}/work`.
pub(crate) async fn work(
    State(bench): State<Arc<Bench>>,
    Of(id): Of<PhotoId>,
    Heard(asked): Heard<WorkChange>,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
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
        })
        .await
        .map(Json)
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
pub(super) fn mark(work: &mut Work, at_mm: [f64; 2]) -> &mut Mark {
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
