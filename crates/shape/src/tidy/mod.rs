//! A dense outline as few straight lines and arcs within a tolerance.
//!
//! Each ring is split into the runs that need the fewest sides (dynamic programming over the places where
//! a joint may be, a line or a circle fitted to each run by least squares), then all joints and bows of
//! the ring are refined together, smooth joints held smooth where the tolerance allows it. Whatever the
//! fits say, the result is measured: where a side misses, or two sides cross, it is split into finer
//! ones, down to the ring's own points.

mod band;
mod joints;
mod samples;
mod split;
mod work;

use crate::exact::{CHORD_MM, ExactOutline, ExactPoint, ExactRing, ring_distance_mm};
use crate::ring::find_crossings;
use crate::{Outline, OutlineError, Point, Ring, mapped};
use joints::points;
use work::WorkRing;

/// What outlines are tidied to where nobody says otherwise, mm: half of the tenth that sheets are right to.
pub const USUAL_TOLERANCE_MM: f64 = 0.05;

/// Least and greatest tolerance, mm.
pub const TOLERANCE_LIMITS_MM: (f64, f64) = (0.005, 5.0);

/// How often sides that cross are looked for and split, and how many at once.
const MOST_PASSES: usize = 40;
const CROSSINGS_AT_ONCE: usize = 500;

/// What the distances' own search may be off, mm: fine chords and the search's end.
const MEASURE_MM: f64 = 0.0015;

/// An outline of few straight lines and arcs, with the polygon of chord error 0.005 mm that stands for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tidied {
    /// The polygon with its lines and arcs beside it ([`Outline::exact`]).
    pub outline: Outline,
    /// The greatest distance between the given outline and the lines and arcs, either way, mm; no more
    /// than the tolerance, and never told too small.
    pub reached_mm: f64,
}

/// Why an outline cannot be tidied.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TidyError {
    /// The tolerance is out of range.
    #[error(
        "the tolerance is {found_mm} mm; it must be {} to {} mm",
        TOLERANCE_LIMITS_MM.0,
        TOLERANCE_LIMITS_MM.1
    )]
    Tolerance {
        /// What it is, mm.
        found_mm: f64,
    },
    /// The outline itself is no sound one.
    #[error(transparent)]
    Outline(#[from] OutlineError),
}

/// Makes the outline of few straight lines and arcs that lies within `tolerance_mm` of the given one,
/// everywhere and both ways; corners stay sharp where the given outline's are, whole circles come as two
/// arcs. It has as many rings as the given one, in the same order. An outline that holds arcs already is
/// tidied by its polygon.
///
/// # Errors
/// [`TidyError::Tolerance`] for a tolerance that is not 0.005 to 5 mm, [`TidyError::Outline`] where a ring has more points than
/// [`crate::MAX_POINTS_PER_RING`] and cannot be tidied to fewer.
pub fn tidy(outline: &Outline, tolerance_mm: f64) -> Result<Tidied, TidyError> {
    let (least, most) = TOLERANCE_LIMITS_MM;
    if !(least..=most).contains(&tolerance_mm) {
        return Err(TidyError::Tolerance {
            found_mm: tolerance_mm,
        });
    }
    // The fits work within less, because what they are measured by has an error of its own.
    let mut working_mm = 0.96 * (tolerance_mm - MEASURE_MM);
    let own: Vec<&Ring> = outline.rings().collect();
    for _ in 0..3 {
        let mut rings = mapped(&own, |ring| WorkRing::fitted(ring, working_mm));
        if let Some(tidied) = uncrossed(&mut rings, outline, tolerance_mm) {
            return Ok(tidied);
        }
        working_mm *= 0.7;
    }
    // The outline's own points, each ring as it is.
    let mut rings = outline.rings().map(straight_ring);
    let outer = rings
        .next()
        .unwrap_or_else(|| straight_ring(outline.outer()));
    let (exact, polygon) =
        ExactOutline::from_rings(outer, rings.collect()).map_err(OutlineError::from)?;
    Ok(Tidied {
        outline: polygon.with_exact(exact)?,
        reached_mm: 0.0,
    })
}

fn straight_ring(ring: &Ring) -> ExactRing {
    let point = |&at| ExactPoint { at, bulge: 0.0 };
    ExactRing::from_points(ring.points().iter().map(point).collect())
}

/// Splits sides that cross until none do; nothing where the result is no outline or misses the tolerance.
fn uncrossed(rings: &mut [WorkRing<'_>], outline: &Outline, tolerance_mm: f64) -> Option<Tidied> {
    let mut settled = false;
    for _ in 0..MOST_PASSES {
        let flat: Vec<(Vec<Point>, Vec<usize>)> = rings.iter().map(WorkRing::flattened).collect();
        let loops: Vec<&[Point]> = flat.iter().map(|(p, _)| p.as_slice()).collect();
        let mut crossing: Vec<(usize, usize)> = find_crossings(&loops, CROSSINGS_AT_ONCE)
            .iter()
            .flat_map(|c| c.sides)
            .map(|(ring, side)| (ring, flat[ring].1[side]))
            .collect();
        if crossing.is_empty() {
            // Splitting may have left a side off its run; mending that may cross anew.
            settled = !rings.iter_mut().fold(false, |any, r| r.hold(false) | any);
            if settled {
                break;
            }
            continue;
        }
        crossing.sort_unstable();
        crossing.dedup();
        let mut finer = false;
        // Higher side numbers first, so that splitting one does not renumber the others.
        for (ring, side) in crossing.into_iter().rev() {
            finer |= rings[ring].refine_side(side);
        }
        if !finer {
            return None;
        }
    }
    if !settled {
        return None;
    }
    let mut exact = rings
        .iter()
        .map(|r| ExactRing::from_points(points(&r.sides)));
    let (exact, polygon) = ExactOutline::from_rings(exact.next()?, exact.collect()).ok()?;
    let reached_mm = exact
        .rings()
        .zip(outline.rings())
        .map(|(e, r)| ring_distance_mm(e, r))
        .fold(0.0, f64::max)
        + 0.2 * CHORD_MM;
    if reached_mm > tolerance_mm {
        return None;
    }
    Some(Tidied {
        outline: polygon.with_exact(exact).ok()?,
        reached_mm,
    })
}
