//! Who lies over whom, and in which stage each part is first seen whole.

use crate::inside::Sighting;
use crate::joint::Estimate;
use crate::register::Spot;
use crate::sought::{Side, View};
use shape::{EdgeTree, Outline, Point, Pose, Vector};

/// Overlaps smaller than this are edges that touch, mm2 and share of the smaller part.
const OVERLAP_MM2: f64 = 2.0;
const OVERLAP_SHARE: f64 = 0.02;

/// A part of which other parts hide more than this share is not seen whole.
const HIDDEN_SHARE: f64 = 0.06;

/// A part seen this much worse than at its best is hidden by something that is no part of the piece.
const FADED: f64 = 0.6;

/// A sighting at a known place from this chance on shows the part.
const THERE: f64 = 0.3;

/// What one photo shows of one part at its place.
#[derive(Debug, Clone)]
pub(crate) struct Shown {
    pub(crate) sighting: Sighting,
    /// The part is in this photo.
    pub(crate) there: bool,
    /// How much of it is seen: share of outline and of face.
    pub(crate) seen: f64,
}

impl Shown {
    pub(crate) fn of(sighting: Sighting, chance: f64) -> Self {
        let e = &sighting.evidence;
        let face = if e.tiles.is_empty() {
            e.rim_share
        } else {
            e.tiles_seen()
        };
        let seen = 0.5 * (e.rim_share + face);
        Self {
            there: chance > THERE,
            seen,
            sighting,
        }
    }
}

/// The order of the parts.
#[derive(Debug, Clone)]
pub(crate) struct Stack {
    /// Which parts lie over some of this one.
    pub(crate) hidden_by: Vec<Vec<usize>>,
    /// The first photo in which it is seen whole.
    pub(crate) whole_at: Vec<Option<usize>>,
    /// In which photos it is seen at all.
    pub(crate) seen_in: Vec<Vec<usize>>,
    /// Number of the stage from which it is uncovered, in the order of stages.
    pub(crate) rank: Vec<Option<u32>>,
}

impl Stack {
    /// Stages that show a part.
    pub(crate) fn stages(&self, part: usize, stages: &[u32]) -> Vec<u32> {
        let mut all: Vec<u32> = self.seen_in[part].iter().map(|&k| stages[k]).collect();
        all.dedup();
        all
    }

    /// Each part's layer, 0 at the device's front.
    pub(crate) fn layers(&self, opened_from: Side) -> Vec<u32> {
        let deepest = self.rank.iter().flatten().max().copied().unwrap_or(0);
        self.rank
            .iter()
            .map(|r| match (opened_from, r) {
                (Side::Front, r) => r.unwrap_or(deepest),
                (Side::Back, r) => deepest - r.unwrap_or(0).min(deepest),
            })
            .collect()
    }
}

/// Orders the parts. `shown[k][i]` is what photo k shows of part i, `stages[k]` its stage, ascending.
pub(crate) fn stack(
    views: &[View],
    estimates: &[Option<Estimate>],
    shown: &[Vec<Option<Shown>>],
    stages: &[u32],
) -> Stack {
    let n = views.len();
    let placed: Vec<Option<EdgeTree>> = (0..n)
        .map(|i| {
            let e = estimates[i].as_ref()?;
            Some(EdgeTree::new(placed(&views[i], e.spot)))
        })
        .collect();
    let mut hidden_by = vec![Vec::new(); n];
    let mut common = vec![vec![0.0f64; n]; n];
    for i in 0..n {
        for j in i + 1..n {
            let (Some(a), Some(b)) = (&placed[i], &placed[j]) else {
                continue;
            };
            let (a, b) = (a.outline(), b.outline());
            let both = shape::intersection_area_mm2(a, b);
            if both < OVERLAP_MM2.max(OVERLAP_SHARE * a.area_mm2().min(b.area_mm2())) {
                continue;
            }
            common[i][j] = both;
            common[j][i] = both;
            match over(i, j, estimates, &placed, shown) {
                Some(true) => hidden_by[j].push(i),
                Some(false) => hidden_by[i].push(j),
                None => {}
            }
        }
    }
    // Presence: seen by itself, or said to be hidden; a part that was there and is seen again later was there between.
    let there = |k: usize, i: usize| shown[k][i].as_ref().is_some_and(|s| s.there);
    let mut whole_at = vec![None; n];
    let mut seen_in = vec![Vec::new(); n];
    let mut rank = vec![None; n];
    let mut order: Vec<u32> = stages.to_vec();
    order.dedup();
    let rank_of = |k: usize| order.iter().position(|s| *s == stages[k]).unwrap_or(0) as u32;
    for i in 0..n {
        if estimates[i].is_none() {
            continue;
        }
        seen_in[i] = (0..stages.len()).filter(|&k| there(k, i)).collect();
        let best = (0..stages.len())
            .filter_map(|k| shown[k][i].as_ref().filter(|s| s.there).map(|s| s.seen))
            .fold(0.0, f64::max);
        let area = views[i].outline.area_mm2();
        whole_at[i] = seen_in[i].iter().copied().find(|&k| {
            let hidden: f64 = hidden_by[i]
                .iter()
                .filter(|&&j| there(k, j))
                .map(|&j| common[i][j])
                .sum();
            let seen = shown[k][i].as_ref().map_or(0.0, |s| s.seen);
            hidden < HIDDEN_SHARE * area && seen > FADED * best
        });
        rank[i] = match (whole_at[i], seen_in[i].last()) {
            (Some(k), _) => Some(rank_of(k)),
            // Never seen whole: what hides it goes with the last stage that shows it.
            (None, Some(&last)) => Some(rank_of(last) + 1),
            (None, None) => None,
        };
    }
    Stack {
        hidden_by,
        whole_at,
        seen_in,
        rank,
    }
}

/// A part's outline at a spot.
pub(crate) fn placed(view: &View, spot: Spot) -> Outline {
    view.outline.placed(placing(view, spot))
}

/// The pose that carries a part's own coordinates to a spot.
pub(crate) fn placing(view: &View, spot: Spot) -> Pose {
    Pose::bringing(view.centre, spot.centre, spot.turn.to_degrees())
}

/// Whether part i lies over part j: whose face and whose edges are seen where both would be. `None` where nothing tells.
fn over(
    i: usize,
    j: usize,
    estimates: &[Option<Estimate>],
    placed: &[Option<EdgeTree>],
    shown: &[Vec<Option<Shown>>],
) -> Option<bool> {
    let mut sum = 0.0;
    let mut weight = 0.0;
    for photo in shown {
        let (Some(a), Some(b)) = (&photo[i], &photo[j]) else {
            continue;
        };
        // A part that is gone says nothing of what was over it, unless the other is there and hides nothing.
        if !a.there || !b.there {
            continue;
        }
        let (x, n) = seen_within(a, estimates[i].as_ref()?, placed[j].as_ref()?);
        let (y, m) = seen_within(b, estimates[j].as_ref()?, placed[i].as_ref()?);
        if n + m > 0.0 {
            let strength = (n + m).min(40.0);
            sum += strength * (x - y);
            weight += strength;
        }
    }
    if weight > 0.0 && (sum / weight).abs() > 0.15 {
        return Some(sum > 0.0);
    }
    // By height, where that is known well enough.
    let (a, b) = (estimates[i].as_ref()?, estimates[j].as_ref()?);
    let off = a.top_mm - b.top_mm;
    (off.abs() > 1.2 * a.top_sigma_mm.hypot(b.top_sigma_mm)).then_some(off > 0.0)
}

/// Share of a part's face and edges seen inside another's outline, and how many places that is from.
fn seen_within(shown: &Shown, estimate: &Estimate, other: &EdgeTree) -> (f64, f64) {
    let (s, c) = estimate.spot.turn.sin_cos();
    let place = |at: [f64; 2]| {
        let at = Vector::new(c * at[0] - s * at[1], s * at[0] + c * at[1]);
        estimate.spot.centre + at
    };
    let inside = |p: Point, by: f64| other.signed_distance_mm(p) < -by;
    let e = &shown.sighting.evidence;
    let mut yes = 0.0;
    let mut all = 0.0;
    for t in &e.tiles {
        if inside(place(t.at), 0.4 * e.side_mm) {
            all += 1.0;
            yes += f64::from(u8::from(t.seen));
        }
    }
    for p in &e.rim {
        if inside(place(p.at), 0.8) {
            all += 1.0;
            yes += f64::from(u8::from(p.seen));
        }
    }
    (if all > 0.0 { yes / all } else { 0.0 }, all)
}
