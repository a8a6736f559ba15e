//! `capture`: from photos to outlines.

use super::faces::{Backs, add_cutouts};
use super::new_piece::{self, NewPart};
use super::{Outcome, findings_in_words};
use crate::captured_part;
use crate::cli;
use crate::document::{Document, Wanted, read_file};
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use crate::tidy::Tidy;
use crate::{files, say};
use capture::camera::Camera;
use capture::photo::{Limits, Photo};
use capture::scan::{Scan, ScannerProfile, scan_limits};
use capture::sheet::Sheet;
use capture::{
    Capture, CaptureError, Captured, Knowledge, OutlineWarning, Stroke, Study, Taken, TakenWarning,
    ThicknessAt,
};
use piece::{Finding, Level};
use serde_json::json;
use shape::{Pose, mapped};
use std::path::{Path, PathBuf};

/// Largest sheet description or table, bytes.
const MOST_TEXT_BYTES: u64 = 1 << 20;

/// How all images of one call were taken.
pub(super) enum Way {
    OnSheet,
    BesideCard,
    Scanned {
        dpi: Option<[f64; 2]>,
        profile: Option<ScannerProfile>,
    },
}

impl Way {
    fn of(args: &cli::Capture) -> Result<Self, Failure> {
        let profile = args.scanner.as_deref().map(read_profile).transpose()?;
        Ok(if args.card {
            Self::BesideCard
        } else if args.scan || args.dpi.is_some() || profile.is_some() {
            Self::Scanned {
                dpi: args.dpi.map(|d| d.0),
                profile,
            }
        } else {
            Self::OnSheet
        })
    }

    /// What an image may ask for.
    pub(super) fn limits(&self) -> Limits {
        match self {
            Self::Scanned { .. } => scan_limits(),
            _ => Limits::default(),
        }
    }

    /// Finds the parts of an image.
    pub(super) fn study(
        &self,
        photo: &Photo,
        knowledge: &Knowledge,
        watch: &dyn shape::Watch,
    ) -> Result<Study, CaptureError> {
        match self {
            Self::OnSheet => Study::of(photo, knowledge, watch),
            Self::BesideCard => Study::beside_card(photo, watch),
            Self::Scanned { dpi, profile } => {
                let scan = Scan::try_new(photo.size_px(), dpi.or(photo.dpi), profile.clone())?;
                Study::of_scan(photo, scan, watch)
            }
        }
    }
}

pub(crate) fn run(args: &cli::Capture) -> Result<Outcome, Failure> {
    // Told before the work, not after it.
    if let Some(path) = &args.new_piece {
        new_piece::check_place(path)?;
    }
    if let Some(outcome) = super::drawing::run(args, read_thicknesses)? {
        return Ok(outcome);
    }
    let tidy = args.tidy.map_or(Ok(Tidy::USUAL), Tidy::try_new)?;
    let way = Way::of(args)?;
    let knowledge = knowledge_of(args)?;
    let strokes = strokes_of(args)?;
    let progress = Progress::new();
    let n = args.images.len() as f64;
    let (mut done, mut cutouts) = (Vec::new(), Outputs::default());
    let mut front_pictures = Vec::new();
    for (k, path) in args.images.iter().enumerate() {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let stage = progress.stage(&name, k as f64 / n, (k + 1) as f64 / n);
        let photo = read_picture(path, &way.limits())?;
        let failed = |source| Failure::Capture {
            path: path.clone(),
            source,
        };
        let mut study = way.study(&photo, &knowledge, &stage).map_err(failed)?;
        if !strokes.is_empty() {
            study.guide(&strokes);
        }
        let captured = study.capture(&knowledge).map_err(failed)?;
        let straight = |_| Pose::default();
        let pictures = add_cutouts(&mut cutouts, args, &photo, path, &captured, "", straight)?;
        front_pictures.push(pictures);
        done.push((path, captured));
    }
    let mut backs = Backs::of(args, &way, &knowledge, &done, tidy, &progress, &mut cutouts)?;
    drop(progress);
    if let Some(path) = &args.new_piece {
        let mut new_parts = Vec::new();
        for (photo, ((_, captured), pictures)) in done.iter().zip(front_pictures).enumerate() {
            for (k, (part, cutout)) in captured.parts.iter().zip(pictures).enumerate() {
                new_parts.push(NewPart {
                    name: None,
                    outline: part.outline.clone(),
                    thickness_mm: part.thickness_mm,
                    sigma_mm: part.sigma.total_mm,
                    cutout,
                    back_cutout: backs.take_picture(photo, k),
                });
            }
        }
        new_piece::add(&mut cutouts, path, new_parts, tidy)?;
    }
    let mut findings: Vec<Finding> = done.iter().flat_map(|(_, c)| findings_of(c)).collect();
    findings.extend(done.iter().flat_map(|(_, c)| unheard(&strokes, c)));
    let of_backs = backs.findings();
    findings.extend(backs.photos().flat_map(|(_, c)| findings_of(c)));
    findings.extend(of_backs.iter().cloned());
    let heights = unheard_heights(&knowledge.thicknesses, |at| {
        done.iter().any(|(_, c)| c.part_at(at).is_some())
    });
    findings.extend(heights.iter().cloned());
    if args.json {
        let capture = |(path, c): &(&PathBuf, Capture)| capture_json(path, c, tidy);
        let mut captures = done.iter().map(capture).collect::<Result<Vec<_>, _>>()?;
        cutouts.write()?;
        for (k, capture) in captures.iter_mut().enumerate() {
            backs.write(k, capture);
        }
        say::json(&json!({ "captures": captures, "findings": findings }));
    } else {
        cutouts.write()?;
        for (path, captured) in &done {
            let unheard = findings_in_words(&unheard(&strokes, captured));
            say::print(in_words(path, captured) + &unheard);
        }
        for (path, captured) in backs.photos() {
            say::print(in_words(path, captured));
        }
        say::print(findings_in_words(&of_backs) + &findings_in_words(&heights));
    }
    Ok(Outcome::of(&findings))
}

/// Reads and decodes a photo or scan.
pub(crate) fn read_picture(path: &Path, limits: &Limits) -> Result<Photo, Failure> {
    let bytes = files::read(path, limits.file_bytes as u64, "a photo")?;
    Photo::decode(&bytes, limits).map_err(|source| Failure::Photo {
        path: path.into(),
        source,
    })
}

/// Reads a sheet's description.
pub(crate) fn read_sheet(path: &Path) -> Result<Sheet, Failure> {
    let failed = |source| Failure::Sheet {
        path: path.into(),
        source,
    };
    read_file(
        Wanted::Other("a sheet description"),
        path,
        MOST_TEXT_BYTES,
        Sheet::from_json,
        failed,
    )
}

fn read_profile(path: &Path) -> Result<ScannerProfile, Failure> {
    let failed = |source| Failure::NoProfile {
        path: path.into(),
        source,
    };
    read_file(
        Document::ScannerProfile.into(),
        path,
        MOST_TEXT_BYTES,
        ScannerProfile::from_json,
        failed,
    )
}

fn knowledge_of(args: &cli::Capture) -> Result<Knowledge, Failure> {
    let sheet = args.sheet.as_deref().map(read_sheet).transpose()?;
    let thicknesses = match &args.thicknesses {
        Some(path) => read_thicknesses(path)?,
        None => Vec::new(),
    };
    Ok(Knowledge {
        sheet,
        printed_mm: args.printed.measured(),
        thicknesses,
        thickness_mm: args.thickness,
    })
}

/// What was drawn over the photo.
fn strokes_of(args: &cli::Capture) -> Result<Vec<Stroke>, Failure> {
    let Some(path) = &args.strokes else {
        return Ok(Vec::new());
    };
    if args.images.len() > 1 {
        return Err(Failure::StrokesForOne);
    }
    let failed = |source| Failure::Strokes {
        path: path.clone(),
        source,
    };
    read_file(
        Wanted::Other("a file of strokes"),
        path,
        MOST_TEXT_BYTES,
        Stroke::list_from_json,
        failed,
    )
}

/// Rows of a table of thicknesses whose point no part covers.
pub(super) fn unheard_heights(
    table: &[ThicknessAt],
    covered: impl Fn(shape::Point) -> bool,
) -> Vec<Finding> {
    let alone = |t: &&ThicknessAt| !covered(t.at);
    let finding = |t: &ThicknessAt| Finding {
        level: Level::Fix,
        code: "capture.height-unheard".into(),
        parts: Vec::new(),
        text: format!(
            "The height of {} mm at ({}, {}) mm belongs to no part: none covers that point.",
            t.thickness_mm, t.at.x, t.at.y
        ),
        remedy: "Give a point that the part covers, not one in a hole of it, from the lower-left \
                 corner."
            .into(),
        phrases: Vec::new(),
    };
    table.iter().filter(alone).map(finding).collect()
}

/// Reads a table with the columns x_mm, y_mm, thickness_mm in any order.
fn read_thicknesses(path: &Path) -> Result<Vec<ThicknessAt>, Failure> {
    let failed = |source| Failure::Table {
        path: path.into(),
        source,
    };
    read_file(
        Wanted::Table("a table of thicknesses"),
        path,
        MOST_TEXT_BYTES,
        ThicknessAt::list_from_csv,
        failed,
    )
}

/// What a capture has to say, as findings.
pub(crate) fn findings_of(captured: &Capture) -> Vec<Finding> {
    let taken = captured.warnings.iter().map(|w| {
        let (code, remedy) = match w {
            TakenWarning::ScannerUnmeasured => (
                "capture.scanner-unmeasured",
                "The outlines are still measured, by the resolution alone.",
            ),
            TakenWarning::SurroundingsLeftOut => (
                "capture.surroundings",
                "Nothing to do, unless it is a part: then move it inwards and take the picture again.",
            ),
            TakenWarning::FaintLeftOut { .. } => (
                "capture.faint-left-out",
                "Nothing to do, unless a part lies there: then draw over it, or photograph it on a darker sheet.",
            ),
            _ => (
                "capture.camera",
                "The outlines are still measured; take the photo again where it matters.",
            ),
        };
        Finding {
            level: Level::Note,
            code: code.into(),
            parts: Vec::new(),
            text: w.to_string(),
            remedy: remedy.into(), phrases: Vec::new() }
    });
    let parts = captured.parts.iter().flat_map(|c| {
        let at = c.outline.bounds().centre();
        c.warnings.iter().map(move |w| {
            let (level, code) = match w {
                OutlineWarning::OverFieldEdge | OutlineWarning::OverPictureEdge => {
                    (Level::Stop, "capture.over-edge")
                }
                OutlineWarning::FellApart { .. } => (Level::Fix, "capture.fell-apart"),
                OutlineWarning::FaintEdge { .. } => (Level::Fix, "capture.faint-edge"),
                OutlineWarning::FarFromNadir { .. } => (Level::Fix, "capture.far-from-middle"),
                OutlineWarning::ThicknessUnknown => (Level::Fix, "capture.thickness-unknown"),
                OutlineWarning::OpeningsLeftOut { .. } => {
                    (Level::Note, "capture.openings-left-out")
                }
                _ => (Level::Note, "capture.openings-unseen"),
            };
            let text = w.to_string();
            let (what, remedy) = say::told_apart(&text);
            Finding {
                level,
                code: code.into(),
                parts: Vec::new(),
                text: format!("Part at ({:.0}, {:.0}) mm: {what}.", at.x, at.y),
                remedy: say::sentence(remedy.unwrap_or("look at it")),
                phrases: Vec::new(),
            }
        })
    });
    taken.chain(parts).collect()
}

/// Strokes that lie where no parts are looked for.
fn unheard(strokes: &[Stroke], captured: &Capture) -> Vec<Finding> {
    let outside = strokes.iter().enumerate();
    let outside = outside.filter(|(_, s)| !s.touches(&captured.taken));
    let finding = |(k, s): (usize, &Stroke)| {
        let at = s.points.first().copied().unwrap_or_default();
        Finding {
            level: Level::Fix,
            code: "capture.stroke-outside".into(),
            parts: Vec::new(),
            text: format!(
                "Stroke {} (from {:.0}, {:.0} mm) lies outside the field, and says nothing.",
                k + 1,
                at.x,
                at.y
            ),
            remedy: "Draw it in mm from the sheet's lower-left corner, inside the corner marks."
                .into(),
            phrases: Vec::new(),
        }
    };
    outside.map(finding).collect()
}

fn capture_json(path: &Path, c: &Capture, tidy: Tidy) -> Result<serde_json::Value, Failure> {
    let tidied = mapped(&c.parts, |c| tidy.write(&c.outline, outline_json(c)));
    let outlines = tidied.into_iter().collect::<Result<Vec<_>, _>>()?;
    let mut all = json!({ "image": path, "outlines": outlines });
    let camera = |camera: &Camera, height_sigma_mm: f64, corner_rms: [f64; 2]| {
        let nadir = camera.nadir();
        json!({
            "height_mm": camera.height_mm(),
            "height_sigma_mm": height_sigma_mm,
            "nadir_mm": [nadir.x, nadir.y],
            "focal_px": camera.focal_px,
            "k1": camera.k1,
            "k2": camera.k2,
            "corner_rms_px": corner_rms[0],
            "corner_rms_mm": corner_rms[1],
            "warnings": c.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        })
    };
    match &c.taken {
        Taken::OnSheet { solved, .. } => {
            let rms = [solved.corner_rms_px, solved.corner_rms_mm];
            all["camera"] = camera(&solved.camera, solved.height_sigma_mm, rms);
            all["camera"]["tags"] = json!(solved.residuals.iter().filter(|r| r.used).count());
        }
        Taken::BesideCard(card) => {
            let rms = [card.corner_rms_px, card.corner_rms_mm];
            all["camera"] = camera(&card.camera, card.height_sigma_mm, rms);
            all["card"] = json!({
                "size_mm": card.size_mm,
                "corners_px": card.corners_in_photo.map(|p| [p.x, p.y]),
                "focal_known": card.focal_known,
            });
        }
        Taken::Scanned(scan) => {
            all["scan"] = json!({
                "dpi": scan.dpi(),
                "size_mm": scan.size_mm(),
                "profile": scan.profile().map(|p| json!({
                    "residual_rms_mm": p.residual_rms_mm(),
                    "scale_sigma": p.scale_sigma(),
                })),
                "warnings": c.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
            });
        }
        _ => {}
    }
    Ok(all)
}

fn outline_json(c: &Captured) -> serde_json::Value {
    let rings = |r: &shape::Ring| json!(r.points());
    json!({
        "outer": rings(c.outline.outer()),
        "holes": c.outline.holes().iter().map(rings).collect::<Vec<_>>(),
        "thickness_mm": c.thickness_mm,
        "sigma_mm": c.sigma.total_mm,
        "sigma_parts_mm": captured_part::sigma_parts(&c.sigma),
        "warnings": c.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}

fn in_words(path: &Path, c: &Capture) -> String {
    let mut text = format!("{}: {} parts", path.display(), c.parts.len());
    if let Some(camera) = c.taken.camera() {
        let nadir = camera.nadir();
        text += &format!(
            "; camera {:.0} mm above ({:.0}, {:.0}) mm",
            camera.height_mm(),
            nadir.x,
            nadir.y
        );
    }
    text += &match &c.taken {
        Taken::OnSheet { solved, .. } => {
            format!(", tag corners within {:.2} mm\n", solved.corner_rms_mm)
        }
        Taken::BesideCard(card) => {
            format!(", the card's corners within {:.2} mm\n", card.corner_rms_mm)
        }
        Taken::Scanned(scan) => {
            let ([x, y], [w, h]) = (scan.dpi(), scan.size_mm());
            format!("; scan of {w:.0} x {h:.0} mm at {x:.0} x {y:.0} pixels an inch\n")
        }
        _ => "\n".into(),
    };
    text += "     at x     y mm     size mm       holes  thick mm   1 sigma mm\n";
    for p in &c.parts {
        let b = p.outline.bounds();
        text += &format!(
            "  {:8.1} {:5.1}   {:6.2} x {:6.2}   {:4}   {:>8}   {:.3}\n",
            b.centre().x,
            b.centre().y,
            b.width_mm(),
            b.height_mm(),
            p.outline.holes().len(),
            p.thickness_mm.map_or("?".into(), |h| format!("{h:.2}")),
            p.sigma.total_mm,
        );
    }
    text + &findings_in_words(&findings_of(c))
}
