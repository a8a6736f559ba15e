//! `homes`: where each part sat in the device, into the piece.

mod told;

pub(crate) use told::findings;

use super::capture::{read_picture, read_sheet};
use super::picture::PictureKind;
use super::sheets::{cutout_image, read_png};
use super::{Outcome, findings_in_words, read_piece};
use crate::cli;
use crate::failure::Failure;
use crate::files::{self, Outputs};
use crate::progress::Progress;
use crate::say;
use capture::Knowledge;
use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};
use capture::photo::Limits;
use homes::{
    DrawnPart, Found, HomesError, InsidePhoto, Outcome as Told, PlaceError, SURE, Side, Sought,
};
use piece::{DeviceSide, Finding, Home, Level, Part, PartId, Piece};
use press::homes::{HomePart, HomesPicture};
use press::preview::CutoutImage;
use serde_json::{Value, json};
use shape::{Outline, Pose};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Resolution of a picture in pixels, px/mm.
const PX_PER_MM: f64 = 8.0;

/// What the command found out, for all that it writes.
struct Gained {
    device: Option<Outline>,
    found: Option<Found>,
    findings: Vec<Finding>,
    /// Confidence of each part's home, where it was found now.
    sure: BTreeMap<PartId, f64>,
}

pub(crate) fn run(args: &cli::Homes) -> Result<Outcome, Failure> {
    let mut piece = read_piece(&args.piece)?;
    let folder = args
        .piece
        .input
        .as_deref()
        .and_then(Path::parent)
        .unwrap_or(Path::new("."))
        .to_owned();
    let picture_kind = args.picture.as_deref().map(PictureKind::of).transpose()?;
    if args.inside.is_empty() && args.drawing.is_none() && args.fills.is_empty() {
        return Err(argument(
            "--inside",
            "give photos of the opened device as PHOTO@STAGE, or --drawing FILE, or --fills PART=PLACE",
        ));
    }
    let progress = Progress::new();
    let mut result = Gained {
        device: None,
        found: None,
        findings: Vec::new(),
        sure: BTreeMap::new(),
    };
    if !args.inside.is_empty() {
        by_photos(args, &mut piece, &folder, &progress, &mut result)?;
    }
    if let Some(path) = &args.drawing {
        by_drawing(args, path, &mut piece, &progress, &mut result)?;
    }
    for fill in &args.fills {
        by_place(fill, &mut piece, &progress, &mut result)?;
    }
    drop(progress);
    Finding::sort(&mut result.findings);
    let mut outputs = Outputs::default();
    if let Some(path) = &args.out {
        outputs.add(path, piece.to_json());
    }
    if let (Some(path), Some(kind)) = (&args.picture, picture_kind) {
        outputs.add(path, drawn(&piece, &folder, &result, kind)?);
    }
    outputs.write()?;
    if args.json {
        say::json(&as_json(&piece, &result));
    } else if args.out.is_some() {
        say::print(in_words(&piece, &result));
    } else {
        say::print(piece.to_json());
        say::note(findings_in_words(&result.findings));
    }
    Ok(Outcome::of(&result.findings))
}

fn argument(option: &'static str, problem: impl Into<String>) -> Failure {
    Failure::Argument {
        option,
        problem: problem.into(),
    }
}

/// A photo and its stage, as they are written on the command line.
fn photo_at_stage(word: &str) -> Result<(PathBuf, u32), Failure> {
    let bad = |problem: &str| argument("--inside", format!("{word:?}: {problem}"));
    let (path, stage) = word.rsplit_once('@').ok_or_else(|| {
        bad("give the photo and the stage of the teardown that it shows, as in opened.jpg@1")
    })?;
    let stage: u32 = stage
        .parse()
        .map_err(|_| bad("the stage behind the @ is a whole number: 0 is the closed device, 1 the first opened state"))?;
    if path.is_empty() {
        return Err(bad("there is no photo before the @"));
    }
    Ok((path.into(), stage))
}

fn by_photos(
    args: &cli::Homes,
    piece: &mut Piece,
    folder: &Path,
    progress: &Progress,
    result: &mut Gained,
) -> Result<(), Failure> {
    let named: Vec<(PathBuf, u32)> = args
        .inside
        .iter()
        .map(|w| photo_at_stage(w))
        .collect::<Result<_, _>>()?;
    let mut photos = Vec::new();
    for (path, _) in &named {
        photos.push(read_picture(path, &Limits::default())?);
    }
    let insides: Vec<InsidePhoto<'_>> = photos
        .iter()
        .zip(&named)
        .map(|(photo, (_, stage))| InsidePhoto {
            photo,
            stage: *stage,
        })
        .collect();
    let knowledge = Knowledge {
        sheet: args.sheet.as_deref().map(read_sheet).transpose()?,
        printed_mm: args.printed.measured(),
        ..Knowledge::default()
    };
    let sought: Vec<Sought> = piece
        .parts
        .iter()
        .map(|p| sought(p, folder))
        .collect::<Result<_, _>>()?;
    let (side, opened_from) = match args.opened_from {
        cli::OpenedFrom::Front => (Side::Front, DeviceSide::Front),
        cli::OpenedFrom::Back => (Side::Back, DeviceSide::Back),
    };
    piece.choices.opened_from = Some(opened_from);
    let found = homes::find_homes(&sought, &insides, &knowledge, side, progress)
        .map_err(|source| failed(source, &named))?;
    for (part, told) in piece.parts.iter_mut().zip(&found.parts) {
        if let Told::Found(place) = told {
            part.home = Some(place.home);
            result.sure.insert(part.id.clone(), place.confidence);
        }
    }
    let mut by_stage: Vec<&(PathBuf, u32)> = named.iter().collect();
    by_stage.sort_by_key(|(_, stage)| *stage);
    let names: Vec<String> = by_stage
        .iter()
        .map(|(path, _)| path.display().to_string())
        .collect();
    result
        .findings
        .extend(findings(piece, &found, side, &names));
    result.device = Some(found.device.clone());
    result.found = Some(found);
    Ok(())
}

fn failed(source: HomesError, named: &[(PathBuf, u32)]) -> Failure {
    match (source.photo().and_then(|k| named.get(k)), source) {
        (Some((path, _)), HomesError::Capture { source, .. }) => Failure::Capture {
            path: path.clone(),
            source: *source,
        },
        (_, HomesError::Cancelled(_)) => Failure::Cancelled,
        (Some((path, _)), other) => argument("--inside", format!("{}: {other}", path.display())),
        (None, other) => argument("--inside", other.to_string()),
    }
}

/// A part with its pictures, as it is looked for.
pub(crate) fn sought(part: &Part, folder: &Path) -> Result<Sought, Failure> {
    let picture = |image: &str, px_per_mm: f64, pose: Pose| -> Result<homes::Picture, Failure> {
        if !(0.5..=200.0).contains(&px_per_mm) {
            return Err(Failure::Cutout {
                part: part.id.to_string(),
                image: image.into(),
                problem: format!("a scale of {px_per_mm} px/mm cannot be"),
            });
        }
        let pixels = read_png(folder, part, image)?;
        Ok(homes::Picture {
            width: pixels.width() as usize,
            height: pixels.height() as usize,
            rgba8: pixels.into_raw().into(),
            px_per_mm,
            outline_from_picture: pose,
        })
    };
    let front = part.cutout.as_ref().map(|c| {
        picture(
            &c.image,
            c.px_per_mm,
            Pose::new(c.origin_mm[0], c.origin_mm[1], 0.0),
        )
    });
    let back = part.back_cutout.as_ref().map(|c| {
        picture(
            &c.image,
            c.px_per_mm,
            Pose::new(c.origin_mm[0], c.origin_mm[1], c.turn_deg),
        )
    });
    Ok(Sought {
        outline: part.outline.clone(),
        sigma_mm: part.sigma_mm,
        thickness_mm: part.thickness_mm,
        front: front.transpose()?,
        back: back.transpose()?,
    })
}

fn by_drawing(
    args: &cli::Homes,
    path: &Path,
    piece: &mut Piece,
    progress: &Progress,
    result: &mut Gained,
) -> Result<(), Failure> {
    let limits = DrawingLimits::default();
    let bytes = files::read(path, limits.bytes as u64, "a drawing")?;
    let bad = |problem: String| Failure::Drawing {
        path: path.into(),
        problem,
    };
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let format = DrawingFormat::of(&bytes, ending.as_deref())
        .ok_or_else(|| bad("not a drawing that can be read; give an SVG or DXF file".into()))?;
    let drawing =
        Drawing::read_assembly(&bytes, format, args.unit.map(cli::UnitName::unit), &limits)
            .map_err(|e| bad(e.to_string()))?;
    let named: Vec<DrawnPart> = drawing
        .outlines
        .into_iter()
        .filter_map(|d| {
            Some(DrawnPart {
                name: d.name?,
                outline: d.outline,
            })
        })
        .collect();
    let Some(origin) = homes::drawn_origin(&named) else {
        return Err(bad("none of its outlines has a name; name each after its part (a label or id in SVG, a layer in DXF)".into()));
    };
    let device = named.iter().find(|d| homes::names_device(&d.name));
    if let Some(device) = device {
        result.device = Some(device.outline.shifted(shape::Point::default() - origin));
    }
    let (mut placed, mut otherwise) = (0, None);
    for part in &mut piece.parts {
        let same = |n: &str| {
            n.eq_ignore_ascii_case(part.id.as_str()) || n.eq_ignore_ascii_case(&part.name)
        };
        let Some(drawn) = named.iter().find(|d| same(d.name_and_layer().0)) else {
            result.findings.push(finding(
                Level::Note,
                "not-drawn",
                part,
                format!("{} is not in the drawing.", part.name),
                "Name its outline after it, or leave its home unknown.",
            ));
            continue;
        };
        let layer = drawn.name_and_layer().1.or(part.home.map(|h| h.layer));
        if layer.is_none() {
            result.findings.push(finding(
                Level::Fix,
                "no-layer",
                part,
                format!("{} has no layer in the drawing: 0 was taken.", part.name),
                "Write the layer behind the name, as in main-board@2.",
            ));
        }
        match homes::home_in_drawing(
            &part.outline,
            &drawn.outline,
            origin,
            layer.unwrap_or(0),
            progress,
        ) {
            Ok(home) => {
                placed += 1;
                part.home = Some(home);
                result.sure.insert(part.id.clone(), 1.0);
            }
            Err(PlaceError::Cancelled(_)) => return Err(Failure::Cancelled),
            Err(e) => {
                otherwise.get_or_insert_with(|| format!("{}: {e}", part.name));
                result.findings.push(finding(
                    Level::Fix,
                    "drawn-otherwise",
                    part,
                    format!("{}: {e}.", part.name),
                    "Is it the right part, and the drawing at its scale (--unit)?",
                ));
            }
        }
    }
    if let (0, Some(first)) = (placed, otherwise) {
        return Err(bad(format!(
            "none of the parts that it names has its part's shape; is it drawn at its scale (--unit)? {first}"
        )));
    }
    if placed == 0 {
        let names: Vec<&str> = named.iter().take(8).map(|d| d.name.as_str()).collect();
        return Err(bad(format!(
            "none of its outlines is one of the piece's parts; it names {}",
            names.join(", ")
        )));
    }
    Ok(())
}

fn by_place(
    fill: &str,
    piece: &mut Piece,
    progress: &Progress,
    result: &mut Gained,
) -> Result<(), Failure> {
    let bad = |problem: String| argument("--fills", problem);
    let (filler, place) = fill.split_once('=').ok_or_else(|| {
        bad(format!(
            "{fill:?}: give the part and whose place it takes, as in new-board=board"
        ))
    })?;
    let find = |id: &str| {
        piece
            .parts
            .iter()
            .position(|p| p.id.as_str() == id)
            .ok_or_else(|| bad(format!("there is no part with the id {id:?}")))
    };
    let (a, b) = (find(filler)?, find(place)?);
    let home = piece.parts[b]
        .home
        .ok_or_else(|| bad(format!("{place} has no home that {filler} could take")))?;
    match homes::home_of_place(
        &piece.parts[a].outline,
        &piece.parts[b].outline,
        home,
        progress,
    ) {
        Ok(home) => {
            piece.parts[a].home = Some(home);
            result.sure.insert(
                piece.parts[a].id.clone(),
                result.sure.get(&piece.parts[b].id).copied().unwrap_or(1.0),
            );
            // It was looked for in the photos in vain: it was never in this device.
            let id = piece.parts[a].id.clone();
            result
                .findings
                .retain(|f| !(f.parts == [id.clone()] && f.code == "homes.not-found"));
            Ok(())
        }
        Err(PlaceError::Cancelled(_)) => Err(Failure::Cancelled),
        Err(e) => Err(bad(format!(
            "{filler} cannot take the place of {place}: {e}"
        ))),
    }
}

fn finding(level: Level, code: &str, part: &Part, text: String, remedy: &str) -> Finding {
    Finding {
        level,
        code: format!("homes.{code}"),
        parts: vec![part.id.clone()],
        text,
        remedy: remedy.into(),
        phrases: Vec::new(),
    }
}

fn drawn(
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
        shape::union(&outlines)
            .into_iter()
            .max_by(|a, b| a.area_mm2().total_cmp(&b.area_mm2()))
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
fn as_json(piece: &Piece, result: &Gained) -> Value {
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

fn in_words(piece: &Piece, result: &Gained) -> String {
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
