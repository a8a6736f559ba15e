//! Open traces joined where their ends meet, also through places where more than two do.

use super::super::ENDS_MEET_MM;
use super::super::trace::Trace;
use shape::Point;
use std::collections::{HashMap, VecDeque};

/// Ends of neighbours that a program wrote with the same digits, mm. Joined first: sides shorter than
/// [`ENDS_MEET_MM`] would otherwise be taken for their own neighbours.
const ENDS_ALIKE_MM: f64 = 1e-4;

/// Joins open traces; gives the rings that close and what stays open.
pub(super) fn chain(open: Vec<Trace>) -> (Vec<Trace>, Vec<Trace>) {
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
