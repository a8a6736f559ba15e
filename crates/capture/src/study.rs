//! A photo being worked on: what was found stays, so that a stroke or a thickness can be heard without starting again.

use crate::camera::{Solved, View, solve};
use crate::capture::{Capture, CaptureError, Captured, Knowledge, finish};
use crate::linear::LinearImage;
use crate::photo::Photo;
use crate::silhouette::{Field, SilhouetteError};
use crate::strokes::Stroke;
use crate::tags;
use shape::Watch;

/// A photo with its camera and its parts found.
pub struct Study {
    solved: Solved,
    print_measured: bool,
    field: Field,
}

impl Study {
    /// Finds the sheet, the camera and the parts of a photo.
    ///
    /// # Errors
    /// [`CaptureError`], each with what to do.
    pub fn of(
        photo: &Photo,
        knowledge: &Knowledge,
        watch: &dyn Watch,
    ) -> Result<Self, CaptureError> {
        watch.step("finding the sheet", 0.05)?;
        let seen = tags::detect(&photo.linear_luma());
        let view = View {
            printed_mm: knowledge.printed_mm.unwrap_or([100.0, 100.0]),
            ..View::of(photo)
        };
        let solved = solve(&seen, knowledge.sheet.as_ref(), &view)?;
        check_thicknesses(knowledge, solved.camera.height_mm())?;
        watch.step("finding the parts", 0.2)?;
        let image = LinearImage::new(photo.width as usize, photo.height as usize, &photo.rgb8)
            .ok_or(SilhouetteError::FieldNotSeen)?;
        let white = solved.sheet.white_points();
        let field = Field::look(&image, &solved.camera, solved.sheet.field, &white, watch)?;
        watch.step("outlines found", 1.0)?;
        Ok(Self {
            solved,
            print_measured: knowledge.printed_mm.is_some(),
            field,
        })
    }

    /// The camera, and the sheet as printed.
    pub fn solved(&self) -> &Solved {
        &self.solved
    }

    /// Hears strokes, all of them that hold: those of an earlier call are forgotten. Only what lies round them is
    /// worked out again.
    pub fn guide(&mut self, strokes: &[Stroke]) {
        self.field.guide(&self.solved.camera, strokes);
    }

    /// The parts with the thicknesses that are known now.
    ///
    /// # Errors
    /// [`CaptureError::NothingThere`] where no part is seen, [`CaptureError::Thickness`] for a thickness that cannot be.
    pub fn capture(&self, knowledge: &Knowledge) -> Result<Capture, CaptureError> {
        check_thicknesses(knowledge, self.solved.camera.height_mm())?;
        let mut parts: Vec<Captured> = self
            .field
            .silhouettes()
            .iter()
            .filter_map(|s| {
                let thickness_mm = knowledge
                    .thicknesses
                    .iter()
                    .find(|t| s.in_sheet.contains(t.at))
                    .map(|t| t.thickness_mm)
                    .or(knowledge.thickness_mm);
                finish(s.clone(), thickness_mm, &self.solved, self.print_measured)
            })
            .collect();
        if parts.is_empty() {
            return Err(CaptureError::NothingThere);
        }
        // Rows of a centimetre, so that parts side by side read from left to right.
        let row = |c: &Captured| -(c.outline.bounds().centre().y / 10.0).round();
        parts.sort_by(|a, b| {
            let key = |c: &Captured| (row(c), c.outline.bounds().centre().x);
            let ((r, x), (s, y)) = (key(a), key(b));
            r.total_cmp(&s).then(x.total_cmp(&y))
        });
        Ok(Capture {
            solved: self.solved.clone(),
            parts,
        })
    }
}

fn check_thicknesses(knowledge: &Knowledge, height_mm: f64) -> Result<(), CaptureError> {
    let mut given = knowledge
        .thicknesses
        .iter()
        .map(|t| t.thickness_mm)
        .chain(knowledge.thickness_mm);
    match given.find(|t| !(*t >= 0.0 && *t < 0.5 * height_mm)) {
        Some(thickness_mm) => Err(CaptureError::Thickness {
            thickness_mm,
            height_mm,
        }),
        None => Ok(()),
    }
}
