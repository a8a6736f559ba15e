//! The device's body as a camera sees it: swept from its base on the sheet to its enlarged top.
//!
//! What shows against the sheet is the top's edge where a wall looks away from the camera's foot, and the base's edge where it looks
//! towards it; there the top's edge may show too, against the wall. Both follow from one place on the sheet and one height.

use crate::body::{THICKEST_MM, USUAL_MM};
use crate::error::HomesError;
use crate::field::Field;
use crate::inside::{Inside, MIDDLE_PX_PER_MM};
use crate::raster::between;
use crate::register::{Spot, filled};
use crate::search::{By, scale_for, search, turned_by};
use crate::settle::{Across, ascend, edge_weight};
use crate::sought::{EdgePoint, View};
use nalgebra::{Matrix4, Vector4};
use rustfft::num_complex::Complex32;
use shape::registration::placed_roughly;
use shape::{EdgeTree, Point, Silent, Vector, Watch, mapped};

/// One sigma of the usual height, mm (hand-held devices are 6 to 20 mm thick; common practice, no source).
const USUAL_SIGMA_MM: f64 = 4.0;

/// How far a shell's height may be off its thickness, one sigma, mm.
const SHELL_SIGMA_MM: f64 = 0.6;

/// What a closed device is thicker than its two shells, and one sigma of that, mm: lids rest on seals and parts, or go some
/// way into their hulls (0.2 to 1.7 on rendered devices; no other source).
const CLOSED_MM: [f64; 2] = [0.7, 1.2];

/// What a body's height may be before one has looked.
#[derive(Debug, Clone)]
pub(crate) struct Heights {
    /// Of each shell alone; then of the closed device, where two are known.
    pub(crate) mm: Vec<f64>,
    /// How many of these are one shell's.
    pub(crate) singles: usize,
    /// One sigma of each, mm.
    sigma_mm: Vec<f64>,
}

impl Heights {
    /// From the thicknesses of the device's shells, as far as they are known.
    pub(crate) fn of_shells(thicknesses_mm: &[f64]) -> Self {
        let possible = |h: &f64| (HEIGHTS_MM[0]..HEIGHTS_MM[1]).contains(h);
        let mut mm: Vec<f64> = thicknesses_mm.iter().copied().filter(possible).collect();
        mm.sort_by(|a, b| b.total_cmp(a));
        mm.dedup_by(|a, b| (*a - *b).abs() < 0.5 * SHELL_SIGMA_MM);
        let singles = mm.len();
        let mut sorted = thicknesses_mm.to_vec();
        sorted.sort_by(|a, b| b.total_cmp(a));
        if let [a, b, ..] = sorted[..] {
            mm.extend(Some(a + b + CLOSED_MM[0]).filter(possible));
        }
        if singles == 0 {
            return Self {
                mm: vec![USUAL_MM],
                singles: 1,
                sigma_mm: vec![USUAL_SIGMA_MM],
            };
        }
        let sigma = |k: usize| {
            if k < singles {
                SHELL_SIGMA_MM
            } else {
                CLOSED_MM[1]
            }
        };
        Self {
            sigma_mm: (0..mm.len()).map(sigma).collect(),
            mm,
            singles,
        }
    }

    /// Whether a shell of this thickness gives that height alone.
    pub(crate) fn is_of(&self, height: usize, thickness_mm: f64) -> bool {
        (self.mm[height] - thickness_mm).abs() < 0.5 * SHELL_SIGMA_MM
    }
}

/// No body is lower or higher, mm.
const HEIGHTS_MM: [f64; 2] = [1.0, THICKEST_MM];

/// How much the top's edge counts where it shows against the wall, if at all.
const AGAINST_WALL: f64 = 0.35;

/// What a height of one sigma off takes from the agreement.
const HEIGHT_COSTS: f64 = 0.015;

/// Of a lower tray what lies in it stands out, mm: the device's silhouette says little of where it lies.
const HULL_MM: f64 = 4.0;

/// How much the silhouette counts beside edges.
const CONTOUR: f64 = 0.6;

/// How far the silhouette's edge may be off, one sigma, mm; nothing is near beyond so many sigma.
const CONTOUR_MM: f64 = 0.35;
const CONTOUR_REACH: f64 = 4.0;

/// Coarse places that are climbed from, and those that are looked at closely.
const COARSE: usize = 12;
const CLOSELY: usize = 8;

/// How many of each height are tried again, and from where, mm.
const TRIED_AGAIN: usize = 3;
const ROUND_ABOUT: [(f64, f64); 8] = [
    (2.0, 0.0),
    (-2.0, 0.0),
    (0.0, 2.0),
    (0.0, -2.0),
    (2.5, 2.5),
    (2.5, -2.5),
    (-2.5, 2.5),
    (-2.5, -2.5),
];

/// Edge points that the climb and the fit take.
const CLIMB_POINTS: usize = 300;
const FIT_POINTS: usize = 900;

/// A body's place on the sheet and its height.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Body {
    pub(crate) spot: Spot,
    pub(crate) top_mm: f64,
    /// Which of the possible heights that is near.
    pub(crate) height: usize,
    /// How well edges agree there, at most 1.
    pub(crate) agreement: f64,
}

/// One edge point where it shows in a photo.
struct Shows {
    /// On the plate, mm.
    at: [f64; 2],
    /// The outward normal.
    n: [f64; 2],
    /// How it moves with x, y, turn (per radian) and height (per mm).
    moves: [[f64; 2]; 4],
    weight: f64,
}

impl Inside {
    /// Looks for a body with this outline, the best place first.
    pub(crate) fn look_for_body(
        &self,
        view: &View,
        heights: &Heights,
        watch: &dyn Watch,
    ) -> Result<Vec<Body>, HomesError> {
        let level = &self.levels[scale_for(view)];
        let k = level.field.px_per_mm;
        let scale = self.scale_at(USUAL_MM);
        let mut from: Vec<Spot> = search(view, By::All, level, scale, watch)?
            .iter()
            .take(COARSE)
            .map(|c| {
                let seen = self.origin + Vector::new(c.stand.x, c.stand.y);
                Spot {
                    centre: self.nadir + (seen - self.nadir) * (1.0 / scale),
                    turn: c.stand.turn,
                }
            })
            .collect();
        from.extend(self.by_silhouette(view));
        let points = thinned(view, 1.0 / MIDDLE_PX_PER_MM, CLIMB_POINTS);
        let contour = Contour::of(self);
        let look = Look {
            points: &points,
            heights,
            contour: &contour,
        };
        let radius = view.radius_mm.max(1.0);
        let starts: Vec<(Spot, usize)> = from
            .iter()
            .flat_map(|&spot| (0..heights.mm.len()).map(move |h| (spot, h)))
            .collect();
        let mut found = mapped(&starts, |&(spot, height)| {
            let body = Body {
                spot,
                top_mm: heights.mm[height],
                height,
                agreement: 0.0,
            };
            let rough = [0.5 / k, 0.5 / k / radius, 1.0];
            let near = self.climbed(&look, &level.field, body, rough, 1);
            let fine = [0.5, 0.5 / radius, 1.0];
            self.climbed(&look, &self.middle, near, fine, 3)
        });
        // Rims, ledges and shade run beside each other: the best are tried again from round about.
        for height in 0..heights.mm.len() {
            let mut best: Vec<Body> = found
                .iter()
                .filter(|b| b.height == height)
                .copied()
                .collect();
            best.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
            for b in best.iter().take(TRIED_AGAIN) {
                for (x, y) in ROUND_ABOUT {
                    let mut from = *b;
                    from.spot.centre = from.spot.centre + Vector::new(x, y);
                    let steps = [0.4, 0.4 / radius, 0.5];
                    found.push(self.climbed(&look, &self.middle, from, steps, 3));
                }
            }
        }
        found.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
        let mut kept: Vec<Body> = Vec::new();
        for b in found {
            let same = |k: &Body| {
                k.height == b.height
                    && k.spot.centre.distance_mm(b.spot.centre) < 0.8
                    && turned_by(k.spot.turn, b.spot.turn) * radius < 1.5
            };
            let many = kept.iter().filter(|k| k.height == b.height).count();
            if many < CLOSELY && !kept.iter().any(same) {
                kept.push(b);
            }
        }
        let points = thinned(view, 1.0 / self.fine.px_per_mm, FIT_POINTS);
        let look = Look {
            points: &points,
            ..look
        };
        let mut fitted: Vec<Body> = kept
            .into_iter()
            .map(|b| self.fitted(&look, b, radius))
            .collect();
        fitted.sort_by(|a, b| b.agreement.total_cmp(&a.agreement));
        Ok(fitted)
    }

    /// Bodies fitted to their edges near their places.
    pub(crate) fn bodies_near(&self, view: &View, heights: &Heights, near: &[Body]) -> Vec<Body> {
        let radius = view.radius_mm.max(1.0);
        let contour = Contour::of(self);
        let points = thinned(view, 1.0 / MIDDLE_PX_PER_MM, CLIMB_POINTS);
        let rough = Look {
            points: &points,
            heights,
            contour: &contour,
        };
        let points = thinned(view, 1.0 / self.fine.px_per_mm, FIT_POINTS);
        let fine = Look {
            points: &points,
            ..rough
        };
        let steps = [0.3, 0.3 / radius, 0.3];
        near.iter()
            .map(|&body| {
                let climbed = self.climbed(&rough, &self.middle, body, steps, 3);
                self.fitted(&fine, climbed, radius)
            })
            .collect()
    }

    /// Places that lay the outline on the silhouette, in all four quarter turns.
    fn by_silhouette(&self, view: &View) -> Vec<Spot> {
        let seen = filled(&self.silhouette);
        let Ok(found) = placed_roughly(&view.outline, &seen, &Silent) else {
            return Vec::new();
        };
        let scale = 1.0 + 0.5 * (self.scale_at(USUAL_MM) - 1.0);
        let centre = found.apply(view.centre);
        let spot = Spot {
            centre: self.nadir + (centre - self.nadir) * (1.0 / scale),
            turn: found.turn_deg.to_radians(),
        };
        (0..4)
            .map(|k| Spot {
                turn: spot.turn + f64::from(k) * std::f64::consts::FRAC_PI_2,
                ..spot
            })
            .collect()
    }

    /// Where the body's edges show.
    fn shown(&self, points: &[EdgePoint], body: &Body) -> impl Iterator<Item = Shows> {
        let (s, c) = body.spot.turn.sin_cos();
        let scale = self.scale_at(body.top_mm);
        let per_mm = scale * scale / self.height_mm;
        let (nadir, origin, centre) = (self.nadir, self.origin, body.spot.centre);
        points.iter().flat_map(move |p| {
            let arm = Vector::new(c * p.at[0] - s * p.at[1], s * p.at[0] + c * p.at[1]);
            let (re, im) = (f64::from(p.way.re), f64::from(p.way.im));
            let n = [c * re - s * im, s * re + c * im];
            let away = centre + arm - nadir;
            let looks_away = away.x * n[0] + away.y * n[1] > 0.0;
            let edge = move |scale: f64, per_mm: f64, weight: f64| {
                let at: Point = nadir + away * scale;
                Shows {
                    at: [at.x - origin.x, at.y - origin.y],
                    n,
                    moves: [
                        [scale, 0.0],
                        [0.0, scale],
                        [-scale * arm.y, scale * arm.x],
                        [away.x * per_mm, away.y * per_mm],
                    ],
                    weight,
                }
            };
            let top = edge(scale, per_mm, if looks_away { 1.0 } else { AGAINST_WALL });
            let base = (!looks_away).then(|| edge(1.0, 0.0, 1.0));
            std::iter::once(top).chain(base)
        })
    }

    fn agreement_of(&self, look: &Look<'_>, field: &Field, body: &Body) -> f64 {
        let heights = look.heights;
        let k = field.px_per_mm;
        let (mut sum, mut total, mut met) = (0.0, 0.0, 0.0);
        for e in self.shown(look.points, body) {
            // What shows against the wall adds where it is there, and nothing where not.
            let optional = e.weight < 1.0;
            if !optional {
                total += 1.0;
                met += look.contour.nearness(e.at);
            }
            if let Some(unsigned) = field.unsigned_at([e.at[0] * k, e.at[1] * k]) {
                let way = Complex32::new(e.n[0] as f32, e.n[1] as f32);
                let meets = f64::from(((way * way).conj() * unsigned).re);
                sum += e.weight * if optional { meets.max(0.0) } else { meets };
            }
        }
        let off = (body.top_mm - heights.mm[body.height]) / heights.sigma_mm[body.height];
        let w = if heights.mm[body.height] > HULL_MM {
            CONTOUR
        } else {
            0.0
        };
        (sum + w * met) / (1.0 + w) / f64::max(total, 1.0) - HEIGHT_COSTS * off * off
    }

    /// Climbs to the next best agreement in ever smaller steps of place (mm), turn and height (mm).
    fn climbed(
        &self,
        look: &Look<'_>,
        field: &Field,
        from: Body,
        steps: [f64; 3],
        halvings: usize,
    ) -> Body {
        let [place, turn, height] = steps;
        let moved = |mut body: Body, axis: usize, by: f64| {
            match axis {
                0 => body.spot.centre.x += by,
                1 => body.spot.centre.y += by,
                2 => body.spot.turn += by,
                _ => body.top_mm = (body.top_mm + by).clamp(HEIGHTS_MM[0], HEIGHTS_MM[1]),
            }
            body
        };
        let worth = |body: &Body| self.agreement_of(look, field, body);
        let steps = [place, place, turn, height];
        let (body, agreement) = ascend(from, steps, [halvings, 12], moved, worth);
        Body { agreement, ..body }
    }

    /// Fits place and height to where the photo's edges really are.
    fn fitted(&self, look: &Look<'_>, from: Body, radius: f64) -> Body {
        let heights = look.heights;
        let mut body = from;
        for reach_mm in [0.8, 0.7, 0.6, 0.5, 0.4, 0.4] {
            let across = Across::of(reach_mm, self.picture.px_per_mm);
            let mut normal = Matrix4::<f64>::zeros();
            let mut right = Vector4::<f64>::zeros();
            let mut weights = 0.0;
            for e in self.shown(look.points, &body) {
                let Some((d, strength)) = across.step(&self.picture, e.at, e.n, true) else {
                    continue;
                };
                let w = edge_weight(e.weight, d, strength, reach_mm);
                let along = |k: usize| e.moves[k][0] * e.n[0] + e.moves[k][1] * e.n[1];
                let row = Vector4::new(along(0), along(1), along(2) / radius, along(3));
                normal += row * row.transpose() * w;
                right += row * (w * d);
                weights += w;
            }
            if weights < 1.0 {
                break;
            }
            // What is thought of the height, as one more observation of edges with a noise of 0.1 mm.
            let prior = (0.1 / heights.sigma_mm[body.height]).powi(2);
            normal[(3, 3)] += prior;
            right[3] += prior * (heights.mm[body.height] - body.top_mm);
            for k in 0..3 {
                normal[(k, k)] += 1e-3;
            }
            let Some(by) = normal.cholesky().map(|f| f.solve(&right)) else {
                break;
            };
            body.spot.centre.x += by[0].clamp(-1.0, 1.0);
            body.spot.centre.y += by[1].clamp(-1.0, 1.0);
            body.spot.turn += (by[2] / radius).clamp(-0.05, 0.05);
            body.top_mm =
                (body.top_mm + by[3].clamp(-3.0, 3.0)).clamp(HEIGHTS_MM[0], HEIGHTS_MM[1]);
        }
        body.agreement = self.agreement_of(look, &self.middle, &body);
        let before = self.agreement_of(look, &self.middle, &from);
        // Strong edges beside the outline may have drawn it away.
        if before > body.agreement {
            return Body {
                agreement: before,
                ..from
            };
        }
        body
    }
}

/// What a body is looked for by.
#[derive(Clone, Copy)]
struct Look<'a> {
    points: &'a [EdgePoint],
    heights: &'a Heights,
    contour: &'a Contour,
}

/// How near the edge of the device's silhouette is: 1 on it, nothing far from it. A shadow moves it on one side, not on all.
struct Contour {
    width: usize,
    height: usize,
    px_per_mm: f64,
    near: Vec<[f32; 1]>,
}

impl Contour {
    fn of(inside: &Inside) -> Self {
        let Field {
            width,
            height,
            px_per_mm,
            ..
        } = inside.middle;
        let tree = EdgeTree::new(filled(&inside.silhouette));
        let near = (0..width * height)
            .map(|k| {
                let (i, j) = (k % width, k / width);
                let p = inside.origin + Vector::new(i as f64 / px_per_mm, j as f64 / px_per_mm);
                let near = tree.nearest(p, CONTOUR_REACH * CONTOUR_MM);
                [near.map_or(0.0, |n| {
                    (-0.5 * (n.signed_mm / CONTOUR_MM).powi(2)).exp() as f32
                })]
            })
            .collect();
        Self {
            width,
            height,
            px_per_mm,
            near,
        }
    }

    /// At a place on the plate, mm.
    fn nearness(&self, [x, y]: [f64; 2]) -> f64 {
        let at = [x * self.px_per_mm, y * self.px_per_mm];
        f64::from(between(&self.near, self.width, self.height, at)[0])
    }
}

/// The outline's points, evenly, about as many as asked at most.
fn thinned(view: &View, step_mm: f64, most: usize) -> Vec<EdgePoint> {
    let length = view.outline.outer().length_mm();
    view.rim_points(step_mm.max(length / most as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heights_follow_from_the_shells_thicknesses() {
        let h = Heights::of_shells(&[2.0, 7.7]);
        assert_eq!(h.singles, 2);
        assert_eq!(h.mm, [7.7, 2.0, 7.7 + 2.0 + CLOSED_MM[0]]);
        assert_eq!(h.sigma_mm.len(), h.mm.len());
        assert!(h.is_of(0, 7.5) && h.is_of(1, 2.1) && !h.is_of(0, 2.0));
        // Two alike are one height alone, and still two where the device is closed.
        let h = Heights::of_shells(&[5.0, 5.1]);
        assert_eq!(h.singles, 1);
        assert_eq!(h.mm.len(), 2);
    }

    #[test]
    fn of_shells_that_say_nothing_a_usual_height_is_taken() {
        for none in [&[][..], &[0.0], &[-3.0], &[f64::NAN], &[400.0]] {
            let h = Heights::of_shells(none);
            assert_eq!((h.mm, h.singles), (vec![USUAL_MM], 1));
        }
    }
}
