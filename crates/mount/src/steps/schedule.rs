//! Tasks in an order that limited hands and clamps allow.

use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;
use std::collections::BTreeMap;

/// Something that takes time.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// Unique.
    pub id: String,
    /// How long it takes, minutes.
    pub minutes: f64,
    /// Somebody works at it all the time.
    pub hands_on: bool,
    /// Clamps that it holds.
    pub clamps: u32,
    /// It starts the very minute its one predecessor ends, and takes over its clamps: a press after gluing.
    pub at_once: bool,
    /// Ids of what must be done before.
    pub after: Vec<String>,
}

/// What there is to work with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Resources {
    /// People.
    pub hands: u32,
    /// Clamps or weights.
    pub clamps: u32,
}

/// When a task is done.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Timing {
    /// Minutes from the first start.
    pub start: f64,
    /// Minutes from the first start.
    pub end: f64,
    /// Minutes by which its start may slip before the last end moves, as far as what comes after what decides.
    pub slack: f64,
}

/// Why tasks have no order.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ScheduleError {
    /// A task waits for one that is not there.
    #[error("{task} comes after {missing}, which is not there")]
    Missing {
        /// Which task.
        task: String,
        /// What it waits for.
        missing: String,
    },
    /// Two tasks wait for each other.
    #[error("{task} waits for itself")]
    Circle {
        /// One of them.
        task: String,
    },
    /// A task takes no time that can be.
    #[error("{task} takes {minutes} minutes; it must be a number that is not negative")]
    NoTime {
        /// Which task.
        task: String,
        /// What it takes, as it is written.
        minutes: String,
    },
    /// Two tasks have one id.
    #[error("{task} is there twice")]
    Twice {
        /// Which id.
        task: String,
    },
}

/// Times for all tasks, in their order as given, and the length of the critical path: what it would take with hands and
/// clamps without end.
///
/// Method: at each moment, of the tasks whose predecessors are done, the one with the longest way to the end starts first
/// (parallel schedule generation with the critical-path rule). A task that asks for more clamps than there are gets all
/// of them.
///
/// # Errors
/// [`ScheduleError`] where ids are missing, twice, or in a circle, or minutes are negative, infinite or no number.
pub fn schedule(tasks: &[Task], resources: Resources) -> Result<(Vec<Timing>, f64), ScheduleError> {
    // No end of a task that takes no number of minutes would ever come.
    if let Some(task) = tasks
        .iter()
        .find(|t| !(t.minutes.is_finite() && t.minutes >= 0.0))
    {
        return Err(ScheduleError::NoTime {
            task: task.id.clone(),
            minutes: task.minutes.to_string(),
        });
    }
    let graph = graph_of(tasks)?;
    let order = petgraph::algo::toposort(&graph, None).map_err(|c| ScheduleError::Circle {
        task: tasks[c.node_id().index()].id.clone(),
    })?;
    // Longest way from each task's start to the end.
    let mut tail = vec![0.0f64; tasks.len()];
    for &node in order.iter().rev() {
        let next = successors(&graph, node)
            .map(|s| tail[s])
            .fold(0.0, f64::max);
        tail[node.index()] = tasks[node.index()].minutes + next;
    }
    let critical = tail.iter().copied().fold(0.0, f64::max);
    let mut timings = run(tasks, &graph, &tail, resources);
    let last = timings.iter().map(|t| t.end).fold(0.0, f64::max);
    for (timing, tail) in timings.iter_mut().zip(&tail) {
        timing.slack = (last - tail - timing.start).max(0.0);
    }
    Ok((timings, critical))
}

type Graph = DiGraph<(), ()>;

fn graph_of(tasks: &[Task]) -> Result<Graph, ScheduleError> {
    let mut graph = Graph::new();
    let mut nodes: BTreeMap<&str, NodeIndex> = BTreeMap::new();
    for task in tasks {
        if nodes.insert(&task.id, graph.add_node(())).is_some() {
            return Err(ScheduleError::Twice {
                task: task.id.clone(),
            });
        }
    }
    for task in tasks {
        for before in &task.after {
            let from = nodes
                .get(before.as_str())
                .ok_or_else(|| ScheduleError::Missing {
                    task: task.id.clone(),
                    missing: before.clone(),
                })?;
            graph.update_edge(*from, nodes[task.id.as_str()], ());
        }
    }
    Ok(graph)
}

fn successors(graph: &Graph, node: NodeIndex) -> impl Iterator<Item = usize> + '_ {
    graph.edges(node).map(|e| e.target().index())
}

fn run(tasks: &[Task], graph: &Graph, tail: &[f64], resources: Resources) -> Vec<Timing> {
    let mut waits: Vec<usize> = tasks
        .iter()
        .enumerate()
        .map(|(k, _)| {
            graph
                .edges_directed(NodeIndex::new(k), petgraph::Direction::Incoming)
                .count()
        })
        .collect();
    // What follows at once holds its clamps from its predecessor's start.
    let follower: Vec<Option<usize>> = (0..tasks.len())
        .map(|k| successors(graph, NodeIndex::new(k)).find(|&s| tasks[s].at_once))
        .collect();
    let clamps_of = |k: usize| {
        let own = tasks[k].clamps;
        let next = follower[k].map_or(0, |f| tasks[f].clamps);
        own.max(next).min(resources.clamps)
    };
    let mut hands = resources.hands.max(1);
    let mut clamps = resources.clamps;
    let mut timings = vec![Timing::default(); tasks.len()];
    let mut ready: Vec<usize> = (0..tasks.len()).filter(|&k| waits[k] == 0).collect();
    let mut running: Vec<usize> = Vec::new();
    let mut now = 0.0f64;
    let mut begin = |k: usize, now: f64, running: &mut Vec<usize>, hands: &mut u32| {
        if tasks[k].hands_on {
            *hands = hands.saturating_sub(1);
        }
        timings[k].start = now;
        timings[k].end = now + tasks[k].minutes;
        running.push(k);
        timings[k].end
    };
    let mut ends = vec![0.0f64; tasks.len()];
    loop {
        ready.sort_by(|&a, &b| tail[b].total_cmp(&tail[a]).then(a.cmp(&b)));
        let mut left = Vec::new();
        for &k in &ready {
            let free_hands = !tasks[k].hands_on || hands > 0;
            if free_hands && clamps_of(k) <= clamps {
                clamps -= clamps_of(k);
                ends[k] = begin(k, now, &mut running, &mut hands);
            } else {
                left.push(k);
            }
        }
        ready = left;
        let Some(next) = running.iter().map(|&k| ends[k]).reduce(f64::min) else {
            return timings;
        };
        now = next;
        let (done, still): (Vec<usize>, Vec<usize>) =
            running.iter().partition(|&&k| ends[k] <= now);
        running = still;
        // Hands first come free, then what follows at once takes them.
        hands += done.iter().filter(|&&k| tasks[k].hands_on).count() as u32;
        for &k in &done {
            match follower[k] {
                Some(_) => {}
                None if tasks[k].at_once => {
                    let before = tasks[k]
                        .after
                        .first()
                        .and_then(|id| tasks.iter().position(|t| t.id == *id));
                    clamps += before.map_or(0, clamps_of);
                }
                None => clamps += clamps_of(k),
            }
            for s in successors(graph, NodeIndex::new(k)).collect::<Vec<_>>() {
                waits[s] -= 1;
                if waits[s] == 0 {
                    if tasks[s].at_once {
                        ends[s] = begin(s, now, &mut running, &mut hands);
                    } else {
                        ready.push(s);
                    }
                }
            }
        }
    }
}
