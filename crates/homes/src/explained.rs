//! A photo without the edges of the parts that are surely found in it.
//!
//! Much on a board looks like a small part: a package has the outline of a can. Where the board's own picture is seen, its edges are the
//! board's, and whoever looks for the can there looks at the wrong thing. Only edges that run as the board's do are taken away: those of a
//! can that lies on it cross them and stay.

use crate::field::Field;
use crate::inside::{Inside, Sighting};
use crate::search::Level;
use crate::sought::{EdgePoint, View};
use rustfft::num_complex::Complex32;
use shape::mapped;
use std::collections::BTreeSet;

/// An edge of the photo so near to a part's own, and half a pixel more, is that one: of its print, and of its outline, whose edge is round, mm.
const OF_PRINT_MM: f64 = 0.3;
const OF_RIM_MM: f64 = 0.6;

/// Parts that are found in one photo.
#[derive(Default)]
pub(crate) struct Explained<'a>(Vec<(&'a View, Sighting)>);

impl<'a> Explained<'a> {
    /// One more part, and where it is seen.
    pub(crate) fn add(&mut self, view: &'a View, sighting: Sighting) {
        self.0.push((view, sighting));
    }

    /// Edges without those that are explained.
    fn taken_from(&self, field: &Field) -> Field {
        let mut left = field.clone();
        // How much stays of both fields, by pixel.
        let mut keeps = vec![[1.0f32; 2]; field.signed.len()];
        for (view, sighting) in &self.0 {
            let stand = sighting.held.stand;
            let to_plate = stand.to_plate();
            for (edge, reach_mm) in edges_seen(view, sighting, field.px_per_mm) {
                let way = edge.way * Complex32::from_polar(1.0, stand.turn as f32);
                pixels_near(to_plate(edge.at), reach_mm, field, |k| {
                    let signed =
                        (field.signed[k] * way.conj()).re / field.signed[k].norm().max(1e-6);
                    let signed = if edge.rim { signed.abs() } else { signed };
                    let unsigned = field.unsigned[k] * (way * way).conj();
                    let unsigned = unsigned.re / unsigned.norm().max(1e-6);
                    keeps[k][0] = keeps[k][0].min(1.0 - signed.max(0.0));
                    keeps[k][1] = keeps[k][1].min(1.0 - unsigned.max(0.0));
                });
            }
        }
        for (k, [signed, unsigned]) in keeps.into_iter().enumerate() {
            left.signed[k] *= signed;
            left.unsigned[k] *= unsigned;
        }
        left
    }
}

/// A part's edges at a scale where the photo shows what the part looks like there, each with its reach, mm.
fn edges_seen(view: &View, sighting: &Sighting, px_per_mm: f64) -> Vec<(EdgePoint, f64)> {
    let evidence = &sighting.evidence;
    let cell = |at: [f64; 2]| {
        let first = evidence.tiles.first().map_or([0.0; 2], |t| t.at);
        let of = |k: usize| ((at[k] - first[k]) / evidence.side_mm + 0.5).floor() as i64;
        [of(0), of(1)]
    };
    let shows: BTreeSet<[i64; 2]> = (evidence.tiles.iter())
        .filter(|t| t.seen && t.patterned)
        .map(|t| cell(t.at))
        .collect();
    let print = view.inside_points(px_per_mm).into_iter();
    let print = print.filter(|p| shows.contains(&cell(p.at)));
    let rim = view.rim_points(0.5).into_iter().filter(|p| {
        let off = |q: [f64; 2]| (q[0] - p.at[0]).hypot(q[1] - p.at[1]);
        let nearest = evidence
            .rim
            .iter()
            .min_by(|a, b| off(a.at).total_cmp(&off(b.at)));
        nearest.is_some_and(|n| n.seen)
    });
    let half_px_mm = 0.5 / px_per_mm;
    (print.map(|p| (p, OF_PRINT_MM + half_px_mm)))
        .chain(rim.map(|p| (p, OF_RIM_MM + half_px_mm)))
        .collect()
}

/// Goes through a field's pixels within reach of a place of the plate, mm.
fn pixels_near(place: [f64; 2], reach_mm: f64, field: &Field, mut each: impl FnMut(usize)) {
    let [x, y] = place.map(|v| v * field.px_per_mm);
    let reach = reach_mm * field.px_per_mm;
    let range = |v: f64, size: usize| {
        let low = (v - reach).ceil().max(0.0) as usize;
        let high = (v + reach).floor().min(size as f64 - 1.0);
        low..(high + 1.0).max(0.0) as usize
    };
    for j in range(y, field.height) {
        for i in range(x, field.width) {
            if (i as f64 - x).hypot(j as f64 - y) <= reach {
                each(j * field.width + i);
            }
        }
    }
}

impl Inside {
    /// The same photo as far as it is not explained.
    pub(crate) fn without(&self, explained: &Explained<'_>) -> Self {
        Self {
            taken: self.taken.clone(),
            silhouette: self.silhouette.clone(),
            beside: self.beside.clone(),
            picture: self.picture.clone(),
            is_rest: true,
            fine: explained.taken_from(&self.fine),
            middle: explained.taken_from(&self.middle),
            levels: mapped(&self.levels, |l| Level::of(explained.taken_from(&l.field))),
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::{RimPoint, Tile};
    use crate::raster::Raster;
    use shape::{Outline, Point};

    const PX_PER_MM: f64 = 5.0;

    /// A grey picture of 20 x 20 mm.
    fn picture(grey: impl Fn(f64, f64) -> f32) -> Raster {
        let px = (20.0 * PX_PER_MM) as usize;
        let at = |k: usize| k as f64 / PX_PER_MM;
        let rgb = (0..px * px).map(|k| [grey(at(k % px), at(k / px)); 3]);
        Raster {
            width: px,
            height: px,
            px_per_mm: PX_PER_MM,
            origin: Point::new(0.0, 0.0),
            rgb: rgb.collect(),
            alpha: vec![1.0; px * px],
        }
    }

    /// A board with a dark package on it, 6 x 10 mm.
    fn board(x: f64, y: f64) -> f32 {
        let package = (7.0..13.0).contains(&x) && (5.0..15.0).contains(&y);
        if package { 0.2 } else { 0.6 }
    }

    /// What is left at a place of a photo of that board with a bright strip across it, once the board is found in it.
    fn left_at(at: [f64; 2], seen: bool) -> [f32; 2] {
        let corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)];
        let corners = corners.map(|(x, y)| Point::new(x, y)).to_vec();
        let view = View {
            picture: Some(picture(board)),
            ..View::of_outline(Outline::try_new(corners, Vec::new()).expect("a square"))
        };
        let mut sighting = Sighting::unheld();
        (sighting.held.stand.x, sighting.held.stand.y) = (10.0, 10.0);
        let middle = |k: i32| [f64::from(k % 8) - 3.5, f64::from(k / 8) - 3.5].map(|v| v * 2.5);
        let tile = |k| Tile {
            at: middle(k),
            seen,
            patterned: true,
        };
        sighting.evidence.tiles = (0..64).map(tile).collect();
        sighting.evidence.side_mm = 2.5;
        sighting.evidence.rim = vec![RimPoint {
            at: [0.0, -10.0],
            seen: false,
        }];
        let photo = picture(|x, y| {
            if (9.0..11.0).contains(&y) {
                0.9
            } else {
                board(x, y)
            }
        });
        let mut explained = Explained::default();
        explained.add(&view, sighting);
        let field = explained.taken_from(&Field::of(&photo));
        let k = at.map(|v| (v * PX_PER_MM) as usize);
        let k = k[1] * field.width + k[0];
        [field.signed[k].norm(), field.unsigned[k].norm()]
    }

    #[test]
    fn print_that_is_seen_is_taken_away_and_what_crosses_it_stays() {
        // A side of the package; the strip's own edge in the middle of the package.
        let (side, strip) = ([7.0, 7.0], [10.0, 9.0]);
        assert!(
            left_at(side, false).iter().all(|v| *v > 0.5),
            "{:?}",
            left_at(side, false)
        );
        assert!(
            left_at(side, true).iter().all(|v| *v < 0.05),
            "{:?}",
            left_at(side, true)
        );
        assert!(
            left_at(strip, true).iter().all(|v| *v > 0.5),
            "{:?}",
            left_at(strip, true)
        );
        // Where the strip crosses the package's side, its edge stays too.
        assert!(left_at([6.0, 9.0], true)[1] > 0.5);
    }
}
