//! Homes as a picture, as JSON and in words.

use super::{Gained, argument};
use crate::commands::findings_in_words;
use crate::commands::picture::PictureKind;
use crate::commands::sheets::{cutout_image, read_png};
use crate::failure::Failure;
use crate::say;
use homes::{Outcome as Told, SURE, Side};
use piece::{Home, Piece};
use press::homes::{HomePart, HomesPicture};
use press::preview::CutoutImage;
use serde_json::{Value, json};
use shape::Outline;
use std::path::Path;

/// Resolution of a picture in pixels, px/mm.
const PX_PER_MM: f64 = 8.0;

pub(super) fn drawn(
    piece: &Piece,
    folder: &Path,
    result: &Gained,
    kind: PictureKind,
) -> Result<Vec<u8>, Failure> {
    let mut parts = Vec::new();
    let mut without = Vec::new();
    for (i, part) in piece.parts.iter().enumerate() {
        let Some(home) = part.home else {
            without.push(part.name.clone());
            continue;
        };
        let over = result
            .found
            .as_ref()
            .and_then(|f| f.parts[i].place())
            .is_some_and(|p| p.front_is == Side::Back);
        let picture: Option<CutoutImage> = match &part.cutout {
            Some(c) if !over => Some(cutout_image(
                part.id.clone(),
                read_png(folder, part, &c.image)?,
                c.px_per_mm,
                c.origin_mm,
            )),
            _ => None,
        };
        let confidence = result.sure.get(&part.id).copied().unwrap_or(1.0);
        parts.push(HomePart {
            name: part.name.clone(),
            number: i + 1,
            outline: if over {
                part.outline.mirrored()
            } else {
                part.outline.clone()
            },
            home,
            confidence,
            unsure: confidence < SURE || over,
            picture,
        });
    }
    let all = || {
        let outlines: Vec<Outline> = parts
            .iter()
            .map(|p| p.outline.placed(p.home.device_from_part()))
            .collect();
        shape::largest(shape::union(&outlines))
    };
    let device = result
        .device
        .clone()
        .or_else(all)
        .ok_or_else(|| argument("--picture", "no part has a home: there is nothing to draw"))?;
    let page = press::homes::lay_out(&HomesPicture {
        title: format!("{}: where the parts sit", piece.name),
        device,
        parts,
        without,
    })?;
    Ok(kind.file_of(&page, PX_PER_MM)?)
}

/// One entry a part; a part without a home has nothing but its id and why.
pub(super) fn as_json(piece: &Piece, result: &Gained) -> Value {
    let ids = |list: &[usize]| {
        list.iter()
            .map(|&j| piece.parts[j].id.as_str())
            .collect::<Vec<_>>()
    };
    let place_json =
        |h: &Home| json!({ "x": h.x, "y": h.y, "turn_deg": h.turn_deg, "layer": h.layer });
    let entries = piece.parts.iter().enumerate().map(|(i, part)| {
        let told = result.found.as_ref().map(|f| &f.parts[i]);
        let sure = result.sure.get(&part.id);
        let home = sure.and(part.home);
        let mut entry = json!({
            "part": part.id,
            "x": home.map(|h| h.x),
            "y": home.map(|h| h.y),
            "turn_deg": home.map(|h| h.turn_deg),
            "layer": home.map(|h| h.layer),
            "confidence": sure.copied().unwrap_or(0.0),
            "found": home.is_some(),
            "told": match told {
                Some(Told::Beside { .. }) if home.is_none() => "beside",
                _ if home.is_none() => "not_found",
                _ if sure.is_some_and(|s| *s < SURE) => "unsure",
                _ => "found",
            },
        });
        if let Some(Told::Found(p)) = told {
            entry["face"] = json!(if p.front_is == Side::Back {
                "back"
            } else {
                "front"
            });
            entry["top_mm"] = json!(p.top_mm);
            entry["top_sigma_mm"] = json!(p.top_sigma_mm);
            entry["stages"] = json!(p.stages);
            entry["whole_at"] = json!(p.whole_at);
            entry["hidden_by"] = json!(ids(&p.hidden_by));
            entry["alike"] = json!(ids(&p.alike));
            entry["as_well_at"] = json!(p.as_well_at.iter().map(place_json).collect::<Vec<_>>());
            entry["turns_alike_deg"] = json!(p.turns_alike);
            entry["by_outline"] = json!(p.by_outline);
        }
        entry
    });
    Value::Array(entries.collect())
}

pub(super) fn in_words(piece: &Piece, result: &Gained) -> String {
    let homes = piece
        .parts
        .iter()
        .filter(|p| result.sure.contains_key(&p.id))
        .count();
    let unsure = result.sure.values().filter(|s| **s < SURE).count();
    let mut text = format!(
        "{homes} of {} parts have a home now, {unsure} of them to be looked at\n",
        piece.parts.len()
    );
    if let Some(found) = &result.found {
        text += &format!(
            "  device    {:.1} x {:.1} mm\n",
            found.size_mm[0], found.size_mm[1]
        );
        for photo in &found.photos {
            text += &format!(
                "  stage {:<3} {} parts seen, camera {:.0} mm above the sheet\n",
                photo.stage, photo.parts_seen, photo.camera_height_mm
            );
        }
    }
    text += "     x mm    y mm   turn   layer  sure   part\n";
    for part in &piece.parts {
        if let (Some(home), Some(sure)) = (part.home, result.sure.get(&part.id)) {
            text += &format!(
                "  {:7.2} {:7.2} {:7.2}  {:>3}   {:3.0} %  {}\n",
                say::hundredths(home.x),
                say::hundredths(home.y),
                say::hundredths(home.turn_deg),
                home.layer,
                (100.0 * sure).floor(),
                part.name
            );
        }
    }
    text + &findings_in_words(&result.findings)
}
