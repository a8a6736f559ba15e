//! The first layout: one piece after the other, the largest first, as far left as it goes.

use crate::layout::{Job, Layout, Spot};
use shape::Point;

/// Most neighbours whose corners are tried.
const MOST_NEIGHBOURS: usize = 64;

/// How pieces are turned in a first layout.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Turned {
    /// However a piece ends farthest left.
    Any,
    /// As low as it can lie, so that rows of the like come about.
    Low,
    /// As high as it can stand.
    High,
}

impl Turned {
    pub(crate) const ALL: [Self; 3] = [Self::Any, Self::Low, Self::High];

    /// Forms of a kind that have room in a field of given length, mm, and are turned like this.
    fn forms(self, job: &Job<'_>, kind: usize, length_mm: f64) -> Vec<usize> {
        let mut forms = job.forms_with_room(kind, length_mm);
        let height = |f: usize| job.form(f).bounds.height_mm();
        let heights = forms.iter().map(|&f| height(f));
        let (wanted, way) = match self {
            Self::Any => return forms,
            Self::Low => (heights.fold(f64::INFINITY, f64::min), 1.0),
            Self::High => (heights.fold(0.0, f64::max), -1.0),
        };
        forms.retain(|&f| way * (height(f) - wanted) <= 1e-9 * wanted);
        forms
    }
}

/// Places every piece, whatever length that takes; the shortest of a few ways to turn them. Places tried: the field's
/// corners, and wherever the piece would touch a placed one with a corner of their no-fit region.
pub(crate) fn first_layout(job: &Job<'_>) -> Vec<Spot> {
    let [any, low, high] = Turned::ALL.map(|turned| one_after_the_other(job, turned));
    [low, high].into_iter().fold(any, |best, other| {
        if job.length_of(&other) < job.length_of(&best) {
            other
        } else {
            best
        }
    })
}

fn one_after_the_other(job: &Job<'_>, turned: Turned) -> Vec<Spot> {
    let n = job.pieces.len();
    let mut order: Vec<usize> = (0..n).collect();
    let size = |i: usize| job.kinds.kinds[job.pieces[i]].size;
    order.sort_by(|&i, &j| size(j).total_cmp(&size(i)).then(i.cmp(&j)));
    let mut layout = Layout::of(job, &job.keep_outs);
    let mut placed: Vec<Option<Spot>> = vec![None; n];
    for i in order {
        let spot = leftmost(job, &layout, job.pieces[i], turned, f64::INFINITY);
        placed[i] = spot;
        if let Some(spot) = spot {
            layout.push(job, spot);
        }
    }
    let mut spots: Vec<Spot> = placed
        .into_iter()
        .zip(&job.pieces)
        .map(|(spot, &kind)| spot.unwrap_or((job.kinds.kinds[kind].forms.start, Point::default())))
        .collect();
    spots.extend(&job.keep_outs);
    spots
}

/// The clear spot with the least right end, then the lowest, in a field of given length, mm; `None` where no place that was
/// tried is clear.
pub(crate) fn leftmost(
    job: &Job<'_>,
    layout: &Layout,
    kind: usize,
    turned: Turned,
    length_mm: f64,
) -> Option<Spot> {
    let mut tried: Vec<(f64, f64, Spot)> = Vec::new();
    let end = layout
        .spots
        .iter()
        .map(|&(f, at)| at.x + job.form(f).reach.max.x)
        .fold(0.0, f64::max);
    let mut neighbours: Vec<usize> = (0..layout.spots.len()).collect();
    if neighbours.len() > MOST_NEIGHBOURS {
        let right = |j: usize| layout.spots[j].1.x + job.form(layout.spots[j].0).reach.max.x;
        neighbours.sort_by(|&i, &j| right(j).total_cmp(&right(i)).then(i.cmp(&j)));
        neighbours.truncate(MOST_NEIGHBOURS);
    }
    for f in turned.forms(job, kind, length_mm) {
        let Some(room) = job.room(f, length_mm) else {
            continue;
        };
        let form = job.form(f);
        let mut offer = |p: Point| {
            let inside =
                p.x >= room.min.x && p.x <= room.max.x && p.y >= room.min.y && p.y <= room.max.y;
            if inside {
                tried.push((p.x + form.bounds.max.x, p.y + form.bounds.min.y, (f, p)));
            }
        };
        let beyond = Point::new(end - form.reach.min.x, room.min.y);
        for y in [room.min.y, room.max.y] {
            offer(Point::new(room.min.x, y));
        }
        offer(beyond);
        for &j in &neighbours {
            let (g, at) = layout.spots[j];
            let (corners, place) = job.kinds.touching(form, job.form(g), at);
            for &c in corners {
                let p = place(c);
                offer(p);
                // Straight to the field's edges from there.
                offer(Point::new(p.x, room.min.y));
                offer(Point::new(p.x, room.max.y));
                offer(Point::new(room.min.x, p.y));
            }
        }
    }
    tried.sort_by(|a, b| {
        a.0.total_cmp(&b.0)
            .then(a.1.total_cmp(&b.1))
            .then(a.2.0.cmp(&b.2.0))
    });
    tried.dedup_by(|a, b| a.2 == b.2);
    tried
        .into_iter()
        .map(|(_, _, spot)| spot)
        .find(|&spot| layout.is_clear(job, usize::MAX, spot))
}
