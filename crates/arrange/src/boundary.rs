//! Captions that find no room beside their parts, all of them together: along the margins, with leaders.
//!
//! Each caption has a list of places with the shortest leader that is free there. Of each list one place is
//! chosen, so that no two boxes touch, no two leaders cross, and the leaders are as short as can be in all
//! (boundary labelling; Bekos and others, CGTA 36 (2007) 215-236, treat it where the leaders are bent). The
//! choice is a local search: a caption takes a place, whoever is in its way finds another one.

use crate::board::{Board, LEADER_CLEAR_MM, line_meets_box, lines_distance_mm, overlap};
use crate::cell::TextBlock;
use crate::spacing::CAPTION_CLEAR_MM;
use shape::{Bounds, EdgeTree, Outline, Point, Random};

/// Places that are kept for one caption, and for all together.
const MOST_FOR_ONE: usize = 200;
const MOST_FOR_ALL: usize = 3_600;

/// Positions that are looked at for one caption, the nearest first.
const MOST_LOOKED_AT: usize = 9_000;

/// Of the places farther off one in so many is looked at.
const FAR_STRIDE: usize = 7;

/// Step of the places that are tried, mm.
const STEP_MM: f64 = 1.5;

/// A caption between parts instead of at the margin costs as much as a leader this much longer, mm.
const BETWEEN_PARTS_MM: f64 = 1.5;

/// How far inside the outline a leader's dot lies where the part is broad enough, mm (ISO 128-2: a
/// leader that ends within an outline ends in a dot).
const DOT_INSIDE_MM: f64 = 1.5;

/// Tries of the local search for each caption.
const TRIES: usize = 2_500;

/// Each further place beside its part costs a caption as much as a leader this much longer, mm.
const LATER_BESIDE_MM: f64 = 0.2;

/// A caption that has no place costs as much as a leader this long, mm.
const NO_PLACE_MM: f64 = 1e5;

/// A caption that waits for a place.
pub(crate) struct Waiting<'a> {
    /// Place of its part in the piece's list.
    pub(crate) part: usize,
    /// The part on the board.
    pub(crate) tree: &'a EdgeTree,
    /// The ways its text can be broken, the best first.
    pub(crate) blocks: Vec<TextBlock>,
    /// Places beside the part that need no leader, the best first, and which block each is for.
    pub(crate) beside: Vec<(usize, Bounds)>,
}

/// Where a caption may lie.
#[derive(Debug, Clone)]
pub(crate) struct Spot {
    /// Which of the blocks.
    pub(crate) block: usize,
    pub(crate) bounds: Bounds,
    pub(crate) leader: Option<[Point; 2]>,
    price: f64,
}

/// Places for all captions together; `None` for those that find none.
pub(crate) fn place_together(
    board: &Board,
    waiting: &[Waiting<'_>],
    seed: u64,
) -> Vec<Option<Spot>> {
    let n = waiting.len();
    if n == 0 {
        return Vec::new();
    }
    let most = (MOST_FOR_ALL / n).clamp(8, MOST_FOR_ONE);
    let parts = board
        .parts
        .iter()
        .map(|(_, t)| t.bounds())
        .reduce(Bounds::joined);
    let spots: Vec<Vec<Spot>> = waiting
        .iter()
        .map(|w| spots_of(board, w, parts, most))
        .collect();
    let mut choice = Choice::new(&spots);
    let mut random = Random::new(seed);
    // The captions with the fewest places choose first.
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by_key(|&c| (spots[c].len(), c));
    for &c in &order {
        choice.settle_in(c);
    }
    choice.improve(TRIES * n.min(40), &mut random);
    choice
        .taken
        .iter()
        .zip(&spots)
        .map(|(k, spots)| k.map(|k| spots[k].clone()))
        .collect()
}

/// The places of one caption, the cheapest first.
fn spots_of(board: &Board, waiting: &Waiting<'_>, parts: Option<Bounds>, most: usize) -> Vec<Spot> {
    let sheet = board.sheet;
    let part = waiting.tree.bounds();
    let mut spots: Vec<Spot> = waiting
        .beside
        .iter()
        .enumerate()
        .filter(|(_, (_, bounds))| board.is_free(waiting.part, *bounds))
        .map(|(rank, &(block, bounds))| Spot {
            block,
            bounds,
            leader: None,
            price: LATER_BESIDE_MM * rank as f64,
        })
        .collect();
    for (k, block) in waiting.blocks.iter().enumerate() {
        let (room_x, room_y) = (sheet.width_mm() - block.w, sheet.height_mm() - block.h);
        if room_x < 0.0 || room_y < 0.0 {
            continue;
        }
        let mut places: Vec<(f64, Bounds)> = corners(sheet, parts, part, [block.w, block.h])
            .into_iter()
            .map(|p| {
                let b = Bounds::between(p, Point::new(p.x + block.w, p.y + block.h));
                (b.distance_mm(part), b)
            })
            .collect();
        // Stable, so equal distances keep the order in which they were made.
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut found = 0;
        for (nth, (_, bounds)) in places.into_iter().enumerate().take(MOST_LOOKED_AT) {
            if found >= most {
                break;
            }
            // Near the part all are looked at, farther off some, so that there is always a way out.
            if found >= most / 2 && nth % FAR_STRIDE != 0 {
                continue;
            }
            if !board.is_free(waiting.part, bounds) {
                continue;
            }
            let Some(leader) = leader_from(board, waiting.part, bounds, waiting.tree) else {
                continue;
            };
            found += 1;
            let between = parts.is_some_and(|p| overlap(p, bounds));
            spots.push(Spot {
                block: k,
                bounds,
                leader: Some(leader),
                price: leader[0].distance_mm(leader[1])
                    + if between { BETWEEN_PARTS_MM } else { 0.0 }
                    + 0.5 * k as f64,
            });
        }
    }
    spots.sort_by(|a, b| a.price.total_cmp(&b.price));
    spots.truncate(most);
    spots
}

/// Lower-left corners that are tried: a grid over the sheet that is anchored at the part, and columns and
/// rows along the edge of what the parts take up, so that captions at the margin stand in line.
fn corners(sheet: Bounds, parts: Option<Bounds>, part: Bounds, [w, h]: [f64; 2]) -> Vec<Point> {
    let (low, high) = (sheet.min, Point::new(sheet.max.x - w, sheet.max.y - h));
    let ticks = |anchor: f64, low: f64, high: f64| -> Vec<f64> {
        let first = anchor - ((anchor - low) / STEP_MM).floor() * STEP_MM;
        let n = ((high - first) / STEP_MM).max(-1.0);
        (0..=n.floor().max(0.0) as usize)
            .map(|k| first + STEP_MM * k as f64)
            .filter(|v| *v >= low && *v <= high)
            .chain([low, high])
            .collect()
    };
    let ys = ticks(part.centre().y - 0.5 * h, low.y, high.y);
    let xs = ticks(part.centre().x - 0.5 * w, low.x, high.x);
    let mut all: Vec<Point> = Vec::new();
    if let Some(parts) = parts {
        const FROM_PARTS_MM: f64 = 3.0;
        let columns = [parts.min.x - FROM_PARTS_MM - w, parts.max.x + FROM_PARTS_MM];
        let rows = [parts.min.y - FROM_PARTS_MM - h, parts.max.y + FROM_PARTS_MM];
        for x in columns {
            let x = x.clamp(low.x, high.x);
            all.extend(ys.iter().map(|&y| Point::new(x, y)));
        }
        for y in rows {
            let y = y.clamp(low.y, high.y);
            all.extend(xs.iter().map(|&x| Point::new(x, y)));
        }
    }
    for &x in &xs {
        all.extend(ys.iter().map(|&y| Point::new(x, y)));
    }
    all
}

/// The shortest free leader from a box's edge into the part.
fn leader_from(board: &Board, part: usize, bounds: Bounds, tree: &EdgeTree) -> Option<[Point; 2]> {
    let (c, p, q) = (bounds.centre(), bounds.min, bounds.max);
    let anchors = [
        Point::new(p.x, c.y),
        Point::new(q.x, c.y),
        Point::new(c.x, p.y),
        Point::new(c.x, q.y),
    ];
    let outline = tree.outline();
    let body = outline.bounds();
    let fixed = [outline.centroid(), body.centre()];
    let step = outline.outer().points().len().div_ceil(12);
    let around = outline.outer().points().iter().copied().step_by(step);
    let aims: Vec<Point> = fixed.into_iter().chain(around).collect();
    let mut tried: Vec<(f64, [Point; 2])> = Vec::new();
    for anchor in anchors {
        let nearest = outline.outer().nearest(anchor);
        for aim in std::iter::once(nearest).chain(aims.iter().copied()) {
            let Some(dot) = dot_inside(outline, anchor, aim) else {
                continue;
            };
            // A leader leaves its box at once.
            if !bounds.grown(-1e-6).contains(anchor.lerp(dot, 1e-3)) {
                tried.push((anchor.distance_mm(dot), [anchor, dot]));
            }
        }
    }
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    tried
        .into_iter()
        .map(|(_, leader)| leader)
        .find(|leader| board.leader_is_free(part, *leader))
}

/// The first point on the way from `from` through `aim` that lies inside the part, as deep as
/// [`DOT_INSIDE_MM`] where the part is broad enough there, else half-way through.
fn dot_inside(outline: &Outline, from: Point, aim: Point) -> Option<Point> {
    let length = from.distance_mm(aim);
    if length < 1e-6 {
        return None;
    }
    let u = (aim - from) * (1.0 / length);
    // Where the ray crosses the edge, as distances from its start.
    let mut crossings: Vec<f64> = Vec::new();
    for ring in outline.rings() {
        for (a, b) in ring.sides() {
            let (sa, sb) = (u.cross(a - from), u.cross(b - from));
            if (sa > 0.0) != (sb > 0.0) {
                let t = sa / (sa - sb);
                let at = u.dot(a.lerp(b, t) - from);
                if at > 0.0 {
                    crossings.push(at);
                }
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    // A caption lies outside its part, so the first crossing enters it and the next one leaves it.
    let [enters, leaves]: [f64; 2] = crossings.get(..2)?.try_into().ok()?;
    let deep = DOT_INSIDE_MM.min(0.5 * (leaves - enters));
    Some(from + u * (enters + deep))
}

/// Two places that may not both be taken.
fn conflict(a: &Spot, b: &Spot) -> bool {
    let meets = |line: Option<[Point; 2]>, bounds: Bounds| {
        line.is_some_and(|[from, to]| line_meets_box(from, to, bounds))
    };
    let lines_meet = match (a.leader, b.leader) {
        (Some([p, q]), Some([r, s])) => lines_distance_mm(p, q, r, s) <= LEADER_CLEAR_MM,
        _ => false,
    };
    overlap(a.bounds.grown(CAPTION_CLEAR_MM), b.bounds)
        || meets(a.leader, b.bounds)
        || meets(b.leader, a.bounds)
        || lines_meet
}

/// Which place each caption has.
struct Choice<'a> {
    spots: &'a [Vec<Spot>],
    taken: Vec<Option<usize>>,
}

impl<'a> Choice<'a> {
    fn new(spots: &'a [Vec<Spot>]) -> Self {
        Self {
            spots,
            taken: vec![None; spots.len()],
        }
    }

    fn spot(&self, c: usize) -> Option<&'a Spot> {
        self.taken[c].map(|k| &self.spots[c][k])
    }

    fn price(&self, c: usize) -> f64 {
        self.spot(c).map_or(NO_PLACE_MM, |s| s.price)
    }

    /// The captions that are in the way of one at a place.
    fn in_the_way(&self, c: usize, spot: &Spot) -> Vec<usize> {
        (0..self.spots.len())
            .filter(|&o| o != c && self.spot(o).is_some_and(|s| conflict(spot, s)))
            .collect()
    }

    /// Takes the cheapest place that is in nobody's way.
    fn settle_in(&mut self, c: usize) {
        self.taken[c] =
            (0..self.spots[c].len()).find(|&k| self.in_the_way(c, &self.spots[c][k]).is_empty());
    }

    /// Lets captions take better places; whoever is in the way settles anew, and what does not pay is undone.
    fn improve(&mut self, tries: usize, random: &mut Random) {
        let n = self.spots.len();
        let total = |choice: &Self| (0..n).map(|c| choice.price(c)).sum::<f64>();
        let mut now = total(self);
        let (mut best, mut best_total) = (self.taken.clone(), now);
        for t in 0..tries {
            let c = random.below(n);
            if self.spots[c].is_empty() {
                continue;
            }
            // The cheaper half of the places is drawn more often.
            let k = (random.share().powi(2) * self.spots[c].len() as f64) as usize;
            if self.taken[c] == Some(k) {
                continue;
            }
            let before = self.taken.clone();
            let mut evicted = self.in_the_way(c, &self.spots[c][k]);
            self.taken[c] = Some(k);
            for &o in &evicted {
                self.taken[o] = None;
            }
            // The longest leaders choose first, now and then the other way round.
            evicted.sort_by(|&a, &b| {
                self.spots[a]
                    .len()
                    .cmp(&self.spots[b].len())
                    .then(a.cmp(&b))
            });
            if random.below(4) == 0 {
                evicted.reverse();
            }
            for &o in &evicted {
                self.settle_in(o);
            }
            let after = total(self);
            let heat = 3.0 * (1.0 - t as f64 / tries as f64).powi(2) + 1e-9;
            if after <= now || random.share() < ((now - after) / heat).exp() {
                now = after;
                if now < best_total - 1e-9 {
                    best_total = now;
                    best.clone_from(&self.taken);
                }
            } else {
                self.taken = before;
            }
        }
        self.taken = best;
        // What has become free since may be nearer.
        for _ in 0..2 {
            for c in 0..n {
                let price = self.price(c);
                let nearer = (0..self.spots[c].len())
                    .take_while(|&k| self.spots[c][k].price < price - 1e-9)
                    .find(|&k| self.in_the_way(c, &self.spots[c][k]).is_empty());
                if nearer.is_some() {
                    self.taken[c] = nearer;
                }
            }
        }
    }
}
