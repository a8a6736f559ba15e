//! Basic shapes (SVG 2, chapter 10) as traces.

use super::super::DrawingError;
use super::super::curve::EllipseArc;
use super::super::trace::Affine;
use super::{Walk, Within, path};
use roxmltree::Node;
use shape::Point;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

impl<'a, 'i> Walk<'a, 'i, '_> {
    pub(super) fn shape(
        &mut self,
        node: Node<'a, 'i>,
        within: &Within<'a>,
    ) -> Result<(), DrawingError> {
        let to = within.page_from_here;
        let at = self.at(node);
        let v = within.viewport;
        // Shares of radii are of the view's diagonal over the square root of 2 (SVG 2, section 8.9).
        let diagonal = (v.width.hypot(v.height)) / std::f64::consts::SQRT_2;
        let length = |walk: &Self, name, whole| walk.length_or(node, name, whole, 0.0);
        match node.tag_name().name() {
            "path" => {
                let data = node.attribute("d").unwrap_or_default();
                path::draw(data, within, at, self.sink)
            }
            "rect" => {
                let corner = [length(self, "x", v.width)?, length(self, "y", v.height)?];
                let size = [
                    length(self, "width", v.width)?,
                    length(self, "height", v.height)?,
                ];
                let (rx, ry) = (
                    self.length_or(node, "rx", v.width, f64::NAN)?,
                    self.length_or(node, "ry", v.height, f64::NAN)?,
                );
                // One missing is the other; both missing are sharp corners.
                let either = |a: f64, b: f64| {
                    if a.is_nan() {
                        if b.is_nan() { 0.0 } else { b }
                    } else {
                        a
                    }
                };
                let radii = [
                    either(rx, ry).clamp(0.0, (0.5 * size[0]).max(0.0)),
                    either(ry, rx).clamp(0.0, (0.5 * size[1]).max(0.0)),
                ];
                if !(size[0] > 0.0 && size[1] > 0.0) {
                    self.sink
                        .leave_out("rectangle without a size", "delete it, or give it a size");
                    return Ok(());
                }
                let points = rounded(corner, size, radii, to, self.sink.points_left())
                    .ok_or_else(|| self.sink.too_many_points())?;
                self.sink.add(points, true, within.name, at)
            }
            "circle" | "ellipse" => {
                let centre = to.point(length(self, "cx", v.width)?, length(self, "cy", v.height)?);
                let radii = if node.tag_name().name() == "circle" {
                    [length(self, "r", diagonal)?; 2]
                } else {
                    [length(self, "rx", v.width)?, length(self, "ry", v.height)?]
                };
                if !(radii[0] > 0.0 && radii[1] > 0.0) {
                    self.sink
                        .leave_out("circle without a radius", "delete it, or give it a radius");
                    return Ok(());
                }
                let arc = EllipseArc {
                    centre,
                    u: to.vector(radii[0], 0.0),
                    v: to.vector(0.0, radii[1]),
                    start: 0.0,
                    sweep: TAU,
                };
                let points = arc
                    .chords(self.sink.points_left())
                    .ok_or_else(|| self.sink.too_many_points())?;
                self.sink.add(points, true, within.name, at)
            }
            "line" => {
                let ends = vec![
                    to.point(length(self, "x1", v.width)?, length(self, "y1", v.height)?),
                    to.point(length(self, "x2", v.width)?, length(self, "y2", v.height)?),
                ];
                self.sink.add(ends, false, within.name, at)
            }
            tag => {
                let text = node.attribute("points").unwrap_or_default();
                let numbers = text
                    .split([' ', ',', '\t', '\n', '\r'])
                    .filter(|t| !t.is_empty())
                    .count();
                let points: Vec<Point> = svgtypes::PointsParser::from(text)
                    .map(|(x, y)| to.point(x, y))
                    .collect();
                // The parser stops without a word where it cannot go on; signs may separate numbers too.
                if numbers > 2 * points.len() + 1 {
                    let problem = format!(
                        "point {} of a {tag} cannot be read; export it again",
                        points.len() + 1
                    );
                    return Err(self.sink.broken(at, problem));
                }
                let closed = tag == "polygon" || path::closed_by_fill(within, points.len());
                self.sink.add(points, closed, within.name, at)
            }
        }
    }
}

fn rounded(
    [x, y]: [f64; 2],
    [w, h]: [f64; 2],
    [rx, ry]: [f64; 2],
    to: Affine,
    most: usize,
) -> Option<Vec<Point>> {
    if rx == 0.0 || ry == 0.0 {
        return Some(vec![
            to.point(x, y),
            to.point(x + w, y),
            to.point(x + w, y + h),
            to.point(x, y + h),
        ]);
    }
    let corners = [
        (x + w - rx, y + ry, -FRAC_PI_2),
        (x + w - rx, y + h - ry, 0.0),
        (x + rx, y + h - ry, FRAC_PI_2),
        (x + rx, y + ry, PI),
    ];
    let mut points = Vec::new();
    for (cx, cy, start) in corners {
        let arc = EllipseArc {
            centre: to.point(cx, cy),
            u: to.vector(rx, 0.0),
            v: to.vector(0.0, ry),
            start,
            sweep: FRAC_PI_2,
        };
        points.push(arc.at(start));
        points.extend(arc.chords(most)?);
    }
    Some(points)
}
