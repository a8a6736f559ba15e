//! `demo`: the whole job on the built-in device.

use super::mount::{duration, read_catalogue};
use super::sheets::{Request, cutout_image, draw};
use super::{Outcome, findings_in_words};
use crate::captured_part::{self, CUTOUT_PX_PER_MM};
use crate::device::{Device, DevicePart};
use crate::failure::Failure;
use crate::files::{self, Outputs};
use crate::progress::Progress;
use crate::say;
use crate::tidy::Tidy;
use arrange::RealFont;
use capture::photo::{Limits, Photo};
use capture::{Capture, Captured, Knowledge, ThicknessAt, capture, cut_out};
use piece::{Finding, Frame, Margin, Part, PartId, Piece};
use press::preview::CutoutImage;
use shape::{Point, Stage, Watch, mapped, mapped_by};
use std::path::Path;

/// One photo's share of the demo: its capture and its pixels.
struct Shot {
    name: &'static str,
    photo: Photo,
    captured: Capture,
}

/// A part's own picture, as a PNG file.
type PartPicture = (PartId, Vec<u8>);

/// The demo piece, captured and arranged, with its parts' own pictures.
pub(crate) struct Made {
    pub(crate) piece: Piece,
    pub(crate) pictures: Vec<PartPicture>,
    cutouts: Vec<CutoutImage>,
    shots: Vec<Shot>,
}

/// Captures the device's photos, chooses a frame, arranges and plans the build.
pub(crate) fn make(device: &Device, watch: &dyn Watch) -> Result<Made, Failure> {
    let shots = capture_all(device, &Stage::new(watch, 0.0, 0.6))?;
    let (mut piece, cutouts, pictures) = assemble(device, &shots)?;
    let options = arrange::Options::default();
    let stage = Stage::new(watch, 0.6, 0.95);
    let sizes = &arrange::STOCK_SIZES;
    let (frame, arranged) = arrange::choose_frame(&piece, sizes, &options, &RealFont, &stage)?
        .ok_or(Failure::NoFrame)?;
    piece.frame = frame;
    piece.placements = arranged.placements;
    piece.captions = arranged.captions;
    piece.axes = arrange::assembly_axes(&piece);
    let catalogue = read_catalogue(None)?;
    let plan = ::mount::plan(&piece, &catalogue, &Stage::new(watch, 0.95, 1.0))?;
    piece.build = Some(plan);
    Ok(Made {
        piece,
        pictures,
        cutouts,
        shots,
    })
}

pub(crate) fn run(folder: &Path) -> Result<Outcome, Failure> {
    // Told before the work, not after it.
    files::folder_can_be(folder)?;
    let progress = Progress::new();
    let device = Device::built_in()?;
    let Made {
        piece,
        pictures,
        cutouts,
        shots,
    } = make(&device, &progress.stage("", 0.0, 0.85))?;
    let invented: usize =
        shots.iter().map(|s| s.captured.parts.len()).sum::<usize>() - piece.parts.len();
    let findings = super::findings_of(&piece);

    let stage = progress.stage("", 0.85, 1.0);
    let mut outputs = Outputs::default();
    for (id, png) in pictures {
        outputs.add(folder.join(picture_path(&id)), png);
    }
    outputs.add(folder.join("piece.json"), piece.to_json());
    draw(
        &piece,
        &cutouts,
        &Request::plain(&piece)?,
        &stage,
        folder,
        &mut outputs,
    )?;
    super::demo_ledger::add(&piece, folder, &mut outputs, &stage)?;
    outputs.write()?;
    drop(progress);
    say::print(summary(
        &device, &shots, &piece, invented, &findings, folder,
    ));
    Ok(Outcome::of(&findings))
}

/// Captures the photos, two at a time: each takes some hundred megabytes.
fn capture_all(device: &Device, watch: &dyn Watch) -> Result<Vec<Shot>, Failure> {
    let photos: Vec<_> = Device::photos().iter().enumerate().collect();
    let count = photos.len() as f64;
    mapped_by(2, &photos, |&(k, &(name, bytes))| {
        let stage = Stage::named(watch, name, k as f64 / count, (k + 1) as f64 / count);
        capture_one(device, name, bytes, &stage)
    })
    .into_iter()
    .collect()
}

fn capture_one(
    device: &Device,
    name: &'static str,
    bytes: &[u8],
    watch: &dyn Watch,
) -> Result<Shot, Failure> {
    let photo = Photo::decode(bytes, &Limits::default()).map_err(|source| Failure::Photo {
        path: name.into(),
        source,
    })?;
    let thicknesses = device
        .parts
        .iter()
        .filter(|p| p.photo == name)
        .map(|p| ThicknessAt {
            at: Point::from(p.at_mm),
            thickness_mm: p.edge_mm.unwrap_or(p.thickness_mm),
        })
        .collect();
    let knowledge = Knowledge {
        thicknesses,
        ..Knowledge::default()
    };
    let captured = capture(&photo, &knowledge, watch).map_err(|source| Failure::Capture {
        path: name.into(),
        source,
    })?;
    Ok(Shot {
        name,
        photo,
        captured,
    })
}

/// A deep frame of a size that many shops have, until parts say which one they need.
pub(crate) fn usual_frame() -> Frame {
    Frame {
        size_mm: [300.0, 400.0],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(35.0),
        margin_mm: Margin {
            left: 12.0,
            right: 12.0,
            top: 12.0,
            bottom: 18.0,
        },
        spacer_width_mm: 5.0,
        glazing: Some("float-2".into()),
    }
}

/// Makes parts of what was captured and what the owner knows, with their cut-outs.
fn assemble(
    device: &Device,
    shots: &[Shot],
) -> Result<(Piece, Vec<CutoutImage>, Vec<PartPicture>), Failure> {
    let mut piece = Piece::new(device.name.clone(), usual_frame());
    piece.device = Some(piece::Device {
        name: device.name.clone(),
        maker: Some(device.maker.clone()),
        year: Some(device.year.to_string()),
    });
    piece.choices = device.mounting.choices.clone();
    let mut cutouts = Vec::new();
    let mut pictures = Vec::new();
    for made in mapped(&device.parts, |known| of_shots(device, shots, known)) {
        let (part, cut) = made?;
        if let Some((cutout, picture)) = cut {
            cutouts.push(cutout);
            pictures.push(picture);
        }
        piece.parts.push(part);
    }
    Ok((piece, cutouts, pictures))
}

/// A part with its own picture, and that picture for the sheets and as a file.
type PartOfShots = (Part, Option<(CutoutImage, PartPicture)>);

fn of_shots(device: &Device, shots: &[Shot], known: &DevicePart) -> Result<PartOfShots, Failure> {
    let missing = || Failure::Demo(format!("{} was not found in {}", known.name, known.photo));
    let shot = shots
        .iter()
        .find(|s| s.name == known.photo)
        .ok_or_else(missing)?;
    let found = shot
        .captured
        .part_at(Point::from(known.at_mm))
        .ok_or_else(missing)?;
    let mut part = part_of(known, found)?;
    device.tell_mounting(&mut part)?;
    let top_mm = known.edge_mm.unwrap_or(known.thickness_mm);
    let cut = cut_out(
        &shot.photo,
        &shot.captured.taken,
        &found.outline,
        top_mm,
        CUTOUT_PX_PER_MM,
    )
    .map_err(|e| Failure::Demo(e.to_string()))?;
    let own = captured_part::cutout(
        picture_path(&known.id),
        cut.px_per_mm,
        cut.lower_left,
        &found.outline,
    );
    let pixels = captured_part::pixels(cut)?;
    let picture = (known.id.clone(), captured_part::png(&pixels)?);
    let cutout = cutout_image(known.id.clone(), pixels, own.px_per_mm, own.origin_mm);
    part.cutout = Some(own);
    Ok((part, Some((cutout, picture))))
}

/// Where a part's own picture goes, beside the document.
fn picture_path(id: &PartId) -> String {
    format!("cutouts/{id}.png")
}

fn part_of(known: &DevicePart, found: &Captured) -> Result<Part, Failure> {
    let part = captured_part::part(
        known.id.clone(),
        &known.name,
        captured_part::own_outline(&found.outline, Tidy::USUAL)?,
        found.sigma.total_mm,
        Some(known.thickness_mm),
    );
    Ok(Part {
        kind: known.kind,
        mass_g: Some(known.mass_g),
        back_face: known.back_face.clone(),
        hazards: known.hazards.clone(),
        stand_in: known.stand_in.clone(),
        home: Some(known.home),
        ..part
    })
}

fn summary(
    device: &Device,
    shots: &[Shot],
    piece: &Piece,
    invented: usize,
    findings: &[Finding],
    folder: &Path,
) -> String {
    let sigmas: Vec<f64> = piece.parts.iter().filter_map(|p| p.sigma_mm).collect();
    let (least, most) = sigmas
        .iter()
        .fold((f64::INFINITY, 0.0f64), |(a, b), s| (a.min(*s), b.max(*s)));
    let corner_mm = shots
        .iter()
        .filter_map(|s| s.captured.taken.solved())
        .map(|s| s.corner_rms_mm)
        .fold(0.0, f64::max);
    let [w, h] = piece.frame.size_mm;
    let mut text = format!("{}, {} ({})\n", device.name, device.maker, device.year);
    text += &format!(
        "  parts     {} of {} found in {} photos{}\n",
        piece.parts.len(),
        device.parts.len(),
        shots.len(),
        if invented == 0 {
            String::new()
        } else {
            format!(", and {invented} that are none")
        },
    );
    text += &format!(
        "  sure to   {least:.2} to {most:.2} mm (one sigma); tag corners within {corner_mm:.3} mm\n"
    );
    text += &format!(
        "  frame     {w:.0} x {h:.0} mm glazing, the smallest stock frame that holds them\n"
    );
    if let Some(plan) = &piece.build {
        text += &format!(
            "  depth     {:.1} mm of rebate needed, {:.1} to spare\n",
            plan.depth.needed_mm,
            plan.depth.spare_mm.unwrap_or(0.0)
        );
        let worst = plan.bonds.iter().map(|b| b.utilisation).fold(0.0, f64::max);
        text += &format!(
            "  build     {} supports, {} bonds, the worst bears {:.0} % of what it may; {} steps, {} at work, {} in all\n",
            plan.supports.len(),
            plan.bonds.len(),
            100.0 * worst,
            plan.steps.len(),
            duration(plan.hands_on_minutes),
            duration(plan.elapsed_minutes)
        );
        text += &format!("  mass      {:.2} kg\n", plan.mass_g / 1000.0);
    }
    text += &format!(
        "  findings  {}\n",
        if findings.is_empty() {
            "none".into()
        } else {
            findings.len().to_string()
        }
    );
    text += &findings_in_words(findings);
    text += &format!("  files     in {}:\n", folder.display());
    for (name, what) in [
        ("preview.png", "the framed piece as it will hang"),
        ("preview-side.png", "the same from the side"),
        (
            "board-art.pdf",
            "the board's print, with bleed and trim marks",
        ),
        ("template-a4.pdf", "1:1 template in A4 pages to join"),
        (
            "template-whole.pdf",
            "1:1 template on one sheet, for a print shop",
        ),
        ("guide.pdf", "the building guide; guide.html for the bench"),
        ("glue-a4.pdf", "where adhesive goes, and how much"),
        ("supports-a4.pdf", "patterns of what fills under the parts"),
        ("captions-a4.pdf", "caption strips"),
        ("stand-ins-a4.pdf", "stand-ins at 1:1"),
        ("plaque.pdf", "the plaque, also as SVG"),
        ("cut.dxf", "cuts in mm on named layers, also as SVG"),
        ("outlines.svg", "all outlines in mm"),
        ("light-table.svg", "the same for a page"),
        ("piece.json", "the piece, for every other command"),
        ("cutouts/", "the parts' own pictures"),
        ("ledger/", "verdict, donors, cost and parcel"),
    ] {
        text += &format!("            {name:<19} {what}\n");
    }
    text
}
