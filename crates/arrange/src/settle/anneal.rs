//! The search: which axis holds which pair apart, so that boxes move least.

use super::solve::Solution;
use super::state::State;
use super::{Boxes, fitted, flipped_share, moved_mm};
use shape::{Random, Watch};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// How much worse a state may be at the start of a search and still be gone on from, over the number of boxes.
const HEAT: f64 = 0.25;

/// How often in a search the wish is fitted anew.
const STAGES: u32 = 8;

/// What a change of order weighs: one in a hundred pairs as much as all boxes moved by 0.1 % of their mean side.
const ORDER: f64 = 0.1;

/// What it weighs beyond the share that is allowed.
const DISORDER: f64 = 60.0;

/// The best that a search has seen.
pub(super) struct Best {
    pub(super) state: State,
    pub(super) solution: Solution,
    pub(super) price: f64,
}

impl Best {
    pub(super) fn of(boxes: &Boxes, state: State, wish: &[Vec<f64>; 2], allowed: f64) -> Self {
        let solution = state.solve(boxes, wish, &vec![1.0; boxes.n()], None);
        let price = boxes.price(&solution, 0.0, allowed);
        Self {
            state,
            solution,
            price,
        }
    }

    /// Distances instead of their squares made least, as far as the state allows: the wish is fitted anew and what
    /// is far gives way more, over and over (Weiszfeld, 1937).
    pub(super) fn polish(&mut self, boxes: &Boxes, allowed: f64) {
        const ROUNDS: usize = 60;
        let mut now = self.solution.clone();
        for _ in 0..ROUNDS {
            let wish = fitted(&boxes.start, &now.at);
            let ease = boxes.ease(&wish, &now, 0.02);
            now = self.state.solve(boxes, &wish, &ease, Some(&now));
            let price = boxes.price(&now, 0.0, allowed);
            if price < self.price && boxes.beyond_mm(&now) < 1e-7 {
                self.price = price;
                self.solution = now.clone();
            }
        }
    }
}

impl Boxes {
    /// Anneals each state, as many at a time as the machine has cores; what was found, state by state, and whether the
    /// watch ended the work.
    pub(super) fn anneal_all(
        &self,
        states: Vec<State>,
        wish: &[Vec<f64>; 2],
        allowed: f64,
        seed: u64,
        steps: u32,
        watch: &dyn Watch,
    ) -> (Vec<Option<Best>>, bool) {
        let all = f64::from(steps) * states.len() as f64;
        let (stopped, done) = (AtomicBool::new(false), AtomicU32::new(0));
        let go_on = |more: u32| {
            let so_far = done.fetch_add(more, Ordering::Relaxed) + more;
            if watch.step("spreading", f64::from(so_far) / all).is_err() {
                stopped.store(true, Ordering::Relaxed);
            }
            !stopped.load(Ordering::Relaxed)
        };
        let numbered: Vec<(u64, State)> = (0..).zip(states).collect();
        let found = shape::mapped(&numbered, |(k, state)| {
            let seed = seed.wrapping_add(*k);
            self.anneal(state.clone(), wish, allowed, seed, steps, &go_on)
        });
        (found, stopped.into_inner())
    }

    /// Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983) over states. Boxes may reach beyond the walls on the
    /// way, ever more dearly; only what lies within counts as found.
    fn anneal(
        &self,
        mut state: State,
        wish: &[Vec<f64>; 2],
        allowed: f64,
        seed: u64,
        steps: u32,
        go_on: &dyn Fn(u32) -> bool,
    ) -> Option<Best> {
        let mut random = Random::new(seed);
        let mut wish = wish.clone();
        let mut best: Option<Best> = None;
        let stage = (steps / STAGES).max(1);
        let mut walls = 0.0;
        let mut ease = vec![1.0; self.n()];
        let mut now = state.solve(self, &wish, &ease, None);
        let mut price = f64::INFINITY;
        for step in 0..steps {
            let done = f64::from(step) / f64::from(steps);
            if step % 16 == 0 && !go_on(16.min(steps - step)) {
                break;
            }
            if (step == steps / 2 || step == steps * 4 / 5)
                && let Some(best) = &best
            {
                state = best.state.clone();
                now = best.solution.clone();
            }
            if step % stage == 0 || step == steps / 2 || step == steps * 4 / 5 {
                // The wish follows what was found: scale and shift are free.
                if !self.stay {
                    wish = fitted(&self.start, &now.at);
                }
                walls = 1.0 + 8.0 * done;
                ease = self.ease(&wish, &now, 0.25);
                now = state.solve(self, &wish, &ease, None);
                price = self.price(&now, walls, allowed);
                if best.is_none() && self.beyond_mm(&now) < 1e-7 {
                    best = Some(Best {
                        state: state.clone(),
                        solution: now.clone(),
                        price,
                    });
                }
            }
            let Some(undo) = state.change(self, &wish, &now, &mut random) else {
                continue;
            };
            let tried = state.solve(self, &wish, &ease, Some(&now));
            let tried_price = self.price(&tried, walls, allowed);
            let heat = HEAT / self.n() as f64 * (1.0 - done).powi(2) + 1e-9;
            if tried_price <= price || random.share() < ((price - tried_price) / heat).exp() {
                now = tried;
                price = tried_price;
                if best.as_ref().is_none_or(|b| price < b.price - 1e-12)
                    && self.beyond_mm(&now) < 1e-7
                {
                    best = Some(Best {
                        state: state.clone(),
                        solution: now.clone(),
                        price,
                    });
                }
            } else {
                state.undo(undo);
            }
        }
        best
    }

    pub(super) fn price(&self, solution: &Solution, walls: f64, allowed: f64) -> f64 {
        let flipped = flipped_share(&self.start, &solution.at);
        let n = self.n() as f64;
        let side = self.side_mm();
        let moved = if self.stay {
            let sum: f64 = (0..self.n())
                .map(|i| {
                    (solution.at[0][i] - self.start[0][i])
                        .hypot(solution.at[1][i] - self.start[1][i])
                })
                .sum();
            sum / n
        } else {
            moved_mm(&self.start, &solution.at)
        };
        moved / side.max(1.0)
            + ORDER * flipped
            + DISORDER * (flipped - allowed).max(0.0)
            + walls * self.beyond_mm(solution) / (n.sqrt() * side.max(1.0))
    }
}
