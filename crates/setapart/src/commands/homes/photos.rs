//! Homes from photos of the opened device.

use super::{Gained, argument, findings};
use crate::cli;
use crate::commands::capture::{read_picture, read_sheet};
use crate::commands::sheets::read_png;
use crate::failure::Failure;
use crate::progress::Progress;
use capture::Knowledge;
use capture::photo::Limits;
use homes::{HomesError, InsidePhoto, Outcome as Told, Side, Sought};
use piece::{DeviceSide, Part, Piece};
use shape::Pose;
use std::path::{Path, PathBuf};

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

pub(super) fn by_photos(
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
