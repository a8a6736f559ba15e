//! SVG: the shapes that are drawn, in mm, whatever groups, references and view boxes carry them.
//!
//! The tree and the small languages of the attributes come from `roxmltree` and `svgtypes`; shapes are walked
//! here, in f64, so that arcs stay arcs until they are flattened: `usvg` turns circles into cubics first,
//! which on a circle of 20 mm radius already misses by more than [`super::CHORD_ERROR_MM`].
//!
//! What is not visible by `display`, `visibility` or for want of fill and stroke is left out and counted.
//! Style sheets are not read: what only they hide is taken.

mod path;
mod shapes;
mod view;

use super::trace::{Affine, InFile, Traces};
use super::{DrawingError, DrawingUnit, Scale};
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::HashMap;
use view::Viewport;

/// A CSS pixel, mm.
const PIXEL_MM: f64 = 25.4 / 96.0;

const AS_PATHS: &str = "turn it into paths where it belongs to the outline";
const HIDDEN: &str = "show it and export again where it belongs to the outline";

pub(super) fn read(
    bytes: &[u8],
    unit: Option<DrawingUnit>,
    sink: &mut Traces,
) -> Result<Scale, DrawingError> {
    let text = std::str::from_utf8(bytes).map_err(|_| {
        DrawingError::NotRead("the SVG file is not UTF-8 text; export it again as plain SVG")
    })?;
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: u32::try_from(sink.limits.entities.saturating_mul(4)).unwrap_or(u32::MAX),
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(text, options).map_err(|e| match e {
        roxmltree::Error::UnexpectedEndOfStream | roxmltree::Error::UnclosedRootNode => {
            sink.truncated("an element does not end")
        }
        roxmltree::Error::NodesLimitReached => DrawingError::TooMany {
            what: "elements",
            limit: sink.limits.entities,
        },
        e => sink.broken(e.pos().row as usize, e.to_string()),
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return Err(DrawingError::NotRead(
            "the file holds no <svg> element; is it an SVG file?",
        ));
    }
    let (scale, page_from_root, viewport) = view::root(root, unit, sink)?;
    let ids = root
        .descendants()
        .filter_map(|n| Some((n.attribute("id")?, n)))
        .collect();
    let mut walk = Walk { ids, sink, text };
    let inside = Within {
        page_from_here: page_from_root,
        viewport,
        name: None,
        fill: true,
        stroke: false,
        depth: 0,
    };
    walk.children(root, &inside)?;
    Ok(scale)
}

/// What an element inherits.
#[derive(Clone, Copy)]
struct Within<'a> {
    page_from_here: Affine,
    viewport: Viewport,
    name: Option<&'a str>,
    fill: bool,
    stroke: bool,
    depth: usize,
}

struct Walk<'a, 'i, 's> {
    ids: HashMap<&'a str, Node<'a, 'i>>,
    sink: &'s mut Traces,
    text: &'i str,
}

/// Where an element starts. Its line is counted from the start of the text.
#[derive(Clone, Copy)]
struct InText<'a> {
    text: &'a str,
    start: usize,
}

impl InFile for InText<'_> {
    fn line(self) -> usize {
        let before = self.text.get(..self.start).unwrap_or(self.text);
        before.matches('\n').count() + 1
    }
}

impl<'a, 'i> Walk<'a, 'i, '_> {
    fn at(&self, node: Node<'_, '_>) -> InText<'i> {
        InText {
            text: self.text,
            start: node.range().start,
        }
    }

    fn children(&mut self, node: Node<'a, 'i>, within: &Within<'a>) -> Result<(), DrawingError> {
        for child in node.children().filter(Node::is_element) {
            self.element(child, within)?;
        }
        Ok(())
    }

    fn element(&mut self, node: Node<'a, 'i>, within: &Within<'a>) -> Result<(), DrawingError> {
        self.sink.count_entity()?;
        let tag = node.tag_name().name();
        match tag {
            "defs" | "symbol" | "clipPath" | "mask" | "pattern" | "marker" | "metadata"
            | "title" | "desc" | "linearGradient" | "radialGradient" | "filter" | "script"
            | "namedview" => return Ok(()),
            "style" => {
                let text = node.text().unwrap_or_default();
                if text.contains("display") || text.contains("visibility") {
                    self.sink.leave_out(
                        "style sheet that hides something",
                        "delete what is hidden and export again",
                    );
                }
                return Ok(());
            }
            _ => {}
        }
        if property(node, "display") == Some("none")
            || matches!(property(node, "visibility"), Some("hidden" | "collapse"))
        {
            self.sink.leave_out("hidden element", HIDDEN);
            return Ok(());
        }
        if within.depth >= self.sink.limits.depth {
            return Err(DrawingError::NestedTooDeep {
                name: name_of(node).unwrap_or(tag).chars().take(60).collect(),
                limit: self.sink.limits.depth,
            });
        }
        let paint = |name: &str, inherited: bool| match property(node, name) {
            None | Some("inherit") => inherited,
            Some(value) => !matches!(value, "none" | "transparent"),
        };
        let inside = Within {
            page_from_here: within.page_from_here.after(self.transform(node)?),
            name: name_of(node).or(within.name),
            fill: paint("fill", within.fill),
            stroke: paint("stroke", within.stroke),
            depth: within.depth + 1,
            viewport: within.viewport,
        };
        for cut in ["clip-path", "mask"] {
            if property(node, cut).is_some_and(|v| v != "none") {
                self.sink
                    .leave_out(cut, "apply it to the shape and export again");
            }
        }
        match tag {
            "g" | "a" | "switch" => self.children(node, &inside),
            "svg" => {
                let inside = self.nested(node, node, &inside)?;
                self.children(node, &inside)
            }
            "use" => self.reference(node, &inside),
            "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon" => {
                if !inside.fill && !inside.stroke {
                    self.sink
                        .leave_out("shape with neither fill nor stroke", HIDDEN);
                    return Ok(());
                }
                self.shape(node, &inside)
            }
            "text" | "image" | "foreignObject" => {
                self.sink.leave_out(tag, AS_PATHS);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn transform(&self, node: Node<'_, '_>) -> Result<Affine, DrawingError> {
        let Some(text) = property(node, "transform") else {
            return Ok(Affine::IDENTITY);
        };
        let t: svgtypes::Transform = text.parse().map_err(|_| {
            let shown: String = text.chars().take(60).collect();
            self.sink.broken(
                self.at(node),
                format!("transform {shown:?} cannot be read; export it again"),
            )
        })?;
        Ok(Affine::new(t.a, t.b, t.c, t.d, t.e, t.f))
    }

    /// An `svg` or `symbol` within the drawing, with the sizes that `sized` gives.
    fn nested(
        &self,
        node: Node<'a, 'i>,
        sized: Node<'a, 'i>,
        within: &Within<'a>,
    ) -> Result<Within<'a>, DrawingError> {
        let v = within.viewport;
        let of = |name, whole| self.length_or(sized, name, whole, whole);
        let own = |name, whole| self.length_or(node, name, whole, 0.0);
        let (mut w, mut h) = (of("width", v.width)?, of("height", v.height)?);
        if sized != node {
            w = if sized.has_attribute("width") {
                w
            } else {
                self.length_or(node, "width", v.width, v.width)?
            };
            h = if sized.has_attribute("height") {
                h
            } else {
                self.length_or(node, "height", v.height, v.height)?
            };
        }
        let shift = Affine::shift(own("x", v.width)?, own("y", v.height)?);
        let (here_from_box, viewport) = view::view_box(node, w, h, self.at(node), self.sink)?;
        Ok(Within {
            page_from_here: within.page_from_here.after(shift).after(here_from_box),
            viewport,
            ..*within
        })
    }

    fn reference(&mut self, node: Node<'a, 'i>, within: &Within<'a>) -> Result<(), DrawingError> {
        let href = node
            .attributes()
            .find(|a| a.name() == "href")
            .map(|a| a.value());
        let target = href
            .and_then(|h| h.trim().strip_prefix('#'))
            .and_then(|id| self.ids.get(id).copied());
        let Some(target) = target else {
            self.sink
                .leave_out("reference to nothing in this file", AS_PATHS);
            return Ok(());
        };
        let v = within.viewport;
        let shift = Affine::shift(
            self.length_or(node, "x", v.width, 0.0)?,
            self.length_or(node, "y", v.height, 0.0)?,
        );
        let inside = Within {
            page_from_here: within.page_from_here.after(shift),
            ..*within
        };
        if target.tag_name().name() == "symbol" {
            let inside = self.nested(target, node, &inside)?;
            self.children(target, &inside)
        } else {
            self.element(target, &inside)
        }
    }

    /// An attribute's length in user units; shares are of `whole`.
    fn length_or(
        &self,
        node: Node<'_, '_>,
        name: &str,
        whole: f64,
        or: f64,
    ) -> Result<f64, DrawingError> {
        match node.attribute(name).map(str::trim) {
            None | Some("auto") => Ok(or),
            Some(text) => view::length(text, whole).ok_or_else(|| {
                let shown: String = text.chars().take(40).collect();
                self.sink.broken(
                    self.at(node),
                    format!("{name} is {shown:?}, not a length; export it again"),
                )
            }),
        }
    }
}

/// A presentation attribute, or the same property of the style attribute, which wins.
fn property<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    let styled = node.attribute("style").and_then(|style| {
        style
            .split(';')
            .filter_map(|d| d.split_once(':'))
            .filter(|(key, _)| key.trim() == name)
            .map(|(_, value)| value.trim())
            .next_back()
    });
    styled.or_else(|| node.attribute(name).map(str::trim))
}

/// What the drawing calls it: a label of the drawing program or for readers, a title, or its id.
fn name_of<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    let label = node
        .attributes()
        .find(|a| matches!(a.name(), "label" | "aria-label"))
        .map(|a| a.value());
    let title = || {
        node.children()
            .find(|c| c.tag_name().name() == "title")
            .and_then(|t| t.text())
    };
    let name = label.or_else(title).or_else(|| node.attribute("id"));
    name.map(str::trim).filter(|n| !n.is_empty())
}
