//! Parts looked for in photos of the opened device: what was found is kept in memory until it is taken over.

use super::bench::Bench;
use super::jobs::{Progress, locked};
use super::refusal::Refusal;
use super::studies::{decode, printed_of, told};
use crate::captured_part::{pixels, png};
use crate::commands::homes as command;
use capture::photo::Photo as Picture;
use capture::{Knowledge, cut_out_in};
use homes::{Found, HomesError, InsidePhoto, Outcome, Side, Sought};
use piece::{DeviceSide, Finding, PartId, Piece};
use shape::{Bounds, Outline, Point, Watch};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use workshop::{Photo, PieceId, Role};

/// Results that are kept.
const KEPT: usize = 3;

/// Scale of the pictures under the homes, px/mm, and how much round the device they show, mm.
const PX_PER_MM: f64 = 6.0;
const ROUND_MM: f64 = 6.0;

/// What was found of pieces, the last first.
#[derive(Default)]
pub(crate) struct Sightings {
    kept: Mutex<VecDeque<Arc<Sighting>>>,
}

/// What photos of one piece's device gave.
pub(crate) struct Sighting {
    piece: PieceId,
    /// The parts that were looked for, in the order of `found`.
    pub(crate) parts: Vec<PartId>,
    pub(crate) opened_from: Side,
    pub(crate) found: Found,
    pub(crate) findings: Vec<Finding>,
    pub(crate) underlays: Vec<Underlay>,
}

/// A photo rectified into the device's frame as seen from above.
pub(crate) struct Underlay {
    pub(crate) stage: u32,
    pub(crate) name: String,
    pub(crate) png: Vec<u8>,
    /// Where it lies in that frame, mm.
    pub(crate) lower_left: Point,
    pub(crate) size_mm: [f64; 2],
}

impl Sightings {
    pub(crate) fn of(&self, piece: PieceId) -> Option<Arc<Sighting>> {
        let kept = locked(&self.kept);
        kept.iter().find(|s| s.piece == piece).cloned()
    }

    fn put(&self, sighting: Sighting) {
        let mut kept = locked(&self.kept);
        kept.retain(|s| s.piece != sighting.piece);
        kept.push_front(Arc::new(sighting));
        kept.truncate(KEPT);
    }
}

/// The photos of the opened device, by stage.
pub(crate) fn inside_photos(bench: &Bench, id: PieceId) -> Result<Vec<(Photo, u32)>, Refusal> {
    let photos = bench.workshop.photos(id)?.into_iter();
    let mut inside: Vec<(Photo, u32)> = photos
        .filter_map(|p| match p.role {
            Role::Inside { stage } => Some((p, stage)),
            _ => None,
        })
        .collect();
    inside.sort_by_key(|(_, stage)| *stage);
    Ok(inside)
}

/// The side that looks up when the device lies opened.
pub(crate) fn side_of(piece: &Piece) -> DeviceSide {
    piece.choices.opened_from.unwrap_or(DeviceSide::Back)
}

/// Looks for all parts of a piece, and keeps what was found.
pub(crate) fn look_for(bench: &Bench, id: PieceId, watch: &Progress) -> Result<(), Refusal> {
    let on = bench.piece(id)?;
    let inside = inside_photos(bench, id)?;
    let pictures: Vec<Picture> = inside
        .iter()
        .map(|(photo, _)| decode(&bench.workshop, photo))
        .collect::<Result<_, _>>()?;
    let photos: Vec<InsidePhoto<'_>> = pictures
        .iter()
        .zip(&inside)
        .map(|(photo, (_, stage))| InsidePhoto {
            photo,
            stage: *stage,
        })
        .collect();
    let printed_mm = inside.iter().find_map(|(p, _)| printed_of(&p.work));
    let knowledge = Knowledge {
        printed_mm,
        ..Knowledge::default()
    };
    let folder = bench.workshop.folder();
    let sought: Vec<Sought> = on
        .piece
        .parts
        .iter()
        .map(|p| command::sought(p, folder))
        .collect::<Result<_, _>>()?;
    let opened_from = match side_of(&on.piece) {
        DeviceSide::Front => Side::Front,
        DeviceSide::Back => Side::Back,
    };
    let found = homes::find_homes(&sought, &photos, &knowledge, opened_from, watch)
        .map_err(|e| refused(&e, &inside))?;
    let names: Vec<&str> = inside.iter().map(|(p, _)| p.name.as_str()).collect();
    let mut findings = command::findings(&on.piece, &found, opened_from, &names);
    Finding::sort(&mut findings);
    let mut underlays = Vec::new();
    for (k, (picture, (photo, stage))) in pictures.iter().zip(&inside).enumerate() {
        let share = k as f64 / pictures.len() as f64;
        watch
            .step("laying the photos under them", share)
            .map_err(|_| stopped())?;
        underlays.extend(underlay(bench, picture, photo, *stage, &found, k, watch)?);
    }
    bench.sightings.put(Sighting {
        piece: id,
        parts: on.piece.parts.iter().map(|p| p.id.clone()).collect(),
        opened_from,
        found,
        findings,
        underlays,
    });
    Ok(())
}

fn stopped() -> Refusal {
    Refusal::bad("Stopped.", "Nothing was changed.")
}

fn refused(e: &HomesError, inside: &[(Photo, u32)]) -> Refusal {
    if matches!(e, HomesError::Cancelled(_)) {
        return stopped();
    }
    match e.photo().and_then(|k| inside.get(k)) {
        Some((photo, _)) => told(&format!("{}: {e}", photo.name)),
        None => told(&e.to_string()),
    }
}

/// The photo in the device's frame, at the mean height of the parts that it shows.
fn underlay(
    bench: &Bench,
    picture: &Picture,
    photo: &Photo,
    stage: u32,
    found: &Found,
    k: usize,
    watch: &Progress,
) -> Result<Option<Underlay>, Refusal> {
    let Some(seen) = found.photos.get(k) else {
        return Ok(None);
    };
    let tops: Vec<f64> = found
        .parts
        .iter()
        .filter_map(Outcome::place)
        .filter(|p| p.stages.contains(&stage))
        .map(|p| p.top_mm)
        .collect();
    let top_mm = tops.iter().sum::<f64>() / tops.len().max(1) as f64;
    let [w, h] = found.size_mm;
    let frame = Bounds::between(
        Point::new(-ROUND_MM, -ROUND_MM),
        Point::new(w + ROUND_MM, h + ROUND_MM),
    );
    let Ok(frame) = Outline::rectangle(frame.min, frame.max) else {
        return Ok(None);
    };
    let on_sheet = frame.placed(seen.sheet_from_device);
    let taken = bench.studies.look(&bench.workshop, photo, watch)?.taken();
    let device_from_sheet = seen.sheet_from_device.inverse();
    let cut = cut_out_in(
        device_from_sheet,
        picture,
        &taken,
        &on_sheet,
        top_mm,
        PX_PER_MM,
    );
    let Ok(cut) = cut else {
        return Ok(None);
    };
    let size_mm = [cut.width, cut.height].map(|n| n as f64 / PX_PER_MM);
    let lower_left = cut.lower_left;
    Ok(Some(Underlay {
        stage,
        name: photo.name.clone(),
        png: png(&pixels(cut)?)?,
        lower_left,
        size_mm,
    }))
}
