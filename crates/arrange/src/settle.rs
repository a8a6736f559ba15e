//! Boxes moved as little as may be until none overlap, their order kept.
//!
//! Every pair of boxes is held apart on one axis, in the direction in which the two stood at the start;
//! on the other axis they may only not change sides. Places then follow axis by axis from a quadratic
//! program with separation constraints (the problem of Dwyer, Marriott and Stuckey, GD 2005), solved here
//! by Hildreth's row-action method. Which axis holds which pair apart is searched: first so that the
//! longest chain of either axis fits the room, then, by seeded annealing, so that boxes move least.

mod anneal;
mod solve;
mod state;
mod straighten;

use anneal::Best;
use shape::{Point, Random, Watch};
use solve::Solution;
use state::State;

/// Boxes beyond this number are not settled: pairs grow with its square, and sets of them are kept in the
/// bits of one word.
pub(crate) const MOST_BOXES: usize = 128;

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
            if straight {
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
}
