//! `fit`: does one outline fit the place of another.

use super::picture::PictureKind;
use super::{MOST_PIECE_BYTES, Outcome, piece_of};
use crate::cli;
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use piece::{PartId, Piece};
use press::PressError;
use press::fit::{FitPicture, lay_out};
use serde::Deserialize;
use serde_json::json;
use shape::registration::{Misfit, Options, Registration, Verdict, register};
use shape::{Outline, Point};
use std::path::{Path, PathBuf};

/// Tolerances that make sense, mm.
const TOLERANCES_MM: std::ops::RangeInclusive<f64> = 0.0..=20.0;

/// Scale of the picture as PNG, px/mm.
const PX_PER_MM: f64 = 10.0;

pub(crate) fn run(args: &cli::Fit) -> Result<Outcome, Failure> {
    if !TOLERANCES_MM.contains(&args.tolerance) {
        return Err(Failure::Argument {
            option: "--tolerance",
            problem: format!("is {}; it must be 0 to 20 mm", args.tolerance),
        });
    }
    let picture = args.picture.as_deref().map(PictureKind::of).transpose()?;
    let a = read_outline(&args.a, args.part_a.as_deref(), "--part-a")?;
    let b = read_outline(&args.b, args.part_b.as_deref(), "--part-b")?;
    let options = Options {
        allow_flip: args.allow_flip,
        tolerance_mm: args.tolerance,
    };
    let progress = Progress::new();
    // Nobody can cancel it halfway; the search has an end of its own.
    let found = register(&a.outline, &b.outline, &options, &progress);
    drop(progress);
    let found = found.map_err(|_| Failure::Cancelled)?;
    if let (Some(path), Some(kind)) = (&args.picture, picture) {
        files::write(path, drawn(&a, &b, &found, kind)?)?;
    }
    if args.json {
        say::json(&in_json(&a, &b, &found, args.tolerance));
    } else {
        say::print(in_words(&a, &b, &found, args.tolerance));
    }
    Ok(match found.verdict {
        Verdict::No => Outcome::Stop,
        Verdict::Fit | Verdict::Trim => Outcome::Fine,
    })
}

/// An outline with what people call it.
struct Named {
    name: String,
    outline: Outline,
}

/// What a capture's JSON is read for.
#[derive(Deserialize)]
struct Captures {
    captures: Vec<CapturedPhoto>,
}

#[derive(Deserialize)]
struct CapturedPhoto {
    outlines: Vec<Outline>,
}

#[derive(Deserialize)]
struct FormatOnly {
    format: Option<String>,
}

/// Splits `FILE#PART` where no file of the whole name exists.
fn file_and_part(text: &Path) -> (PathBuf, Option<String>) {
    let whole = text.to_string_lossy();
    match whole.rsplit_once('#') {
        Some((file, part)) if !file.is_empty() && !text.exists() => {
            (file.into(), Some(part.to_owned()))
        }
        _ => (text.into(), None),
    }
}

fn read_outline(text: &Path, part: Option<&str>, option: &'static str) -> Result<Named, Failure> {
    let (path, after_hash) = file_and_part(text);
    let part = match (part, after_hash) {
        (Some(_), Some(_)) => {
            return Err(Failure::Argument {
                option,
                problem: format!("{} names a part already", text.display()),
            });
        }
        (Some(part), None) => Some(part.to_owned()),
        (None, part) => part,
    };
    let bytes = files::read(&path, MOST_PIECE_BYTES, "a piece document or a capture")?;
    let is_piece = serde_json::from_slice::<FormatOnly>(&bytes).is_ok_and(|f| f.format.is_some());
    if is_piece {
        from_piece(&piece_of(&path, &bytes)?, &path, part)
    } else {
        from_capture(&bytes, &path, part)
    }
}

fn from_piece(piece: &Piece, path: &Path, part: Option<String>) -> Result<Named, Failure> {
    let bad = |problem: String| Failure::NoOutline {
        path: path.into(),
        problem,
    };
    let known = || {
        let ids: Vec<&str> = piece.parts.iter().map(|p| p.id.as_str()).collect();
        listed(&ids)
    };
    let found = match part {
        Some(id) => PartId::try_new(id.clone())
            .ok()
            .and_then(|id| piece.part(&id))
            .ok_or_else(|| bad(format!("has no part {id:?}; it has {}", known())))?,
        None => match piece.parts.as_slice() {
            [only] => only,
            [] => return Err(bad("has no parts".into())),
            _ => {
                return Err(bad(format!(
                    "has {} parts; name one, as in {}#{} (it has {})",
                    piece.parts.len(),
                    path.display(),
                    piece.parts[0].id,
                    known()
                )));
            }
        },
    };
    Ok(Named {
        name: format!("{} ({})", found.name, found.id),
        outline: found.outline.clone(),
    })
}

/// The first dozen, and how many more.
fn listed(ids: &[&str]) -> String {
    let shown = ids.iter().take(12).copied().collect::<Vec<_>>().join(", ");
    match ids.len() {
        0..=12 => shown,
        n => format!("{shown} and {} more", n - 12),
    }
}

fn from_capture(bytes: &[u8], path: &Path, part: Option<String>) -> Result<Named, Failure> {
    let bad = |problem: String| Failure::NoOutline {
        path: path.into(),
        problem,
    };
    let captures: Captures = shape::from_json(bytes).map_err(|e| {
        bad(format!(
            "is neither a piece document nor the output of capture --json: {e}"
        ))
    })?;
    let mut all: Vec<Outline> = captures
        .captures
        .into_iter()
        .flat_map(|c| c.outlines)
        .collect();
    let count = all.len();
    let number = match part {
        None if count == 1 => 1,
        None => {
            return Err(bad(format!(
                "has {count} outlines; name one by its number, as in {}#1",
                path.display()
            )));
        }
        Some(text) => text
            .parse::<usize>()
            .ok()
            .filter(|n| (1..=count).contains(n))
            .ok_or_else(|| {
                bad(format!(
                    "has no outline {text:?}; its {count} outlines are numbered from 1"
                ))
            })?,
    };
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    Ok(Named {
        name: format!("outline {number} of {name}"),
        outline: all.swap_remove(number - 1),
    })
}

fn drawn(
    a: &Named,
    b: &Named,
    found: &Registration,
    kind: PictureKind,
) -> Result<Vec<u8>, PressError> {
    let page = lay_out(&FitPicture {
        title: format!("{} on {}", a.name, b.name),
        summary: summary(found),
        part: found.placed.clone(),
        place: b.outline.clone(),
        overhangs: found.overhangs.iter().map(mark).collect(),
        gaps: found.gaps.iter().map(mark).collect(),
    })?;
    kind.file_of(&page, PX_PER_MM)
}

fn mark(m: &Misfit) -> (Point, f64) {
    (m.at, m.depth_mm)
}

fn verdict_name(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fit => "fit",
        Verdict::Trim => "trim",
        Verdict::No => "no",
    }
}

fn in_json(a: &Named, b: &Named, found: &Registration, tolerance_mm: f64) -> serde_json::Value {
    let pose = found.b_from_a;
    let back = pose.inverse();
    let places = |list: &[Misfit]| -> Vec<serde_json::Value> {
        let place = |m: &Misfit| {
            let (min, max) = (m.bounds.min, m.bounds.max);
            json!({
                "at": m.at,
                // On the part as it lies: turned over first where it is.
                "at_in_a": back.apply(m.at),
                "depth_mm": m.depth_mm,
                "area_mm2": m.area_mm2,
                "bounds": [min.x, min.y, max.x, max.y],
            })
        };
        list.iter().map(place).collect()
    };
    json!({
        "verdict": verdict_name(found.verdict),
        "x": pose.x,
        "y": pose.y,
        "turn_deg": pose.turn_deg,
        "flipped": found.flipped,
        "overhang_mm": found.overhang_mm,
        "gap_mm": found.gap_mm,
        "tolerance_mm": tolerance_mm,
        "a": { "name": a.name, "area_mm2": a.outline.area_mm2() },
        "b": { "name": b.name, "area_mm2": b.outline.area_mm2() },
        "common_area_mm2": found.common_area_mm2,
        "overhang_area_mm2": found.overhang_area_mm2,
        "gap_area_mm2": found.gap_area_mm2,
        "overhanging_share": found.overhanging_share,
        "edge_rms_mm": found.edge_rms_mm,
        "edge_share": found.edge_share,
        "trim": places(&found.overhangs),
        "gaps": places(&found.gaps),
    })
}

/// Lengths are rounded up: the case never looks better than it is.
fn up(mm: f64) -> f64 {
    (mm * 100.0 - 1e-9).ceil().max(0.0) / 100.0
}

fn summary(found: &Registration) -> String {
    let word = match found.verdict {
        Verdict::Fit => "fits",
        Verdict::Trim => "fits when it is trimmed",
        Verdict::No => "does not fit",
    };
    format!(
        "{word}; overhangs by {:.2} mm at most, gaps of {:.2} mm at most",
        up(found.overhang_mm),
        up(found.gap_mm)
    )
}

fn in_words(a: &Named, b: &Named, found: &Registration, tolerance_mm: f64) -> String {
    let pose = found.b_from_a;
    let over = if found.flipped { "turned over, " } else { "" };
    let mut text = format!(
        "{} on {}: {}\n  {over}turned {:.2} degrees, its origin at ({:.2}, {:.2}) mm of the place; edges that meet lie {:.3} mm RMS apart\n",
        a.name,
        b.name,
        summary(found),
        say::hundredths(pose.turn_deg),
        say::hundredths(pose.x),
        say::hundredths(pose.y),
        found.edge_rms_mm,
    );
    text += &format!(
        "  area {:.1} mm², place {:.1} mm², outside {:.1} mm², uncovered {:.1} mm²\n",
        a.outline.area_mm2(),
        b.outline.area_mm2(),
        found.overhang_area_mm2,
        found.gap_area_mm2,
    );
    for (what, list) in [("trim", &found.overhangs), ("gap ", &found.gaps)] {
        for m in list.iter().take(12) {
            text += &format!(
                "  {what}  {:.2} mm deep at ({:.1}, {:.1}) mm of the place, {:.1} x {:.1} mm, {:.1} mm²\n",
                up(m.depth_mm),
                m.at.x,
                m.at.y,
                m.bounds.width_mm(),
                m.bounds.height_mm(),
                m.area_mm2,
            );
        }
        if list.len() > 12 {
            text += &format!("  {what}  and {} more\n", list.len() - 12);
        }
    }
    if found.overhangs.is_empty() && found.gaps.is_empty() {
        text += &format!("  nothing differs by more than {tolerance_mm} mm\n");
    }
    text
}
