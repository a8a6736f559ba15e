//! Path data (SVG 2, section 9.3) as traces.

use super::super::DrawingError;
use super::super::curve::{Bezier, EllipseArc};
use super::super::trace::{Affine, Traces};
use super::{InText, Within};
use shape::Point;
use std::f64::consts::TAU;
use svgtypes::{PathParser, PathSegment};

/// What is filled and not stroked is closed, whether its data say so or not: filling does it.
pub(super) fn closed_by_fill(within: &Within<'_>, n_points: usize) -> bool {
    within.fill && !within.stroke && n_points > 2
}

/// Where the pen is, in the path's own coordinates.
#[derive(Default, Clone, Copy)]
struct Pen {
    at: [f64; 2],
    start: [f64; 2],
    /// The last control point of a cubic or quadratic, for the smooth kinds.
    cubic: Option<[f64; 2]>,
    quadratic: Option<[f64; 2]>,
}

pub(super) fn draw(
    data: &str,
    within: &Within<'_>,
    at: InText<'_>,
    sink: &mut Traces,
) -> Result<(), DrawingError> {
    let to = within.page_from_here;
    let mut pen = Pen::default();
    let mut points: Vec<Point> = Vec::new();
    for (k, segment) in PathParser::from(data).enumerate() {
        let segment = segment.map_err(|e| {
            sink.broken(
                at,
                format!(
                    "path data cannot be read at segment {}: {e}; export it again",
                    k + 1
                ),
            )
        })?;
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                flush(&mut points, false, within, at, sink)?;
                pen.at = place(pen.at, abs, x, y);
                pen.start = pen.at;
                points.push(to.point(pen.at[0], pen.at[1]));
                (pen.cubic, pen.quadratic) = (None, None);
                continue;
            }
            PathSegment::ClosePath { .. } => {
                flush(&mut points, true, within, at, sink)?;
                pen.at = pen.start;
                (pen.cubic, pen.quadratic) = (None, None);
                continue;
            }
            _ => {}
        }
        if points.is_empty() {
            // Goes on after a closing without a move.
            points.push(to.point(pen.at[0], pen.at[1]));
        }
        let left = sink.points_left();
        pen = segment_drawn(segment, pen, to, &mut points, left).ok_or_else(|| {
            if points.iter().all(|p| p.is_finite()) && points.len() >= left {
                sink.too_many_points()
            } else {
                sink.broken(at, "a path has a number that is no place; export it again")
            }
        })?;
        if points.len() > left {
            return Err(sink.too_many_points());
        }
    }
    flush(&mut points, false, within, at, sink)
}

fn place(from: [f64; 2], abs: bool, x: f64, y: f64) -> [f64; 2] {
    if abs {
        [x, y]
    } else {
        [from[0] + x, from[1] + y]
    }
}

/// Hands over what was drawn since the last move.
fn flush(
    points: &mut Vec<Point>,
    closed: bool,
    within: &Within<'_>,
    at: InText<'_>,
    sink: &mut Traces,
) -> Result<(), DrawingError> {
    let drawn = std::mem::take(points);
    if drawn.len() < 2 {
        return Ok(());
    }
    let closed = closed || closed_by_fill(within, drawn.len());
    sink.add(drawn, closed, within.name, at)
}

/// Draws a segment that is neither a move nor a closing; `None` where it has more than `most` points or a
/// number that is none.
fn segment_drawn(
    segment: PathSegment,
    mut pen: Pen,
    to: Affine,
    points: &mut Vec<Point>,
    most: usize,
) -> Option<Pen> {
    let mapped = |p: [f64; 2]| to.point(p[0], p[1]);
    let mirrored = |p: Option<[f64; 2]>| {
        p.map_or(pen.at, |c| [2.0 * pen.at[0] - c[0], 2.0 * pen.at[1] - c[1]])
    };
    let from = pen.at;
    let at = |abs, x, y| place(from, abs, x, y);
    let (mut cubic, mut quadratic) = (None, None);
    let mut curve = |control: &[[f64; 2]], end: [f64; 2]| {
        let all: Vec<Point> = std::iter::once(from)
            .chain(control.iter().copied())
            .chain([end])
            .map(mapped)
            .collect();
        Bezier::plain(&all).chords(points, most)
    };
    match segment {
        PathSegment::LineTo { abs, x, y } => pen.at = at(abs, x, y),
        PathSegment::HorizontalLineTo { abs, x } => pen.at[0] = at(abs, x, 0.0)[0],
        PathSegment::VerticalLineTo { abs, y } => pen.at[1] = at(abs, 0.0, y)[1],
        PathSegment::CurveTo {
            abs,
            x1,
            y1,
            x2,
            y2,
            x,
            y,
        } => {
            let (c1, c2) = (at(abs, x1, y1), at(abs, x2, y2));
            pen.at = at(abs, x, y);
            curve(&[c1, c2], pen.at).then_some(())?;
            cubic = Some(c2);
        }
        PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
            let (c1, c2) = (mirrored(pen.cubic), at(abs, x2, y2));
            pen.at = at(abs, x, y);
            curve(&[c1, c2], pen.at).then_some(())?;
            cubic = Some(c2);
        }
        PathSegment::Quadratic { abs, x1, y1, x, y } => {
            let c = at(abs, x1, y1);
            pen.at = at(abs, x, y);
            curve(&[c], pen.at).then_some(())?;
            quadratic = Some(c);
        }
        PathSegment::SmoothQuadratic { abs, x, y } => {
            let c = mirrored(pen.quadratic);
            pen.at = at(abs, x, y);
            curve(&[c], pen.at).then_some(())?;
            quadratic = Some(c);
        }
        PathSegment::EllipticalArc {
            abs,
            rx,
            ry,
            x_axis_rotation,
            large_arc,
            sweep,
            x,
            y,
        } => {
            pen.at = at(abs, x, y);
            if let Some(arc) = arc_between(
                from,
                pen.at,
                [rx, ry],
                x_axis_rotation,
                large_arc,
                sweep,
                to,
            ) {
                let mut chords = arc.chords(most.saturating_sub(points.len()))?;
                // The end itself comes next, exactly.
                chords.pop();
                points.extend(chords);
            }
        }
        PathSegment::MoveTo { .. } | PathSegment::ClosePath { .. } => {}
    }
    let end = mapped(pen.at);
    if points.last() != Some(&end) {
        points.push(end);
    }
    (pen.cubic, pen.quadratic) = (cubic, quadratic);
    end.is_finite().then_some(pen)
}

/// From end points to a centre: SVG 2, appendix B.2.4, with radii made larger where they do not reach
/// (B.2.5). `None`: a straight line.
fn arc_between(
    from: [f64; 2],
    end: [f64; 2],
    [rx, ry]: [f64; 2],
    turn_deg: f64,
    large: bool,
    sweep: bool,
    to: Affine,
) -> Option<EllipseArc> {
    let (mut rx, mut ry) = (rx.abs(), ry.abs());
    if rx == 0.0 || ry == 0.0 || from == end {
        return None;
    }
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let (hx, hy) = (0.5 * (from[0] - end[0]), 0.5 * (from[1] - end[1]));
    let (x, y) = (cos * hx + sin * hy, -sin * hx + cos * hy);
    let reach = (x / rx).powi(2) + (y / ry).powi(2);
    if reach > 1.0 {
        rx *= reach.sqrt();
        ry *= reach.sqrt();
    }
    let (u, v) = (x / rx, y / ry);
    let inside = ((1.0 - u * u - v * v) / (u * u + v * v)).max(0.0).sqrt();
    let off = if large == sweep { -inside } else { inside };
    // The centre on the unit circle's scale, seen from the middle of the chord.
    let (cu, cv) = (off * v, -off * u);
    let (cx, cy) = (cu * rx, cv * ry);
    let centre = to.point(
        cos * cx - sin * cy + 0.5 * (from[0] + end[0]),
        sin * cx + cos * cy + 0.5 * (from[1] + end[1]),
    );
    let start = (v - cv).atan2(u - cu);
    let stop = (-v - cv).atan2(-u - cu);
    let turn = (stop - start).rem_euclid(TAU);
    Some(EllipseArc {
        centre,
        u: to.vector(rx * cos, rx * sin),
        v: to.vector(-ry * sin, ry * cos),
        start,
        sweep: if sweep { turn } else { turn - TAU },
    })
}
