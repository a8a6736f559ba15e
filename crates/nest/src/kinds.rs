//! The different outlines of a job, their turns, and the no-fit regions of every two of them.

use crate::NestError;
use crate::item::{Item, Turns};
use crate::no_fit::{Depth, NoFit, pieces};
use crate::simplify::holding;
use shape::{Bounds, Outline, Point, Pose, Vector, convex_hull};
use std::sync::OnceLock;

/// Most pieces in one job.
pub(crate) const MOST_PIECES: usize = 2_000;
/// Most different outlines in one job.
const MOST_KINDS: usize = 600;
/// Most turns that one item may list.
const MOST_TURNS: usize = 360;
/// Most different turns in one job.
const MOST_ANGLES: usize = 720;
/// Turns closer than this are one, degrees.
const SAME_TURN_DEG: f64 = 1e-9;
/// What is kept above the gap asked, so that rounding takes nothing off it, mm.
const GAP_RESERVE_MM: f64 = 1e-6;

/// One outline in one turn, about its own origin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Form {
    pub(crate) kind: usize,
    angle: usize,
    pub(crate) turn_deg: f64,
    sin: f64,
    cos: f64,
    /// True bounding box.
    pub(crate) bounds: Bounds,
    /// Bounding box of what stands for the outline in the search, grown by the gap.
    pub(crate) reach: Bounds,
}

/// An outline and what it may be turned to.
#[derive(Debug)]
pub(crate) struct Kind {
    /// Its forms: a range of all forms.
    pub(crate) forms: std::ops::Range<usize>,
    pub(crate) area_mm2: f64,
    /// Area of the convex hull and length of the diagonal: which pieces are large.
    pub(crate) size: f64,
    pieces: Vec<Vec<Point>>,
}

/// All outlines of a job.
#[derive(Debug)]
pub(crate) struct Kinds {
    pub(crate) kinds: Vec<Kind>,
    pub(crate) forms: Vec<Form>,
    /// Which kind each item is of.
    pub(crate) kind_of_item: Vec<usize>,
    /// Which kind each keep-out is of; its one form is as it lies.
    pub(crate) kind_of_keep_out: Vec<usize>,
    gap_mm: f64,
    /// Difference of two angles, by its number.
    difference: Vec<Vec<u32>>,
    differences_deg: Vec<f64>,
    /// Made when first asked for: by pair of kinds and difference of turns.
    regions: Vec<OnceLock<Box<NoFit>>>,
}

impl Kinds {
    pub(crate) fn try_new(
        items: &[Item],
        keep_outs: &[Outline],
        gap_mm: f64,
    ) -> Result<Self, NestError> {
        let asked = items
            .iter()
            .fold(0_usize, |sum, i| sum.saturating_add(i.demand));
        if asked == 0 {
            return Err(NestError::NothingToPlace);
        }
        if asked.saturating_add(keep_outs.len()) > MOST_PIECES {
            return Err(NestError::TooManyPieces {
                what: "pieces",
                found: asked,
                limit: MOST_PIECES,
            });
        }
        // Equal outlines with equal turns are one kind.
        let mut firsts: Vec<&Item> = Vec::new();
        let mut kind_of_item = Vec::with_capacity(items.len());
        for item in items {
            let same = |k: &&Item| k.outline == item.outline && k.turns == item.turns;
            let at = firsts.iter().position(same).unwrap_or_else(|| {
                firsts.push(item);
                firsts.len() - 1
            });
            kind_of_item.push(at);
        }
        let n = firsts.len() + keep_outs.len();
        if n > MOST_KINDS {
            return Err(NestError::TooManyOutlines {
                found: n,
                limit: MOST_KINDS,
            });
        }
        let free_steps = if n <= 12 {
            24
        } else if n <= 40 {
            12
        } else {
            8
        };
        let mut angles: Vec<f64> = Vec::new();
        let mut turns_of: Vec<Vec<f64>> = Vec::new();
        for (item, first) in firsts.iter().enumerate() {
            // The item that is named is the first one of its kind.
            let named = kind_of_item.iter().position(|&k| k == item).unwrap_or(0);
            let turns = turns_listed(&first.turns, free_steps, named)?;
            angles.extend(&turns);
            turns_of.push(turns);
        }
        turns_of.extend(keep_outs.iter().map(|_| vec![0.0]));
        angles.push(0.0);
        angles.sort_by(f64::total_cmp);
        angles.dedup_by(|a, b| (*a - *b).abs() < SAME_TURN_DEG);
        if angles.len() > MOST_ANGLES {
            return Err(NestError::BadTurns {
                item: 0,
                problem: "and those of the other items hold more than 720 different turns; list fewer",
            });
        }
        let most_points = match n {
            0..=12 => 64,
            13..=30 => 40,
            31..=80 => 28,
            _ => 20,
        };
        let smallest_mm2 = firsts
            .iter()
            .map(|i| i.outline.area_mm2())
            .fold(f64::INFINITY, f64::min);
        let mut kinds = Vec::with_capacity(n);
        let mut forms = Vec::new();
        let outlines = firsts.iter().map(|i| &i.outline).chain(keep_outs);
        for (kind, (outline, turns)) in outlines.zip(&turns_of).enumerate() {
            let simple = holding(&without_small_holes(outline, smallest_mm2), most_points);
            let start = forms.len();
            for &turn_deg in turns {
                let turned = Pose::new(0.0, 0.0, turn_deg);
                let axis = turned.turn(Vector::new(1.0, 0.0));
                forms.push(Form {
                    kind,
                    angle: nearest(&angles, turn_deg),
                    turn_deg,
                    sin: axis.y,
                    cos: axis.x,
                    bounds: outline.placed(turned).bounds(),
                    reach: simple
                        .placed(turned)
                        .bounds()
                        .grown(gap_mm + 2.0 * GAP_RESERVE_MM),
                });
            }
            let b = outline.bounds();
            let hull = convex_hull(outline.outer().points().to_vec(), 0.0);
            let hull_mm2 = Outline::try_new(hull, vec![]).map_or(0.0, |h| h.area_mm2());
            kinds.push(Kind {
                forms: start..forms.len(),
                area_mm2: outline.area_mm2(),
                size: hull_mm2 * b.width_mm().hypot(b.height_mm()),
                pieces: pieces(&simple),
            });
        }
        let mut differences_deg: Vec<f64> = angles
            .iter()
            .flat_map(|a| angles.iter().map(move |b| (b - a).rem_euclid(360.0)))
            .map(|d| if d > 360.0 - SAME_TURN_DEG { 0.0 } else { d })
            .collect();
        differences_deg.sort_by(f64::total_cmp);
        differences_deg.dedup_by(|a, b| (*a - *b).abs() < 2.0 * SAME_TURN_DEG);
        let difference = angles
            .iter()
            .map(|a| {
                angles
                    .iter()
                    .map(|b| nearest(&differences_deg, (b - a).rem_euclid(360.0)) as u32)
                    .collect()
            })
            .collect();
        let slots = n * (n + 1) / 2 * differences_deg.len();
        if slots > MOST_REGIONS {
            return Err(NestError::TooManyOutlines {
                found: n,
                limit: n * MOST_REGIONS / slots,
            });
        }
        Ok(Self {
            kinds,
            forms,
            kind_of_item,
            kind_of_keep_out: (firsts.len()..n).collect(),
            gap_mm: if gap_mm > 0.0 {
                gap_mm + GAP_RESERVE_MM
            } else {
                0.0
            },
            difference,
            differences_deg,
            regions: (0..slots).map(|_| OnceLock::new()).collect(),
        })
    }

    /// The region of two kinds, `a` not after `b`, with `b` turned by the numbered difference.
    #[inline]
    fn region(&self, a: usize, b: usize, difference: u32) -> &NoFit {
        let slot = (b * (b + 1) / 2 + a) * self.differences_deg.len() + difference as usize;
        self.regions[slot].get_or_init(|| {
            let turn_deg = self.differences_deg[difference as usize];
            let turn = Pose::new(0.0, 0.0, turn_deg);
            let (first, second) = (&self.kinds[a], &self.kinds[b]);
            let turned: Vec<Vec<Point>> = second
                .pieces
                .iter()
                .map(|p| p.iter().map(|&p| turn.apply(p)).collect())
                .collect();
            Box::new(NoFit::of_pieces(&first.pieces, &turned, self.gap_mm))
        })
    }

    /// How deep two forms with their origins at these places lie in each other; the way out is for the first.
    #[inline]
    pub(crate) fn depth(&self, f: &Form, at_f: Point, g: &Form, at_g: Point) -> Depth {
        if f.kind <= g.kind {
            let d = unturned(f, at_g - at_f);
            let depth = self
                .region(f.kind, g.kind, self.difference[f.angle][g.angle])
                .depth(Point::new(d.x, d.y));
            Depth {
                mm: depth.mm,
                out: -turned(f, depth.out),
            }
        } else {
            let d = unturned(g, at_f - at_g);
            let depth = self
                .region(g.kind, f.kind, self.difference[g.angle][f.angle])
                .depth(Point::new(d.x, d.y));
            Depth {
                mm: depth.mm,
                out: turned(g, depth.out),
            }
        }
    }

    /// Places of the first form at which it touches the second one's corner or the other way round.
    pub(crate) fn touching<'a>(
        &'a self,
        f: &'a Form,
        g: &'a Form,
        at_g: Point,
    ) -> (&'a [Point], impl Fn(Point) -> Point + 'a) {
        let first = f.kind <= g.kind;
        let corners = if first {
            self.region(f.kind, g.kind, self.difference[f.angle][g.angle])
        } else {
            self.region(g.kind, f.kind, self.difference[g.angle][f.angle])
        };
        let place = move |p: Point| {
            let d = Vector::new(p.x, p.y);
            if first {
                at_g - turned(f, d)
            } else {
                at_g + turned(g, d)
            }
        };
        (corners.touching(), place)
    }
}

/// Most no-fit regions that one job may come to need.
const MOST_REGIONS: usize = 3_000_000;

#[inline]
fn turned(f: &Form, v: Vector) -> Vector {
    Vector::new(f.cos * v.x - f.sin * v.y, f.sin * v.x + f.cos * v.y)
}

#[inline]
fn unturned(f: &Form, v: Vector) -> Vector {
    Vector::new(f.cos * v.x + f.sin * v.y, f.cos * v.y - f.sin * v.x)
}

fn nearest(sorted: &[f64], value: f64) -> usize {
    let away = |x: f64| {
        let d = (x - value).rem_euclid(360.0);
        d.min(360.0 - d)
    };
    (0..sorted.len())
        .min_by(|&i, &j| away(sorted[i]).total_cmp(&away(sorted[j])))
        .unwrap_or(0)
}

fn turns_listed(turns: &Turns, free_steps: u32, item: usize) -> Result<Vec<f64>, NestError> {
    let bad = |problem| NestError::BadTurns { item, problem };
    let mut list = match turns {
        Turns::Free => (0..free_steps)
            .map(|k| 360.0 * f64::from(k) / f64::from(free_steps))
            .collect(),
        Turns::Listed(list) => list.clone(),
    };
    if list.is_empty() {
        return Err(bad("is empty; give at least one"));
    }
    if list.len() > MOST_TURNS {
        return Err(bad(
            "has more than 360 turns; list fewer, or let it turn freely",
        ));
    }
    if list.iter().any(|t| !t.is_finite() || t.abs() > 1e6) {
        return Err(bad("holds what is no angle in degrees"));
    }
    for t in &mut list {
        *t = t.rem_euclid(360.0);
        if *t > 360.0 - SAME_TURN_DEG {
            *t = 0.0;
        }
    }
    list.sort_by(f64::total_cmp);
    list.dedup_by(|a, b| (*a - *b).abs() < SAME_TURN_DEG);
    Ok(list)
}

/// Holes in which not even the smallest piece has room are no use, and cost time.
fn without_small_holes(outline: &Outline, smallest_mm2: f64) -> Outline {
    let useful = |h: &&shape::Ring| h.signed_area_mm2().abs() >= smallest_mm2;
    if outline.holes().iter().all(|h| useful(&h)) {
        return outline.clone();
    }
    let holes = outline.holes().iter().filter(useful);
    Outline::try_new(
        outline.outer().points().to_vec(),
        holes.map(|h| h.points().to_vec()).collect(),
    )
    .unwrap_or_else(|_| outline.clone())
}
