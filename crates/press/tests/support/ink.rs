//! What shows of a drawing, item by item, on the page.

#![allow(dead_code, reason = "each test file uses its share")]

use lettering::PathStep;
use press::{Affine, Drawing, Item, Path, Step};
use shape::{Bounds, Point};

/// Every shape, text and picture with the map that carries it to the page; groups dissolved.
pub fn leaves(drawing: &Drawing) -> Vec<(&Item, Affine)> {
    fn gather<'a>(items: &'a [Item], at: Affine, found: &mut Vec<(&'a Item, Affine)>) {
        for item in items {
            match item {
                Item::Group(g) => gather(&g.items, at.after(g.outer_from_inner), found),
                other => found.push((other, at)),
            }
        }
    }
    let mut found = Vec::new();
    gather(&drawing.items, Affine::IDENTITY, &mut found);
    found
}

/// The box of an item on the page; of a text the box of its letters.
pub fn bounds(item: &Item, at: Affine) -> Option<Bounds> {
    if let Item::Text(t) = item {
        let place = at.after(Affine::turned(t.turn_deg, t.at));
        let points = t.line.glyphs.iter().flat_map(|g| {
            lettering::outline_glyph(t.line.face, g.id, t.line.cap_height_mm)
                .into_iter()
                .flat_map(|step| match step {
                    PathStep::Move(p) | PathStep::Line(p) => vec![p],
                    PathStep::Quad(c, p) => vec![c, p],
                    PathStep::Cubic(c, d, p) => vec![c, d, p],
                    PathStep::Close => vec![],
                })
                .map(|[x, y]| place.apply(Point::new(x + g.x_mm, y + g.y_mm)))
        });
        return Bounds::around(points);
    }
    Path::rectangle(item.bounds()?)
        .mapped(|p| at.apply(p))
        .bounds()
}

/// The straight strokes of two points on the page.
pub fn lines(drawing: &Drawing) -> Vec<(Point, Point)> {
    leaves(drawing)
        .into_iter()
        .filter_map(|(item, at)| match item {
            Item::Shape(s) if s.stroke.is_some() => match s.path.steps.as_slice() {
                [Step::Move(a), Step::Line(b)] => Some((at.apply(*a), at.apply(*b))),
                _ => None,
            },
            _ => None,
        })
        .collect()
}

/// Lengths of the bars of 100 mm or 4 in between the middles of their end ticks: horizontal, vertical.
///
/// The end ticks are the only lines of 3.2 mm that share one height (or one place across) with a
/// partner near 100 mm away.
pub fn bar_lengths(drawing: &Drawing) -> (Vec<f64>, Vec<f64>) {
    let near = |v: f64, wish: f64, by: f64| (v - wish).abs() <= by;
    let ticks: Vec<(Point, bool)> = lines(drawing)
        .into_iter()
        .filter_map(|(a, b)| {
            let d = b - a;
            let upright = near(d.x.abs(), 0.0, 1e-9) && near(d.y.abs(), 3.2, 0.04);
            let level = near(d.y.abs(), 0.0, 1e-9) && near(d.x.abs(), 3.2, 0.04);
            (upright || level).then(|| (a.lerp(b, 0.5), upright))
        })
        .collect();
    let mut found = (Vec::new(), Vec::new());
    for (i, &(a, upright)) in ticks.iter().enumerate() {
        for &(b, other) in &ticks[i + 1..] {
            if upright != other {
                continue;
            }
            let (along, across) = if upright {
                (b.x - a.x, b.y - a.y)
            } else {
                (b.y - a.y, b.x - a.x)
            };
            if near(along.abs(), 100.0, 2.0) && near(across, 0.0, 1e-9) {
                if upright { &mut found.0 } else { &mut found.1 }.push(along.abs());
            }
        }
    }
    found
}

/// Everything that texts of a drawing say.
pub fn words(drawing: &Drawing) -> Vec<String> {
    leaves(drawing)
        .into_iter()
        .filter_map(|(item, _)| match item {
            Item::Text(t) => Some(t.line.text.clone()),
            _ => None,
        })
        .collect()
}
