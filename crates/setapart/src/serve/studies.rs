//! Photos that are being worked on: what was found in them stays in memory, so that a stroke or a height is heard at
//! once. A photo whose study was let go is looked at again, which takes seconds.

use super::jobs::locked;
use super::refusal::Refusal;
use crate::captured_part;
use crate::commands::capture::findings_of;
use capture::camera::SheetPoint3;
use capture::photo::{Limits, Photo as Picture, PhotoPoint};
use capture::scan::{Scan, scan_limits};
use capture::{Capture, CaptureError, Captured, Knowledge, Stroke, StrokeKind, Study, ThicknessAt};
use serde_json::{Value, json};
use shape::{Outline, Point, Watch};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use workshop::{Found, Photo, PhotoId, Taken, Work, Workshop};

/// Studies in memory; one of a 12-megapixel photo takes some 100 MB.
const MOST_KEPT: usize = 3;

/// One photo being worked on.
pub(crate) struct OnTable {
    study: Mutex<Study>,
    size_px: [u32; 2],
}

/// Studies, the last used first.
#[derive(Default)]
pub(crate) struct Studies {
    kept: Mutex<VecDeque<(PhotoId, String, Arc<OnTable>)>>,
}

impl Studies {
    /// The study of a photo as it was taken, where it is still there.
    pub(crate) fn get(&self, photo: &Photo) -> Option<Arc<OnTable>> {
        let way = way_of(photo);
        let mut kept = locked(&self.kept);
        let at = kept
            .iter()
            .position(|(id, w, _)| *id == photo.id && *w == way)?;
        let entry = kept.remove(at)?;
        let study = Arc::clone(&entry.2);
        kept.push_front(entry);
        Some(study)
    }

    /// Looks at a photo: decodes it, and finds its plane and its parts.
    pub(crate) fn look(
        &self,
        workshop: &Workshop,
        photo: &Photo,
        watch: &dyn Watch,
    ) -> Result<Arc<OnTable>, Refusal> {
        if let Some(study) = self.get(photo) {
            return Ok(study);
        }
        let picture = decode(workshop, photo)?;
        let knowledge = knowledge_of(&photo.work);
        let study = match &photo.work.taken {
            Taken::Sheet { .. } => Study::of(&picture, &knowledge, watch),
            Taken::Card => Study::beside_card(&picture, watch),
            Taken::Scan { dpi } => Scan::try_new(picture.size_px(), dpi.or(picture.dpi), None)
                .map_err(CaptureError::from)
                .and_then(|scan| Study::of_scan(&picture, scan, watch)),
        }?;
        let on_table = Arc::new(OnTable {
            study: Mutex::new(study),
            size_px: picture.size_px(),
        });
        let mut kept = locked(&self.kept);
        kept.retain(|(id, ..)| *id != photo.id);
        kept.push_front((photo.id, way_of(photo), Arc::clone(&on_table)));
        kept.truncate(MOST_KEPT);
        Ok(on_table)
    }
}

/// What a study depends on besides the picture.
fn way_of(photo: &Photo) -> String {
    serde_json::to_string(&photo.work.taken).unwrap_or_default()
}

/// A photo's pixels.
pub(crate) fn decode(workshop: &Workshop, photo: &Photo) -> Result<Picture, Refusal> {
    let limits = match photo.work.taken {
        Taken::Scan { .. } => scan_limits(),
        _ => Limits::default(),
    };
    let bytes = workshop.image(&photo.image)?;
    Picture::decode(&bytes, &limits).map_err(|e| told(&e.to_string()))
}

impl OnTable {
    /// The parts with all that is known of them now.
    pub(crate) fn capture(&self, work: &Work) -> Result<Capture, Refusal> {
        let strokes: Vec<Stroke> = work.strokes.iter().map(stroke_of).collect();
        let mut study = locked(&self.study);
        study.guide(&strokes);
        Ok(study.capture(&knowledge_of(work))?)
    }

    /// How the picture was taken.
    pub(crate) fn taken(&self) -> capture::Taken {
        locked(&self.study).taken().clone()
    }

    /// The point of the plane that the picture shows at a place, mm.
    pub(crate) fn plane_from_photo(&self, px: [f64; 2]) -> Option<Point> {
        let at = PhotoPoint::new(px[0], px[1]);
        locked(&self.study).taken().plane_from_photo(at)
    }

    /// What the page shows, and the store keeps: the outlines in mm and in the picture.
    pub(crate) fn found(&self, photo: &Photo, capture: &Capture) -> Found {
        let outlines: Vec<Value> = capture
            .parts
            .iter()
            .map(|c| outline_data(capture, c))
            .collect();
        let strokes: Vec<Value> = photo
            .work
            .strokes
            .iter()
            .map(|s| {
                let points = s.points_mm.iter().filter_map(|p| {
                    let at = SheetPoint3::over(Point::from(*p), 0.0);
                    capture.taken.project(at).map(|q| [tenth(q.x), tenth(q.y)])
                });
                json!({ "kind": s.kind, "points_px": points.collect::<Vec<_>>(), "width_px": s.width_mm * px_per_mm(capture) })
            })
            .collect();
        let camera = capture
            .taken
            .camera()
            .map(|c| json!({ "height_mm": c.height_mm(), "nadir_mm": [c.nadir().x, c.nadir().y] }));
        Found {
            for_work: photo.state.revision,
            outlines: json!({
                "size_px": self.size_px,
                "px_per_mm": px_per_mm(capture),
                "camera": camera,
                "corner_rms_mm": capture.taken.solved().map(|s| s.corner_rms_mm),
                "outlines": outlines,
                "strokes": strokes,
                "findings": findings_of(capture),
            }),
        }
    }
}

fn outline_data(capture: &Capture, c: &Captured) -> Value {
    let height_mm = c.thickness_mm.unwrap_or(0.0);
    let in_photo = |outline: &Outline, height_mm: f64| -> Vec<Vec<[f64; 2]>> {
        outline
            .rings()
            .map(|ring| {
                ring.points()
                    .iter()
                    .filter_map(|p| capture.taken.project(SheetPoint3::over(*p, height_mm)))
                    .map(|q| [tenth(q.x), tenth(q.y)])
                    .collect()
            })
            .collect()
    };
    let b = c.outline.bounds();
    // A point of the material, by which marks name the part.
    let at = super::edits::inner_point(&c.silhouette.in_sheet);
    json!({
        "outer": c.outline.outer().points(),
        "holes": c.outline.holes().iter().map(shape::Ring::points).collect::<Vec<_>>(),
        "rings_px": in_photo(&c.outline, height_mm),
        "at_mm": [at.x, at.y],
        "size_mm": [b.width_mm(), b.height_mm()],
        "thickness_mm": c.thickness_mm,
        "sigma_mm": c.sigma.total_mm,
        "sigma_parts_mm": captured_part::sigma_parts(&c.sigma),
        "warnings": c.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}

fn px_per_mm(capture: &Capture) -> f64 {
    let middle = capture
        .parts
        .first()
        .map_or(Point::default(), |c| c.outline.bounds().centre());
    let at = |p: Point| capture.taken.project(SheetPoint3::over(p, 0.0));
    match (at(middle), at(middle + shape::Vector::new(1.0, 0.0))) {
        (Some(a), Some(b)) => a.distance_px(b),
        _ => 1.0,
    }
}

fn tenth(px: f64) -> f64 {
    (px * 10.0).round() / 10.0
}

/// The mark of the part that covers a point.
pub(crate) fn mark_of<'a>(work: &'a Work, captured: &Captured) -> Option<&'a workshop::Mark> {
    work.marks.iter().find(|m| {
        let at = Point::from(m.at_mm);
        captured.silhouette.in_sheet.contains(at) || captured.outline.contains(at)
    })
}

/// What the bars of the sheet measure, where somebody measured them.
pub(crate) fn printed_of(work: &Work) -> Option<[f64; 2]> {
    match work.taken {
        Taken::Sheet { printed_mm } => printed_mm,
        _ => None,
    }
}

fn knowledge_of(work: &Work) -> Knowledge {
    let thicknesses = work.marks.iter().filter_map(|m| {
        Some(ThicknessAt {
            at: Point::from(m.at_mm),
            thickness_mm: m.thickness_mm?,
        })
    });
    Knowledge {
        sheet: None,
        printed_mm: printed_of(work),
        thicknesses: thicknesses.collect(),
        thickness_mm: work.thickness_mm,
    }
}

fn stroke_of(s: &workshop::Stroke) -> Stroke {
    Stroke {
        kind: match s.kind {
            workshop::StrokeKind::Include => StrokeKind::Include,
            workshop::StrokeKind::Exclude => StrokeKind::Exclude,
            workshop::StrokeKind::Split => StrokeKind::Split,
        },
        width_mm: s.width_mm,
        points: s.points_mm.iter().map(|p| Point::from(*p)).collect(),
    }
}

/// A text of the form "what is wrong; what to do" as a refusal.
pub(crate) fn told(text: &str) -> Refusal {
    Refusal::told(text, "Try another photo.")
}

impl From<CaptureError> for Refusal {
    fn from(e: CaptureError) -> Self {
        told(&e.to_string())
    }
}
