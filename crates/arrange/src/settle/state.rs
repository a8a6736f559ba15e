//! What is searched: which axis holds which pair of boxes apart.

use super::Boxes;
use super::solve::Solution;
use shape::Random;

/// Centres that keep their order are at least this far apart, mm, so that no two programs read a tie
/// differently.
pub(super) const IN_ORDER_MM: f64 = 1e-5;

/// Which axis holds which pair apart, and in which order the boxes run on each.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) n: usize,
    /// Boxes in the order in which they run on each axis, at first that of their starts, and each box's rank in it.
    pub(super) order: [Vec<usize>; 2],
    pub(super) rank: [Vec<usize>; 2],
    /// `apart[axis][i]`: the boxes that this axis holds apart from i.
    pub(super) apart: [Vec<u128>; 2],
    /// Boxes that are not held apart on an axis keep their order on it.
    pub(super) in_order: bool,
}

/// A change that can be taken back.
#[derive(Debug, Clone)]
pub(super) enum Undo {
    /// A pair went from this axis to the other.
    Axis(usize, usize, usize),
    /// The order on an axis was this.
    Order(usize, Vec<usize>),
    /// The state was this.
    All(Box<State>),
}

impl State {
    pub(super) fn new(boxes: &Boxes, wish: &[Vec<f64>; 2]) -> Self {
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
        let mut state = Self {
            n,
            order,
            rank: [vec![0; n], vec![0; n]],
            apart: [vec![0; n], vec![0; n]],
            in_order: true,
        };
        for axis in 0..2 {
            state.rank_anew(axis);
        }
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
    pub(super) fn swept(boxes: &Boxes, wish: &[Vec<f64>; 2]) -> Self {
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

    pub(super) fn first_of(&self, axis: usize, i: usize, j: usize) -> (usize, usize) {
        if self.rank[axis][i] < self.rank[axis][j] {
            (i, j)
        } else {
            (j, i)
        }
    }

    /// Moves a pair from an axis to the other one.
    pub(super) fn hand_over(&mut self, axis: usize, i: usize, j: usize) {
        for (i, j) in [(i, j), (j, i)] {
            self.apart[axis][i] &= !(1 << j);
            self.apart[1 - axis][i] |= 1 << j;
        }
    }

    /// Lets two change sides on an axis; `false` where others that keep their order stand between them.
    pub(super) fn let_pass(&mut self, boxes: &Boxes, axis: usize, i: usize, j: usize) -> bool {
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

    pub(super) fn rank_anew(&mut self, axis: usize) {
        for (r, &i) in self.order[axis].iter().enumerate() {
            self.rank[axis][i] = r;
        }
    }

    /// The least distance that i keeps before j, which it precedes in the order; `None` where j may be anywhere.
    pub(super) fn least(&self, boxes: &Boxes, axis: usize, i: usize, j: usize) -> Option<f64> {
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
    pub(super) fn lowest(&self, boxes: &Boxes, axis: usize) -> (Vec<f64>, Vec<Option<usize>>) {
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

    pub(super) fn highest(&self, boxes: &Boxes, axis: usize) -> (Vec<f64>, Vec<Option<usize>>) {
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
    pub(super) fn make_feasible(
        &mut self,
        boxes: &Boxes,
        wish: &[Vec<f64>; 2],
        random: &mut Random,
    ) -> bool {
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
    pub(super) fn change(
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
    pub(super) fn put_back(
        &mut self,
        boxes: &Boxes,
        wish: &[Vec<f64>; 2],
        now: &Solution,
        c: usize,
    ) {
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

    pub(super) fn undo(&mut self, undo: Undo) {
        match undo {
            Undo::Axis(axis, i, j) => self.hand_over(1 - axis, i, j),
            Undo::All(state) => *self = *state,
            Undo::Order(axis, order) => {
                self.order[axis] = order;
                self.rank_anew(axis);
            }
        }
    }
}
