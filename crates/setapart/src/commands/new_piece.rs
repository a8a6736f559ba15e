//! A new piece document of what a capture found, for its maker to fill in.

use super::demo::usual_frame;
use crate::captured_part::{self, own_outline};
use crate::failure::Failure;
use crate::files::Outputs;
use crate::say;
use crate::tidy::Tidy;
use homes::{name_and_layer, names_device};
use piece::{BackCutout, Cutout, Part, PartId, Piece};
use shape::{Outline, Point, mapped};
use std::path::{Component, Path, PathBuf};

/// One part as it was captured.
pub(super) struct NewPart {
    /// What the drawing calls it, where it does.
    pub(super) name: Option<String>,
    /// Its outline as it was captured or drawn, wherever on the sheet or drawing it lies, mm.
    pub(super) outline: Outline,
    pub(super) thickness_mm: Option<f64>,
    pub(super) sigma_mm: f64,
    pub(super) cutout: Option<NewCutout>,
    /// The picture of its other face, cut out in the part's own coordinates as they are seen from behind.
    pub(super) back_cutout: Option<NewCutout>,
}

/// A part's own picture, as it was asked to be written.
pub(super) struct NewCutout {
    pub(super) path: PathBuf,
    pub(super) px_per_mm: f64,
    /// Its lower-left corner in the coordinates in which it was cut out, mm: of the sheet where nothing else is said.
    pub(super) lower_left: Point,
}

/// Refuses a document's place that is taken: what a maker filled in is not written over.
pub(super) fn check_place(path: &Path) -> Result<(), Failure> {
    if path.exists() {
        return Err(argument(format!(
            "{} is there already; give another name, or move it away",
            path.display()
        )));
    }
    Ok(())
}

fn argument(problem: String) -> Failure {
    Failure::Argument {
        option: "--new-piece",
        problem,
    }
}

/// Adds the document to what is to be written, its outlines tidied.
pub(super) fn add(
    outputs: &mut Outputs,
    path: &Path,
    found: Vec<NewPart>,
    tidy: Tidy,
) -> Result<(), Failure> {
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    let mut piece = Piece::new(say::capital(&name.replace(['-', '_'], " ")), usual_frame());
    let folder = path.parent().unwrap_or(Path::new(""));
    let own = mapped(&found, |new| own_outline(&new.outline, tidy));
    for (new, own) in found.into_iter().zip(own) {
        // As `homes --drawing` has it: a layer may stand behind the name, and one named device is the whole device.
        if new.name.as_deref().is_some_and(names_device) {
            continue;
        }
        let drawn = new.name.as_deref().map(|name| name_and_layer(name).0);
        let (id, title) = named(&piece, drawn)?;
        let cutout = new.cutout.map(|c| -> Result<Cutout, Failure> {
            let image = beside(folder, &c.path)?;
            Ok(captured_part::cutout(
                image,
                c.px_per_mm,
                c.lower_left,
                &new.outline,
            ))
        });
        let back_cutout = new.back_cutout.map(|c| -> Result<BackCutout, Failure> {
            let image = beside(folder, &c.path)?;
            Ok(captured_part::back_cutout(image, c.px_per_mm, c.lower_left))
        });
        let part = captured_part::part(id, title, own?, new.sigma_mm, new.thickness_mm);
        piece.parts.push(Part {
            cutout: cutout.transpose()?,
            back_cutout: back_cutout.transpose()?,
            ..part
        });
    }
    piece.check_sound().map_err(|source| Failure::Piece {
        path: path.into(),
        source,
    })?;
    outputs.add(path, piece.to_json());
    Ok(())
}

/// A part's id and name: the drawing's, as far as no other part has it, else its number.
fn named(piece: &Piece, drawn: Option<&str>) -> Result<(PartId, String), Failure> {
    let free = |id: &PartId| piece.parts.iter().all(|p| p.id != *id);
    let by_drawing = drawn.and_then(|name| {
        let id = PartId::try_new(name.to_lowercase().replace(' ', "-")).ok()?;
        Some((id, say::capital(&name.replace(['-', '_'], " "))))
    });
    let by_number = (piece.parts.len() + 1..).filter_map(|n| {
        let id = PartId::try_new(format!("p{n}")).ok()?;
        Some((id, drawn.map_or(format!("Part {n}"), say::capital)))
    });
    by_drawing
        .into_iter()
        .chain(by_number)
        .find(|(id, _)| free(id))
        .ok_or_else(|| argument("its parts cannot be named".into()))
}

/// A cut-out's path as the document names it: from the document's folder, downwards.
fn beside(folder: &Path, cutout: &Path) -> Result<String, Failure> {
    let inside = cutout.strip_prefix(folder).ok().filter(|p| {
        let down = |c: Component<'_>| matches!(c, Component::Normal(_) | Component::CurDir);
        p.components().all(down)
    });
    let named: Option<Vec<&str>> = inside.and_then(|p| {
        p.components()
            .filter(|c| !matches!(c, Component::CurDir))
            .map(|c| c.as_os_str().to_str())
            .collect()
    });
    let named = named.ok_or_else(|| {
        argument(
            "the folder of --cutouts must lie in the folder of the new piece, so that both can be moved together"
                .into(),
        )
    })?;
    Ok(named.join("/"))
}
