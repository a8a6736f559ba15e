//! `capture` of drawings: SVG, DXF and the profile layers of Gerber files.

use super::new_piece::{self, NewPart};
use super::{Outcome, findings_in_words};
use crate::cli;
use crate::failure::Failure;
use crate::files::Outputs;
use crate::tidy::Tidy;
use crate::{files, say};
use capture::ThicknessAt;
use capture::drawing::{
    CHORD_ERROR_MM, Drawing, DrawingFormat, DrawingLimits, DrawingWarning, Drawn,
};
use piece::{Finding, Level};
use serde_json::json;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// How much of a file's head is looked at.
const HEAD_BYTES: u64 = 64 << 10;

/// Greatest height of an edge, mm: what a piece document takes.
const MOST_THICKNESS_MM: f64 = 500.0;

/// Does the whole command where its files are drawings; `None` where they are photos.
pub(super) fn run(
    args: &cli::Capture,
    thicknesses: impl FnOnce(&Path) -> Result<Vec<ThicknessAt>, Failure>,
) -> Result<Option<Outcome>, Failure> {
    let formats: Vec<Option<DrawingFormat>> = args.images.iter().map(|p| format_of(p)).collect();
    let Some(first) = formats.iter().position(Option::is_some) else {
        return match args.unit {
            None => Ok(None),
            Some(_) => Err(Failure::Argument {
                option: "--unit",
                problem: "is for drawings; a photo's millimetres come from its sheet or card, a scan's from its \
                          resolution; leave it out"
                    .into(),
            }),
        };
    };
    let only_for_photos = if formats.iter().any(Option::is_none) {
        Some("photos and drawings are captured one kind at a time; give the drawings alone")
    } else if args.dpi.is_some() || args.scan || args.scanner.is_some() || args.card {
        Some("a drawing has its own scale; leave out --dpi, --scan, --scanner and --card")
    } else if args.sheet.is_some() || args.printed.printed_x.or(args.printed.printed_y).is_some() {
        Some("a drawing is not printed on a sheet; leave out --sheet, --printed-x and --printed-y")
    } else if args.strokes.is_some() || args.tidy.is_some() {
        Some("a drawing's outlines are taken as drawn; leave out --strokes and --tidy")
    } else if !args.backs.is_empty() || args.cutouts.is_some() {
        Some("a drawing shows no faces; leave out --backs and --cutouts")
    } else {
        None
    };
    if let Some(problem) = only_for_photos {
        return Err(Failure::Drawing {
            path: args.images[first].clone(),
            problem: problem.into(),
        });
    }
    if let Some(t) = args
        .thickness
        .filter(|t| !(0.0..=MOST_THICKNESS_MM).contains(t))
    {
        return Err(Failure::Argument {
            option: "--thickness",
            problem: format!("is {t}; it must be 0 to {MOST_THICKNESS_MM} mm"),
        });
    }
    let table = args.thicknesses.as_deref().map(thicknesses).transpose()?;
    let table = table.unwrap_or_default();
    let limits = DrawingLimits::default();
    let mut read = Vec::new();
    for (path, format) in args.images.iter().zip(formats.into_iter().flatten()) {
        let bytes = files::read(path, limits.bytes as u64, "a drawing")?;
        let unit = args.unit.map(cli::UnitName::unit);
        let drawing =
            Drawing::read(&bytes, format, unit, &limits).map_err(|e| Failure::Drawing {
                path: path.clone(),
                problem: e.to_string(),
            })?;
        read.push((path, drawing));
    }
    let thickness = |d: &Drawn| {
        let row = table.iter().find(|t| d.outline.contains(t.at));
        row.map(|t| t.thickness_mm).or(args.thickness)
    };
    if let Some(path) = &args.new_piece {
        let drawn = read.iter().flat_map(|(_, d)| &d.outlines);
        let parts = drawn.map(|d| NewPart {
            name: d.name.clone(),
            outline: d.outline.clone(),
            thickness_mm: thickness(d),
            sigma_mm: CHORD_ERROR_MM,
            cutout: None,
            back_cutout: None,
        });
        let mut outputs = Outputs::default();
        new_piece::add(&mut outputs, path, parts.collect(), Tidy::AS_MEASURED)?;
        outputs.write()?;
    }
    let mut findings: Vec<Finding> = read.iter().flat_map(|(_, d)| findings_of(d)).collect();
    let heights = super::capture::unheard_heights(&table, |at| {
        let mut drawn = read.iter().flat_map(|(_, d)| &d.outlines);
        drawn.any(|o| o.outline.contains(at))
    });
    findings.extend(heights.iter().cloned());
    if args.json {
        let captures: Vec<_> = read
            .iter()
            .map(|(path, d)| drawing_json(path, d, &thickness))
            .collect();
        say::json(&json!({ "captures": captures, "findings": findings }));
    } else {
        for (path, d) in &read {
            say::print(in_words(path, d, &thickness));
        }
        say::print(findings_in_words(&heights));
    }
    Ok(Some(Outcome::of(&findings)))
}

/// A drawing by its head or its name's end. What cannot be opened is left to the reading of photos, which
/// says so.
fn format_of(path: &Path) -> Option<DrawingFormat> {
    let mut head = Vec::new();
    if path.is_file() {
        File::open(path)
            .ok()?
            .take(HEAD_BYTES)
            .read_to_end(&mut head)
            .ok()?;
    }
    let extension = path.extension().and_then(|e| e.to_str());
    DrawingFormat::of(&head, extension).filter(|_| path.is_file())
}

fn findings_of(d: &Drawing) -> impl Iterator<Item = Finding> + '_ {
    let all = d
        .warnings
        .iter()
        .chain(d.outlines.iter().flat_map(|o| &o.warnings));
    all.map(|w| {
        let (level, code) = match w {
            DrawingWarning::UnitAssumed { .. } => (Level::Fix, "drawing.unit-assumed"),
            DrawingWarning::OpenPaths { .. } => (Level::Fix, "drawing.open-paths"),
            DrawingWarning::UnusableRings { .. } => (Level::Fix, "drawing.crossing"),
            DrawingWarning::NotAProfile { .. } => (Level::Fix, "drawing.not-a-profile"),
            DrawingWarning::LooseArcs { .. } => (Level::Fix, "drawing.loose-arcs"),
            DrawingWarning::CutAtEdge { .. } => (Level::Note, "drawing.cut-at-edge"),
            DrawingWarning::DrawnTwice { .. } => (Level::Note, "drawing.drawn-twice"),
            _ => (Level::Note, "drawing.left-out"),
        };
        let text = w.to_string();
        let (what, remedy) = crate::say::told_apart(&text);
        let remedy = match w {
            DrawingWarning::UnitAssumed { .. } => "check a length; where it is wrong, say --unit",
            _ => remedy.unwrap_or("look at it"),
        };
        Finding {
            level,
            code: code.into(),
            parts: Vec::new(),
            text: crate::say::sentence(what),
            remedy: crate::say::sentence(remedy),
            phrases: Vec::new(),
        }
    })
}

fn drawing_json(
    path: &PathBuf,
    d: &Drawing,
    thickness: &impl Fn(&Drawn) -> Option<f64>,
) -> serde_json::Value {
    let said = |w: &[DrawingWarning]| w.iter().map(ToString::to_string).collect::<Vec<_>>();
    let outlines: Vec<_> = d
        .outlines
        .iter()
        .map(|o| {
            json!({
                "outer": o.outline.outer().points(),
                "holes": o.outline.holes().iter().map(|h| h.points()).collect::<Vec<_>>(),
                "thickness_mm": thickness(o),
                "sigma_mm": CHORD_ERROR_MM,
                "name": o.name,
                "warnings": said(&o.warnings),
            })
        })
        .collect();
    json!({
        "image": path,
        "drawing": {
            "format": d.format.to_string(),
            "unit_mm": d.unit_mm,
            "unit_stated": d.unit_stated,
            "warnings": said(&d.warnings),
        },
        "outlines": outlines,
    })
}

fn in_words(path: &Path, d: &Drawing, thickness: &impl Fn(&Drawn) -> Option<f64>) -> String {
    let mut text = format!(
        "{}: {} drawing, unit {:.4} mm{}; outlines: {}\n",
        path.display(),
        d.format,
        d.unit_mm,
        if d.unit_stated { "" } else { " (not stated)" },
        d.outlines.len(),
    );
    text += "     at x     y mm     size mm       holes  thick mm   name\n";
    for o in &d.outlines {
        let b = o.outline.bounds();
        text += &format!(
            "  {:8.1} {:5.1}   {:6.2} x {:6.2}   {:4}   {:>8}   {}\n",
            b.centre().x,
            b.centre().y,
            b.width_mm(),
            b.height_mm(),
            o.outline.holes().len(),
            thickness(o).map_or("?".into(), |h| format!("{h:.2}")),
            o.name.as_deref().unwrap_or("-"),
        );
    }
    text + &findings_in_words(&findings_of(d).collect::<Vec<_>>())
}
