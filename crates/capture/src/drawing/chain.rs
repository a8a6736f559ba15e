//! From traces to outlines: ends that meet are joined, rings nested by containment.

use super::trace::Trace;
use super::{DrawingError, DrawingLimits, DrawingWarning, Drawn, ENDS_MEET_MM};
use shape::{Outline, OutlineError, Point, Ring, difference};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet, VecDeque};

/// Ends of neighbours that a program wrote with the same digits, mm. Joined first: sides shorter than
/// [`ENDS_MEET_MM`] would otherwise be taken for their own neighbours.
const ENDS_ALIKE_MM: f64 = 1e-4;

/// Which rings can be holes of which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Nesting {
    /// All that lie in them.
    All,
    /// Those of the same name that lie in them; the same ring may be drawn under two names.
    ByName,
}

/// Chains, nests and checks. What is left out goes to `warnings`.
pub(super) fn outlines_of(
    traces: Vec<Trace>,
    limits: &DrawingLimits,
    nesting: Nesting,
    warnings: &mut Vec<DrawingWarning>,
) -> Result<Vec<Drawn>, DrawingError> {
    let traces = without_repeats(traces, nesting, warnings);
    let (mut closed, open): (Vec<Trace>, Vec<Trace>) = traces.into_iter().partition(|t| t.closed);
    let mut by_name: BTreeMap<Option<String>, Vec<Trace>> = BTreeMap::new();
    for trace in open {
        by_name.entry(trace.name.clone()).or_default().push(trace);
    }
    let mut left = Vec::new();
    for (_, group) in by_name {
        let (rings, open) = chain(group);
        closed.extend(rings);
        left.extend(open);
    }
    // Lines of one ring may lie on several layers.
    let (rings, open) = chain(left);
    closed.extend(rings);
    if let Some(first) = open.first() {
        warnings.push(DrawingWarning::OpenPaths {
            count: open.len(),
            from: first.points[0],
            to: first.points[first.points.len() - 1],
        });
    }
    if closed.len() > limits.rings {
        return Err(DrawingError::TooMany {
            what: "closed paths",
            limit: limits.rings,
        });
    }
    // Dots: what the joining of ends cannot tell from nothing.
    closed.retain(|t| {
        let first = t.points[0];
        t.points.iter().any(|p| p.distance_mm(first) > ENDS_MEET_MM)
    });
    let closed = without_repeats(closed, nesting, warnings);
    let rings = rings_of(closed, warnings);
    if nesting == Nesting::All {
        return Ok(nest(rings));
    }
    let mut names: Vec<Option<String>> = Vec::new();
    for ring in &rings {
        if !names.contains(&ring.name) {
            names.push(ring.name.clone());
        }
    }
    let mut rest = rings;
    let mut outlines = Vec::new();
    for name in names {
        let (own, others) = rest.into_iter().partition(|r| r.name == name);
        rest = others;
        outlines.extend(nest(own));
    }
    Ok(outlines)
}

/// Takes one of several equal traces, whichever way and from wherever they run.
fn without_repeats(
    traces: Vec<Trace>,
    nesting: Nesting,
    warnings: &mut Vec<DrawingWarning>,
) -> Vec<Trace> {
    let mut seen = HashSet::new();
    let mut repeated: Vec<Point> = Vec::new();
    let mut kept = Vec::with_capacity(traces.len());
    for trace in traces {
        let name = match nesting {
            Nesting::All => None,
            Nesting::ByName => trace.name.clone(),
        };
        if seen.insert((name, trace.closed, key_of(&trace))) {
            kept.push(trace);
        } else {
            repeated.push(trace.points[0]);
        }
    }
    if let Some(&at) = repeated.first() {
        warnings.push(DrawingWarning::DrawnTwice {
            count: repeated.len(),
            at,
        });
    }
    kept
}

/// The same for traces with the same points to a nanometre.
fn key_of(trace: &Trace) -> Vec<(i64, i64)> {
    let mut key: Vec<(i64, i64)> = trace
        .points
        .iter()
        .map(|p| ((p.x * 1e6).round() as i64, (p.y * 1e6).round() as i64))
        .collect();
    if trace.closed {
        let first = (0..key.len()).min_by_key(|&k| key[k]).unwrap_or(0);
        key.rotate_left(first);
        if key.len() > 2 && key[key.len() - 1] < key[1] {
            key[1..].reverse();
        }
    } else if key.last() < key.first() {
        key.reverse();
    }
    key
}

/// Joins open traces; gives the rings that close and what stays open.
fn chain(open: Vec<Trace>) -> (Vec<Trace>, Vec<Trace>) {
    let mut rings = Vec::new();
    let mut rest = open;
    for tolerance_mm in [ENDS_ALIKE_MM, ENDS_MEET_MM] {
        rest = keep_open(join(rest, tolerance_mm), &mut rings);
    }
    // Lines that end in the air are no part of a ring; without them the forks they made are gone.
    let (on_rings, loose) = prune(rest);
    let on_rings = keep_open(join(on_rings, ENDS_MEET_MM), &mut rings);
    let (found, mut still_open) = loops_at_forks(on_rings);
    rings.extend(found);
    still_open.extend(loose);
    (rings, still_open)
}

fn keep_open(traces: Vec<Trace>, rings: &mut Vec<Trace>) -> Vec<Trace> {
    let (closed, open) = traces.into_iter().partition(|t| t.closed);
    rings.extend::<Vec<Trace>>(closed);
    open
}

/// The two ends of each trace as numbered nodes; ends nearer than the tolerance share one.
fn nodes_of(traces: &[Trace], tolerance_mm: f64) -> (Vec<[usize; 2]>, usize) {
    let cell = |p: Point| {
        (
            (p.x / tolerance_mm).floor() as i64,
            (p.y / tolerance_mm).floor() as i64,
        )
    };
    let mut cells: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
    let mut places: Vec<Point> = Vec::new();
    let mut node = |p: Point| {
        let (cx, cy) = cell(p);
        let near = (-1..=1)
            .flat_map(|dx| (-1..=1).map(move |dy| (cx + dx, cy + dy)))
            .filter_map(|c| cells.get(&c))
            .flatten()
            .copied()
            .min_by(|&a, &b| {
                let d = |k: usize| places[k].distance_mm(p);
                d(a).total_cmp(&d(b)).then(a.cmp(&b))
            })
            .filter(|&k| places[k].distance_mm(p) <= tolerance_mm);
        near.unwrap_or_else(|| {
            places.push(p);
            cells.entry((cx, cy)).or_default().push(places.len() - 1);
            places.len() - 1
        })
    };
    let ends = traces
        .iter()
        .map(|t| [node(t.points[0]), node(t.points[t.points.len() - 1])])
        .collect();
    (ends, places.len())
}

/// Which ends (trace, 0 start or 1 end) meet at each node.
fn meetings(ends: &[[usize; 2]], n_nodes: usize) -> Vec<Vec<(usize, usize)>> {
    let mut at = vec![Vec::new(); n_nodes];
    for (k, pair) in ends.iter().enumerate() {
        for side in 0..2 {
            at[pair[side]].push((k, side));
        }
    }
    at
}

/// Joins where exactly two ends meet.
fn join(traces: Vec<Trace>, tolerance_mm: f64) -> Vec<Trace> {
    let (ends, n_nodes) = nodes_of(&traces, tolerance_mm);
    let at = meetings(&ends, n_nodes);
    // The other end that an end is joined to.
    let partner = |k: usize, side: usize| -> Option<(usize, usize)> {
        let [a, b] = at[ends[k][side]][..] else {
            return None;
        };
        Some(if a == (k, side) { b } else { a })
    };
    let mut used = vec![false; traces.len()];
    let mut joined = Vec::new();
    for k in 0..traces.len() {
        if used[k] {
            continue;
        }
        // Back to where the run starts, or once round.
        let (mut first, mut side) = (k, 0);
        while let Some((other, at_side)) = partner(first, side) {
            (first, side) = (other, 1 - at_side);
            if first == k {
                break;
            }
        }
        let mut run = Run::default();
        let (mut now, mut enter) = (first, side);
        let closed = loop {
            used[now] = true;
            run.append(&traces[now], enter == 1);
            match partner(now, 1 - enter) {
                None => break false,
                Some((other, _)) if used[other] => break other == first,
                Some((other, at_side)) => (now, enter) = (other, at_side),
            }
        };
        joined.push(run.finish(closed));
    }
    joined
}

/// Takes away traces with an end that meets nothing, until there are none.
fn prune(traces: Vec<Trace>) -> (Vec<Trace>, Vec<Trace>) {
    let (ends, n_nodes) = nodes_of(&traces, ENDS_MEET_MM);
    let at = meetings(&ends, n_nodes);
    let mut degree: Vec<usize> = at.iter().map(Vec::len).collect();
    let mut gone = vec![false; traces.len()];
    let mut loose: VecDeque<usize> = (0..n_nodes).filter(|&n| degree[n] == 1).collect();
    while let Some(node) = loose.pop_front() {
        let Some(&(k, _)) = at[node].iter().find(|&&(k, _)| !gone[k]) else {
            continue;
        };
        gone[k] = true;
        for n in ends[k] {
            degree[n] -= 1;
            if degree[n] == 1 {
                loose.push_back(n);
            }
        }
    }
    let mut parts = (Vec::new(), Vec::new());
    for (trace, gone) in traces.into_iter().zip(gone) {
        if gone { &mut parts.1 } else { &mut parts.0 }.push(trace);
    }
    parts
}

/// Rings through places where more than two ends meet: walks on, lines of the same name first, and cuts a
/// ring off each time the walk comes back to a place it has been at.
fn loops_at_forks(traces: Vec<Trace>) -> (Vec<Trace>, Vec<Trace>) {
    let (ends, n_nodes) = nodes_of(&traces, ENDS_MEET_MM);
    let at = meetings(&ends, n_nodes);
    let mut used = vec![false; traces.len()];
    let (mut rings, mut open) = (Vec::new(), Vec::new());
    for start in 0..traces.len() {
        if used[start] {
            continue;
        }
        used[start] = true;
        // The way so far: trace, the side it is entered by.
        let mut way = vec![(start, 0)];
        // Where each node on the way comes in it.
        let mut been: HashMap<usize, usize> = HashMap::from([(ends[start][0], 0)]);
        while let Some(&(k, enter)) = way.last() {
            let node = ends[k][1 - enter];
            // The last place on the way is where the walk stands after a ring was cut off.
            if let Some(&from) = been.get(&node).filter(|&&from| from < way.len()) {
                let ring = way.split_off(from);
                for &(k, enter) in &ring[1..] {
                    been.remove(&ends[k][enter]);
                }
                rings.push(run_of(&traces, &ring).finish(true));
                if way.is_empty() {
                    break;
                }
                continue;
            }
            been.insert(node, way.len());
            let free = at[node].iter().filter(|&&(k, _)| !used[k]);
            let next = free.min_by_key(|&&(j, _)| (traces[j].name != traces[k].name, j));
            let Some(&(next, side)) = next else { break };
            used[next] = true;
            way.push((next, side));
        }
        if !way.is_empty() {
            open.push(run_of(&traces, &way).finish(false));
        }
    }
    (rings, open)
}

fn run_of(traces: &[Trace], way: &[(usize, usize)]) -> Run {
    let mut run = Run::default();
    for &(k, enter) in way {
        run.append(&traces[k], enter == 1);
    }
    run
}

/// Traces end to end.
#[derive(Default)]
struct Run {
    points: Vec<Point>,
    name: Option<String>,
}

impl Run {
    fn append(&mut self, trace: &Trace, backwards: bool) {
        let from = usize::from(!self.points.is_empty());
        if backwards {
            self.points.extend(trace.points.iter().rev().skip(from));
        } else {
            self.points.extend(trace.points.iter().skip(from));
        }
        if self.name.is_none() {
            self.name.clone_from(&trace.name);
        }
    }

    fn finish(mut self, closed: bool) -> Trace {
        if closed && self.points.len() > 1 {
            self.points.pop();
        }
        Trace {
            points: self.points,
            closed,
            name: self.name,
        }
    }
}

/// A sound ring and its name.
struct Named {
    ring: Ring,
    name: Option<String>,
}

fn rings_of(closed: Vec<Trace>, warnings: &mut Vec<DrawingWarning>) -> Vec<Named> {
    let mut rings = Vec::new();
    let mut bad: Option<(usize, Point, String)> = None;
    for trace in closed {
        let at = trace.points[0];
        match Ring::try_new(trace.points) {
            Ok(ring) => rings.push(Named {
                ring,
                name: trace.name,
            }),
            Err(e) => bad.get_or_insert((0, at, e.to_string())).0 += 1,
        }
    }
    if let Some((count, at, problem)) = bad {
        // The ring's own remedy, after a semicolon, would follow in the middle of the sentence.
        let problem = problem.split(';').next().unwrap_or_default().to_owned();
        warnings.push(DrawingWarning::UnusableRings { count, at, problem });
    }
    rings
}

/// The ring lies in the other one. Rings may touch, so that one point does not tell.
fn lies_in(inner: &Ring, outer: &Ring) -> bool {
    let points = inner.points();
    let votes = [0, points.len() / 3, 2 * points.len() / 3]
        .iter()
        .filter(|&&k| outer.contains(points[k]))
        .count();
    votes >= 2
}

fn nest(rings: Vec<Named>) -> Vec<Drawn> {
    let area = |k: usize| rings[k].ring.signed_area_mm2().abs();
    let areas: Vec<f64> = (0..rings.len()).map(area).collect();
    let bounds: Vec<_> = rings.iter().map(|r| r.ring.bounds()).collect();
    let mut by_area: Vec<usize> = (0..rings.len()).collect();
    by_area.sort_by(|&a, &b| areas[b].total_cmp(&areas[a]).then(a.cmp(&b)));
    let mut parent = vec![None; rings.len()];
    let mut depth = vec![0_usize; rings.len()];
    for (rank, &k) in by_area.iter().enumerate() {
        let around = by_area[..rank].iter().rev().copied().find(|&j| {
            bounds[j].contains(bounds[k].centre()) && lies_in(&rings[k].ring, &rings[j].ring)
        });
        parent[k] = around;
        depth[k] = around.map_or(0, |j| depth[j] + 1);
    }
    let mut holes: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for k in 0..rings.len() {
        if let (1, Some(j)) = (depth[k] % 2, parent[k]) {
            holes.entry(j).or_default().push(k);
        }
    }
    let outers: BTreeSet<usize> = (0..rings.len())
        .filter(|&k| depth[k].is_multiple_of(2))
        .collect();
    let none = Vec::new();
    outers
        .into_iter()
        .flat_map(|k| assemble(&rings[k], holes.get(&k).unwrap_or(&none), &rings))
        .collect()
}

/// An outline of its rings; where holes touch each other or the edge, their material is taken off.
fn assemble(outer: &Named, holes: &[usize], rings: &[Named]) -> Vec<Drawn> {
    let points = |r: &Ring| r.points().to_vec();
    let hole_points = holes.iter().map(|&h| points(&rings[h].ring)).collect();
    let whole = Outline::try_new(points(&outer.ring), hole_points);
    let drawn = |outline: Outline, warnings: Vec<DrawingWarning>| Drawn {
        outline,
        name: outer.name.clone(),
        warnings,
    };
    match whole {
        Ok(outline) => vec![drawn(outline, Vec::new())],
        Err(e) => {
            let at = match e {
                OutlineError::RingsCross { at } => at,
                _ => outer.ring.points()[0],
            };
            let alone = |r: &Ring| Outline::try_new(points(r), Vec::new()).ok();
            let cuts: Vec<Outline> = holes
                .iter()
                .filter_map(|&h| alone(&rings[h].ring))
                .collect();
            let warning = DrawingWarning::CutAtEdge {
                count: cuts.len(),
                at,
            };
            alone(&outer.ring)
                .map(|o| difference(&o, &cuts))
                .unwrap_or_default()
                .into_iter()
                .map(|o| drawn(o, vec![warning.clone()]))
                .collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)], name: Option<&str>) -> Trace {
        Trace {
            points: points.iter().map(|&(x, y)| Point::new(x, y)).collect(),
            closed: false,
            name: name.map(str::to_owned),
        }
    }

    fn ring(points: &[(f64, f64)]) -> Trace {
        Trace {
            closed: true,
            ..line(points, None)
        }
    }

    fn square(x: f64, y: f64, side: f64) -> Trace {
        ring(&[(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
    }

    fn outlines(traces: Vec<Trace>) -> (Vec<Drawn>, Vec<DrawingWarning>) {
        let mut warnings = Vec::new();
        let drawn = outlines_of(
            traces,
            &DrawingLimits::default(),
            Nesting::All,
            &mut warnings,
        )
        .expect("few");
        (drawn, warnings)
    }

    #[test]
    fn lines_in_any_order_and_direction_chain_into_one_ring() {
        let (drawn, warnings) = outlines(vec![
            line(&[(10.0, 0.0), (10.0, 5.0)], Some("a")),
            line(&[(0.0, 5.0), (0.0, 0.0)], Some("b")),
            line(&[(0.0, 5.01), (10.01, 5.0)], Some("a")),
            line(&[(10.0, 0.0), (0.0, 0.0)], Some("a")),
        ]);
        assert_eq!(warnings, []);
        assert_eq!(drawn.len(), 1);
        // 10 x 5, to what ends 0.01 mm apart add.
        assert!((drawn[0].outline.area_mm2() - 50.0).abs() < 0.1);
        assert!(drawn[0].name.is_some());
    }

    #[test]
    fn sides_much_shorter_than_the_tolerance_stay_in_their_order() {
        // A circle of radius 1 mm in 1000 lines of 6 micrometres.
        let at = |k: i32| {
            let (s, c) = (f64::from(k % 1000) * std::f64::consts::TAU / 1000.0).sin_cos();
            (c, s)
        };
        let lines = (0..1000)
            .map(|k| line(&[at((k * 7) % 1000), at((k * 7) % 1000 + 1)], None))
            .collect();
        let (drawn, warnings) = outlines(lines);
        assert_eq!(warnings, []);
        // A regular polygon's area: n/2 sin(2 pi / n).
        let truth = 500.0 * (std::f64::consts::TAU / 1000.0).sin();
        assert!((drawn[0].outline.area_mm2() - truth).abs() < 1e-9);
    }

    #[test]
    fn rings_nest_by_containment() {
        let (drawn, _) = outlines(vec![
            square(4.0, 4.0, 2.0),
            square(0.0, 0.0, 10.0),
            square(20.0, 0.0, 3.0),
            square(1.0, 1.0, 8.0),
            square(4.5, 4.5, 1.0),
        ]);
        let areas: Vec<f64> = drawn.iter().map(|d| d.outline.area_mm2()).collect();
        assert_eq!(areas, [4.0 - 1.0, 100.0 - 64.0, 9.0]);
    }

    #[test]
    fn open_paths_are_counted_and_placed() {
        let (drawn, warnings) = outlines(vec![
            square(0.0, 0.0, 1.0),
            line(&[(5.0, 5.0), (6.0, 5.0)], None),
            line(&[(6.0, 5.0), (6.0, 6.0)], None),
            line(&[(8.0, 5.0), (8.0, 6.0)], None),
        ]);
        assert_eq!(drawn.len(), 1);
        assert!(
            matches!(warnings[..], [DrawingWarning::OpenPaths { count: 2, from, .. }] if from == Point::new(5.0, 5.0)),
            "{warnings:?}"
        );
    }

    #[test]
    fn a_line_that_hangs_on_a_ring_does_not_spoil_it() {
        let (drawn, warnings) = outlines(vec![
            line(&[(0.0, 0.0), (4.0, 0.0)], None),
            line(&[(4.0, 0.0), (9.0, 0.0)], None),
            line(&[(4.0, 0.0), (4.0, 4.0)], None),
            line(&[(4.0, 4.0), (0.0, 4.0), (0.0, 0.0)], None),
        ]);
        assert_eq!(drawn[0].outline.area_mm2(), 16.0);
        assert!(matches!(
            warnings[..],
            [DrawingWarning::OpenPaths { count: 1, .. }]
        ));
    }

    #[test]
    fn two_rings_that_share_a_corner_are_two() {
        let (drawn, warnings) = outlines(vec![
            line(&[(0.0, 0.0), (2.0, 0.0), (2.0, 2.0)], None),
            line(&[(2.0, 2.0), (0.0, 2.0), (0.0, 0.0)], None),
            line(&[(2.0, 2.0), (5.0, 2.0), (5.0, 5.0)], None),
            line(&[(5.0, 5.0), (2.0, 5.0), (2.0, 2.0)], None),
        ]);
        assert_eq!(warnings, []);
        let mut areas: Vec<f64> = drawn.iter().map(|d| d.outline.area_mm2()).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas, [4.0, 9.0]);
    }

    /// Found by mutated drawings: after a ring is cut off, the walk goes on from where it stands.
    #[test]
    fn a_walk_goes_on_after_a_ring() {
        let (drawn, warnings) = outlines(vec![
            line(&[(-3.0, 0.0), (0.0, 0.0)], None),
            line(&[(0.0, 0.0), (1.0, 1.0), (1.0, -1.0), (0.0, 0.0)], None),
            line(&[(0.0, 0.0), (0.0, 5.0)], None),
            line(&[(0.0, 5.0), (-3.0, 0.0)], None),
            line(&[(0.0, 5.0), (2.0, 7.0), (-2.0, 7.0), (0.0, 5.0)], None),
        ]);
        assert_eq!(warnings, []);
        let mut areas: Vec<f64> = drawn.iter().map(|d| d.outline.area_mm2()).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas, [1.0, 4.0, 7.5]);
    }

    #[test]
    fn what_is_drawn_twice_counts_once() {
        let mut again = square(0.0, 0.0, 2.0);
        again.points.rotate_left(1);
        again.points.reverse();
        let (drawn, warnings) = outlines(vec![square(0.0, 0.0, 2.0), again]);
        assert_eq!(drawn.len(), 1);
        assert!(matches!(
            warnings[..],
            [DrawingWarning::DrawnTwice { count: 1, .. }]
        ));
    }

    #[test]
    fn an_opening_over_the_edge_is_cut_out() {
        let (drawn, _) = outlines(vec![
            square(0.0, 0.0, 10.0),
            ring(&[(8.0, 4.0), (11.0, 4.0), (11.0, 4.5), (8.0, 6.0), (7.0, 5.0)]),
        ]);
        assert_eq!(drawn.len(), 1);
        assert!(drawn[0].outline.area_mm2() < 100.0);
        assert!(matches!(
            drawn[0].warnings[..],
            [DrawingWarning::CutAtEdge { .. }]
        ));
    }

    #[test]
    fn a_ring_that_crosses_itself_is_left_out_and_named() {
        let (drawn, warnings) = outlines(vec![
            square(0.0, 0.0, 1.0),
            ring(&[(5.0, 5.0), (9.0, 9.0), (9.0, 5.0), (5.0, 9.0)]),
        ]);
        assert_eq!(drawn.len(), 1);
        assert!(matches!(
            warnings[..],
            [DrawingWarning::UnusableRings { count: 1, .. }]
        ));
    }
}
