//! From traces to outlines: ends that meet are joined, rings nested by containment.

use super::trace::Trace;
use super::{DrawingError, DrawingLimits, DrawingWarning, Drawn, ENDS_MEET_MM};
use join::chain;
use nest::{nest, rings_of};
use shape::Point;
use std::collections::{BTreeMap, HashSet};

mod join;
mod nest;

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
