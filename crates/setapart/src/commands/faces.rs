//! Parts seen from both sides, and their pictures, where a capture is asked for them.

use super::capture::{Way, read_picture};
use super::new_piece::NewCutout;
use crate::cli;
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use capture::photo::Photo;
use capture::{Capture, Faces, Knowledge, cut_out, join_faces};
use piece::{Finding, Level};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Pixels per millimetre of cut-outs: fine enough for a life-size print.
const CUTOUT_PX_PER_MM: f64 = 12.0;

/// The photos of the parts turned over, and which part is which.
pub(super) struct Backs {
    photos: Vec<(PathBuf, Capture)>,
    joined: Vec<Vec<(usize, Faces)>>,
    left: usize,
}

impl Backs {
    /// Captures the photos of the backs and joins them to the fronts.
    pub(super) fn of(
        args: &cli::Capture,
        way: &Way,
        knowledge: &Knowledge,
        fronts: &[(&PathBuf, Capture)],
        progress: &Progress,
        cutouts: &mut Outputs,
    ) -> Result<Self, Failure> {
        let mut all = Self {
            photos: Vec::new(),
            joined: fronts.iter().map(|_| Vec::new()).collect(),
            left: 0,
        };
        for path in &args.backs {
            let stage = progress.stage("the backs", 0.0, 1.0);
            let photo = read_picture(path, &way.limits())?;
            let failed = |source| Failure::Capture {
                path: path.clone(),
                source,
            };
            let study = way.study(&photo, knowledge, &stage).map_err(failed)?;
            let back = study.capture(knowledge).map_err(failed)?;
            let photo_index = all.photos.len();
            let mut used = 0;
            for ((_, front), joined) in fronts.iter().zip(&mut all.joined) {
                let faces =
                    join_faces(&front.parts, &back.parts, &stage).map_err(|c| failed(c.into()))?;
                used += faces.len();
                joined.extend(faces.into_iter().map(|f| (photo_index, f)));
            }
            all.left += back.parts.len().saturating_sub(used);
            add_cutouts(cutouts, args, &photo, path, &back, "-back")?;
            all.photos.push((path.clone(), back));
        }
        Ok(all)
    }

    /// What was joined to the parts of one photo, put into its JSON.
    pub(super) fn write(&self, photo: usize, capture: &mut Value) {
        for (k, faces) in &self.joined[photo] {
            let (path, back) = &self.photos[*k];
            let holes: Vec<_> = back.parts[faces.back]
                .outline
                .holes()
                .iter()
                .map(|r| json!(r.points()))
                .collect();
            capture["outlines"][faces.front]["back"] = json!({
                "image": path,
                "index": faces.back,
                "rms_mm": faces.rms_mm,
                "turn_deg": faces.front_from_mirrored.turn_deg,
                "ambiguous": faces.ambiguous,
                "outer": back.parts[faces.back].outline.outer().points(),
                "holes": holes,
            });
        }
    }

    /// What there is to say of the joining.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let finding = |code: &str, text: String, remedy: &str| Finding {
            level: Level::Note,
            code: code.into(),
            parts: Vec::new(),
            text,
            remedy: remedy.into(),
            phrases: Vec::new(),
        };
        let mut all = Vec::new();
        if self.left > 0 {
            all.push(finding(
                "capture.back-alone",
                format!(
                    "{} parts seen from behind belong to none seen from the front.",
                    self.left
                ),
                "Photograph both sides of the same parts.",
            ));
        }
        let twins = self
            .joined
            .iter()
            .flatten()
            .filter(|(_, f)| f.ambiguous)
            .count();
        if twins > 0 {
            all.push(finding(
                "capture.back-ambiguous",
                format!("{twins} parts have the same outline as others, so that their backs may be swapped."),
                "Look at them, or photograph such parts one at a time.",
            ));
        }
        all
    }
}

/// Adds the picture of each part of a photo to what is to be written, where `--cutouts` names a folder: the photo's
/// name, the part's number, and an ending. What was added, part by part.
pub(super) fn add_cutouts(
    outputs: &mut Outputs,
    args: &cli::Capture,
    photo: &Photo,
    path: &Path,
    capture: &Capture,
    ending: &str,
) -> Result<Vec<Option<NewCutout>>, Failure> {
    let Some(folder) = &args.cutouts else {
        return Ok(capture.parts.iter().map(|_| None).collect());
    };
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let mut added = Vec::new();
    for (k, part) in capture.parts.iter().enumerate() {
        let top_mm = part.thickness_mm.unwrap_or(0.0);
        let cut = cut_out(
            photo,
            &capture.taken,
            &part.outline,
            top_mm,
            CUTOUT_PX_PER_MM,
        );
        let Some(cut) = cut else {
            added.push(None);
            continue;
        };
        let name = folder.join(format!("{stem}-{}{ending}.png", k + 1));
        if outputs.paths().any(|there| there == name) {
            let problem = format!(
                "two images are called {stem}, so that one's cut-outs would take the other's place; give one of them \
                 another name"
            );
            return Err(Failure::Argument {
                option: "--cutouts",
                problem,
            });
        }
        added.push(Some(NewCutout {
            path: name.clone(),
            px_per_mm: cut.px_per_mm,
            lower_left_mm: [cut.lower_left.x, cut.lower_left.y],
        }));
        outputs.add(name, super::demo::cutout_png(cut)?);
    }
    Ok(added)
}
