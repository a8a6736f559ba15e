//! Ties, straps and screws for what adhesive alone should not carry.

use crate::bonds::{Bench, KINDS};
use crate::subject::Subject;
use crate::tape::long_axis_deg;
use crate::texts::{params, say};
use piece::{Bond, Fastener, FastenerKind, Hole, Phrase};
use shape::{Point, Pose};

/// A hole of a part that a wire goes through, mm across at least.
const LEAST_OPENING_MM: f64 = 1.2;
/// From a part's edge to a hole of the board beside it, mm.
const BESIDE_MM: f64 = 1.0;

/// Fasteners for one part; none where its adhesive carries it with enough to spare.
pub(crate) fn plan(subject: &Subject<'_>, bonds: &[Bond], bench: &Bench<'_>) -> Vec<Fastener> {
    let Some(why) = why(subject, bonds, bench) else {
        return Vec::new();
    };
    for kind in KINDS {
        let Some(entry) = bench.catalogue.fastenings.get(&kind) else {
            continue;
        };
        let holes = match kind {
            FastenerKind::Screw => screws(subject, entry.hole_mm.value),
            FastenerKind::WireTie => ties(subject, entry.hole_mm.value),
            FastenerKind::Strap => straps(subject, entry.hole_mm.value),
        };
        if !holes.is_empty() {
            return holes
                .into_iter()
                .map(|holes| Fastener {
                    part: subject.part.id.clone(),
                    kind,
                    holes,
                    holds_n: entry.holds_n.value,
                    why: why.clone(),
                })
                .collect();
        }
    }
    Vec::new()
}

fn why(subject: &Subject<'_>, bonds: &[Bond], bench: &Bench<'_>) -> Option<Phrase> {
    let r = &bench.catalogue.rules;
    let most_g = bench.choices.tie_above_g.unwrap_or(r.tie_above_g.value);
    let most_use = bench
        .choices
        .tie_above_utilisation
        .unwrap_or(r.tie_above_utilisation.value);
    // Of a part that is light, what is allowed may be used up.
    let most_use = if subject.mass_g < r.tie_from_g.value {
        most_use.max(1.0)
    } else {
        most_use
    };
    let used = bonds.iter().map(|b| b.utilisation).fold(0.0, f64::max);
    let part = subject.part.name.clone();
    if bonds.is_empty() {
        return Some(say("tie.no-bond", params!("part": part)));
    }
    if subject.mass_g > most_g {
        return Some(say(
            "tie.mass",
            params!("part": part, "mass_g": subject.mass_g, "most_g": most_g),
        ));
    }
    (used > most_use).then(|| {
        say(
            "tie.utilisation",
            params!("part": part, "percent": 100.0 * used, "most": 100.0 * most_use),
        )
    })
}

/// One screw into each boss that takes one.
fn screws(subject: &Subject<'_>, clearance_mm: f64) -> Vec<Vec<Hole>> {
    if subject.hollow().is_none() {
        return Vec::new();
    }
    subject
        .part
        .bosses
        .iter()
        .filter_map(|b| Some((b.outline.centroid(), b.screw_mm?)))
        .map(|(at, screw)| vec![hole(at, screw + clearance_mm)])
        .collect()
}

/// A loop through an opening of the part and round its nearest edge: two of them, far from each other.
fn ties(subject: &Subject<'_>, hole_mm: f64) -> Vec<Vec<Hole>> {
    let mut openings: Vec<Point> = subject
        .outline
        .holes()
        .iter()
        .filter(|h| {
            let b = h.bounds();
            b.width_mm().min(b.height_mm()) >= LEAST_OPENING_MM
        })
        .map(|h| h.bounds().centre())
        .filter(|p| !subject.outline.contains(*p))
        .collect();
    if openings.len() < 2 {
        return Vec::new();
    }
    let middle = subject.centre();
    let farthest_from = |from: Point, list: &[Point]| {
        (0..list.len()).fold(0, |best, k| {
            if list[k].distance_mm(from) > list[best].distance_mm(from) {
                k
            } else {
                best
            }
        })
    };
    let first = openings.remove(farthest_from(middle, &openings));
    let second = openings[farthest_from(first, &openings)];
    [first, second]
        .into_iter()
        .map(|inside| {
            let edge = subject.outline.outer().nearest(inside);
            let out = edge - inside;
            let length = out.length_mm().max(1e-9);
            let beside = edge + out * ((BESIDE_MM + hole_mm / 2.0) / length);
            vec![hole(inside, hole_mm), hole(beside, hole_mm)]
        })
        .collect()
}

/// A strap across the part at a quarter and at three quarters of its length.
fn straps(subject: &Subject<'_>, hole_mm: f64) -> Vec<Vec<Hole>> {
    let along_deg = long_axis_deg(&subject.outline);
    let turned = subject.outline.placed(Pose::new(0.0, 0.0, -along_deg));
    let back = Pose::new(0.0, 0.0, along_deg);
    let b = turned.bounds();
    [0.25, 0.75]
        .into_iter()
        .filter_map(|share| {
            let x = b.min.x + share * b.width_mm();
            let ys = turned
                .outer()
                .sides()
                .filter(|(p, q)| (p.x > x) != (q.x > x))
                .map(|(p, q)| p.y + (x - p.x) / (q.x - p.x) * (q.y - p.y));
            let (low, high) = ys.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), y| {
                (a.min(y), b.max(y))
            });
            let off = BESIDE_MM + hole_mm / 2.0;
            (high > low).then(|| {
                vec![
                    hole(back.apply(Point::new(x, low - off)), hole_mm),
                    hole(back.apply(Point::new(x, high + off)), hole_mm),
                ]
            })
        })
        .collect()
}

fn hole(at: Point, diameter_mm: f64) -> Hole {
    Hole {
        x: at.x,
        y: at.y,
        diameter_mm,
    }
}
