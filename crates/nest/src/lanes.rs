//! The search for a shorter layout: two lanes that shrink the field and part what then overlaps.
//!
//! Each lane has its own chance and its own best layout. They meet after a fixed number of steps, and the lane that
//! is behind goes on from the other's layout. So the result depends on steps alone, not on threads or on speed.

use crate::budget::{Budget, StoppedBy};
use crate::layout::{Job, Spot};
use crate::separate::{Progress, Separation};
use shape::{Random, Vector, Watch};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Lanes; a part of the result's definition.
const LANES: usize = 2;
/// Steps of each lane between two meetings.
const MEETING_STEPS: u64 = 2_000;
/// Shares by which the field is shrunk.
const FIRST_SHRINK: f64 = 0.02;
const MOST_SHRINK: f64 = 0.03;
const LEAST_SHRINK: f64 = 0.0005;
/// By what the share is multiplied after a success and after a failure.
const MORE_SHRINK: f64 = 1.2;
const LESS_SHRINK: f64 = 0.5;
/// Where two pieces changed places.
const RENEWED_SHRINK: f64 = 0.004;

/// A layout without overlaps and its length.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub(crate) length_mm: f64,
    pub(crate) spots: Vec<Spot>,
}

/// What a search came to.
#[derive(Debug, Clone)]
pub(crate) struct Shortened {
    pub(crate) best: Found,
    /// Steps that were done.
    pub(crate) steps: u64,
    pub(crate) stopped_by: StoppedBy,
}

struct Lane {
    dice: Random,
    best: Found,
    shrink: f64,
    target_mm: f64,
    attempt: Separation,
    steps: u64,
}

/// Shrinks from the first layout until the length is at most `goal_mm`, steps run out or the watch says stop.
pub(crate) fn shorten(
    job: &Job<'_>,
    first: Found,
    goal_mm: f64,
    budget: &Budget,
    watch: &dyn Watch,
    what: &str,
) -> Shortened {
    let at_once = |best, stopped_by| Shortened {
        best,
        steps: 0,
        stopped_by,
    };
    if first.length_mm <= goal_mm {
        return at_once(first, StoppedBy::Goal);
    }
    if budget.steps == 0 {
        return at_once(first, StoppedBy::Steps);
    }
    let mut lanes: Vec<Lane> = (0..LANES)
        .map(|k| Lane::new(job, first.clone(), goal_mm, budget.seed, k as u64))
        .collect();
    let (stop, done) = (AtomicBool::new(false), AtomicU64::new(0));
    let per_lane = budget.steps.div_ceil(LANES as u64);
    let goes_on = || {
        if stop.load(Ordering::Relaxed) {
            return false;
        }
        let n = done.fetch_add(1, Ordering::Relaxed);
        if n % 16 == 0
            && watch
                .step(what, n as f64 / budget.steps.max(1) as f64)
                .is_err()
        {
            stop.store(true, Ordering::Relaxed);
            return false;
        }
        true
    };
    let mut until = 0;
    let stopped_by = loop {
        if until >= per_lane {
            break StoppedBy::Steps;
        }
        until = (until + MEETING_STEPS).min(per_lane);
        if budget.threads > 1 {
            std::thread::scope(|scope| {
                for lane in &mut lanes {
                    let goes_on = &goes_on;
                    scope.spawn(move || lane.run(job, goal_mm, until, goes_on));
                }
            });
        } else {
            for lane in &mut lanes {
                lane.run(job, goal_mm, until, &goes_on);
            }
        }
        if stop.load(Ordering::Relaxed) {
            break StoppedBy::Watch;
        }
        let best = best_of(&lanes).clone();
        if best.length_mm <= goal_mm {
            break StoppedBy::Goal;
        }
        for lane in &mut lanes {
            lane.hear_of(job, &best, goal_mm);
        }
    };
    Shortened {
        best: best_of(&lanes).clone(),
        steps: lanes.iter().map(|l| l.steps).sum(),
        stopped_by,
    }
}

fn best_of(lanes: &[Lane]) -> &Found {
    let mut best = &lanes[0].best;
    for lane in &lanes[1..] {
        if lane.best.length_mm < best.length_mm {
            best = &lane.best;
        }
    }
    best
}

impl Lane {
    fn new(job: &Job<'_>, first: Found, goal_mm: f64, seed: u64, number: u64) -> Self {
        let mut dice = Random::new(seed ^ (number + 1).wrapping_mul(0x2545_f491_4f6c_dd1d));
        // The first numbers of neighbouring seeds are close to each other.
        dice.next_u64();
        let attempt = Separation::new(job, &first.spots, first.length_mm);
        let mut lane = Self {
            dice,
            target_mm: first.length_mm,
            best: first,
            shrink: FIRST_SHRINK,
            attempt,
            steps: 0,
        };
        lane.shrink_best(job, goal_mm);
        lane
    }

    fn run(&mut self, job: &Job<'_>, goal_mm: f64, until: u64, goes_on: &dyn Fn() -> bool) {
        while self.steps < until && self.best.length_mm > goal_mm {
            let mut stopped = false;
            let before = self.steps;
            let progress = self
                .attempt
                .sweep(job, &mut self.dice, &mut self.steps, &mut |_| {
                    stopped = !goes_on();
                    !stopped
                });
            if stopped {
                return;
            }
            // A sweep without a move still counts, so that no lane runs on for ever.
            if self.steps == before {
                self.steps += 1;
            }
            match progress {
                Progress::Going => {}
                Progress::Parted => {
                    let spots = self.attempt.spots().to_vec();
                    self.best = Found {
                        length_mm: job.length_of(&spots).min(self.target_mm),
                        spots,
                    };
                    self.shrink = (self.shrink * MORE_SHRINK).min(MOST_SHRINK);
                    self.shrink_best(job, goal_mm);
                }
                Progress::Stuck => self.try_anew(job, goal_mm),
            }
        }
    }

    /// The other lane's best, where it is better.
    fn hear_of(&mut self, job: &Job<'_>, best: &Found, goal_mm: f64) {
        if best.length_mm < self.best.length_mm * (1.0 - 1e-9) {
            self.best = best.clone();
            if self.target_mm >= self.best.length_mm * (1.0 - LEAST_SHRINK) {
                self.shrink_best(job, goal_mm);
            }
        }
    }

    fn set_target(&mut self, job: &Job<'_>, goal_mm: f64) {
        let least = goal_mm.max(job.least_length_mm());
        let to = (self.best.length_mm * (1.0 - self.shrink)).max(least);
        self.target_mm = to;
    }

    /// A new attempt: the best layout with a vertical cut somewhere, and what is right of it shifted left.
    fn shrink_best(&mut self, job: &Job<'_>, goal_mm: f64) {
        self.set_target(job, goal_mm);
        let by = self.best.length_mm - self.target_mm;
        let cut = self.dice.share() * self.best.length_mm;
        let mut spots = self.best.spots.clone();
        shift_beyond(job, &mut spots, cut, -by);
        self.attempt = Separation::new(job, &spots, self.target_mm);
    }

    /// After a failure the field gives way: the failed layout goes on in half the shrinkage. Where even the least was too
    /// much, two large pieces change places, in the failed layout or in the best.
    fn try_anew(&mut self, job: &Job<'_>, goal_mm: f64) {
        let (mut spots, mut of_mm) = (self.attempt.least_spots().to_vec(), self.target_mm);
        if self.shrink > LEAST_SHRINK {
            self.shrink = (self.shrink * LESS_SHRINK).max(LEAST_SHRINK);
        } else {
            self.shrink = RENEWED_SHRINK;
            if self.dice.below(2) == 0 {
                (spots, of_mm) = (self.best.spots.clone(), self.best.length_mm);
            }
            self.change_about(job, &mut spots);
        }
        self.set_target(job, goal_mm);
        let cut = self.dice.share() * of_mm;
        shift_beyond(job, &mut spots, cut, self.target_mm - of_mm);
        self.attempt = Separation::new(job, &spots, self.target_mm);
    }

    /// Two of the larger pieces of different kinds take each other's place.
    fn change_about(&mut self, job: &Job<'_>, spots: &mut [Spot]) {
        let n = job.pieces.len();
        let mut large: Vec<usize> = (0..n).collect();
        let size = |i: usize| job.kinds.kinds[job.pieces[i]].size;
        large.sort_by(|&i, &j| size(j).total_cmp(&size(i)).then(i.cmp(&j)));
        large.truncate((n / 2).max(2).min(n));
        for _ in 0..20 {
            let (i, j) = (
                large[self.dice.below(large.len())],
                large[self.dice.below(large.len())],
            );
            if job.pieces[i] == job.pieces[j] {
                continue;
            }
            let centre =
                |(form, at): Spot| at + (job.form(form).bounds.centre() - shape::Point::default());
            let by: Vector = centre(spots[j]) - centre(spots[i]);
            spots[i].1 = spots[i].1 + by;
            spots[j].1 = spots[j].1 - by;
            return;
        }
        // All alike: one goes elsewhere.
        if let Some(&i) = large.first() {
            spots[i].1.x = self.dice.share() * self.target_mm;
        }
    }
}

/// Shifts along x every piece whose middle is right of the cut.
fn shift_beyond(job: &Job<'_>, spots: &mut [Spot], cut: f64, by: f64) {
    for (form, at) in spots.iter_mut().take(job.pieces.len()) {
        if at.x + job.form(*form).bounds.centre().x > cut {
            at.x += by;
        }
    }
}
