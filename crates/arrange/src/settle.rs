//! Boxes moved as little as may be until none overlap, their order kept.
//!
//! Every pair of boxes is held apart on one axis, in the direction in which the two stood at the start;
//! on the other axis they may only not change sides. Places then follow axis by axis from a quadratic
//! program with separation constraints (the problem of Dwyer, Marriott and Stuckey, GD 2005), solved here
//! by Hildreth's row-action method. Which axis holds which pair apart is searched: first so that the
//! longest chain of either axis fits the room, then, by seeded annealing, so that boxes move least.

use crate::random::Random;
use shape::{Point, Watch};
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Boxes beyond this number are not settled: pairs grow with its square, and sets of them are kept in the
/// bits of one word.
pub(crate) const MOST_BOXES: usize = 128;

/// Centres that keep their order are at least this far apart, mm, so that no two programs read a tie
/// differently.
const IN_ORDER_MM: f64 = 1e-5;

/// Passes over all constraints before the quadratic program's answer is taken as it is; what is then
/// still wrong is put right exactly.
const PASSES: usize = 80;

/// How much worse a state may be at the start of a search and still be gone on from, over the number of boxes.
const HEAT: f64 = 0.25;

/// How often in a search the wish is fitted anew.
const STAGES: u32 = 8;

/// What a change of order weighs: one in a hundred pairs as much as all boxes moved by 0.1 % of their mean side.
const ORDER: f64 = 0.1;

/// What it weighs beyond the share that is allowed.
const DISORDER: f64 = 60.0;

/// Of the changes of order that plain sweeps make, this share is allowed where they are few, and where they are many:
/// another way to sweep makes a few more or less. And so few are allowed in any case.
const ALLOWED_OF_SWEPT: [f64; 2] = [0.5, 0.46];
const MANY: f64 = 12.0;
const ALLOWED: f64 = 0.002;

/// What is to be settled. Axis 0 is x, axis 1 is y; lengths in mm on the board.
#[derive(Debug, Clone)]
pub(crate) struct Boxes {
    /// Where each box's centre stood at the start, per axis: order is judged by it.
    pub(crate) start: [Vec<f64>; 2],
    /// What each box needs from its centre to the lower and to the upper wall, per axis.
    pub(crate) reach: [Vec<(f64, f64)>; 2],
    /// Half of each box without what hangs on it, per axis: its edges are what is aligned.
    pub(crate) half: [Vec<f64>; 2],
    /// Lower and upper wall of each axis.
    pub(crate) walls: [(f64, f64); 2],
    /// `need[axis][i * n + j]`: least distance of the centres where i comes before j on that axis.
    pub(crate) need: [Vec<f64>; 2],
    /// Boxes that stay where they started.
    pub(crate) fixed: Vec<bool>,
    /// The start is where the boxes want to be, and not only up to scale and shift.
    pub(crate) stay: bool,
}

/// Where the boxes came to lie.
#[derive(Debug, Clone)]
pub(crate) struct Settled {
    /// Centres of each layout that was found, the best first.
    pub(crate) found: Vec<Vec<Point>>,
    /// Share of pairs that may change their order.
    pub(crate) allowed: f64,
    pub(crate) stopped: bool,
}

/// Pairs of centres whose order changed on x or on y, each axis counted, over n(n-1) (the orthogonal ordering of
/// Dwyer, Marriott and Stuckey).
pub(crate) fn flipped_share(start: &[Vec<f64>; 2], at: &[Vec<f64>; 2]) -> f64 {
    let n = start[0].len();
    if n < 2 {
        return 0.0;
    }
    let mut flips = 0usize;
    for axis in 0..2 {
        for i in 0..n {
            for j in 0..i {
                let was = start[axis][i] - start[axis][j];
                let is = at[axis][i] - at[axis][j];
                if was * is < 0.0 && was.abs() > 1e-9 && is.abs() > 1e-9 {
                    flips += 1;
                }
            }
        }
    }
    flips as f64 / (n * (n - 1)) as f64
}

/// The start scaled (both axes alike) and shifted to lie nearest to `at` in the least squares' sense.
pub(crate) fn fitted(start: &[Vec<f64>; 2], at: &[Vec<f64>; 2]) -> [Vec<f64>; 2] {
    let n = start[0].len().max(1) as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let (mut product, mut square) = (0.0, 0.0);
    for axis in 0..2 {
        let (s, r) = (mean(&start[axis]), mean(&at[axis]));
        for (a, b) in start[axis].iter().zip(&at[axis]) {
            product += (a - s) * (b - r);
            square += (a - s) * (a - s);
        }
    }
    let scale = if square > 0.0 { product / square } else { 1.0 };
    [0, 1].map(|axis: usize| {
        let (s, r) = (mean(&start[axis]), mean(&at[axis]));
        start[axis].iter().map(|v| r + scale * (v - s)).collect()
    })
}

/// Mean distance of each centre from where the fitted start has it, mm.
pub(crate) fn moved_mm(start: &[Vec<f64>; 2], at: &[Vec<f64>; 2]) -> f64 {
    let fitted = fitted(start, at);
    let n = start[0].len();
    let sum: f64 = (0..n)
        .map(|i| (at[0][i] - fitted[0][i]).hypot(at[1][i] - fitted[1][i]))
        .sum();
    sum / n.max(1) as f64
}

/// Settles the boxes, and puts what almost stands in line in line where that is wanted; `None` where the search finds no
/// way into the room.
pub(crate) fn settle(
    boxes: &Boxes,
    seed: u64,
    steps: u32,
    straight: bool,
    watch: &dyn Watch,
) -> Option<Settled> {
    let n = boxes.start[0].len();
    if n == 0 || n > MOST_BOXES {
        return None;
    }
    let wish = boxes.spread_into_room();
    // As if there were no walls, from the start as it is: so much disorder is what plain sweeps cost.
    let open = Boxes {
        walls: [(-1e6, 1e6); 2],
        ..boxes.clone()
    };
    let unwalled = State::swept(&open, &boxes.start);
    let plain = unwalled.solve(&open, &boxes.start, &vec![1.0; n], None);
    let swept = flipped_share(&boxes.start, &plain.at);
    let many = swept * (n * n.saturating_sub(1)) as f64 > MANY;
    let allowed = (ALLOWED_OF_SWEPT[usize::from(many)] * swept).max(ALLOWED) + 1e-9;
    let mut all: Vec<Best> = Vec::new();
    let mut strict = State::new(boxes, &wish);
    if strict.make_feasible(boxes, &wish, &mut Random::new(seed)) {
        all.push(Best::of(boxes, strict.clone(), &wish, allowed));
    }
    let states = if boxes.stay {
        vec![strict]
    } else {
        // Ways in: the order kept at all cost; the overlaps taken out at least cost, in the room and without walls.
        vec![
            unwalled.clone(),
            State::swept(boxes, &wish),
            strict,
            unwalled,
        ]
    };
    let share = steps / states.len() as u32;
    let (found, stopped) = boxes.anneal_all(states, &wish, allowed, seed, share, watch);
    // In the order of the states, so that the number of threads changes nothing.
    for mut found in found.into_iter().flatten() {
        if !boxes.stay {
            found.polish(boxes, allowed);
        }
        all.push(found);
    }
    all.sort_by(|a, b| a.price.total_cmp(&b.price));
    if all.is_empty() {
        return None;
    }
    let found = all
        .into_iter()
        .map(|mut best| {
            if straight && !boxes.stay {
                best.state.straighten(boxes, &mut best.solution.at);
            }
            let at = best.solution.at;
            (0..n).map(|i| Point::new(at[0][i], at[1][i])).collect()
        })
        .collect();
    Some(Settled {
        found,
        allowed,
        stopped,
    })
}

/// The best that a search has seen.
struct Best {
    state: State,
    solution: Solution,
    price: f64,
}

impl Best {
    fn of(boxes: &Boxes, state: State, wish: &[Vec<f64>; 2], allowed: f64) -> Self {
        let solution = state.solve(boxes, wish, &vec![1.0; boxes.n()], None);
        let price = boxes.price(&solution, 0.0, allowed);
        Self {
            state,
            solution,
            price,
        }
    }
}

impl Best {
    /// Distances instead of their squares made least, as far as the state allows: the wish is fitted anew and what
    /// is far gives way more, over and over (Weiszfeld, 1937).
    fn polish(&mut self, boxes: &Boxes, allowed: f64) {
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

/// A solution with the constraints that push in it: axis, first, second, force.
#[derive(Debug, Clone)]
struct Solution {
    at: [Vec<f64>; 2],
    pushes: Vec<(usize, usize, usize, f64)>,
    /// What each wall pushes each box, per axis: from below and from above.
    walls: [Vec<[f64; 2]>; 2],
}

impl Boxes {
    fn n(&self) -> usize {
        self.start[0].len()
    }

    /// Least and greatest centre that the walls allow.
    fn limits(&self, axis: usize, i: usize) -> (f64, f64) {
        if self.fixed[i] {
            return (self.start[axis][i], self.start[axis][i]);
        }
        let (low, high) = self.reach[axis][i];
        (self.walls[axis].0 + low, self.walls[axis].1 - high)
    }

    /// Mean side of the boxes.
    fn side_mm(&self) -> f64 {
        self.half.iter().flatten().sum::<f64>() / self.n().max(1) as f64
    }

    /// Each box's place in the order of the starts.
    fn start_ranks(&self, axis: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.n()).collect();
        let v = &self.start[axis];
        order.sort_by(|&a, &b| v[a].total_cmp(&v[b]).then(a.cmp(&b)));
        let mut rank = vec![0; self.n()];
        for (r, &i) in order.iter().enumerate() {
            rank[i] = r;
        }
        rank
    }

    /// Where the centre of the scaled start may be shifted to on an axis with all boxes within the walls: least and
    /// greatest shift; crossed where there is none.
    fn shifts(&self, axis: usize, scale: f64) -> (f64, f64) {
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        for i in 0..self.n() {
            let (low, high) = self.reach[axis][i];
            let at = scale * self.start[axis][i];
            least = least.max(self.walls[axis].0 + low - at);
            most = most.min(self.walls[axis].1 - high - at);
        }
        (least, most)
    }

    /// How much of the room the scaled start takes up on an axis, boxes included.
    pub(crate) fn share_of_room(&self, axis: usize, scale: f64) -> f64 {
        let room = self.walls[axis].1 - self.walls[axis].0;
        let (least, most) = self.shifts(axis, scale);
        1.0 - (most - least) / room
    }

    /// The greatest scale, up to 4, at which all boxes, each where the scaled start has it, lie within the walls.
    pub(crate) fn scale_into_room(&self) -> f64 {
        let fits = |scale: f64| {
            (0..2).all(|axis| {
                let (least, most) = self.shifts(axis, scale);
                least <= most
            })
        };
        let (mut low, mut high) = (0.0, 4.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if fits(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    /// The start as it is where it is to stay, else scaled and shifted to fill the room.
    fn spread_into_room(&self) -> [Vec<f64>; 2] {
        if self.stay {
            return self.start.clone();
        }
        let scale = self.scale_into_room().max(0.2);
        [0, 1].map(|axis: usize| {
            let (least, most) = self.shifts(axis, scale);
            let shift = 0.5 * (least + most);
            self.start[axis].iter().map(|v| scale * v + shift).collect()
        })
    }

    /// How easily each box gives way: what has moved far gives way more. So the sum of distances becomes small, and
    /// not that of their squares (weights of Weiszfeld, 1937).
    fn ease(&self, wish: &[Vec<f64>; 2], now: &Solution, least: f64) -> Vec<f64> {
        let far: Vec<f64> = (0..self.n())
            .map(|i| (now.at[0][i] - wish[0][i]).hypot(now.at[1][i] - wish[1][i]))
            .collect();
        let mean = far.iter().sum::<f64>() / self.n().max(1) as f64;
        if mean < 1e-6 {
            return vec![1.0; self.n()];
        }
        far.iter()
            .map(|f| (f / mean).clamp(least, 1.0 / least))
            .collect()
    }

    /// How far boxes reach beyond the walls, mm in all.
    fn beyond_mm(&self, solution: &Solution) -> f64 {
        (0..2)
            .flat_map(|axis| (0..self.n()).map(move |i| (axis, i)))
            .map(|(axis, i)| {
                let (low, high) = self.limits(axis, i);
                let at = solution.at[axis][i];
                (low - at).max(at - high).max(0.0)
            })
            .sum()
    }

    /// Anneals each state, as many at a time as the machine has cores; what was found, state by state, and whether the
    /// watch ended the work.
    fn anneal_all(
        &self,
        states: Vec<State>,
        wish: &[Vec<f64>; 2],
        allowed: f64,
        seed: u64,
        steps: u32,
        watch: &dyn Watch,
    ) -> (Vec<Option<Best>>, bool) {
        let n = states.len();
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let all = f64::from(steps) * n as f64;
        let (next, stopped, done) = (
            AtomicUsize::new(0),
            AtomicBool::new(false),
            AtomicU32::new(0),
        );
        let found: Vec<Mutex<Option<Best>>> = (0..n).map(|_| Mutex::new(None)).collect();
        let work = || {
            loop {
                let k = next.fetch_add(1, Ordering::Relaxed);
                let Some(state) = states.get(k) else { return };
                let go_on = |more: u32| {
                    let so_far = done.fetch_add(more, Ordering::Relaxed) + more;
                    if watch.step("spreading", f64::from(so_far) / all).is_err() {
                        stopped.store(true, Ordering::Relaxed);
                    }
                    !stopped.load(Ordering::Relaxed)
                };
                let seed = seed.wrapping_add(k as u64);
                let best = self.anneal(state.clone(), wish, allowed, seed, steps, &go_on);
                *found[k].lock().unwrap_or_else(PoisonError::into_inner) = best;
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..cores.min(n) {
                scope.spawn(work);
            }
            work();
        });
        let found = found
            .into_iter()
            .map(|b| b.into_inner().unwrap_or_else(PoisonError::into_inner))
            .collect();
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

    fn price(&self, solution: &Solution, walls: f64, allowed: f64) -> f64 {
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

/// Which axis holds which pair apart, and in which order the boxes run on each.
#[derive(Debug, Clone)]
struct State {
    n: usize,
    /// Boxes in the order in which they run on each axis, at first that of their starts, and each box's rank in it.
    order: [Vec<usize>; 2],
    rank: [Vec<usize>; 2],
    /// `apart[axis][i]`: the boxes that this axis holds apart from i.
    apart: [Vec<u128>; 2],
    /// Boxes that are not held apart on an axis keep their order on it.
    in_order: bool,
}

/// A change that can be taken back.
#[derive(Debug, Clone)]
enum Undo {
    /// A pair went from this axis to the other.
    Axis(usize, usize, usize),
    /// The order on an axis was this.
    Order(usize, Vec<usize>),
    /// The state was this.
    All(Box<State>),
}

impl State {
    fn new(boxes: &Boxes, wish: &[Vec<f64>; 2]) -> Self {
        let n = boxes.n();
        let order = [0, 1].map(|axis: usize| {
            let mut order: Vec<usize> = (0..n).collect();
            let v = &boxes.start[axis];
            let other = &boxes.start[1 - axis];
            order.sort_by(|&a, &b| {
                v[a].total_cmp(&v[b])
                    .then(other[a].total_cmp(&other[b]))
                    .then(a.cmp(&b))
            });
            order
        });
        let rank = [0, 1].map(|axis: usize| {
            let mut rank = vec![0; n];
            for (r, &i) in order[axis].iter().enumerate() {
                rank[i] = r;
            }
            rank
        });
        let mut state = Self {
            n,
            order,
            rank,
            apart: [vec![0; n], vec![0; n]],
            in_order: true,
        };
        for i in 0..n {
            for j in 0..i {
                // The axis on which less is lacking holds the pair apart.
                let lack = |axis: usize| {
                    let (a, b) = state.first_of(axis, i, j);
                    boxes.need[axis][a * n + b] - (wish[axis][b] - wish[axis][a])
                };
                let axis = usize::from(lack(1) < lack(0));
                state.apart[axis][i] |= 1 << j;
                state.apart[axis][j] |= 1 << i;
            }
        }
        state
    }

    /// The overlaps taken out axis by axis, whatever that does to the order: first on x where less is lacking there,
    /// then on y what still overlaps (the two sweeps of Dwyer, Marriott and Stuckey). The state is read off the
    /// places.
    fn swept(boxes: &Boxes, wish: &[Vec<f64>; 2]) -> Self {
        let mut state = Self::new(boxes, wish);
        let n = state.n;
        state.in_order = false;
        let all = state.apart.clone();
        let mut at = wish.clone();
        let ease = vec![1.0; n];
        for axis in 0..2 {
            state.apart = [vec![0; n], vec![0; n]];
            for i in 0..n {
                for j in 0..n {
                    if i == j || (axis == 0 && all[0][i] >> j & 1 == 0) {
                        continue;
                    }
                    let (a, b) = state.first_of(1 - axis, i, j);
                    let lacking =
                        boxes.need[1 - axis][a * n + b] - (at[1 - axis][b] - at[1 - axis][a]).abs();
                    if lacking > 1e-6 {
                        state.apart[axis][i] |= 1 << j;
                    }
                }
            }
            at[axis] = state.solve_axis(
                boxes,
                axis,
                &at[axis].clone(),
                &ease,
                &vec![0.0; n * n],
                &mut vec![[0.0; 2]; n],
                &mut Vec::new(),
            );
        }
        for axis in 0..2 {
            let v = &at[axis];
            let start = &boxes.start[axis];
            state.order[axis].sort_by(|&a, &b| {
                v[a].total_cmp(&v[b])
                    .then(start[a].total_cmp(&start[b]))
                    .then(a.cmp(&b))
            });
            state.rank_anew(axis);
        }
        state.apart = [vec![0; n], vec![0; n]];
        for i in 0..n {
            for j in 0..i {
                let lack = |axis: usize| {
                    let (a, b) = state.first_of(axis, i, j);
                    boxes.need[axis][a * n + b] - (at[axis][b] - at[axis][a])
                };
                let axis = usize::from(lack(1) < lack(0));
                state.apart[axis][i] |= 1 << j;
                state.apart[axis][j] |= 1 << i;
            }
        }
        state.in_order = true;
        state
    }

    fn first_of(&self, axis: usize, i: usize, j: usize) -> (usize, usize) {
        if self.rank[axis][i] < self.rank[axis][j] {
            (i, j)
        } else {
            (j, i)
        }
    }

    /// Moves a pair from an axis to the other one.
    fn hand_over(&mut self, axis: usize, i: usize, j: usize) {
        for (i, j) in [(i, j), (j, i)] {
            self.apart[axis][i] &= !(1 << j);
            self.apart[1 - axis][i] |= 1 << j;
        }
    }

    /// Lets two change sides on an axis; `false` where others that keep their order stand between them.
    fn let_pass(&mut self, boxes: &Boxes, axis: usize, i: usize, j: usize) -> bool {
        let (from, to) = (self.rank[axis][i], self.rank[axis][j]);
        let between = self.order[axis][from + 1..to].to_vec();
        let order = &mut self.order[axis];
        if between.is_empty() {
            order.swap(from, to);
        } else if between
            .iter()
            .all(|&k| self.least(boxes, axis, i, k).is_none())
        {
            // i goes up to j and past it.
            self.order[axis].remove(from);
            self.order[axis].insert(to, i);
        } else if between
            .iter()
            .all(|&k| self.least(boxes, axis, k, j).is_none())
        {
            self.order[axis].remove(to);
            self.order[axis].insert(from, j);
        } else {
            return false;
        }
        self.rank_anew(axis);
        true
    }

    fn rank_anew(&mut self, axis: usize) {
        for (r, &i) in self.order[axis].iter().enumerate() {
            self.rank[axis][i] = r;
        }
    }

    /// The least distance that i keeps before j, which it precedes in the order; `None` where j may be anywhere.
    fn least(&self, boxes: &Boxes, axis: usize, i: usize, j: usize) -> Option<f64> {
        if self.apart[axis][i] >> j & 1 == 1 {
            return Some(boxes.need[axis][i * self.n + j]);
        }
        if !self.in_order {
            return None;
        }
        let was = boxes.start[axis][j] - boxes.start[axis][i];
        // Those that changed sides, and those that stood level, are free.
        (was >= 1e-9 && !(boxes.fixed[i] && boxes.fixed[j])).then(|| IN_ORDER_MM.min(was))
    }

    /// The least place of each centre that the chains before it allow, and who pushes it there.
    fn lowest(&self, boxes: &Boxes, axis: usize) -> (Vec<f64>, Vec<Option<usize>>) {
        let mut low: Vec<f64> = (0..self.n).map(|i| boxes.limits(axis, i).0).collect();
        let mut pushed_by = vec![None; self.n];
        for (k, &j) in self.order[axis].iter().enumerate() {
            for &i in &self.order[axis][..k] {
                if let Some(d) = self.least(boxes, axis, i, j)
                    && low[i] + d > low[j] + 1e-9
                {
                    low[j] = low[i] + d;
                    pushed_by[j] = Some(i);
                }
            }
        }
        (low, pushed_by)
    }

    fn highest(&self, boxes: &Boxes, axis: usize) -> (Vec<f64>, Vec<Option<usize>>) {
        let mut high: Vec<f64> = (0..self.n).map(|i| boxes.limits(axis, i).1).collect();
        let mut pushed_by = vec![None; self.n];
        for (k, &i) in self.order[axis].iter().enumerate().rev() {
            for &j in &self.order[axis][k + 1..] {
                if let Some(d) = self.least(boxes, axis, i, j)
                    && high[j] - d < high[i] - 1e-9
                {
                    high[i] = high[j] - d;
                    pushed_by[i] = Some(j);
                }
            }
        }
        (high, pushed_by)
    }

    /// Changes axes of pairs until the longest chain of either axis fits the room.
    fn make_feasible(&mut self, boxes: &Boxes, wish: &[Vec<f64>; 2], random: &mut Random) -> bool {
        let tries = 60 * self.n + 200;
        // A pair that was changed lately is left alone for a while, so that the search does not go in circles.
        let mut lately: Vec<[usize; 2]> = Vec::new();
        for t in 0..tries {
            let mut worst: Option<(f64, usize, usize)> = None;
            let mut lows = Vec::with_capacity(2);
            for axis in 0..2 {
                let (low, by) = self.lowest(boxes, axis);
                for i in 0..self.n {
                    let over = low[i] - boxes.limits(axis, i).1;
                    if over > 1e-9 && worst.is_none_or(|(w, ..)| over > w) {
                        worst = Some((over, axis, i));
                    }
                }
                lows.push((low, by));
            }
            let Some((over, axis, last)) = worst else {
                return true;
            };
            // The chain that is too long, from its end to the wall.
            let mut chain = Vec::new();
            let mut j = last;
            while let Some(i) = lows[axis].1[j] {
                chain.push((i, j));
                j = i;
            }
            let other = 1 - axis;
            let high_other = self.highest(boxes, other).0;
            let mut choice: Option<(f64, usize, usize, bool)> = None;
            for &(i, j) in &chain {
                let is_apart = self.apart[axis][i] >> j & 1 == 1;
                let price = if is_apart {
                    let (a, b) = self.first_of(other, i, j);
                    let need = boxes.need[other][a * self.n + b];
                    let lack = (need - (wish[other][b] - wish[other][a])).max(0.0);
                    let beyond = (lows[other].0[a] + need - high_other[b]).max(0.0);
                    let gain = (boxes.need[axis][i * self.n + j]).min(over).max(1.0);
                    (lack + 4.0 * beyond) / gain
                } else {
                    // To let two change sides is the last resort, the nearer ones first.
                    12.0 + 0.2 * (boxes.start[axis][j] - boxes.start[axis][i])
                };
                let pair = [i.min(j), i.max(j)];
                let price = price * (1.0 + 0.3 * random.share())
                    + if is_apart && lately.contains(&pair) {
                        40.0
                    } else {
                        0.0
                    };
                if choice.is_none_or(|(p, ..)| price < p) {
                    choice = Some((price, i, j, is_apart));
                }
            }
            let Some((_, i, j, is_apart)) = choice else {
                return false;
            };
            if is_apart {
                self.hand_over(axis, i, j);
                lately.push([i.min(j), i.max(j)]);
                if lately.len() > self.n / 2 + 4 + t / 40 {
                    lately.remove(0);
                }
            } else if !self.let_pass(boxes, axis, i, j) {
                return false;
            }
        }
        false
    }

    /// Moves a pair that pushes to the other axis, or lets two that push each other change sides.
    fn change(
        &mut self,
        boxes: &Boxes,
        wish: &[Vec<f64>; 2],
        now: &Solution,
        random: &mut Random,
    ) -> Option<Undo> {
        if random.below(5) == 0 {
            let far = |c: usize| (now.at[0][c] - wish[0][c]).hypot(now.at[1][c] - wish[1][c]);
            let drawn = [random.below(self.n), random.below(self.n)];
            let c = drawn
                .into_iter()
                .max_by(|&a, &b| far(a).total_cmp(&far(b)))?;
            if boxes.fixed[c] {
                return None;
            }
            let before = self.clone();
            self.put_back(boxes, wish, now, c);
            return Some(Undo::All(Box::new(before)));
        }
        if now.pushes.is_empty() {
            return None;
        }
        // Of two drawn, the one that pushes more.
        let (axis, i, j, _) = (0..2)
            .map(|_| now.pushes[random.below(now.pushes.len())])
            .max_by(|a, b| a.3.total_cmp(&b.3))
            .filter(|p| p.3 > 0.02)?;
        if boxes.fixed[i] && boxes.fixed[j] {
            return None;
        }
        let is_apart = self.apart[axis][i] >> j & 1 == 1;
        if is_apart && random.below(16) > 0 {
            self.hand_over(axis, i, j);
            return Some(Undo::Axis(axis, i, j));
        }
        let before = self.order[axis].clone();
        self.let_pass(boxes, axis, i, j)
            .then_some(Undo::Order(axis, before))
    }

    /// Takes a box back to its wish: the others hold it apart on whichever axis less is lacking there.
    fn put_back(&mut self, boxes: &Boxes, wish: &[Vec<f64>; 2], now: &Solution, c: usize) {
        for axis in 0..2 {
            self.order[axis].retain(|&k| k != c);
            let at = wish[axis][c];
            let rank = self.order[axis].iter().position(|&k| now.at[axis][k] > at);
            let rank = rank.unwrap_or(self.n - 1);
            self.order[axis].insert(rank, c);
            self.rank_anew(axis);
        }
        for j in (0..self.n).filter(|&j| j != c) {
            let lack = |axis: usize| {
                let (a, b) = self.first_of(axis, c, j);
                let apart = (wish[axis][c] - now.at[axis][j]).abs();
                boxes.need[axis][a * self.n + b] - apart
            };
            let axis = usize::from(lack(1) < lack(0));
            for (i, j) in [(c, j), (j, c)] {
                self.apart[axis][i] |= 1 << j;
                self.apart[1 - axis][i] &= !(1 << j);
            }
        }
    }

    fn undo(&mut self, undo: Undo) {
        match undo {
            Undo::Axis(axis, i, j) => self.hand_over(1 - axis, i, j),
            Undo::All(state) => *self = *state,
            Undo::Order(axis, order) => {
                self.order[axis] = order;
                self.rank_anew(axis);
            }
        }
    }

    /// Places that keep all constraints and are nearest to the wish; what pushed in a solution of nearly the same
    /// state is where the search for them starts.
    fn solve(
        &self,
        boxes: &Boxes,
        wish: &[Vec<f64>; 2],
        ease: &[f64],
        like: Option<&Solution>,
    ) -> Solution {
        let n = self.n;
        let mut found = Solution {
            at: [Vec::new(), Vec::new()],
            pushes: Vec::new(),
            walls: [vec![[0.0; 2]; n], vec![[0.0; 2]; n]],
        };
        for axis in 0..2 {
            let mut force = vec![0.0; n * n];
            if let Some(like) = like {
                for &(_, i, j, f) in like.pushes.iter().filter(|p| p.0 == axis) {
                    force[i * n + j] = f;
                }
                found.walls[axis].clone_from(&like.walls[axis]);
            }
            found.at[axis] = self.solve_axis(
                boxes,
                axis,
                &wish[axis],
                ease,
                &force,
                &mut found.walls[axis],
                &mut found.pushes,
            );
        }
        found
    }

    /// Constraints of an axis that no others imply.
    fn arcs(&self, boxes: &Boxes, axis: usize) -> Vec<(usize, usize, f64)> {
        let n = self.n;
        let order = &self.order[axis];
        let mut after: Vec<u128> = vec![0; n];
        let mut before: Vec<u128> = vec![0; n];
        let mut apart_before: Vec<u128> = vec![0; n];
        let mut apart_after: Vec<u128> = vec![0; n];
        for (k, &i) in order.iter().enumerate() {
            for &j in &order[k + 1..] {
                if self.least(boxes, axis, i, j).is_some() {
                    after[i] |= 1 << j;
                    before[j] |= 1 << i;
                }
                if self.apart[axis][i] >> j & 1 == 1 {
                    apart_before[j] |= 1 << i;
                    apart_after[i] |= 1 << j;
                }
            }
        }
        let mut arcs = Vec::new();
        for (k, &i) in order.iter().enumerate() {
            for &j in &order[k + 1..] {
                let Some(d) = self.least(boxes, axis, i, j) else {
                    continue;
                };
                let implied = if self.apart[axis][i] >> j & 1 == 1 {
                    apart_after[i] & apart_before[j]
                } else {
                    after[i] & before[j]
                };
                if implied == 0 {
                    arcs.push((i, j, d));
                }
            }
        }
        arcs
    }

    /// Places on one axis nearest to the wish in the least squares' sense that keep all constraints. `pushed` and
    /// `walls` are the forces to start from; the forces found are added to `pushes` and left in `walls`.
    #[allow(clippy::too_many_arguments, reason = "two callers, all of it needed")]
    fn solve_axis(
        &self,
        boxes: &Boxes,
        axis: usize,
        wish: &[f64],
        ease: &[f64],
        pushed: &[f64],
        walls: &mut [[f64; 2]],
        pushes: &mut Vec<(usize, usize, usize, f64)>,
    ) -> Vec<f64> {
        let n = self.n;
        let arcs = self.arcs(boxes, axis);
        let limits: Vec<(f64, f64)> = (0..n).map(|i| boxes.limits(axis, i)).collect();
        // What is fixed does not give way at all.
        let give: Vec<f64> = (0..n)
            .map(|c| if boxes.fixed[c] { 0.0 } else { ease[c] })
            .collect();
        let mut force: Vec<f64> = arcs.iter().map(|&(i, j, _)| pushed[i * n + j]).collect();
        let mut at: Vec<f64> = (0..n)
            .map(|i| {
                if boxes.fixed[i] {
                    limits[i].0
                } else {
                    wish[i] + walls[i][0] - walls[i][1]
                }
            })
            .collect();
        for (&(i, j, _), &f) in arcs.iter().zip(&force) {
            at[i] -= f * give[i];
            at[j] += f * give[j];
        }
        for _ in 0..PASSES {
            let mut most = 0.0_f64;
            for (k, &(i, j, d)) in arcs.iter().enumerate() {
                let lacking = at[i] + d - at[j];
                let both = give[i] + give[j];
                if both == 0.0 {
                    continue;
                }
                let push = (lacking / both).max(-force[k]);
                if push != 0.0 {
                    force[k] += push;
                    at[i] -= push * give[i];
                    at[j] += push * give[j];
                    most = most.max(push.abs() * both);
                }
            }
            for i in 0..n {
                if boxes.fixed[i] {
                    continue;
                }
                let up = (limits[i].0 - at[i]).max(-walls[i][0]);
                walls[i][0] += up;
                at[i] += up;
                let down = (at[i] - limits[i].1).max(-walls[i][1]);
                walls[i][1] += down;
                at[i] -= down;
                most = most.max(up.abs()).max(down.abs());
            }
            if most < 2e-3 {
                break;
            }
        }
        // Exactly: nobody above what the chains after it allow, nobody below what those before it ask.
        let (high, _) = self.highest(boxes, axis);
        for (k, &j) in self.order[axis].iter().enumerate() {
            let mut low = limits[j].0;
            for &i in &self.order[axis][..k] {
                if let Some(d) = self.least(boxes, axis, i, j) {
                    low = low.max(at[i] + d);
                }
            }
            at[j] = at[j].min(high[j]).max(low);
        }
        pushes.extend(
            arcs.iter()
                .zip(&force)
                .filter(|(_, f)| **f > 1e-6)
                .map(|(&(i, j, _), &f)| (axis, i, j, f)),
        );
        at
    }

    /// Puts edges and middles that almost stand on one line on it, as far as that takes no room from others and
    /// changes no order. Boxes on one line move together from then on.
    fn straighten(&self, boxes: &Boxes, at: &mut [Vec<f64>; 2]) {
        /// What is farther apart than this is two lines, mm.
        const ALMOST_MM: f64 = 4.0;
        let n = self.n;
        // Where the window is tight, straight lines are not bought with movement.
        let slack = (boxes.scale_into_room() - 1.05).clamp(0.0, 1.0);
        let most_mm = moved_mm(&boxes.start, at) * 1.002 + 0.06 * slack * boxes.side_mm();
        for axis in 0..2 {
            let by_start = boxes.start_ranks(axis);
            let mut pairs: Vec<(f64, usize, usize, f64)> = Vec::new();
            for i in 0..n {
                for j in 0..n {
                    // Those that this axis holds apart do not stand on one line.
                    if self.rank[axis][i] >= self.rank[axis][j] || self.apart[axis][i] >> j & 1 == 1
                    {
                        continue;
                    }
                    let wider = boxes.half[axis][j] - boxes.half[axis][i];
                    let later = IN_ORDER_MM * (by_start[j] as f64 - by_start[i] as f64);
                    for (line, dearer) in [(0.0, 1.0), (wider, 1.1), (-wider, 1.2)] {
                        let apart = line + later;
                        let off = (at[axis][j] - at[axis][i] - apart).abs();
                        if off <= ALMOST_MM {
                            pairs.push((off * dearer, i, j, apart));
                        }
                    }
                }
            }
            pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
            let mut line_of: Vec<usize> = (0..n).collect();
            for (_, i, j, apart) in pairs {
                if line_of[i] == line_of[j] {
                    continue;
                }
                let by = at[axis][i] + apart - at[axis][j];
                // Either line may come to the other; the shorter one is tried first.
                let size = |c: usize| line_of.iter().filter(|&&l| l == line_of[c]).count();
                let mut tries = [(j, by), (i, -by)];
                if size(i) < size(j) {
                    tries.reverse();
                }
                for (c, by) in tries {
                    let mut moved = at[axis].clone();
                    for k in 0..n {
                        if line_of[k] == line_of[c] {
                            moved[k] += by;
                        }
                    }
                    if !self.keeps(boxes, axis, &moved) {
                        continue;
                    }
                    let mut tried = at.clone();
                    tried[axis] = moved;
                    if flipped_share(&boxes.start, &tried) <= flipped_share(&boxes.start, at)
                        && moved_mm(&boxes.start, &tried) <= most_mm
                    {
                        *at = tried;
                        let (from, to) = (line_of[j], line_of[i]);
                        for line in &mut line_of {
                            if *line == from {
                                *line = to;
                            }
                        }
                        break;
                    }
                }
            }
        }
    }

    /// Whether places on an axis keep all its constraints.
    fn keeps(&self, boxes: &Boxes, axis: usize, at: &[f64]) -> bool {
        let order = &self.order[axis];
        (0..self.n).all(|i| {
            let (low, high) = boxes.limits(axis, i);
            at[i] >= low - 1e-9 && at[i] <= high + 1e-9
        }) && order.iter().enumerate().all(|(k, &i)| {
            order[k + 1..].iter().all(|&j| {
                self.least(boxes, axis, i, j)
                    .is_none_or(|d| at[j] - at[i] >= d - 1e-9)
            })
        })
    }
}
