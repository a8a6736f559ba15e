//! A picture being worked on: what was found stays, so that a stroke or a thickness can be heard without starting again.

use crate::camera::{CardError, View, find_card, solve};
use crate::capture::{Capture, CaptureError, Captured, Knowledge, finish, widest_height_mm};
use crate::field::Field;
use crate::height::Standpoint;
use crate::linear::LinearImage;
use crate::look::Look;
use crate::photo::Photo;
use crate::plane::{SheetPlane, in_photo};
use crate::rounds::RoundHole;
use crate::scan::{Scan, ScanError};
use crate::segment::grid::cell_px;
use crate::silhouette::{Silhouette, SilhouetteError};
use crate::strokes::Stroke;
use crate::tags;
use crate::taken::{Taken, TakenWarning};
use shape::{Outline, Watch, mapped};
use std::sync::{Mutex, PoisonError};

/// What the longer side of a photo is taken to show until a card tells it, mm: between 300 and 450 the eye sees as it was
/// taught.
const ASSUMED_VIEW_MM: f64 = 375.0;

/// A picture with the plane that it shows, and its parts found.
pub struct Study {
    taken: Taken,
    field: Field,
    /// What was told of the parts when they were captured last: a stroke changes few of them.
    at_heights: Mutex<Vec<AtHeight>>,
}

/// What the camera saw of a part, with all that its height tells.
#[derive(Clone)]
struct AtHeight {
    of: Silhouette,
    h_mm: f64,
    /// With its walls.
    seen: Silhouette,
    /// What may be round holes of it.
    holes: Vec<RoundHole>,
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
        let white = solved.sheet.white_points();
        let look = Look::on_sheet(&solved.camera, solved.sheet.field, &white)?;
        let taken = Taken::OnSheet {
            solved: Box::new(solved),
            print_measured: knowledge.printed_mm.is_some(),
        };
        check_thicknesses(knowledge, &taken)?;
        watch.step("finding the parts", 0.2)?;
        let field = Field::look(&linear_image(photo)?, &taken, &look, watch)?;
        watch.step("outlines found", 1.0)?;
        Ok(Self::found(taken, field))
    }

    /// Finds the parts of a flatbed scan.
    ///
    /// # Errors
    /// [`CaptureError::Scan`] where its rim shows no background, [`CaptureError::Silhouette`] where it was stopped.
    pub fn of_scan(photo: &Photo, scan: Scan, watch: &dyn Watch) -> Result<Self, CaptureError> {
        let look = Look::at_scan(&scan);
        let taken = Taken::Scanned(scan);
        let field =
            Field::look(&linear_image(photo)?, &taken, &look, watch).map_err(|e| match e {
                SilhouetteError::NoPaper | SilhouetteError::FieldNotSeen => {
                    ScanError::NoBackground.into()
                }
                SilhouetteError::Cancelled(_) => CaptureError::Silhouette(e),
            })?;
        watch.step("outlines found", 1.0)?;
        Ok(Self::found(taken, field))
    }

    /// Finds the card and the parts of a photo that shows both on an even surface.
    ///
    /// # Errors
    /// [`CaptureError::Card`], [`CaptureError::Silhouette`] where it was stopped.
    pub fn beside_card(photo: &Photo, watch: &dyn Watch) -> Result<Self, CaptureError> {
        let told = |e| match e {
            SilhouetteError::NoPaper | SilhouetteError::FieldNotSeen => {
                CardError::NoBackground.into()
            }
            SilhouetteError::Cancelled(_) => CaptureError::Silhouette(e),
        };
        let image = linear_image(photo)?;
        let size_px = photo.size_px();
        let assumed = f64::from(size_px[0].max(size_px[1])) / ASSUMED_VIEW_MM;
        let plane = Scan::assumed(size_px, assumed);
        let look = Look::at_photo(&image, assumed);
        let field = Field::look(&image, &plane, &look, watch).map_err(told)?;
        watch.step("finding the card", 0.8)?;
        let rings: Vec<Vec<[f64; 2]>> = field
            .silhouettes()
            .iter()
            .filter(|s| !s.at_field_edge)
            .map(|s| border_in_picture(&s.in_sheet, &plane))
            .collect();
        let card = find_card(&rings, size_px, photo.focal_35mm)?;
        let px_per_mm = card
            .camera
            .px_per_mm(card.middle())
            .ok_or(CardError::NoCard)?;
        let taken = Taken::BesideCard(Box::new(card));
        let field = if cell_px(px_per_mm) == field.cell_px() {
            field.measured_in(&taken, px_per_mm)
        } else {
            let look = Look {
                lean_known: true,
                ..Look::at_photo(&image, px_per_mm)
            };
            Field::look(&image, &taken, &look, watch).map_err(told)?
        };
        watch.step("outlines found", 1.0)?;
        Ok(Self::found(taken, field))
    }

    fn found(taken: Taken, field: Field) -> Self {
        Self {
            taken,
            field,
            at_heights: Mutex::default(),
        }
    }

    /// How the picture was taken.
    pub fn taken(&self) -> &Taken {
        &self.taken
    }

    /// Hears strokes, all of them that hold: those of an earlier call are forgotten, and those that lie outside the field
    /// ([`Stroke::touches`]) change nothing. Only what lies round them is worked out again.
    pub fn guide(&mut self, strokes: &[Stroke]) {
        let inside = strokes.iter().filter(|s| s.touches(&self.taken));
        let heard: Vec<Stroke> = inside.cloned().collect();
        self.field.guide(&self.taken, &heard);
    }

    /// The parts with the thicknesses that are known now.
    ///
    /// # Errors
    /// [`CaptureError::NothingThere`], [`ScanError::NothingThere`] or [`CardError::NothingThere`] where no part is seen,
    /// [`CaptureError::Thickness`] or [`CaptureError::NoThickness`] for a thickness that cannot be.
    pub fn capture(&self, knowledge: &Knowledge) -> Result<Capture, CaptureError> {
        check_thicknesses(knowledge, &self.taken)?;
        let card = match &self.taken {
            Taken::BesideCard(card) => card.card(),
            _ => None,
        };
        let (surroundings, silhouettes): (Vec<&Silhouette>, Vec<&Silhouette>) = self
            .field
            .silhouettes()
            .iter()
            .filter(|s| !card.as_ref().is_some_and(|c| lies_on(&s.in_sheet, c)))
            .partition(|s| self.goes_round(s));
        let known = std::mem::take(
            &mut *self
                .at_heights
                .lock()
                .unwrap_or_else(PoisonError::into_inner),
        );
        let finished = mapped(&silhouettes, |s| {
            let thickness_mm = knowledge
                .thicknesses
                .iter()
                .find(|t| s.in_sheet.contains(t.at))
                .map(|t| t.thickness_mm)
                .or(knowledge.thickness_mm);
            let (Some(from), Some(h)) = (self.taken.standpoint(), thickness_mm) else {
                return (finish((*s).clone(), &[], thickness_mm, &self.taken), None);
            };
            let h_mm = widest_height_mm(h);
            let told = self.at_height(&known, s, from, h_mm);
            let holes = self.field.borne_out(&told.holes, &self.taken, from, h_mm);
            let seen = told.seen.clone();
            (finish(seen, &holes, thickness_mm, &self.taken), Some(told))
        });
        let (parts, told): (Vec<_>, Vec<_>) = finished.into_iter().unzip();
        self.at_heights
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .extend(told.into_iter().flatten());
        let mut parts: Vec<Captured> = parts.into_iter().flatten().collect();
        if parts.is_empty() {
            return Err(match &self.taken {
                Taken::OnSheet { .. } => CaptureError::NothingThere,
                Taken::Scanned(_) => ScanError::NothingThere.into(),
                Taken::BesideCard(_) => CardError::NothingThere.into(),
            });
        }
        // Rows of a centimetre, so that parts side by side read from left to right.
        let row = |c: &Captured| -(c.outline.bounds().centre().y / 10.0).round();
        parts.sort_by(|a, b| {
            let key = |c: &Captured| (row(c), c.outline.bounds().centre().x);
            let ((r, x), (s, y)) = (key(a), key(b));
            r.total_cmp(&s).then(x.total_cmp(&y))
        });
        let mut warnings = self.taken.warnings();
        if !surroundings.is_empty() {
            warnings.push(TakenWarning::SurroundingsLeftOut);
        }
        warnings.extend(self.field.faint().map(|s| TakenWarning::FaintLeftOut {
            at: s.in_sheet.bounds().centre(),
            area_mm2: s.in_sheet.area_mm2(),
        }));
        Ok(Capture {
            taken: self.taken.clone(),
            warnings,
            parts,
        })
    }

    /// What the camera saw of a part whose height is known: as it was told before, where the part is as it was.
    fn at_height(
        &self,
        known: &[AtHeight],
        silhouette: &Silhouette,
        from: Standpoint,
        h_mm: f64,
    ) -> AtHeight {
        let same = |k: &&AtHeight| k.h_mm == h_mm && k.of == *silhouette;
        known.iter().find(same).cloned().unwrap_or_else(|| {
            let walled = self.field.with_walls(silhouette, &self.taken, from, h_mm);
            let holes = self.field.round_holes(&walled, &self.taken, from, h_mm);
            AtHeight {
                of: silhouette.clone(),
                h_mm,
                seen: walled,
                holes,
            }
        })
    }

    /// Whether something reaches three or four edges of a picture that has no field: a table beyond the paper, the glass
    /// beyond the lid.
    fn goes_round(&self, silhouette: &Silhouette) -> bool {
        let Some([w, h]) = self.taken.whole_picture_px().map(|s| s.map(f64::from)) else {
            return false;
        };
        if !silhouette.at_field_edge {
            return false;
        }
        let border = border_in_picture(&silhouette.in_sheet, &self.taken);
        let near = 4.0 + 0.005 * w.max(h);
        let reaches = [
            border.iter().any(|p| p[0] < near),
            border.iter().any(|p| p[0] > w - 1.0 - near),
            border.iter().any(|p| p[1] < near),
            border.iter().any(|p| p[1] > h - 1.0 - near),
        ];
        reaches.iter().filter(|r| **r).count() >= 3
    }
}

fn linear_image(photo: &Photo) -> Result<LinearImage<'_>, SilhouetteError> {
    LinearImage::of(photo).ok_or(SilhouetteError::FieldNotSeen)
}

/// An outline's outer ring in the picture, px.
fn border_in_picture(outline: &Outline, plane: &impl SheetPlane) -> Vec<[f64; 2]> {
    in_photo(plane, outline.outer().points())
}

/// Whether most of something lies on the card: the card itself, or print on it that was taken for a part.
fn lies_on(outline: &Outline, card: &Outline) -> bool {
    shape::intersection_area_mm2(outline, card) > 0.5 * outline.area_mm2()
}

fn check_thicknesses(knowledge: &Knowledge, taken: &Taken) -> Result<(), CaptureError> {
    let mut given = knowledge
        .thicknesses
        .iter()
        .map(|t| t.thickness_mm)
        .chain(knowledge.thickness_mm);
    let height_mm = taken.camera().map(|c| c.height_mm());
    let most_mm = height_mm.map_or(f64::MAX, |h| 0.5 * h);
    match given.find(|t| !(*t >= 0.0 && *t < most_mm)) {
        Some(thickness_mm) => Err(match height_mm {
            Some(height_mm) if thickness_mm >= 0.0 => CaptureError::Thickness {
                thickness_mm,
                height_mm,
            },
            _ => CaptureError::NoThickness { thickness_mm },
        }),
        None => Ok(()),
    }
}
