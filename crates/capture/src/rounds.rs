//! Round holes, found by their shape once a part's height is known.
//!
//! Through a hole in a thick part little paper is seen, in deep shade or coloured by the hole's wall: cell by cell it cannot be told from a
//! dark face. But the rim on the upper face is a circle whose place the height tells, and the rim at the foot another one, nearer
//! to the camera's foot (the nadir). Circles are looked for in the light of the upper face ([`votes`]), asked about and moved
//! ([`round`](crate::segment::eye::round)); what is found is a hole with upright walls, and takes the place of what was seen of it.

mod bearing;
mod face;
mod votes;

use crate::height::{Standpoint, true_outlines};
use crate::light::Light;
use crate::plane::SheetPlane;
use crate::segment::paper::Ground;
use crate::silhouette::{Silhouette, is_wide_enough};
pub(crate) use bearing::Said;
use bearing::is_borne_out;
use face::{Circle, Face};
use shape::{EdgeTree, Outline, Point, Ring, mapped};

/// A part lower than this hides nothing of its holes, mm.
const LEAST_HEIGHT_MM: f64 = 0.4;

/// Coarser pictures were not taught.
const LEAST_CELLS_PER_MM: f64 = 2.0;

/// The smallest hole that is taken for one, mm radius: below it, print is as round as the cells can tell.
const LEAST_RADIUS_MM: f64 = 0.65;

/// How far a rim must be from the part's own border, mm.
const LEAST_RIM_MM: f64 = 0.1;

/// The largest share of a part that is taken for a hole: what is left of a screw's head round its drive is none.
const MOST_SHARE: f64 = 0.5;

/// Odds (their logarithm) below which a circle is asked about no more: at first, and once it was moved.
const WORTH_ASKING: [f32; 2] = [-2.0, -1.0];

/// Odds (their logarithm) from which on a circle is a hole. Of 398 openings that show 0.6 mm of paper on 37 rendered photos, 19 are missed so,
/// and no circle is invented (without circles 70 are missed); from -1 on, a printed dot may be taken for a hole.
const SURE: f32 = 0.0;

/// A hole that was seen is part of a round one where so much of it lies in it.
const SEEN_OF_ROUND: f64 = 0.5;

/// A hole whose foot appears moved by less than this share of its radius is seen nearly whole, and one that shares so much of both is
/// much the same. On 41 rendered photos, with circles of a first network, 224 holes seen so were 0.01 mm truer (mean), 12 others 0.07 mm
/// less true.
const SEEN_WHOLE: f64 = 0.8;
const ALIKE: f64 = 0.6;

/// Corners of a circle's polygon: on the largest that is looked for, it is true to a hundredth of a millimetre.
const CORNERS: usize = 96;

/// A round hole through a part, mm of the sheet's plane at the part's foot, and how surely it is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RoundHole {
    centre: Point,
    radius_mm: f64,
    /// How far its foot appears moved against its rim.
    shift_mm: f64,
    /// The logarithm of the odds that it is one.
    odds: f32,
}

/// What may be round holes of a part whose walls were given back, height `h_mm`; strokes change nothing of it.
pub(crate) fn round_holes(
    silhouette: &Silhouette,
    light: &Light<'_, impl SheetPlane>,
    from: Standpoint,
    h_mm: f64,
) -> Vec<RoundHole> {
    if light.relative.ground != Ground::Paper
        || light.cells_per_mm < LEAST_CELLS_PER_MM
        || h_mm < LEAST_HEIGHT_MM
        || h_mm > 0.5 * from.height_mm
    {
        return Vec::new();
    }
    let filled = Outline::try_new(silhouette.in_sheet.outer().points().to_vec(), Vec::new());
    let whole = filled
        .ok()
        .and_then(|o| shape::largest(true_outlines(&o, from, h_mm)));
    let face = whole
        .as_ref()
        .and_then(|o| Face::of(o.bounds().grown(1.0), light, from, h_mm));
    let (Some(whole), Some(face)) = (whole, face) else {
        return Vec::new();
    };
    let most_mm2 = MOST_SHARE * whole.area_mm2();
    let border = EdgeTree::new(whole);
    let inside = |c: &Circle| {
        border.signed_distance_mm(c.centre) < -(c.radius_mm + LEAST_RIM_MM)
            && std::f64::consts::PI * c.radius_mm.powi(2) < most_mm2
    };
    let mut circles = votes::circles(&face);
    circles.retain(inside);
    for worth in WORTH_ASKING {
        let moved = mapped(&circles, |c| face.ask(*c));
        circles = moved
            .into_iter()
            .filter_map(|(odds, rim)| (odds > worth).then_some(rim))
            .collect();
    }
    let mut told = mapped(&circles, |c| face.ask(*c));
    told.retain(|(odds, rim)| *odds > SURE && rim.radius_mm > LEAST_RADIUS_MM && inside(rim));
    told.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut holes: Vec<RoundHole> = Vec::new();
    for (odds, Circle { centre, radius_mm }) in told {
        let apart = |h: &RoundHole| h.centre.distance_mm(centre) > h.radius_mm.max(radius_mm);
        if holes.iter().all(apart) {
            let shift_mm = centre.distance_mm(from.nadir) * h_mm / from.height_mm;
            holes.push(RoundHole {
                centre,
                radius_mm,
                shift_mm,
                odds,
            });
        }
    }
    holes
}

/// Those of a part's round holes that what shows through them, and what is said of it, bear out.
pub(crate) fn borne_out(
    holes: &[RoundHole],
    light: &Light<'_, impl SheetPlane>,
    said: Said<'_>,
    from: Standpoint,
    h_mm: f64,
) -> Vec<RoundHole> {
    let told = |hole: &RoundHole| is_borne_out(*hole, light, said, hole.seen(from, h_mm));
    holes.iter().copied().filter(told).collect()
}

impl RoundHole {
    /// The hole as a ring, seen from above counter-clockwise, its points moved by `place`.
    fn ring(self, place: impl Fn(Point) -> Point) -> Vec<Point> {
        let at = |i: usize| {
            let (sin, cos) = (i as f64 * std::f64::consts::TAU / CORNERS as f64).sin_cos();
            let p = self.centre;
            place(Point::new(
                p.x + self.radius_mm * cos,
                p.y + self.radius_mm * sin,
            ))
        };
        (0..CORNERS).map(at).collect()
    }

    /// The hole as an outline, unless the openings that were seen tell more than it does: one that is much the same, seen nearly
    /// whole, is truer to its own edge, and one that reaches out of it is no round hole.
    fn instead_of(self, seen: &[(&Ring, Outline)]) -> Option<Outline> {
        let round = Outline::try_new(self.ring(|p| p), Vec::new()).ok()?;
        let tells_more = seen.iter().any(|(_, hole)| {
            let shared = shape::intersection_area_mm2(hole, &round);
            let both = hole.area_mm2() + round.area_mm2() - shared;
            let as_good = self.shift_mm < SEEN_WHOLE * self.radius_mm && shared > ALIKE * both;
            as_good || (shared > 0.0 && shared < SEEN_OF_ROUND * hole.area_mm2())
        });
        (!tells_more).then_some(round)
    }

    /// What the camera sees of the paper through the hole, mm in the sheet's plane.
    fn seen(self, from: Standpoint, h_mm: f64) -> Vec<Outline> {
        let rim = self.ring(|p| from.appears_at(p, h_mm));
        let foot = self.ring(|p| p);
        let both = [rim, foot].map(|r| Outline::try_new(r, Vec::new()));
        match both {
            [Ok(rim), Ok(foot)] => shape::intersection(&rim, &foot),
            _ => Vec::new(),
        }
    }
}

/// A silhouette in which the paper shows through round holes.
pub(crate) fn seen_through(
    silhouette: Silhouette,
    holes: &[RoundHole],
    from: Standpoint,
    h_mm: f64,
) -> Silhouette {
    let seen = holes.iter().flat_map(|h| h.seen(from, h_mm));
    let seen: Vec<Outline> = seen.filter(is_wide_enough).collect();
    if seen.is_empty() {
        return silhouette;
    }
    match shape::largest(shape::difference(&silhouette.in_sheet, &seen)) {
        Some(open) => silhouette.with_outline(open),
        None => silhouette,
    }
}

/// An outline with round holes in place of what was seen of them, and those that it has now.
pub(crate) fn with_holes(outline: Outline, holes: &[RoundHole]) -> (Outline, Vec<RoundHole>) {
    let seen: Vec<(&Ring, Outline)> = outline
        .holes()
        .iter()
        .filter_map(|ring| {
            let points = ring.points().iter().rev().copied().collect();
            Some((ring, Outline::try_new(points, Vec::new()).ok()?))
        })
        .collect();
    let (told, round): (Vec<RoundHole>, Vec<Outline>) = holes
        .iter()
        .filter_map(|hole| Some((*hole, hole.instead_of(&seen)?)))
        .unzip();
    let stays = |hole: &Outline| {
        let shared = |r: &Outline| shape::intersection_area_mm2(hole, r);
        round
            .iter()
            .all(|r| shared(r) <= SEEN_OF_ROUND * hole.area_mm2())
    };
    let others = seen.iter().filter(|(_, hole)| stays(hole));
    let others = others.map(|(ring, _)| ring.points().to_vec()).collect();
    let open = Outline::try_new(outline.outer().points().to_vec(), others)
        .ok()
        .and_then(|rest| shape::largest(shape::difference(&rest, &round)));
    match open {
        Some(open) if !told.is_empty() => (open, told),
        _ => (outline, Vec::new()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::segment::Labels;
    use crate::segment::grid::FieldGrid;
    use crate::segment::paper::Relative;
    use shape::Bounds;

    const CELLS_PER_MM: f64 = 5.0;
    const SIZE: [usize; 2] = [400, 300];
    const HEIGHT_MM: f64 = 6.0;
    const FROM: Standpoint = Standpoint {
        height_mm: 400.0,
        nadir: Point { x: -40.0, y: 20.0 },
    };

    /// A picture that shows the sheet as it is, five pixels a millimetre, y up.
    struct Straight;

    impl SheetPlane for Straight {
        fn sheet_from_photo(&self, [x, y]: [f64; 2]) -> Option<Point> {
            Some(Point::new(
                x / CELLS_PER_MM,
                (SIZE[1] as f64 - y) / CELLS_PER_MM,
            ))
        }

        fn photo_from_sheet(&self, p: Point) -> Option<[f64; 2]> {
            Some([p.x * CELLS_PER_MM, SIZE[1] as f64 - p.y * CELLS_PER_MM])
        }

        fn rise_px(&self, _: [f64; 2]) -> Option<[f64; 2]> {
            None
        }
    }

    const HOLE: (f64, f64, f64) = (40.0, 30.0, 1.2);

    fn in_circle(p: Point, (x, y, r): (f64, f64, f64)) -> bool {
        p.distance_mm(Point::new(x, y)) < r
    }

    fn lowered(p: Point) -> Point {
        FROM.nadir + (p - FROM.nadir) * (1.0 - HEIGHT_MM / FROM.height_mm)
    }

    /// Light over paper at a point of the sheet: a grey block on white paper with a deep hole, a black printed square as wide as it, and
    /// a printed dot.
    fn light_at(p: Point) -> f64 {
        let block = Bounds::between(Point::new(20.0, 15.0), Point::new(60.0, 45.0));
        let top = lowered(p);
        if !block.contains(top) {
            return 1.0;
        }
        if in_circle(top, HOLE) {
            // The paper in the hole's shade, and the hole's wall.
            return if in_circle(p, HOLE) { 0.3 } else { 0.05 };
        }
        let square = Bounds::between(Point::new(28.8, 28.8), Point::new(31.2, 31.2));
        if square.contains(top) || in_circle(top, (50.0, 22.0, 1.2)) {
            return 0.05;
        }
        0.2
    }

    fn relative() -> Relative {
        let mut log = vec![[0.0; 3]; SIZE[0] * SIZE[1]];
        for (cell, own) in log.iter_mut().enumerate() {
            let mut sum = 0.0;
            for sub in 0..16 {
                let off = [sub % 4, sub / 4].map(|v| (f64::from(v) - 1.5) / 4.0);
                let px = [
                    (cell % SIZE[0]) as f64 + off[0],
                    (cell / SIZE[0]) as f64 + off[1],
                ];
                sum += Straight.sheet_from_photo(px).map_or(0.0, light_at) / 16.0;
            }
            *own = [sum.ln() as f32; 3];
        }
        Relative {
            log,
            noise: 0.01,
            ground: Ground::Paper,
            ground_light: [0.0; 3],
        }
    }

    fn block() -> Silhouette {
        let foot = Outline::rectangle(Point::new(20.0, 15.0), Point::new(60.0, 45.0)).expect("one");
        let top = |p: &Point| FROM.appears_at(*p, HEIGHT_MM);
        let feet = foot.outer().points();
        let corners = feet.iter().copied().chain(feet.iter().map(top)).collect();
        Silhouette {
            in_sheet: Outline::try_new(shape::convex_hull(corners, 0.0), vec![]).expect("one"),
            faint_share: 0.0,
            like_shade_share: 0.0,
            edge_sigma_mm: 0.0,
            at_field_edge: false,
            openings_left_out: 0,
            pieces_left_out: 0,
        }
    }

    fn found() -> Vec<RoundHole> {
        let grid = FieldGrid::of_cells(SIZE[0], SIZE[1]);
        let light = Light {
            grid: &grid,
            relative: &relative(),
            plane: &Straight,
            cells_per_mm: CELLS_PER_MM,
        };
        let labels = Labels::alike(4.0, SIZE[0] * SIZE[1]);
        let said = Said {
            by_eye: &labels,
            with_strokes: &labels,
        };
        let holes = round_holes(&block(), &light, FROM, HEIGHT_MM);
        borne_out(&holes, &light, said, FROM, HEIGHT_MM)
    }

    /// Truth: by construction.
    #[test]
    fn a_deep_hole_is_found_and_print_is_not() {
        let holes = found();
        assert_eq!(holes.len(), 1, "{holes:?}");
        let (x, y, r) = HOLE;
        assert!(
            holes[0].centre.distance_mm(Point::new(x, y)) < 0.15,
            "{holes:?}"
        );
        assert!((holes[0].radius_mm - r).abs() < 0.15, "{holes:?}");
    }

    fn circle(x: f64, y: f64, radius_mm: f64, shift_mm: f64) -> RoundHole {
        let centre = Point::new(x, y);
        RoundHole {
            centre,
            radius_mm,
            shift_mm,
            odds: 9.0,
        }
    }

    fn plate(hole: RoundHole) -> Outline {
        let whole = Outline::rectangle(Point::new(0.0, 0.0), Point::new(20.0, 10.0)).expect("one");
        with_holes(whole, &[hole]).0
    }

    /// Two circles of radius r, d apart, share 2 r2 acos(d/2r) - d/2 sqrt(4 r2 - d2) (plane geometry).
    #[test]
    fn what_is_seen_of_the_paper_is_what_both_rims_leave() {
        let (r, h_mm) = (1.5, 0.4);
        let hole = circle(40.0, 20.0, r, 0.0);
        let seen = hole.seen(FROM, h_mm);
        assert_eq!(seen.len(), 1);
        let d = 80.0 * h_mm / (FROM.height_mm - h_mm);
        let lens = 2.0 * r * r * (d / (2.0 * r)).acos() - 0.5 * d * (4.0 * r * r - d * d).sqrt();
        assert!(
            (seen[0].area_mm2() - lens).abs() < 0.01,
            "{}",
            seen[0].area_mm2()
        );
    }

    #[test]
    fn a_round_hole_takes_the_place_of_what_was_seen_of_it() {
        let seen_in_part = plate(circle(10.3, 5.0, 1.0, 0.0));
        let (open, told) = with_holes(seen_in_part, &[circle(10.0, 5.0, 1.4, 1.5)]);
        assert_eq!(told.len(), 1);
        assert_eq!(open.holes().len(), 1);
        let area = std::f64::consts::PI * 1.4 * 1.4;
        assert!((200.0 - open.area_mm2() - area).abs() < 0.01 * area);
    }

    #[test]
    fn what_was_seen_better_stays() {
        let stays = |outline: Outline, hole: RoundHole| {
            assert_eq!(with_holes(outline.clone(), &[hole]), (outline, Vec::new()));
        };
        stays(
            plate(circle(10.0, 5.0, 1.4, 0.0)),
            circle(10.1, 5.0, 1.4, 0.3),
        );
        let slot = Outline::rectangle(Point::new(5.0, 4.0), Point::new(12.0, 6.0)).expect("one");
        let slotted = shape::difference(&plate(circle(17.0, 5.0, 1.0, 0.0)), &[slot]);
        stays(slotted[0].clone(), circle(11.0, 5.0, 1.0, 1.0));
    }
}
