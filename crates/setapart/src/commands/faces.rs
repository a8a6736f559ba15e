//! Parts seen from both sides, and their pictures, where a capture is asked for them.

use super::capture::{Way, read_picture};
use super::new_piece::NewCutout;
use crate::captured_part::{CUTOUT_PX_PER_MM, own_outline, pixels, png};
use crate::cli;
use crate::failure::Failure;
use crate::files::Outputs;
use crate::progress::Progress;
use crate::tidy::Tidy;
use capture::photo::Photo;
use capture::{Capture, Faces, Knowledge, cut_out_in, join_faces};
use piece::{Finding, Level};
use serde_json::{Value, json};
use shape::{Point, Pose};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The photos of the parts turned over, and which part is which.
pub(super) struct Backs {
    photos: Vec<(PathBuf, Capture)>,
    joined: Vec<Vec<(usize, Faces)>>,
    left: usize,
    /// Pictures of backs for a new piece, by the front's photo and number.
    pictures: BTreeMap<(usize, usize), NewCutout>,
}

impl Backs {
    /// Captures the photos of the backs and joins them to the fronts.
    pub(super) fn of(
        args: &cli::Capture,
        way: &Way,
        knowledge: &Knowledge,
        fronts: &[(&PathBuf, Capture)],
        tidy: Tidy,
        progress: &Progress,
        cutouts: &mut Outputs,
    ) -> Result<Self, Failure> {
        let mut all = Self {
            photos: Vec::new(),
            joined: fronts.iter().map(|_| Vec::new()).collect(),
            left: 0,
            pictures: BTreeMap::new(),
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
            // By the back's number: whose it is in a new piece, and how it lies there.
            let mut owners: BTreeMap<usize, ((usize, usize), Pose)> = BTreeMap::new();
            for (n, ((_, front), joined)) in fronts.iter().zip(&mut all.joined).enumerate() {
                let faces =
                    join_faces(&front.parts, &back.parts, &stage).map_err(|c| failed(c.into()))?;
                used += faces.len();
                for f in faces.iter().filter(|_| args.new_piece.is_some()) {
                    // Joined on the sheet; the piece has the part from its own origin.
                    let captured = &front.parts[f.front].outline;
                    let corner = captured.bounds().min;
                    let on_sheet = own_outline(captured, tidy)?.shifted(corner - Point::default());
                    let seen = f.front_seen_from_behind(&on_sheet, &back.parts[f.back].outline);
                    let pose = Pose::new(seen.x - corner.x, seen.y - corner.y, seen.turn_deg);
                    owners.entry(f.back).or_insert(((n, f.front), pose));
                }
                joined.extend(faces.into_iter().map(|f| (photo_index, f)));
            }
            all.left += back.parts.len().saturating_sub(used);
            let lying = |k: usize| owners.get(&k).map_or(Pose::default(), |(_, pose)| *pose);
            let pictures = add_cutouts(cutouts, args, &photo, path, &back, "-back", lying)?;
            for (k, picture) in pictures.into_iter().enumerate() {
                if let (Some((owner, _)), Some(picture)) = (owners.get(&k), picture) {
                    all.pictures.entry(*owner).or_insert(picture);
                }
            }
            all.photos.push((path.clone(), back));
        }
        Ok(all)
    }

    /// The photos of the backs, and what was found in them.
    pub(super) fn photos(&self) -> impl Iterator<Item = (&Path, &Capture)> {
        self.photos
            .iter()
            .map(|(path, back)| (path.as_path(), back))
    }

    /// The picture of a part's back for a new piece, cut out in the part's own coordinates as they are seen from behind.
    pub(super) fn take_picture(&mut self, photo: usize, part: usize) -> Option<NewCutout> {
        self.pictures.remove(&(photo, part))
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
/// name, the part's number, and an ending. Each lies straight in coordinates into which `lying` carries those of the
/// sheet. What was added, part by part.
pub(super) fn add_cutouts(
    outputs: &mut Outputs,
    args: &cli::Capture,
    photo: &Photo,
    path: &Path,
    capture: &Capture,
    ending: &str,
    lying: impl Fn(usize) -> Pose,
) -> Result<Vec<Option<NewCutout>>, Failure> {
    let Some(folder) = &args.cutouts else {
        return Ok(capture.parts.iter().map(|_| None).collect());
    };
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let mut added = Vec::new();
    for (k, part) in capture.parts.iter().enumerate() {
        let top_mm = part.thickness_mm.unwrap_or(0.0);
        let cut = cut_out_in(
            lying(k),
            photo,
            &capture.taken,
            &part.outline,
            top_mm,
            CUTOUT_PX_PER_MM,
        );
        let cut = cut.map_err(|e| Failure::Argument {
            option: "--cutouts",
            problem: e.to_string(),
        })?;
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
            lower_left: cut.lower_left,
        }));
        outputs.add(name, png(&pixels(cut)?)?);
    }
    Ok(added)
}
