//! Homes from an assembly drawing.

use super::Gained;
use crate::cli;
use crate::failure::Failure;
use crate::files;
use crate::progress::Progress;
use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};
use homes::{DrawnPart, PlaceError};
use piece::{Finding, Level, Part, Piece};
use std::path::Path;

pub(super) fn by_drawing(
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
