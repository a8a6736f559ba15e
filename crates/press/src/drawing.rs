//! The display list: what a page shows, before any file format.

use crate::Step;
use crate::{Ink, Path, PressError, Stroke};
use lettering::{Face, PathStep, SetLine};
use shape::{Bounds, Point};
use std::sync::Arc;

/// Smallest and largest side of a page, mm. PDF readers stop at 14,400 units of 1/72 in = 5,080 mm.
const PAGE_LIMITS_MM: (f64, f64) = (10.0, 5_080.0);

/// A page: its size and what it shows, later items over earlier ones. Coordinates in mm from the
/// page's lower-left corner, x right, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What the page is called; becomes the title of an SVG.
    pub title: String,
    /// Width of the page, mm.
    pub width_mm: f64,
    /// Height of the page, mm.
    pub height_mm: f64,
    /// Where it is cut and how far its ink reaches, for a print shop; `None` for a page that is used as it is.
    pub trim: Option<Trim>,
    /// What it shows.
    pub items: Vec<Item>,
}

/// Where a printed page is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trim {
    /// The finished sheet on the page, mm.
    pub sheet: Bounds,
    /// How far ink reaches beyond the cut, mm.
    pub bleed_mm: f64,
}

/// Something on a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A path, filled, stroked or both.
    Shape(Shape),
    /// A line of text.
    Text(Text),
    /// A picture.
    Picture(Picture),
    /// Items that are carried, clipped or faded together.
    Group(Group),
}

impl Item {
    /// Something of the item may show in the box: a line of a path, the box of a text or picture.
    pub(crate) fn touches(&self, b: Bounds) -> bool {
        match self {
            Self::Shape(shape) => shape.path.lines_touch(b),
            other => other.bounds().is_some_and(|own| own.distance_mm(b) <= 0.0),
        }
    }

    /// A box that holds what shows of the item, its line's width included; `None` for nothing.
    pub fn bounds(&self) -> Option<Bounds> {
        match self {
            Self::Shape(shape) => {
                let half_mm = shape.stroke.as_ref().map_or(0.0, |s| 0.5 * s.width_mm);
                // Sharp corners reach beyond half the line's width, by the miter limit of 4.
                let corners = shape.path.steps.len() > 2;
                let reach = if corners { 4.0 } else { 1.0 };
                Some(shape.path.bounds()?.grown(reach * half_mm))
            }
            Self::Text(text) => {
                let (w, line) = (text.line.width_mm, &text.line);
                let place = Affine::turned(text.turn_deg, text.at);
                let corners = [(0.0, -line.descent_mm), (w, line.ascent_mm)];
                let [(x0, y0), (x1, y1)] = corners;
                let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)];
                Bounds::around(corners.map(|(x, y)| place.apply(Point::new(x, y))))
            }
            Self::Picture(picture) => {
                let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
                let place = picture.page_from_unit;
                Bounds::around(corners.map(|(x, y)| place.apply(Point::new(x, y))))
            }
            Self::Group(group) => {
                let inside = group.items.iter().filter_map(Self::bounds);
                let inside = inside.reduce(Bounds::joined)?;
                let edge = Path::rectangle(inside).mapped(|p| group.outer_from_inner.apply(p));
                edge.bounds()
            }
        }
    }
}

/// A path with its inks.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// The path, mm.
    pub path: Path,
    /// Fill, by the even-odd rule.
    pub fill: Option<Ink>,
    /// Line along the path, its width to both sides in halves.
    pub stroke: Option<Stroke>,
    /// Names the path in formats that can (SVG).
    pub id: Option<String>,
    /// Says what it is in formats that can (SVG).
    pub title: Option<String>,
}

/// A set line of text on the page.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// The line.
    pub line: SetLine,
    /// Where its first pen position lies.
    pub at: Point,
    /// Turn about that position, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Its colour.
    pub ink: Ink,
}

impl Text {
    /// The letters as one path on the page, to be filled by winding.
    pub(crate) fn letters(&self) -> Path {
        let line = &self.line;
        let page_from_line = Affine::turned(self.turn_deg, self.at);
        let mut path = Path::default();
        for glyph in &line.glyphs {
            let at = |p: [f64; 2]| {
                page_from_line.apply(Point::new(p[0] + glyph.x_mm, p[1] + glyph.y_mm))
            };
            for step in lettering::outline_glyph(line.face, glyph.id, line.cap_height_mm) {
                path.steps.push(match step {
                    PathStep::Move(p) => Step::Move(at(p)),
                    PathStep::Line(p) => Step::Line(at(p)),
                    PathStep::Quad(c, p) => Step::Quad(at(c), at(p)),
                    PathStep::Cubic(c, d, p) => Step::Cubic(at(c), at(d), at(p)),
                    PathStep::Close => Step::Close,
                });
            }
        }
        path
    }
}

/// Pixels on the page: rows from the top, RGBA with straight alpha, sRGB.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// `width_px * height_px * 4` bytes.
    pub rgba: Arc<[u8]>,
    /// Carries the unit square (0, 0 lower left, 1, 1 upper right) to where the picture lies, mm.
    pub page_from_unit: Affine,
}

/// Items that are carried, clipped or faded together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Carries the items' coordinates to the page's (or to the outer group's).
    pub outer_from_inner: Affine,
    /// Only what lies inside shows (even-odd rule); in the inner coordinates.
    pub clip: Option<Path>,
    /// 0 clear to 1 solid, for the group as a whole.
    pub opacity: f64,
    /// Names the group in formats that can (SVG).
    pub id: Option<String>,
    /// What it holds.
    pub items: Vec<Item>,
}

/// An affine map: `x' = xx x + xy y + x0`, `y' = yx x + yy y + y0`.
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(missing_docs, reason = "the formula above says it")]
pub struct Affine {
    pub xx: f64,
    pub xy: f64,
    pub x0: f64,
    pub yx: f64,
    pub yy: f64,
    pub y0: f64,
}

impl Affine {
    /// Leaves every point where it is.
    pub const IDENTITY: Self = Self::scaled(1.0, 1.0, Point::new(0.0, 0.0));

    /// A scale along each axis, then a shift by the point's coordinates.
    pub const fn scaled(sx: f64, sy: f64, shift: Point) -> Self {
        Self {
            xx: sx,
            xy: 0.0,
            x0: shift.x,
            yx: 0.0,
            yy: sy,
            y0: shift.y,
        }
    }

    /// A shift by the point's coordinates.
    pub const fn shifted(shift: Point) -> Self {
        Self::scaled(1.0, 1.0, shift)
    }

    /// A turn about the origin, degrees counter-clockwise, then a shift.
    pub fn turned(turn_deg: f64, shift: Point) -> Self {
        let pose = shape::Pose::new(0.0, 0.0, turn_deg);
        let x = pose.apply(Point::new(1.0, 0.0));
        Self {
            xx: x.x,
            xy: -x.y,
            x0: shift.x,
            yx: x.y,
            yy: x.x,
            y0: shift.y,
        }
    }

    /// Carries a point.
    pub fn apply(self, p: Point) -> Point {
        Point::new(
            self.xx * p.x + self.xy * p.y + self.x0,
            self.yx * p.x + self.yy * p.y + self.y0,
        )
    }

    /// First `inner`, then this.
    pub fn after(self, inner: Self) -> Self {
        let origin = self.apply(Point::new(inner.x0, inner.y0));
        Self {
            xx: self.xx * inner.xx + self.xy * inner.yx,
            xy: self.xx * inner.xy + self.xy * inner.yy,
            x0: origin.x,
            yx: self.yx * inner.xx + self.yy * inner.yx,
            yy: self.yx * inner.xy + self.yy * inner.yy,
            y0: origin.y,
        }
    }
}

/// Which point of a line of text lies at the place that is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Its start.
    Left,
    /// Its middle.
    Centre,
    /// Its end.
    Right,
}

/// A text of which its face lacks letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissingLetters {
    /// The text.
    pub text: String,
    /// The letters that are not there.
    pub letters: String,
}

/// Adds the texts among items, and in their groups, whose letters are not all there.
pub(crate) fn add_missing(items: &[Item], found: &mut Vec<MissingLetters>) {
    for item in items {
        match item {
            Item::Text(text) if !text.line.missing.is_empty() => {
                let missing = MissingLetters {
                    text: text.line.text.clone(),
                    letters: text.line.missing.iter().collect(),
                };
                if !found.contains(&missing) {
                    found.push(missing);
                }
            }
            Item::Group(group) => add_missing(&group.items, found),
            _ => {}
        }
    }
}

impl Drawing {
    /// An empty page.
    ///
    /// # Errors
    /// [`PressError::Length`] for a side that is not 10 to 5,080 mm.
    pub fn new(
        title: impl Into<String>,
        width_mm: f64,
        height_mm: f64,
    ) -> Result<Self, PressError> {
        let (least_mm, most_mm) = PAGE_LIMITS_MM;
        for (what, found_mm) in [
            ("the page's width", width_mm),
            ("the page's height", height_mm),
        ] {
            if !(least_mm..=most_mm).contains(&found_mm) {
                return Err(PressError::Length {
                    what,
                    found_mm,
                    least_mm,
                    most_mm,
                });
            }
        }
        Ok(Self {
            title: title.into(),
            width_mm,
            height_mm,
            trim: None,
            items: Vec::new(),
        })
    }

    /// The texts of which a face lacks letters, so that they print as empty boxes; each once.
    pub fn missing_letters(&self) -> Vec<MissingLetters> {
        let mut found = Vec::new();
        add_missing(&self.items, &mut found);
        found
    }

    /// The page as a box.
    pub fn page(&self) -> Bounds {
        Bounds {
            min: Point::default(),
            max: Point::new(self.width_mm, self.height_mm),
        }
    }
}

/// Shorthand for what pages are composed of.
pub(crate) trait Compose {
    fn push(&mut self, item: Item);

    fn fill(&mut self, path: Path, ink: Ink) {
        self.push(Item::Shape(Shape {
            path,
            fill: Some(ink),
            stroke: None,
            id: None,
            title: None,
        }));
    }

    fn stroke(&mut self, path: Path, stroke: Stroke) {
        self.push(Item::Shape(Shape {
            path,
            fill: None,
            stroke: Some(stroke),
            id: None,
            title: None,
        }));
    }

    fn text(&mut self, line: SetLine, at: Point, align: Align, ink: Ink) {
        self.turned_text(line, at, align, 0.0, ink);
    }

    fn turned_text(&mut self, line: SetLine, at: Point, align: Align, turn_deg: f64, ink: Ink) {
        let back_mm = match align {
            Align::Left => 0.0,
            Align::Centre => 0.5 * line.width_mm,
            Align::Right => line.width_mm,
        };
        let at = Affine::turned(turn_deg, at).apply(Point::new(-back_mm, 0.0));
        self.push(Item::Text(Text {
            line,
            at,
            turn_deg,
            ink,
        }));
    }

    /// A line of words that the program itself writes.
    fn words(&mut self, words: &str, face: Face, cap_mm: f64, at: Point, align: Align, ink: Ink) {
        self.text(lettering::set_line(words, face, cap_mm), at, align, ink);
    }
}

impl Compose for Drawing {
    fn push(&mut self, item: Item) {
        self.items.push(item);
    }
}

impl Compose for Vec<Item> {
    fn push(&mut self, item: Item) {
        self.push(item);
    }
}
