//! Placing one outline on another so that their edges meet as well as they can.
//!
//! Many starts (turns all round, the part as it is and turned over) are settled roughly on few points of
//! both edges; the best go on with more points and weights that let go of what has no counterpart, such
//! as a tab that only one of the two has. What the placing amounts to is then measured on the polygons.

mod compare;
mod refine;
mod starts;

pub use compare::Misfit;

use crate::{Cancelled, EdgeTree, Outline, Point, Pose, Ring, Watch, mapped};
use compare::compare;
use refine::{Edge, Motion, Stage};
use starts::starts;

/// How one outline is placed on another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// The first outline may be turned over (mirrored) too.
    pub allow_flip: bool,
    /// What may overhang or gape and still count as nothing, mm.
    pub tolerance_mm: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            allow_flip: false,
            tolerance_mm: 0.2,
        }
    }
}

/// Does the first outline fit the place of the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// It overhangs nowhere by more than the tolerance, and covers at least half of the place.
    Fit,
    /// It would, once what overhangs in a few places is trimmed.
    Trim,
    /// It is another shape or size.
    No,
}

/// An outline `a` placed on an outline `b`. Places are in the coordinates of `b`.
#[derive(Debug, Clone, PartialEq)]
pub struct Registration {
    /// `a` is mirrored about its own vertical centre line first ([`Outline::mirrored`]).
    pub flipped: bool,
    /// Then carried by this pose.
    pub b_from_a: Pose,
    /// `a` where it comes to lie.
    pub placed: Outline,
    /// The greatest distance of any of its material from the material of `b`, mm.
    pub overhang_mm: f64,
    /// The greatest distance of any material of `b` from its material, mm.
    pub gap_mm: f64,
    /// Area of `a` outside of `b`, mm2.
    pub overhang_area_mm2: f64,
    /// Area of `b` outside of `a`, mm2.
    pub gap_area_mm2: f64,
    /// Area of both together, mm2.
    pub common_area_mm2: f64,
    /// Where `a` reaches over by more than the tolerance, deepest first.
    pub overhangs: Vec<Misfit>,
    /// Where `b` stays uncovered by more than the tolerance, deepest first.
    pub gaps: Vec<Misfit>,
    /// Share of the edge of `a` that overhangs by more than the tolerance, 0 to 1.
    pub overhanging_share: f64,
    /// Root of the mean square distance between the parts of both edges that have a counterpart, mm.
    pub edge_rms_mm: f64,
    /// Share of both edges that has one, 0 to 1.
    pub edge_share: f64,
    /// Does it fit.
    pub verdict: Verdict,
}

/// Less than this share of a place covered: another part. Ours; no source.
const LEAST_COVER: f64 = 0.5;

/// More than this share of the first outline's edge, or of its area, outside: trimming would make another
/// part of it. Ours; no source.
const MOST_TRIMMED_EDGE: f64 = 0.4;
const MOST_TRIMMED_AREA: f64 = 0.15;

/// Where a share of edges this large meets at once, the rest is taken for true differences; below it the
/// two outlines differ all over and are centred on each other.
const LOCKED_SHARE: f64 = 0.6;

/// Costs this near to each other are equal; of equal placings that which turns least is told.
const EQUAL: f64 = 0.02;

/// Places `a` on `b`.
///
/// Where `a` has equal placings (symmetric shapes), one of them: not turned over rather than turned over,
/// and with the least turn.
///
/// # Errors
/// [`Cancelled`] where the watch asks for it.
pub fn register(
    a: &Outline,
    b: &Outline,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Registration, Cancelled> {
    let place = Edge::new(b);
    let mut found: Vec<(bool, Motion, f64)> = Vec::new();
    let faces = if options.allow_flip { 2 } else { 1 };
    for face in 0..faces {
        let flipped = face == 1;
        let shown = if flipped { a.mirrored() } else { a.clone() };
        let part = Edge::new(&shown);
        let tell = |share: f64| {
            let whole = (face as f64 + share) / faces as f64;
            watch.step("looking for the best turn", 0.8 * whole)
        };
        let settled = mapped(&starts(&part, &place, &tell)?, |&motion| {
            let mut locked = motion;
            for stage in Stage::LOCKING {
                refine::settle(&part, &place, &mut locked, stage);
            }
            let share = refine::meeting_share(&part, &place, locked);
            if share < LOCKED_SHARE {
                // Differs all over: to be centred.
                locked = motion;
                refine::settle(&part, &place, &mut locked, Stage::CENTRING);
            }
            let cost = refine::cost(&part, &place, locked, Stage::CHOOSING_MM);
            (flipped, locked, cost)
        });
        found.extend(settled);
    }
    let least = found.iter().map(|f| f.2).fold(f64::INFINITY, f64::min);
    let floor = least * (1.0 + EQUAL) + 1e-9;
    let best = found
        .iter()
        .filter(|f| f.2 <= floor)
        .min_by(|f, g| {
            let key = |m: &Motion| (turn_deg(m).abs() * 10.0).round();
            f.0.cmp(&g.0)
                .then(key(&f.1).total_cmp(&key(&g.1)))
                .then(f.2.total_cmp(&g.2))
        })
        .copied();
    let (flipped, motion, _) = best.unwrap_or((false, Motion::default(), f64::INFINITY));
    watch.step("measuring what overhangs", 0.85)?;
    let shown = if flipped { a.mirrored() } else { a.clone() };
    Ok(measured(&shown, b, flipped, motion, options))
}

/// The pose that carries `a` onto `b` to some tenths of a millimetre, without a look at what it amounts to: much quicker than
/// [`register`]. Of equal placings, any.
///
/// # Errors
/// [`Cancelled`] where the watch asks for it.
pub fn placed_roughly(a: &Outline, b: &Outline, watch: &dyn Watch) -> Result<Pose, Cancelled> {
    let (part, place) = (Edge::new(a), Edge::new(b));
    let tell = |share: f64| watch.step("looking for the best turn", share);
    let best = starts(&part, &place, &tell)?.into_iter().next();
    let motion = best.unwrap_or(Motion {
        turn_rad: 0.0,
        centre: place.centre,
    });
    Ok(part.pose(motion, turn_deg(&motion)))
}

/// Turn in -180..=180, degrees.
fn turn_deg(motion: &Motion) -> f64 {
    let turn = motion.turn_rad.to_degrees().rem_euclid(360.0);
    if turn > 180.0 { turn - 360.0 } else { turn }
}

fn measured(
    shown: &Outline,
    b: &Outline,
    flipped: bool,
    motion: Motion,
    options: &Options,
) -> Registration {
    let (part, place) = (Edge::new(shown), Edge::new(b));
    let b_from_a = part.pose(motion, turn_deg(&motion));
    let placed = shown.placed(b_from_a);
    let (placed_tree, b_tree) = (EdgeTree::new(placed.clone()), EdgeTree::new(b.clone()));
    let tolerance = options.tolerance_mm.max(0.0);
    let over = compare(&placed, &b_tree, tolerance);
    let gap = compare(b, &placed_tree, tolerance);
    let rings: Vec<Ring> = placed.rings().cloned().collect();
    let edge = even_points(&rings, 2_000);
    let overhanging = edge
        .iter()
        .filter(|&&p| b_tree.signed_distance_mm(p) > tolerance)
        .count();
    let overhanging_share = overhanging as f64 / edge.len().max(1) as f64;
    let common_area_mm2 = (placed.area_mm2() - over.area_mm2).max(0.0);
    let trimmed: f64 = over.places.iter().map(|m| m.area_mm2).sum();
    let verdict = if common_area_mm2 < LEAST_COVER * b.area_mm2() {
        Verdict::No
    } else if over.depth_mm <= tolerance {
        Verdict::Fit
    } else if overhanging_share <= MOST_TRIMMED_EDGE
        && trimmed <= MOST_TRIMMED_AREA * placed.area_mm2()
    {
        Verdict::Trim
    } else {
        Verdict::No
    };
    let (edge_rms_mm, edge_share) = refine::meeting(&part, &place, motion);
    Registration {
        flipped,
        b_from_a,
        placed,
        overhang_mm: over.depth_mm,
        gap_mm: gap.depth_mm,
        overhang_area_mm2: over.area_mm2,
        gap_area_mm2: gap.area_mm2,
        common_area_mm2,
        overhangs: over.places,
        gaps: gap.places,
        overhanging_share,
        edge_rms_mm,
        edge_share,
        verdict,
    }
}

/// Points along all rings, `count` of them or so, evenly by length.
fn even_points(rings: &[Ring], count: usize) -> Vec<Point> {
    let length: f64 = rings.iter().map(Ring::length_mm).sum();
    // Every ring has a few, however small.
    let share = |ring: &Ring| (count as f64 * ring.length_mm() / length).ceil().max(6.0);
    rings
        .iter()
        .flat_map(|r| even_points_of(r, share(r)))
        .collect()
}

/// As many points along a ring, evenly by length.
fn even_points_of(ring: &Ring, count: f64) -> Vec<Point> {
    let step = ring.length_mm() / count;
    let mut points = Vec::with_capacity(count as usize);
    let mut next = 0.5 * step;
    for (a, b) in ring.sides() {
        let length = a.distance_mm(b);
        while next < length {
            points.push(a.lerp(b, next / length));
            next += step;
        }
        next -= length;
    }
    points
}
