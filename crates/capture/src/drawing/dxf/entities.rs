//! The entities that draw lines in the plane, and references to blocks.

use super::super::DrawingError;
use super::super::curve::{Bezier, EllipseArc, bulge_arc, spline_pieces};
use super::super::trace::{Affine, Traces};
use super::Contents;
use super::pairs::Group;
use shape::Point;
use std::f64::consts::TAU;

const IN_PLANE: &str = "draw the outline flat, seen from above";
const AS_LINES: &str = "draw what belongs to the outline as lines, arcs or polylines";
const HIDDEN: &str = "show it and export again where it belongs to the outline";

/// Kinds that people know by name; others are counted together.
const KNOWN_KINDS: [&str; 15] = [
    "TEXT",
    "MTEXT",
    "DIMENSION",
    "HATCH",
    "POINT",
    "SOLID",
    "TRACE",
    "3DFACE",
    "REGION",
    "3DSOLID",
    "LEADER",
    "IMAGE",
    "XLINE",
    "RAY",
    "ATTDEF",
];

/// Where entities are drawn.
pub(super) struct Within<'a> {
    page_from_here: Affine,
    /// The layer of the innermost reference: entities on layer 0 take it.
    layer: Option<&'a str>,
    depth: usize,
}

impl Within<'_> {
    pub(super) fn page(page_from_here: Affine) -> Self {
        Self {
            page_from_here,
            layer: None,
            depth: 0,
        }
    }
}

pub(super) struct Page<'a, 's> {
    pub(super) contents: &'a Contents<'a>,
    pub(super) sink: &'s mut Traces,
}

impl<'a> Page<'a, '_> {
    /// Draws the groups from `from` up to `to`.
    pub(super) fn draw(
        &mut self,
        from: usize,
        to: usize,
        within: &Within<'_>,
    ) -> Result<(), DrawingError> {
        let groups = self.contents.groups.get(from..to).unwrap_or_default();
        let mut k = 0;
        while let Some(group) = groups.get(k) {
            k += 1;
            // What follows a polyline or an insert belongs to it, up to SEQEND.
            let n_parts = groups[k..]
                .iter()
                .take_while(|g| matches!(g.kind, "VERTEX" | "ATTRIB"))
                .count();
            let parts = &groups[k..k + n_parts];
            k += n_parts;
            if group.kind == "SEQEND" {
                continue;
            }
            self.sink.count_entity()?;
            let layer = match group.text(8) {
                Some("0") | None => within.layer,
                own => own,
            };
            if group.integer(67, self.sink)?.unwrap_or(0) == 1 {
                self.sink
                    .leave_out("paper space entity", "draw the outline in model space");
            } else if group.integer(60, self.sink)?.unwrap_or(0) == 1
                || self
                    .contents
                    .hidden_layers
                    .contains(group.text(8).unwrap_or("0"))
            {
                self.sink.leave_out("hidden entity", HIDDEN);
            } else {
                self.entity(group, parts, layer, within)?;
            }
        }
        Ok(())
    }

    fn entity(
        &mut self,
        g: &'a Group<'a>,
        parts: &'a [Group<'a>],
        layer: Option<&str>,
        within: &Within<'_>,
    ) -> Result<(), DrawingError> {
        let Some(flipped) = self.flipped(g)? else {
            self.sink.leave_out("entity out of the plane", IN_PLANE);
            return Ok(());
        };
        // Planar entities have coordinates of their own where their normal points down.
        let own = if flipped {
            Affine::scale(-1.0, 1.0)
        } else {
            Affine::IDENTITY
        };
        let to = within.page_from_here;
        let sink = &mut *self.sink;
        match g.kind {
            "LINE" => {
                let (a, b) = (
                    [g.needed(10, sink)?, g.needed(20, sink)?],
                    [g.needed(11, sink)?, g.needed(21, sink)?],
                );
                let rise = g.number_or(30, 0.0, sink)? - g.number_or(31, 0.0, sink)?;
                if rise.abs() > 1e-6 {
                    sink.leave_out("entity out of the plane", IN_PLANE);
                    return Ok(());
                }
                let ends = vec![to.point(a[0], a[1]), to.point(b[0], b[1])];
                sink.add(ends, false, layer, g.line)
            }
            "CIRCLE" | "ARC" => {
                let at = [g.needed(10, sink)?, g.needed(20, sink)?];
                let radius = g.needed(40, sink)?;
                let (start, sweep) = if g.kind == "ARC" {
                    let (a, b) = (
                        g.needed(50, sink)?.to_radians(),
                        g.needed(51, sink)?.to_radians(),
                    );
                    (a, turn_between(a, b))
                } else {
                    (0.0, TAU)
                };
                let arc = EllipseArc::circle(at, radius, start, sweep, to.after(own));
                add_arc(sink, &arc, g.kind == "CIRCLE", layer, g.line)
            }
            "ELLIPSE" => {
                let (x, y) = (g.needed(11, sink)?, g.needed(21, sink)?);
                let ratio = g.needed(40, sink)? * if flipped { -1.0 } else { 1.0 };
                let (a, b) = (g.number_or(41, 0.0, sink)?, g.number_or(42, TAU, sink)?);
                let arc = EllipseArc {
                    centre: to.point(g.needed(10, sink)?, g.needed(20, sink)?),
                    u: to.vector(x, y),
                    v: to.vector(-y * ratio, x * ratio),
                    start: a,
                    sweep: turn_between(a, b),
                };
                let whole = (arc.sweep - TAU).abs() < 1e-9;
                add_arc(sink, &arc, whole, layer, g.line)
            }
            "LWPOLYLINE" => {
                let closed = g.integer(70, sink)?.unwrap_or(0) & 1 == 1;
                let corners = lightweight_corners(g, sink)?;
                add_polyline(sink, &corners, closed, to.after(own), layer, g.line)
            }
            "POLYLINE" => {
                let flags = g.integer(70, sink)?.unwrap_or(0);
                // 16 a mesh, 64 a mesh of faces.
                if flags & (16 | 64) != 0 {
                    sink.leave_out("mesh", AS_LINES);
                    return Ok(());
                }
                let spatial = flags & 8 != 0;
                let mut corners = Vec::with_capacity(parts.len());
                let mut heights = Vec::new();
                for v in parts.iter().filter(|v| v.kind == "VERTEX") {
                    // 16: a control point beside the vertices that draw the curve.
                    if v.integer(70, sink)?.unwrap_or(0) & 16 == 0 {
                        corners.push((
                            [v.needed(10, sink)?, v.needed(20, sink)?],
                            v.number_or(42, 0.0, sink)?,
                        ));
                        heights.push(v.number_or(30, 0.0, sink)?);
                    }
                }
                if spatial && heights.windows(2).any(|w| (w[0] - w[1]).abs() > 1e-6) {
                    sink.leave_out("entity out of the plane", IN_PLANE);
                    return Ok(());
                }
                let own = if spatial { Affine::IDENTITY } else { own };
                add_polyline(sink, &corners, flags & 1 == 1, to.after(own), layer, g.line)
            }
            "SPLINE" => add_spline(sink, g, to, layer),
            "INSERT" => self.insert(g, own, layer, within),
            kind if KNOWN_KINDS.contains(&kind) => {
                let remedy = if kind == "HATCH" {
                    "its edge counts where it is also drawn as lines"
                } else {
                    AS_LINES
                };
                sink.leave_out(kind, remedy);
                Ok(())
            }
            _ => {
                sink.leave_out("entity of another kind", AS_LINES);
                Ok(())
            }
        }
    }

    /// The entity's normal points down the z axis; `None` where it lies in no plane parallel to the page.
    fn flipped(&self, g: &Group<'_>) -> Result<Option<bool>, DrawingError> {
        let normal = [
            g.number_or(210, 0.0, self.sink)?,
            g.number_or(220, 0.0, self.sink)?,
            g.number_or(230, 1.0, self.sink)?,
        ];
        // A line is drawn in the page's own coordinates, whatever its normal.
        let upright = normal[0].abs() < 1e-6 && normal[1].abs() < 1e-6 && normal[2] != 0.0;
        Ok((upright || g.kind == "LINE").then_some(upright && normal[2] < 0.0))
    }

    fn insert(
        &mut self,
        g: &'a Group<'a>,
        own: Affine,
        layer: Option<&str>,
        within: &Within<'_>,
    ) -> Result<(), DrawingError> {
        let name = g.text(2).unwrap_or_default();
        let contents = self.contents;
        let Some(block) = contents.blocks.get(name) else {
            self.sink.leave_out(
                "reference to a block that is not in the file",
                "export the drawing with its blocks",
            );
            return Ok(());
        };
        if within.depth >= self.sink.limits.depth {
            return Err(DrawingError::NestedTooDeep {
                name: name.chars().take(60).collect(),
                limit: self.sink.limits.depth,
            });
        }
        let sink = &*self.sink;
        let at = Affine::shift(g.number_or(10, 0.0, sink)?, g.number_or(20, 0.0, sink)?);
        let turn = Affine::turn_deg(g.number_or(50, 0.0, sink)?);
        let stretch = Affine::scale(g.number_or(41, 1.0, sink)?, g.number_or(42, 1.0, sink)?);
        let [columns, rows] =
            [g.integer(70, sink)?, g.integer(71, sink)?].map(|n| n.unwrap_or(1).max(1));
        let [dx, dy] = [g.number_or(44, 0.0, sink)?, g.number_or(45, 0.0, sink)?];
        let here_from_block = stretch.after(Affine::shift(-block.base[0], -block.base[1]));
        for row in 0..rows {
            for column in 0..columns {
                // Counted even where the block is empty: a table of 32,767 by 32,767 of nothing must end.
                self.sink.count_entity()?;
                let step = Affine::shift(column as f64 * dx, row as f64 * dy);
                let inside = Within {
                    page_from_here: within
                        .page_from_here
                        .after(own)
                        .after(at)
                        .after(turn)
                        .after(step)
                        .after(here_from_block),
                    layer,
                    depth: within.depth + 1,
                };
                self.draw(block.from, block.to, &inside)?;
            }
        }
        Ok(())
    }
}

/// The angle from `a` counter-clockwise to `b`, radians, a whole turn where they are the same.
fn turn_between(a: f64, b: f64) -> f64 {
    let turn = (b - a).rem_euclid(TAU);
    if turn < 1e-9 { TAU } else { turn }
}

fn add_arc(
    sink: &mut Traces,
    arc: &EllipseArc,
    closed: bool,
    name: Option<&str>,
    line: usize,
) -> Result<(), DrawingError> {
    let mut points = vec![arc.at(arc.start)];
    points.extend(
        arc.chords(sink.points_left())
            .ok_or_else(|| sink.too_many_points())?,
    );
    if closed {
        points.pop();
    }
    sink.add(points, closed, name, line)
}

/// Corners with the bulge of the side that follows each.
type Corners = Vec<([f64; 2], f64)>;

fn lightweight_corners(g: &Group<'_>, sink: &Traces) -> Result<Corners, DrawingError> {
    let mut corners: Corners = Vec::new();
    for p in g.pairs {
        match (p.code, corners.last_mut()) {
            (10, _) => corners.push(([p.number(sink)?, 0.0], 0.0)),
            (20, Some(corner)) => corner.0[1] = p.number(sink)?,
            (42, Some(corner)) => corner.1 = p.number(sink)?,
            _ => {}
        }
    }
    Ok(corners)
}

fn add_polyline(
    sink: &mut Traces,
    corners: &[([f64; 2], f64)],
    closed: bool,
    to: Affine,
    name: Option<&str>,
    line: usize,
) -> Result<(), DrawingError> {
    let mut points: Vec<Point> = corners
        .first()
        .map(|(p, _)| to.point(p[0], p[1]))
        .into_iter()
        .collect();
    let n_sides = if closed {
        corners.len()
    } else {
        corners.len().saturating_sub(1)
    };
    for k in 0..n_sides {
        let ((a, bulge), (b, _)) = (corners[k], corners[(k + 1) % corners.len()]);
        if let Some(arc) = bulge_arc(a, b, bulge, to) {
            let left = sink.points_left().saturating_sub(points.len());
            let mut chords = arc.chords(left).ok_or_else(|| sink.too_many_points())?;
            // The corner itself comes next, exactly.
            chords.pop();
            points.extend(chords);
        }
        points.push(to.point(b[0], b[1]));
    }
    sink.add(points, closed, name, line)
}

fn add_spline(
    sink: &mut Traces,
    g: &Group<'_>,
    to: Affine,
    name: Option<&str>,
) -> Result<(), DrawingError> {
    let degree = g.integer(71, sink)?.unwrap_or(3);
    let (x, y) = (g.numbers(10, sink)?, g.numbers(20, sink)?);
    let (knots, weights) = (g.numbers(40, sink)?, g.numbers(41, sink)?);
    let control: Vec<[f64; 3]> = x
        .iter()
        .zip(&y)
        .enumerate()
        .map(|(k, (&x, &y))| {
            let (p, w) = (to.point(x, y), weights.get(k).copied().unwrap_or(1.0));
            [p.x * w, p.y * w, w]
        })
        .collect();
    let fits = x.len() == y.len() && (weights.is_empty() || weights.len() == x.len());
    let pieces = usize::try_from(degree)
        .ok()
        .filter(|_| fits)
        .and_then(|degree| spline_pieces(degree, &knots, &control));
    let Some(pieces) = pieces.filter(|p| !p.is_empty()) else {
        // A spline of fit points alone: what runs between them is the program's own affair.
        sink.leave_out(
            "spline without sound control points and knots",
            "export splines as polylines",
        );
        return Ok(());
    };
    let start = pieces[0].0[0];
    let mut points = vec![Point::new(start[0] / start[2], start[1] / start[2])];
    for piece in &pieces {
        if !Bezier::chords(piece, &mut points, sink.points_left()) {
            if points.len() >= sink.points_left() {
                return Err(sink.too_many_points());
            }
            sink.leave_out(
                "spline with weights that are not positive",
                "export splines as polylines",
            );
            return Ok(());
        }
    }
    sink.add(points, false, name, g.line)
}
