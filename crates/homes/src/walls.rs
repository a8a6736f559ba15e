//! The open hull by its walls.
//!
//! A wall's outer edge runs beside shade, and of a white hull on white paper hardly shows. Its inner edge shows whatever lies in the
//! hull, and the shell's own picture tells where it runs. Which side is the brighter hangs on what lies in it.

use crate::inside::{Inside, MIDDLE_PX_PER_MM};
use crate::register::{Spot, filled};
use crate::search::{Candidate, unlike};
use crate::settle::{Steps, climb, fit_edges};
use crate::sought::{EdgePoint, FINE_PX_PER_MM, View, thin_out};
use shape::{Outline, Point, Vector, mapped};

/// The inner edge of a wall is looked for this far from the outline, mm: walls of hand-held devices are 1 to 2 mm thick, with
/// ledges and bosses beside them (common practice, no source).
const WALL_MM: [f64; 2] = [0.8, 3.5];

/// The walls' edges outweigh the outline's by no more than this.
const MOST_OF_WALLS: f32 = 1.5;

/// Tops nearer than this are one, mm; so many go on.
const SAME_TOP_MM: f64 = 0.2;
const GO_ON: usize = 6;

/// So many are told, none nearer to another than this, mm.
const MOST_TOPS: usize = 3;
const APART_MM: f64 = 0.8;

/// Edge points of each kind, on the middle scale, few and all, and on the fine scale.
const ROUGH_POINTS: usize = 250;
const CLIMB_POINTS: usize = 900;
const FIT_POINTS: usize = 1500;

/// How far the hull may be from where it is thought, mm; looked for from so many places on either side.
const OFF_MM: f64 = 3.0;
const STARTS: i32 = 2;

/// How well its height is known, one sigma, mm.
const HEIGHT_SIGMA_MM: f64 = 0.6;

/// A hull's outline and walls as its own picture shows them.
pub(crate) struct Walls {
    rough: Vec<EdgePoint>,
    middle: Vec<EdgePoint>,
    fine: Vec<EdgePoint>,
    radius_mm: f64,
}

impl Walls {
    /// Of a shell as it is seen from the side that looks up.
    pub(crate) fn of(shell: &View) -> Self {
        let (middle, fine) = (MIDDLE_PX_PER_MM, FINE_PX_PER_MM);
        Self {
            rough: edge_points(shell, middle, ROUGH_POINTS),
            middle: edge_points(shell, middle, CLIMB_POINTS),
            fine: edge_points(shell, fine, FIT_POINTS),
            radius_mm: shell.radius_mm,
        }
    }

    /// Where a photo may show the hull near a spot of its sheet, and how well edges agree there, at most 1: ledges and shade run beside
    /// its walls.
    pub(crate) fn seen_near(&self, spot: Spot, top_mm: f64, inside: &Inside) -> Vec<(Spot, f64)> {
        let scale = inside.scale_at(top_mm);
        let steps = |place_mm: f64, halvings: usize| Steps {
            place_mm,
            turn: place_mm / self.radius_mm.max(1.0),
            scale: 0.0,
            halvings,
        };
        let scales = [scale, scale];
        let step = OFF_MM / f64::from(STARTS);
        let starts: Vec<(i32, i32)> = (-STARTS..=STARTS)
            .flat_map(|x| (-STARTS..=STARTS).map(move |y| (x, y)))
            .collect();
        // By few edge points first; the best of the tops that these lead to go on by all.
        let mut tops = mapped(&starts, |&(x, y)| {
            let off = Vector::new(f64::from(x) * step, f64::from(y) * step);
            let from = Spot {
                centre: spot.centre + off,
                ..spot
            };
            let stand = inside.stand_of(from, top_mm);
            let from = Candidate { stand, score: 0.0 };
            climb(&self.rough, &inside.middle, from, steps(0.6, 2), scales)
        });
        tops.sort_by(|a, b| b.score.total_cmp(&a.score));
        let turn = SAME_TOP_MM / self.radius_mm.max(1.0);
        let tops = unlike(tops, SAME_TOP_MM, turn, GO_ON);
        let mut climbed = mapped(&tops, |&top| {
            climb(&self.middle, &inside.middle, top, steps(0.3, 2), scales)
        });
        climbed.sort_by(|a, b| b.score.total_cmp(&a.score));
        let turn = APART_MM / self.radius_mm.max(1.0);
        let prior = [scale, HEIGHT_SIGMA_MM / inside.height_mm];
        let picture = &inside.picture;
        unlike(climbed, APART_MM, turn, MOST_TOPS)
            .into_iter()
            .map(|c| {
                let held = fit_edges(&self.fine, picture, c.stand, self.radius_mm, prior);
                (inside.spot_of(&held.stand), c.score)
            })
            .collect()
    }
}

/// The outline, and what edges the picture shows within a wall's breadth of it, whichever side is the brighter.
fn edge_points(shell: &View, px_per_mm: f64, most: usize) -> Vec<EdgePoint> {
    let outline = filled(&shell.outline);
    let within = |mm: f64| shape::offset(std::slice::from_ref(&outline), -mm);
    let (outer, inner) = (within(WALL_MM[0]), within(WALL_MM[1]));
    let holds = |all: &[Outline], p: Point| all.iter().any(|o| o.contains(p));
    let mut walls: Vec<EdgePoint> = shell
        .inside_points(px_per_mm)
        .into_iter()
        .filter(|p| {
            let at = shell.centre + Vector::new(p.at[0], p.at[1]);
            holds(&outer, at) && !holds(&inner, at)
        })
        .map(|p| EdgePoint { rim: true, ..p })
        .collect();
    thin_out(&mut walls, most);
    let mut all = shell.rim_points(1.0 / px_per_mm);
    thin_out(&mut all, most);
    let weight = |points: &[EdgePoint]| points.iter().map(|p| p.weight).sum::<f32>();
    let share = (MOST_OF_WALLS * weight(&all) / weight(&walls).max(1e-6)).min(1.0);
    walls.iter_mut().for_each(|p| p.weight *= share);
    all.extend(walls);
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sought::{Picture, Side, Sought};
    use shape::Pose;

    /// A hull of 40 by 60 mm: walls of 1.6 mm, a darker floor, a label in the middle.
    fn hull() -> View {
        let corner = |x: f64, y: f64| Point::new(x, y);
        let outline = vec![
            corner(0.0, 0.0),
            corner(40.0, 0.0),
            corner(40.0, 60.0),
            corner(0.0, 60.0),
        ];
        let outline = Outline::try_new(outline, Vec::new()).expect("a rectangle");
        let (k, width, height) = (10, 400, 600);
        let mut rgba8 = Vec::new();
        for j in 0..height {
            for i in 0..width {
                let from_edge = i.min(width - 1 - i).min(j).min(height - 1 - j);
                let label = (150..250).contains(&i) && (200..400).contains(&j);
                let grey = match () {
                    () if label => 20,
                    () if from_edge < 16 => 230,
                    () => 150,
                };
                rgba8.extend([grey, grey, grey, 255]);
            }
        }
        let sought = Sought {
            outline,
            sigma_mm: None,
            thickness_mm: Some(7.7),
            front: Some(Picture {
                width,
                height,
                rgba8: rgba8.into(),
                px_per_mm: f64::from(k),
                outline_from_picture: Pose::default(),
            }),
            back: None,
        };
        View::of(&sought, Side::Front)
    }

    #[test]
    fn the_inner_edge_of_the_wall_counts_and_what_lies_on_the_floor_does_not() {
        let hull = hull();
        let points = edge_points(&hull, 5.0, 2000);
        let (mut outline, mut walls) = (0, 0);
        for p in &points {
            let at = hull.centre + Vector::new(p.at[0], p.at[1]);
            let from_edge = at.x.min(40.0 - at.x).min(at.y).min(60.0 - at.y);
            assert!(p.rim, "either side may be the brighter one");
            if from_edge < 0.3 {
                outline += 1;
            } else {
                assert!((from_edge - 1.6).abs() < 0.6, "{from_edge}");
                walls += 1;
            }
        }
        assert!(outline > 500 && walls > 500, "{outline} {walls}");
    }
}
