//! Overlapping layouts are parted: guided local search on weighted depths.
//!
//! Each piece that overlaps goes, in random order, to the place that costs least: the sum over the others of weight
//! times depth. After each sweep, the weights of the pairs that still overlap grow, so that a pair that keeps being in
//! each other's way is parted at last (guided local search, Voudouris and Tsang 1999; for packing outlines: Egeblad,
//! Nielsen and Odgaard 2007, Umetani and others 2009).

use crate::layout::{Job, Layout, Spot};
use shape::{Bounds, Point, Random, Vector};

/// Spots tried at random for one move, before the best are refined: anywhere, at a neighbour's corner, near by.
const ANYWHERE: usize = 10;
const AT_CORNERS: usize = 14;
const NEAR_BY: usize = 6;
/// Spots that are refined.
const REFINED: usize = 2;
/// Steps of refining, as shares of the piece's smaller side.
const FIRST_STEP: f64 = 0.1;
/// Where all spots but the best are given up.
const MIDDLE_STEP: f64 = 0.012;
const LAST_STEP: f64 = 1e-3;
/// A whole shift is made where the cost falls below this share; smaller gains are had cheaper by small steps.
const WORTH_A_SHIFT: f64 = 0.95;
/// Sweeps without a clear gain before the best layout so far is taken up again.
const PATIENCE: usize = 50;
/// How often it is taken up before the search gives up.
const STRIKES: usize = 2;

/// What a pair's weight is multiplied by after a sweep in which it overlapped: at least the first, for the deepest pair
/// the sum of both; and where it did not.
const LEAST_GROWTH: f32 = 1.2;
const MORE_GROWTH: f32 = 0.8;
const DECAY: f32 = 0.95;

/// How a sweep ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Progress {
    /// Overlaps are left; go on.
    Going,
    /// No overlaps are left.
    Parted,
    /// No gain for long.
    Stuck,
}

/// A layout in a field of fixed length that is being parted.
#[derive(Debug, Clone)]
pub(crate) struct Separation {
    length_mm: f64,
    layout: Layout,
    /// Row by row, for every pair; the same both ways.
    weights: Vec<f32>,
    /// The same: what a weight starts from and falls back to. Large pieces find another place less easily than small ones,
    /// so that an overlap of two large ones counts more.
    least_weights: Vec<f32>,
    depths: Vec<f32>,
    least: f64,
    least_spots: Vec<Spot>,
    least_in_strike: f64,
    idle: usize,
    strikes: usize,
    found: Vec<(usize, f64, Vector)>,
    near: Vec<usize>,
}

impl Separation {
    /// Spots are brought into the field first.
    pub(crate) fn new(job: &Job<'_>, spots: &[Spot], length_mm: f64) -> Self {
        let n = spots.len();
        let mut separation = Self {
            length_mm,
            layout: Layout::of(job, spots),
            weights: Vec::new(),
            least_weights: Vec::new(),
            depths: vec![0.0; n * n],
            least: f64::INFINITY,
            least_spots: Vec::new(),
            least_in_strike: f64::INFINITY,
            idle: 0,
            strikes: 0,
            found: Vec::new(),
            near: Vec::new(),
        };
        for i in 0..job.pieces.len() {
            let (form, at) = spots[i];
            let form = match job.room(form, length_mm) {
                Some(_) => form,
                None => *job
                    .forms_with_room(job.pieces[i], length_mm)
                    .first()
                    .unwrap_or(&form),
            };
            if let Some(room) = job.room(form, length_mm) {
                separation.layout.put(job, i, (form, clamped(at, room)));
            }
        }
        separation.least_weights = least_weights(job, spots);
        separation.weights.clone_from(&separation.least_weights);
        separation.measure_all(job);
        separation
    }

    pub(crate) fn spots(&self) -> &[Spot] {
        &self.layout.spots
    }

    /// The layout with the least overlap so far.
    pub(crate) fn least_spots(&self) -> &[Spot] {
        if self.least_spots.is_empty() {
            &self.layout.spots
        } else {
            &self.least_spots
        }
    }

    fn measure_all(&mut self, job: &Job<'_>) {
        self.depths.fill(0.0);
        for i in 0..job.pieces.len() {
            self.measure(job, i);
        }
    }

    fn measure(&mut self, job: &Job<'_>, i: usize) {
        let n = self.layout.spots.len();
        for j in 0..n {
            self.depths[i * n + j] = 0.0;
            self.depths[j * n + i] = 0.0;
        }
        let mut found = std::mem::take(&mut self.found);
        self.layout
            .overlaps(job, i, self.layout.spots[i], &mut found);
        for &(j, mm, _) in &found {
            self.depths[i * n + j] = mm as f32;
            self.depths[j * n + i] = mm as f32;
        }
        self.found = found;
    }

    fn overlaps(&self, i: usize) -> bool {
        let n = self.layout.spots.len();
        self.depths[i * n..(i + 1) * n].iter().any(|&d| d > 0.0)
    }

    fn total_mm(&self) -> f64 {
        0.5 * self.depths.iter().map(|&d| f64::from(d)).sum::<f64>()
    }

    /// Moves each piece that overlaps once. Counts a step for each move; `goes_on` may end the sweep early.
    pub(crate) fn sweep(
        &mut self,
        job: &Job<'_>,
        dice: &mut Random,
        steps: &mut u64,
        goes_on: &mut dyn FnMut(u64) -> bool,
    ) -> Progress {
        let mut order: Vec<usize> = (0..job.pieces.len())
            .filter(|&i| self.overlaps(i))
            .collect();
        dice.shuffle(&mut order);
        for i in order {
            if !self.overlaps(i) {
                continue;
            }
            *steps += 1;
            if !goes_on(*steps) {
                return Progress::Going;
            }
            let spot = self.best_spot(job, i, dice);
            self.layout.put(job, i, spot);
            self.measure(job, i);
        }
        let total = self.total_mm();
        if total == 0.0 {
            return Progress::Parted;
        }
        if total < self.least {
            self.least = total;
            self.least_spots.clone_from(&self.layout.spots);
        }
        if total < 0.98 * self.least_in_strike {
            self.least_in_strike = total;
            self.idle = 0;
        } else {
            self.idle += 1;
        }
        self.grow_weights();
        if self.idle >= PATIENCE {
            self.strikes += 1;
            if self.strikes > STRIKES {
                return Progress::Stuck;
            }
            self.idle = 0;
            self.least_in_strike = self.least;
            let spots = std::mem::take(&mut self.least_spots);
            for (i, &spot) in spots.iter().enumerate().take(job.pieces.len()) {
                self.layout.put(job, i, spot);
            }
            self.least_spots = spots;
            self.measure_all(job);
        }
        Progress::Going
    }

    /// Pairs that overlap weigh more, the deepest twice as much; the others slowly forget.
    fn grow_weights(&mut self) {
        let deepest = self.depths.iter().copied().fold(0.0_f32, f32::max);
        if deepest <= 0.0 {
            return;
        }
        let rows = self.weights.iter_mut().zip(&self.least_weights);
        for ((w, &least), &d) in rows.zip(&self.depths) {
            if d > 0.0 {
                *w *= LEAST_GROWTH + MORE_GROWTH * d / deepest;
            } else {
                *w = (*w * DECAY).max(least);
            }
        }
        let heaviest = self.weights.iter().copied().fold(0.0_f32, f32::max);
        if heaviest > 1e9 {
            for (w, &least) in self.weights.iter_mut().zip(&self.least_weights) {
                *w = (*w * 1e-3).max(least);
            }
        }
    }

    /// The spot that costs least among those tried; the present one where none is better.
    fn best_spot(&mut self, job: &Job<'_>, i: usize, dice: &mut Random) -> Spot {
        let n = self.layout.spots.len();
        let forms = job.forms_with_room(job.pieces[i], self.length_mm);
        let mut search = SpotSearch {
            job,
            layout: &self.layout,
            weights: &self.weights[i * n..(i + 1) * n],
            i,
            length_mm: self.length_mm,
            found: std::mem::take(&mut self.found),
            near: std::mem::take(&mut self.near),
        };
        let present = self.layout.spots[i];
        let cost = search.cost(present, f64::INFINITY);
        let mut best: Vec<(f64, Spot)> = vec![(cost, present)];
        let mut offer = |search: &SpotSearch<'_>, spot: Spot| {
            let bound = if best.len() < REFINED {
                f64::INFINITY
            } else {
                best[best.len() - 1].0
            };
            let cost = search.cost(spot, bound);
            if cost < bound {
                let at = best.partition_point(|b| b.0 <= cost);
                best.insert(at, (cost, spot));
                best.truncate(REFINED);
            }
        };
        let size = {
            let b = job.form(present.0).bounds;
            b.width_mm().min(b.height_mm())
        };
        if !forms.is_empty() {
            for _ in 0..ANYWHERE {
                let form = forms[dice.below(forms.len())];
                if let Some(room) = job.room(form, self.length_mm) {
                    let at = Point::new(
                        dice.between(room.min.x, room.max.x),
                        dice.between(room.min.y, room.max.y),
                    );
                    offer(&search, (form, at));
                }
            }
            for _ in 0..AT_CORNERS {
                let form = forms[dice.below(forms.len())];
                let j = dice.below(n);
                if j == i {
                    continue;
                }
                let (g, at_g) = self.layout.spots[j];
                let (corners, place) = job.kinds.touching(job.form(form), job.form(g), at_g);
                let at = place(corners[dice.below(corners.len())]);
                if let Some(room) = job.room(form, self.length_mm) {
                    offer(&search, (form, clamped(at, room)));
                }
            }
            for _ in 0..NEAR_BY {
                let form = if dice.below(2) == 0 {
                    present.0
                } else {
                    forms[dice.below(forms.len())]
                };
                if let Some(room) = job.room(form, self.length_mm) {
                    let by = Vector::new(dice.between(-size, size), dice.between(-size, size));
                    let centre = search.centre_kept(present, form);
                    offer(&search, (form, clamped(centre + by * 0.5, room)));
                }
            }
        }
        let mut least = (cost, present);
        for (cost, spot) in best {
            let refined = search.refined(
                cost,
                spot,
                [FIRST_STEP, MIDDLE_STEP].map(|s| s * size),
                dice,
            );
            if refined.0 < least.0 {
                least = refined;
            }
            if least.0 == 0.0 {
                break;
            }
        }
        if least.0 > 0.0 {
            let steps = [MIDDLE_STEP, LAST_STEP].map(|s| s * size);
            least = search.refined(least.0, least.1, steps, dice);
        }
        self.found = search.found;
        self.near = search.near;
        least.1
    }
}

/// For every pair, row by row: the geometric mean of both sizes over the mean of all sizes, to the power of 3/2. A size is
/// the side of the square as large as the box. The power: 1, 3/2 and 2 gave 0.3 % shorter
/// strips of `swim` than 0 did.
fn least_weights(job: &Job<'_>, spots: &[Spot]) -> Vec<f32> {
    let sizes: Vec<f64> = spots
        .iter()
        .map(|&(form, _)| {
            let b = job.form(form).bounds;
            (b.width_mm() * b.height_mm()).sqrt()
        })
        .collect();
    let mean = (sizes.iter().sum::<f64>() / sizes.len().max(1) as f64).max(f64::MIN_POSITIVE);
    let share = |size: &f64| (size / mean).powf(0.75);
    sizes
        .iter()
        .flat_map(|a| sizes.iter().map(move |b| (share(a) * share(b)) as f32))
        .collect()
}

/// The search for one piece's spot.
struct SpotSearch<'a> {
    job: &'a Job<'a>,
    layout: &'a Layout,
    weights: &'a [f32],
    i: usize,
    length_mm: f64,
    found: Vec<(usize, f64, Vector)>,
    /// The pieces that can be met round the place that is being refined.
    near: Vec<usize>,
}

impl SpotSearch<'_> {
    fn cost(&self, spot: Spot, bound: f64) -> f64 {
        self.layout
            .cost(self.job, self.i, spot, self.weights, bound)
    }

    /// The place for another form whose box has the same centre.
    fn centre_kept(&self, (form, at): Spot, other: usize) -> Point {
        at + (self.job.form(form).bounds.centre() - self.job.form(other).bounds.centre())
    }

    /// Down to a place where no small shift is better: whole shifts that part the piece from one of those in its way,
    /// else ever smaller steps along an axis.
    fn refined(
        &mut self,
        cost: f64,
        spot: Spot,
        [first_step, last_step]: [f64; 2],
        dice: &mut Random,
    ) -> (f64, Spot) {
        let Some(room) = self.job.room(spot.0, self.length_mm) else {
            return (cost, spot);
        };
        let (mut cost, mut at) = (cost, spot.1);
        let form = spot.0;
        let mut step = first_step;
        // Wide enough for a few steps, so that the list of neighbours seldom changes.
        let margin_mm = 5.0 * first_step;
        let mut near_to = at;
        self.look_round((form, at), margin_mm);
        let mut moved = true;
        while cost > 0.0 && step > last_step {
            if (at.x - near_to.x).abs().max((at.y - near_to.y).abs()) > 0.5 * margin_mm {
                near_to = at;
                self.look_round((form, at), margin_mm);
            }
            // From the same place the same shifts are no better than before.
            if moved && let Some(better) = self.parted(cost, (form, at), room) {
                (cost, at) = better;
                continue;
            }
            moved = false;
            let along = match dice.below(4) {
                0 => Vector::new(1.0, 0.0),
                1 => Vector::new(0.0, 1.0),
                2 => Vector::new(0.7, 0.7),
                _ => Vector::new(0.7, -0.7),
            };
            for by in [along * step, along * -step] {
                let p = clamped(at + by, room);
                let c = self.cost_near((form, p), near_to, margin_mm, cost);
                if c < cost {
                    (cost, at, moved) = (c, p, true);
                }
            }
            step *= if moved { 1.1 } else { 0.5 };
        }
        (cost, (form, at))
    }

    fn look_round(&mut self, spot: Spot, margin_mm: f64) {
        self.layout
            .neighbours(self.job, self.i, spot, margin_mm, &mut self.near);
        // What costs most comes first: then most places reach the bound at once.
        let weights = self.weights;
        self.near
            .sort_by(|&a, &b| weights[b].total_cmp(&weights[a]).then(a.cmp(&b)));
    }

    fn cost_near(&self, spot: Spot, near_to: Point, margin_mm: f64, bound: f64) -> f64 {
        let away = (spot.1.x - near_to.x)
            .abs()
            .max((spot.1.y - near_to.y).abs());
        if away <= margin_mm {
            self.layout
                .cost_among(self.job, spot, self.weights, &self.near, bound)
        } else {
            self.cost(spot, bound)
        }
    }

    /// The best of the shifts that part the piece from one of those in its way, where it costs less.
    fn parted(&mut self, cost: f64, spot: Spot, room: Bounds) -> Option<(f64, Point)> {
        let mut found = std::mem::take(&mut self.found);
        self.layout.overlaps(self.job, self.i, spot, &mut found);
        let mut best: Option<(f64, Point)> = None;
        for &(_, _, out) in &found {
            let p = clamped(spot.1 + out, room);
            let bound = best.map_or(cost * WORTH_A_SHIFT, |b| b.0);
            let c = self.cost((spot.0, p), bound);
            if c < bound {
                best = Some((c, p));
            }
        }
        self.found = found;
        best
    }
}

fn clamped(p: Point, room: Bounds) -> Point {
    Point::new(
        p.x.max(room.min.x).min(room.max.x),
        p.y.max(room.min.y).min(room.max.y),
    )
}
