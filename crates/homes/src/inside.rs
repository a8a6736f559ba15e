//! One inside photo: the device found on the sheet, and the parts looked for in it.

use crate::confidence::Kind;
use crate::error::HomesError;
use crate::field::Field;
use crate::judge::{Evidence, judge};
use crate::raster::Raster;
use crate::search::{By, Candidate, Level, SCALES, Stand, scale_for, search, turned_by, unlike};
use crate::settle::{Held, Steps, agreement, climb, fit_edges};
use crate::sought::{EdgePoint, FINE_PX_PER_MM, Side, View};
use capture::photo::Photo;
use capture::{CaptureError, Knowledge, Study, Taken};
use shape::{Bounds, Outline, Point, Watch, mapped};
use std::sync::Arc;

/// What lies nearer than this to a piece of the device belongs to it, mm: of a white hull on white paper only what lies in it
/// may be told from the paper.
const NEAR_MM: f64 = 14.0;

/// Places this far outside the device's silhouette are searched too, mm.
const ROUND_MM: f64 = 8.0;

/// Height over the sheet at which parts are looked for first, mm.
const FIRST_HEIGHT_MM: f64 = 6.0;

/// No part lies higher than this over the sheet, mm.
pub(crate) const HIGHEST_MM: f64 = 45.0;

/// Parts' tops lie so high (hand-held devices are 6 to 20 mm thick, and stand a little off the sheet; common practice, no source), as seen within so much, one sigma and
/// more for small ones, mm.
const USUAL_TOPS_MM: [f64; 2] = [0.0, 25.0];
const OFF_HEIGHT_MM: f64 = 3.0;

/// Scale of the field on which candidates climb, px/mm.
pub(crate) const MIDDLE_PX_PER_MM: f64 = 2.5;

/// Candidates of one part in one photo that are looked at closely.
const CLOSELY: usize = 7;

/// A part of whose edges that agree so many are no other part's is seen there.
const OWN: f64 = 0.6;

/// A part of whose outline so much is seen is held by it.
const RIM_SEEN: f64 = 0.5;

/// Where nothing is seen with at least this chance and so much of its pattern, a part is looked for by its face alone: a frame's window
/// has the outline of the display under it, a little off and in every turn.
const SOUGHT_BY_FACE: f64 = 0.5;
const PATTERN_SEEN: f64 = 0.5;

/// A face with fewer edge points has too little print for that; of those with more, so many candidates are looked at closely.
const LEAST_PRINT: usize = 60;
const CLOSELY_BY_FACE: usize = 3;

/// A photo of the opened device.
#[derive(Debug, Clone)]
pub struct InsidePhoto<'a> {
    /// The photo.
    pub photo: &'a Photo,
    /// The stage of the teardown; photos of one stage show the same state.
    pub stage: u32,
}

/// A part's edges at the three scales at which they are looked at.
struct Points {
    rough: Vec<EdgePoint>,
    middle: Vec<EdgePoint>,
    fine: Vec<EdgePoint>,
}

impl Points {
    fn of(view: &View, rough_px_per_mm: f64) -> Self {
        Self {
            rough: view.edge_points(rough_px_per_mm, 500),
            middle: view.edge_points(MIDDLE_PX_PER_MM, 500),
            fine: view.edge_points(FINE_PX_PER_MM, 700),
        }
    }

    /// Those of its face alone; `None` where that has too little print to be looked for by.
    fn of_face(&self) -> Option<Self> {
        let face = |points: &Vec<EdgePoint>| By::Face.of(points.clone());
        let face = Self {
            rough: face(&self.rough),
            middle: face(&self.middle),
            fine: face(&self.fine),
        };
        (face.fine.len() >= LEAST_PRINT).then_some(face)
    }
}

/// A pose of a part in one photo with what speaks for it.
#[derive(Debug, Clone)]
pub(crate) struct Sighting {
    pub(crate) side: Side,
    pub(crate) held: Held,
    /// Agreement of all edges at the middle scale.
    pub(crate) score: f64,
    /// By how much more its face's edges agree here than anywhere else, where it was looked for by its face alone.
    pub(crate) face_lead: Option<f64>,
    /// By how much more all edges agree here than elsewhere, or here in another turn in which the outline looks another; 0 where nobody
    /// looked elsewhere.
    pub(crate) lead: f64,
    /// How far it seems to lie above or below where parts lie, sigmas.
    pub(crate) height_off: f64,
    pub(crate) evidence: Evidence,
}

impl Sighting {
    /// Whether another says something else: of another place, or of this one in another turn that the outline tells apart.
    fn is_at_odds(&self, other: &Self, view: &View) -> bool {
        let (a, b) = (&self.held.stand, &other.held.stand);
        let elsewhere = (a.x - b.x).hypot(a.y - b.y) > ELSEWHERE_MM;
        elsewhere || view.off_by_turn_mm(a.turn - b.turn) > TOLD_APART_MM
    }

    /// Whether both are of one place.
    fn is_where(&self, other: &Self, view: &View) -> bool {
        let (a, b) = (&self.held.stand, &other.held.stand);
        (a.x - b.x).hypot(a.y - b.y) < ONE_PLACE_MM && turned_by(a.turn, b.turn) < one_turn(view)
    }
}

/// Candidates nearer to each other than this, mm on the plate, and by less than this turn, radians, are one.
const ONE_PLACE_MM: f64 = 0.8;

/// Farther than this, mm on the plate, is elsewhere.
const ELSEWHERE_MM: f64 = 2.0;

/// An outline that a turn moves by less than this, on the mean, tells nobody its turn: as well as outlines are captured.
const TOLD_APART_MM: f64 = 0.2;
fn one_turn(view: &View) -> f64 {
    (1.5 / view.radius_mm).clamp(0.03, 0.3)
}

/// What one photo gave.
pub(crate) struct Inside {
    pub(crate) taken: Taken,
    /// The device as the camera saw it, mm of the sheet.
    pub(crate) silhouette: Outline,
    /// What else lies on the sheet.
    pub(crate) beside: Vec<Outline>,
    /// The plate's origin, mm of the sheet.
    pub(crate) origin: Point,
    /// The camera's height over the sheet and the place straight below it, mm.
    pub(crate) height_mm: f64,
    pub(crate) nadir: Point,
    /// The photo's resolution on the sheet.
    pub(crate) px_per_mm: f64,
    pub(crate) picture: Arc<Raster>,
    pub(crate) fine: Field,
    pub(crate) middle: Field,
    pub(crate) levels: Vec<Level>,
    /// Some of it is explained and taken away ([`Self::without`]).
    pub(crate) is_rest: bool,
}

impl Inside {
    /// Finds the sheet, the camera and the device.
    pub(crate) fn of(
        inside: &InsidePhoto<'_>,
        knowledge: &Knowledge,
        watch: &dyn Watch,
    ) -> Result<Self, HomesError> {
        let photo = inside.photo;
        let study = Study::of(photo, knowledge, watch)?;
        let capture = study.capture(&Knowledge {
            thickness_mm: None,
            thicknesses: Vec::new(),
            ..knowledge.clone()
        })?;
        let taken = capture.taken.clone();
        let camera = *taken.camera().ok_or(HomesError::NoCamera { photo: 0 })?;
        let seen: Vec<Outline> = capture
            .parts
            .into_iter()
            .map(|p| p.silhouette.in_sheet)
            .collect();
        let (device, beside) = told_apart(seen);
        let bounds = device
            .iter()
            .map(Outline::bounds)
            .reduce(Bounds::joined)
            .ok_or(CaptureError::NothingThere)?;
        let silhouette = joined(&device);
        let bounds = clipped(bounds.grown(ROUND_MM), &taken);
        watch.step("seeing the device from above", 0.9)?;
        let picture = Raster::of_photo(photo, &taken, bounds, FINE_PX_PER_MM);
        let middle = Field::of(&picture.coarser(MIDDLE_PX_PER_MM));
        let levels = mapped(&SCALES, |&k| Level::of(Field::of(&picture.coarser(k))));
        Ok(Self {
            origin: bounds.min,
            height_mm: camera.height_mm(),
            nadir: camera.nadir(),
            px_per_mm: camera.px_per_mm(bounds.centre()).unwrap_or(0.0),
            fine: Field::of(&picture),
            middle,
            levels,
            picture: Arc::new(picture),
            taken,
            silhouette,
            beside,
            is_rest: false,
        })
    }

    /// How much larger than life something at this height appears.
    pub(crate) fn scale_at(&self, height_mm: f64) -> f64 {
        self.height_mm / (self.height_mm - height_mm)
    }

    /// How high something lies that appears this much larger than life, mm.
    pub(crate) fn height_at(&self, scale: f64) -> f64 {
        self.height_mm * (1.0 - 1.0 / scale)
    }

    /// Looks for one part by its view from one side; `thickness_mm` is its own where it is known. Best first.
    pub(crate) fn look_for(
        &self,
        view: &View,
        side: Side,
        thickness_mm: Option<f64>,
        watch: &dyn Watch,
    ) -> Result<Vec<Sighting>, HomesError> {
        let prior = [
            self.scale_at(FIRST_HEIGHT_MM.max(thickness_mm.unwrap_or(0.0))),
            3.5 / self.height_mm,
        ];
        let points = Points::of(view, self.levels[scale_for(view)].field.px_per_mm);
        let face = points.of_face();
        let mut seen: Vec<Sighting> = self
            .candidates(view, By::All, &points, CLOSELY, watch)?
            .into_iter()
            .map(|c| {
                let held = fit_edges(&points.fine, &self.picture, c.stand, view.radius_mm, prior);
                let seen = self.sighting(view, side, held, c.score);
                let Some(face) = face.as_ref().filter(|_| seen.evidence.rim_share < RIM_SEEN)
                else {
                    return seen;
                };
                let other = self.by_face_alone(view, side, face, c, prior);
                if other.evidence.pattern_seen > seen.evidence.pattern_seen + 0.08 {
                    other
                } else {
                    seen
                }
            })
            .collect();
        let seen_well = seen
            .iter()
            .any(|s| likely(s) >= SOUGHT_BY_FACE && s.evidence.pattern_seen >= PATTERN_SEEN);
        // In the rest nobody looks for a face: what there is of it was seen in the whole.
        let by_face = view.picture.is_some() && !seen_well && !self.is_rest;
        if let Some(face) = face.filter(|_| by_face) {
            let found = self.candidates(view, By::Face, &face, CLOSELY_BY_FACE, watch)?;
            let second = found.get(1).map_or(0.0, |c| c.score);
            for (n, c) in found.iter().enumerate() {
                let held = fit_edges(&face.fine, &self.picture, c.stand, view.radius_mm, prior);
                let score = agreement(&points.middle, &self.middle, &c.stand);
                let face_lead = (n == 0).then_some(c.score - second);
                seen.push(Sighting {
                    face_lead,
                    ..self.sighting(view, side, held, score)
                });
            }
        }
        Ok(weighed_up(seen, view))
    }

    /// Of what was seen of a part before and in the rest ([`Self::without`] what others explain): each as it was where most of its
    /// edges are its own, else as the rest shows it.
    pub(crate) fn own(
        &self,
        rest: &Self,
        view: &View,
        side: Side,
        seen: Vec<Sighting>,
    ) -> Vec<Sighting> {
        let points = view.edge_points(MIDDLE_PX_PER_MM, 500);
        let as_it_is = |seen: Sighting| {
            let stand = &seen.held.stand;
            let [all, left] = [self, rest].map(|of| (of, agreement(&points, &of.middle, stand)));
            let (of, score) = if left.1 > OWN * all.1 { all } else { left };
            Sighting {
                face_lead: seen.face_lead,
                ..of.sighting(view, side, seen.held, score)
            }
        };
        weighed_up(seen.into_iter().map(as_it_is).collect(), view)
    }

    /// Candidates for a part, coarse first, then nearer; best first, no two alike.
    fn candidates(
        &self,
        view: &View,
        by: By,
        points: &Points,
        most: usize,
        watch: &dyn Watch,
    ) -> Result<Vec<Candidate>, HomesError> {
        let level = &self.levels[scale_for(view)];
        let k = level.field.px_per_mm;
        let coarse = search(view, by, level, self.scale_at(FIRST_HEIGHT_MM), watch)?;
        let scales = [1.0, self.scale_at(HIGHEST_MM)];
        let mut climbed: Vec<Candidate> = coarse
            .into_iter()
            .map(|c| {
                let step = (2.0 / (view.radius_mm * k)).clamp(0.025, 0.26);
                let first = Steps {
                    place_mm: 0.5 / k,
                    turn: 0.4 * step,
                    scale: 0.0,
                    halvings: 1,
                };
                let near = climb(&points.rough, &level.field, c, first, scales);
                let second = Steps {
                    place_mm: 0.3,
                    turn: (0.4 / view.radius_mm).min(0.1),
                    scale: 0.006,
                    halvings: 2,
                };
                climb(&points.middle, &self.middle, near, second, scales)
            })
            .collect();
        climbed.sort_by(|a, b| b.score.total_cmp(&a.score));
        Ok(unlike(climbed, ONE_PLACE_MM, one_turn(view), most))
    }

    /// A part whose edge lies under another, as a display's under its frame, is held by its face alone: the edges that are seen
    /// near its outline are the other part's.
    fn by_face_alone(
        &self,
        view: &View,
        side: Side,
        face: &Points,
        from: Candidate,
        prior: [f64; 2],
    ) -> Sighting {
        let steps = Steps {
            place_mm: 0.5,
            turn: (0.5 / view.radius_mm).min(0.1),
            scale: 0.006,
            halvings: 2,
        };
        let scales = [1.0, self.scale_at(HIGHEST_MM)];
        let near = climb(&face.middle, &self.middle, from, steps, scales);
        let held = fit_edges(&face.fine, &self.picture, near.stand, view.radius_mm, prior);
        self.sighting(view, side, held, from.score)
    }

    /// What speaks for a pose.
    pub(crate) fn sighting(&self, view: &View, side: Side, held: Held, score: f64) -> Sighting {
        // Small outlines say little of their height.
        let sigma_mm = OFF_HEIGHT_MM + 0.1 * self.height_mm / view.radius_mm.max(1.0);
        let top_mm = self.height_at(held.stand.scale);
        Sighting {
            side,
            height_off: (top_mm - top_mm.clamp(USUAL_TOPS_MM[0], USUAL_TOPS_MM[1])).abs()
                / sigma_mm,
            evidence: judge(view, &held.stand, &self.fine, &self.picture),
            held,
            score,
            face_lead: None,
            lead: 0.0,
        }
    }

    /// The same at a pose that other photos tell, fitted only a little.
    pub(crate) fn look_at(&self, view: &View, side: Side, stand: Stand, sigma_mm: f64) -> Sighting {
        let points = view.edge_points(MIDDLE_PX_PER_MM, 500);
        let steps = Steps {
            place_mm: 0.3,
            turn: (0.3 / view.radius_mm).min(0.1),
            scale: 0.0,
            halvings: 2,
        };
        let scales = [1.0, self.scale_at(HIGHEST_MM)];
        let near = climb(
            &points,
            &self.middle,
            Candidate { stand, score: 0.0 },
            steps,
            scales,
        );
        let prior = [stand.scale, (sigma_mm / self.height_mm).max(1e-4)];
        let fine_points = view.edge_points(FINE_PX_PER_MM, 700);
        let held = fit_edges(
            &fine_points,
            &self.picture,
            near.stand,
            view.radius_mm,
            prior,
        );
        self.sighting(view, side, held, near.score)
    }
}

/// How likely what is seen is by itself.
fn likely(seen: &Sighting) -> f64 {
    Kind::Picture.alone(seen)
}

/// Of two at one place the likelier, since the other would speak against it, each with its lead.
fn weighed_up(seen: Vec<Sighting>, view: &View) -> Vec<Sighting> {
    let mut kept: Vec<Sighting> = Vec::new();
    for new in seen {
        match kept.iter_mut().find(|s| s.is_where(&new, view)) {
            Some(old) if likely(&new) <= likely(old) => {}
            Some(old) => *old = new,
            None => kept.push(new),
        }
    }
    let leads: Vec<f64> = kept
        .iter()
        .map(|s| {
            let at_odds = kept.iter().filter(|o| s.is_at_odds(o, view));
            s.score - at_odds.map(|o| o.score).fold(0.0, f64::max)
        })
        .collect();
    for (s, lead) in kept.iter_mut().zip(leads) {
        s.lead = lead;
    }
    kept
}

/// The device, which is what hangs together with the largest thing, and what lies beside it.
fn told_apart(mut seen: Vec<Outline>) -> (Vec<Outline>, Vec<Outline>) {
    seen.sort_by(|a, b| b.area_mm2().total_cmp(&a.area_mm2()));
    let mut device: Vec<Outline> = Vec::new();
    let mut beside = seen;
    if !beside.is_empty() {
        device.push(beside.remove(0));
    }
    // A part that lies beside a whole device is farther from it than pieces of one device are from each other, and a
    // device that is seen as one piece has none.
    let mut k = 0;
    while k < beside.len() {
        if device
            .iter()
            .any(|d| shape::clearance_mm(d, &beside[k]) < NEAR_MM)
        {
            device.push(beside.remove(k));
            k = 0;
        } else {
            k += 1;
        }
    }
    (device, beside)
}

/// One outline round all pieces: the largest where it is nearly all, else their hull.
fn joined(pieces: &[Outline]) -> Outline {
    let all: f64 = pieces.iter().map(Outline::area_mm2).sum();
    let first = &pieces[0];
    if first.area_mm2() > 0.85 * all {
        return first.clone();
    }
    let points = pieces
        .iter()
        .flat_map(|p| p.outer().points().iter().copied())
        .collect();
    Outline::try_new(shape::convex_hull(points, 0.0), Vec::new()).unwrap_or_else(|_| first.clone())
}

/// Bounds without what lies beyond the sheet's field and the tags round it.
fn clipped(bounds: Bounds, taken: &Taken) -> Bounds {
    match taken.solved() {
        Some(solved) => {
            let [w, h] = solved.sheet.size_mm;
            Bounds {
                min: Point::new(bounds.min.x.max(0.0), bounds.min.y.max(0.0)),
                max: Point::new(bounds.max.x.min(w), bounds.max.y.min(h)),
            }
        }
        None => bounds,
    }
}
