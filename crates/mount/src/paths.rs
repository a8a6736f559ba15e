//! Where beads and dots are laid.

use crate::inset::{Face, LEAN_MM};
use shape::{Bounds, Outline, Point, Pose, Vector};

/// How beads are laid under one face.
#[derive(Debug, Clone, Copy)]
pub struct BeadRule {
    /// Width of the pressed bead, mm.
    pub spread_mm: f64,
    /// From its edge to the face's edge and holes, mm.
    pub margin_mm: f64,
    /// Greatest distance between two beads, mm.
    pub pitch_mm: f64,
    /// Length of the two gaps in the perimeter that let air in, mm; 0 for none.
    pub vent_mm: f64,
    /// Which way is up on the wall, degrees from the face's own y axis, counter-clockwise. Infill runs that way.
    pub up_deg: f64,
}

/// Centre lines of beads, in the order in which they are laid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BeadPaths {
    /// Perimeter first, then infill; a closed one ends where it began.
    pub paths: Vec<Vec<Point>>,
    /// How many are perimeter.
    pub perimeter: usize,
}

impl BeadPaths {
    /// Length of all beads, mm.
    pub fn length_mm(&self) -> f64 {
        self.paths
            .iter()
            .flat_map(|p| p.windows(2))
            .map(|w| w[0].distance_mm(w[1]))
            .sum()
    }
}

/// What the offset may be off by, mm: chords, and arcs of the caller's own.
const CHORD_MM: f64 = 0.01 + LEAN_MM;

/// Lays beads so that each, pressed, stays a margin inside the face: a perimeter, then infill that runs upwards. `None`
/// where the face is narrower than two beads side by side.
pub fn lay_beads(face: &Outline, rule: &BeadRule) -> Option<BeadPaths> {
    beads_on(&Face::new(face.clone()), rule)
}

/// As [`lay_beads`], on a face of which more is known.
pub(crate) fn beads_on(face: &Face, rule: &BeadRule) -> Option<BeadPaths> {
    let inwards = rule.spread_mm / 2.0 + rule.margin_mm + CHORD_MM;
    let upright = Pose::new(0.0, 0.0, -rule.up_deg);
    let back = Pose::new(0.0, 0.0, rule.up_deg);
    let turned = |by_mm: f64| -> Vec<Outline> {
        let shrunk = face.inset(by_mm);
        shrunk.iter().map(|o| o.placed(upright)).collect()
    };
    // Where the two sides of the perimeter would lie on each other, the face is too narrow for it.
    let roomy = turned(inwards + 0.5 * rule.spread_mm);
    if roomy.is_empty() {
        return None;
    }
    let centre_lines = turned(inwards);
    let mut laid = BeadPaths::default();
    for ring in centre_lines
        .iter()
        .filter(|o| roomy.iter().any(|r| o.contains(r.outer().points()[0])))
        .map(|o| o.outer().points())
    {
        laid.paths.extend(with_vents(ring, rule.vent_mm));
    }
    laid.perimeter = laid.paths.len();
    if laid.perimeter == 0 {
        return None;
    }
    let inner = turned(inwards + rule.spread_mm + rule.margin_mm);
    if let Some(bounds) = joined(&centre_lines) {
        let gaps = (bounds.width_mm() / rule.pitch_mm).ceil().max(1.0) as usize;
        let mut down = false;
        for k in 1..gaps.min(1000) {
            let x = bounds.min.x + bounds.width_mm() * k as f64 / gaps as f64;
            let mut lines = upright_lines(&inner, x);
            lines.retain(|(a, b)| a.distance_mm(*b) >= 2.0 * rule.spread_mm);
            if down {
                lines = lines.into_iter().rev().map(|(a, b)| (b, a)).collect();
            }
            if !lines.is_empty() {
                down = !down;
            }
            laid.paths
                .extend(lines.into_iter().map(|(a, b)| vec![a, b]));
        }
    }
    for p in laid.paths.iter_mut().flatten() {
        *p = back.apply(*p);
    }
    Some(laid)
}

fn joined(outlines: &[Outline]) -> Option<Bounds> {
    outlines.iter().map(Outline::bounds).reduce(Bounds::joined)
}

/// The stretches of the upright line at x that lie in the outlines, upwards.
fn upright_lines(outlines: &[Outline], x: f64) -> Vec<(Point, Point)> {
    let mut found = Vec::new();
    for o in outlines {
        let mut ys: Vec<f64> = o
            .rings()
            .flat_map(shape::Ring::sides)
            .filter(|(a, b)| (a.x > x) != (b.x > x))
            .map(|(a, b)| a.y + (x - a.x) / (b.x - a.x) * (b.y - a.y))
            .collect();
        ys.sort_by(f64::total_cmp);
        found.extend(
            ys.chunks_exact(2)
                .map(|c| (Point::new(x, c[0]), Point::new(x, c[1]))),
        );
    }
    found.sort_by(|s, t| s.0.y.total_cmp(&t.0.y));
    found
}

/// A closed ring as one path that ends where it began, or with a gap at its lowest and its highest point as two.
fn with_vents(ring: &[Point], vent_mm: f64) -> Vec<Vec<Point>> {
    let n = ring.len();
    let at = |pick: fn(f64, f64) -> bool| {
        (1..n).fold(0, |best, k| {
            if pick(ring[k].y, ring[best].y) {
                k
            } else {
                best
            }
        })
    };
    let (low, high) = (at(|a, b| a < b), at(|a, b| a > b));
    let closed: Vec<Point> = (0..=n).map(|k| ring[(low + k) % n]).collect();
    let length: f64 = closed.windows(2).map(|w| w[0].distance_mm(w[1])).sum();
    if vent_mm <= 0.0 || length < 6.0 * vent_mm {
        return vec![closed];
    }
    let up_to = (high + n - low) % n;
    let top: f64 = closed[..=up_to]
        .windows(2)
        .map(|w| w[0].distance_mm(w[1]))
        .sum();
    let half = vent_mm / 2.0;
    [(half, top - half), (top + half, length - half)]
        .into_iter()
        .filter(|(from, to)| to > from)
        .map(|(from, to)| stretch(&closed, from, to))
        .collect()
}

/// The stretch of a path between two lengths along it.
fn stretch(path: &[Point], from: f64, to: f64) -> Vec<Point> {
    let mut out = Vec::new();
    let mut done = 0.0;
    for w in path.windows(2) {
        let side = w[0].distance_mm(w[1]);
        let (a, b) = ((from - done).max(0.0), (to - done).min(side));
        if side > 0.0 && a < b {
            if out.is_empty() {
                out.push(w[0].lerp(w[1], a / side));
            }
            out.push(w[0].lerp(w[1], b / side));
        }
        done += side;
    }
    out
}

/// Centres of dots that, pressed to a diameter, stay a margin inside the face: apart by at least `apart_mm`, at most
/// `most` of them; one dot as near to the middle as can be where there is no room for two. Empty where the face is
/// narrower than a dot.
pub fn lay_dots(
    face: &Outline,
    spread_mm: f64,
    margin_mm: f64,
    apart_mm: f64,
    most: usize,
) -> Vec<Point> {
    dots_on(
        &Face::new(face.clone()),
        spread_mm,
        margin_mm,
        apart_mm,
        most,
    )
}

/// As [`lay_dots`], on a face of which more is known.
pub(crate) fn dots_on(
    face: &Face,
    spread_mm: f64,
    margin_mm: f64,
    apart_mm: f64,
    most: usize,
) -> Vec<Point> {
    let room = face.inset(spread_mm / 2.0 + margin_mm + CHORD_MM);
    let middle = face.outline().centroid();
    let mut places: Vec<Point> = room
        .iter()
        .flat_map(Outline::rings)
        .flat_map(shape::Ring::sides)
        .flat_map(|(a, b)| {
            let steps = (a.distance_mm(b) / 2.0).ceil().clamp(1.0, 200.0) as usize;
            (0..steps).map(move |k| a.lerp(b, k as f64 / steps as f64))
        })
        .collect();
    if room.iter().any(|o| o.contains(middle)) {
        places.push(middle);
    }
    let by = |key: &dyn Fn(Point) -> f64| {
        places
            .iter()
            .copied()
            .fold(None, |best: Option<Point>, p| match best {
                Some(b) if key(b) >= key(p) => Some(b),
                _ => Some(p),
            })
    };
    let Some(far) = by(&|p| p.distance_mm(middle)) else {
        return Vec::new();
    };
    let mut dots = vec![far];
    while dots.len() < most {
        let from_dots = |p: Point| {
            dots.iter()
                .map(|d| d.distance_mm(p))
                .fold(f64::INFINITY, f64::min)
        };
        match by(&from_dots) {
            Some(next) if from_dots(next) >= apart_mm => dots.push(next),
            _ => break,
        }
    }
    if dots.len() == 1 {
        return by(&|p| -p.distance_mm(middle)).into_iter().collect();
    }
    dots
}

/// Turns a direction of the wall into the face's own: up on the wall, seen from the face.
pub(crate) fn up_in_face(up_deg: f64) -> Vector {
    Pose::new(0.0, 0.0, up_deg).turn(Vector::new(0.0, 1.0))
}
