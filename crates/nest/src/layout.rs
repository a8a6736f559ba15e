//! Pieces on a field, and what a piece's place costs.

use crate::kinds::{Form, Kinds};
use shape::{Bounds, Point, Vector};

/// What is placed in one run: pieces that move, and keep-outs that do not.
#[derive(Debug)]
pub(crate) struct Job<'a> {
    pub(crate) kinds: &'a Kinds,
    /// The kind of each piece that moves.
    pub(crate) pieces: Vec<usize>,
    /// Form and place of each keep-out; they follow the pieces in a layout.
    pub(crate) keep_outs: Vec<(usize, Point)>,
    /// Height of the field, mm: y runs from 0 to here, x from 0 to the layout's length.
    pub(crate) height_mm: f64,
}

/// Where one piece lies: its form and its origin's place.
pub(crate) type Spot = (usize, Point);

/// Relative slack with which a piece as high as the field still fits.
const SAME_LENGTH: f64 = 1e-12;

impl Job<'_> {
    pub(crate) fn form(&self, form: usize) -> &Form {
        &self.kinds.forms[form]
    }

    /// Where a form's origin may lie in a field of this length; `None` where it has no room.
    pub(crate) fn room(&self, form: usize, length_mm: f64) -> Option<Bounds> {
        let b = self.form(form).bounds;
        let slack = SAME_LENGTH * self.height_mm.max(b.max.x.abs()).max(b.max.y.abs());
        let (low_x, high_x) = (-b.min.x, length_mm - b.max.x);
        let (low_y, high_y) = (-b.min.y, self.height_mm - b.max.y);
        let fits = high_x >= low_x - slack && high_y >= low_y - slack;
        fits.then(|| Bounds {
            min: Point::new(low_x, low_y),
            max: Point::new(high_x.max(low_x), high_y.max(low_y)),
        })
    }

    /// A kind's forms that have room in a field of this length.
    pub(crate) fn forms_with_room(&self, kind: usize, length_mm: f64) -> Vec<usize> {
        self.kinds.kinds[kind]
            .forms
            .clone()
            .filter(|&f| self.room(f, length_mm).is_some())
            .collect()
    }

    /// No layout is shorter, mm: the area over the height, and the piece that is widest however it is turned.
    pub(crate) fn least_length_mm(&self) -> f64 {
        let area_mm2: f64 = self
            .pieces
            .iter()
            .map(|&k| self.kinds.kinds[k].area_mm2)
            .sum();
        let widest = self
            .pieces
            .iter()
            .map(|&k| {
                self.forms_with_room(k, f64::INFINITY)
                    .into_iter()
                    .map(|f| self.form(f).bounds.width_mm())
                    .fold(f64::INFINITY, f64::min)
            })
            .filter(|w| w.is_finite())
            .fold(0.0, f64::max);
        widest.max(area_mm2 / self.height_mm)
    }

    /// Right end of the pieces, mm.
    pub(crate) fn length_of(&self, spots: &[Spot]) -> f64 {
        spots[..self.pieces.len().min(spots.len())]
            .iter()
            .map(|&(f, at)| at.x + self.form(f).bounds.max.x)
            .fold(0.0, f64::max)
    }
}

/// Spots of all pieces with their boxes in separate rows, so that a look for neighbours runs over few bytes.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    pub(crate) spots: Vec<Spot>,
    low_x: Vec<f64>,
    high_x: Vec<f64>,
    low_y: Vec<f64>,
    high_y: Vec<f64>,
}

impl Layout {
    pub(crate) fn empty() -> Self {
        Self {
            spots: Vec::new(),
            low_x: Vec::new(),
            high_x: Vec::new(),
            low_y: Vec::new(),
            high_y: Vec::new(),
        }
    }

    pub(crate) fn of(job: &Job<'_>, spots: &[Spot]) -> Self {
        let mut layout = Self::empty();
        for &spot in spots {
            layout.push(job, spot);
        }
        layout
    }

    pub(crate) fn push(&mut self, job: &Job<'_>, spot: Spot) {
        self.spots.push(spot);
        for row in [
            &mut self.low_x,
            &mut self.high_x,
            &mut self.low_y,
            &mut self.high_y,
        ] {
            row.push(0.0);
        }
        self.put(job, self.spots.len() - 1, spot);
    }

    pub(crate) fn put(&mut self, job: &Job<'_>, i: usize, (form, at): Spot) {
        let reach = job.form(form).reach;
        self.spots[i] = (form, at);
        self.low_x[i] = reach.min.x + at.x;
        self.high_x[i] = reach.max.x + at.x;
        self.low_y[i] = reach.min.y + at.y;
        self.high_y[i] = reach.max.y + at.y;
    }

    /// The layout's pieces whose boxes meet that of a spot, `i` itself left out.
    #[inline]
    fn for_neighbours(
        &self,
        job: &Job<'_>,
        i: usize,
        (form, at): Spot,
        each: impl FnMut(usize) -> bool,
    ) {
        self.for_neighbours_of_box(i, job.form(form).reach, at, each);
    }

    #[inline]
    fn for_neighbours_of_box(
        &self,
        i: usize,
        reach: Bounds,
        at: Point,
        mut each: impl FnMut(usize) -> bool,
    ) {
        let (low_x, high_x) = (reach.min.x + at.x, reach.max.x + at.x);
        let (low_y, high_y) = (reach.min.y + at.y, reach.max.y + at.y);
        let n = self.spots.len();
        let (lx, hx, ly, hy) = (
            &self.low_x[..n],
            &self.high_x[..n],
            &self.low_y[..n],
            &self.high_y[..n],
        );
        for j in 0..n {
            let meets = (lx[j] < high_x) & (hx[j] > low_x) & (ly[j] < high_y) & (hy[j] > low_y);
            if meets && j != i && !each(j) {
                return;
            }
        }
    }

    /// Sum of weighted depths of piece `i` at a spot; what reaches the bound is not summed to its end.
    pub(crate) fn cost(
        &self,
        job: &Job<'_>,
        i: usize,
        spot: Spot,
        weights: &[f32],
        bound: f64,
    ) -> f64 {
        let form = job.form(spot.0);
        let mut sum = 0.0;
        self.for_neighbours(job, i, spot, |j| {
            let (g, at) = self.spots[j];
            let depth = job.kinds.depth(form, spot.1, job.form(g), at);
            sum += f64::from(weights[j]) * depth.mm;
            sum < bound
        });
        sum
    }

    /// The pieces that a spot can meet when it is shifted by up to `margin_mm` along each axis.
    pub(crate) fn neighbours(
        &self,
        job: &Job<'_>,
        i: usize,
        (form, at): Spot,
        margin_mm: f64,
        found: &mut Vec<usize>,
    ) {
        let reach = job.form(form).reach.grown(margin_mm);
        found.clear();
        self.for_neighbours_of_box(i, reach, at, |j| {
            found.push(j);
            true
        });
    }

    /// The same as [`Self::cost`] where only the listed pieces can be met.
    pub(crate) fn cost_among(
        &self,
        job: &Job<'_>,
        (form, at): Spot,
        weights: &[f32],
        among: &[usize],
        bound: f64,
    ) -> f64 {
        let form = job.form(form);
        let (low_x, high_x) = (form.reach.min.x + at.x, form.reach.max.x + at.x);
        let (low_y, high_y) = (form.reach.min.y + at.y, form.reach.max.y + at.y);
        let mut sum = 0.0;
        for &j in among {
            if self.low_x[j] < high_x
                && self.high_x[j] > low_x
                && self.low_y[j] < high_y
                && self.high_y[j] > low_y
            {
                let (g, at_g) = self.spots[j];
                let depth = job.kinds.depth(form, at, job.form(g), at_g);
                sum += f64::from(weights[j]) * depth.mm;
                if sum >= bound {
                    break;
                }
            }
        }
        sum
    }

    /// The spot is clear of all pieces but `i`.
    pub(crate) fn is_clear(&self, job: &Job<'_>, i: usize, spot: Spot) -> bool {
        let form = job.form(spot.0);
        let mut clear = true;
        self.for_neighbours(job, i, spot, |j| {
            let (g, at) = self.spots[j];
            clear = job.kinds.depth(form, spot.1, job.form(g), at).mm == 0.0;
            clear
        });
        clear
    }

    /// The pieces that lie in the way of `i` at a spot, how deep, and the shift that parts them.
    pub(crate) fn overlaps(
        &self,
        job: &Job<'_>,
        i: usize,
        spot: Spot,
        found: &mut Vec<(usize, f64, Vector)>,
    ) {
        let form = job.form(spot.0);
        found.clear();
        self.for_neighbours(job, i, spot, |j| {
            let (g, at) = self.spots[j];
            let depth = job.kinds.depth(form, spot.1, job.form(g), at);
            if depth.mm > 0.0 {
                found.push((j, depth.mm, depth.out * depth.mm));
            }
            true
        });
    }
}
