//! A picture of one outline placed on another.

use crate::drawing::Compose;
use crate::fitting::line_narrowed;
use crate::{Align, Drawing, Ink, Item, Path, PressError, Shape, Stroke, width_mm};
use lettering::Face;
use shape::{Bounds, Outline, Point};

/// What the picture shows; all places in the coordinates of the place.
#[derive(Debug, Clone, PartialEq)]
pub struct FitPicture {
    /// What it is called.
    pub title: String,
    /// The result in one line.
    pub summary: String,
    /// The part where it lies.
    pub part: Outline,
    /// The place.
    pub place: Outline,
    /// Where the part overhangs, and by how much, mm.
    pub overhangs: Vec<(Point, f64)>,
    /// Where the place stays open, and by how much, mm.
    pub gaps: Vec<(Point, f64)>,
}

/// What of the part lies outside: a dark red that a copier keeps apart from the grey.
const OVER: Ink = Ink::rgb(190, 40, 30);
/// What of the place stays open.
const OPEN: Ink = Ink::rgb(60, 110, 180);
const COMMON: Ink = Ink::grey(225);

const MARGIN_MM: f64 = 8.0;
const LETTER_MM: f64 = 2.5;
/// Marks beyond this many would hide what they mark.
const MOST_MARKS: usize = 12;

/// Lays the picture out at life size: common area grey, overhang red, gaps blue, the place's edge as a
/// line and the part's as a dashed one, depths in mm beside their places.
///
/// # Errors
/// [`PressError::Length`] for outlines too large for a page.
pub fn lay_out(picture: &FitPicture) -> Result<Drawing, PressError> {
    let both = picture.part.bounds().joined(picture.place.bounds());
    let lines = 3.0 * 2.0 * LETTER_MM;
    let (width, height) = (
        (both.width_mm() + 2.0 * MARGIN_MM).max(60.0),
        both.height_mm() + 2.0 * MARGIN_MM + lines,
    );
    let mut page = Drawing::new(picture.title.clone(), width, height)?;
    let corner = both.min;
    let on_page = move |p: Point| {
        Point::new(
            p.x - corner.x + MARGIN_MM,
            p.y - corner.y + MARGIN_MM + lines,
        )
    };
    page.fill(
        Path::rectangle(Bounds {
            min: Point::default(),
            max: Point::new(width, height),
        }),
        Ink::WHITE,
    );
    let pieces = [
        (
            "common",
            COMMON,
            shape::intersection(&picture.part, &picture.place),
        ),
        (
            "overhang",
            OVER,
            shape::difference(&picture.part, std::slice::from_ref(&picture.place)),
        ),
        (
            "gap",
            OPEN,
            shape::difference(&picture.place, std::slice::from_ref(&picture.part)),
        ),
    ];
    for (id, ink, outlines) in pieces {
        let mut path = Path::default();
        for outline in &outlines {
            path.append(Path::outline(outline).mapped(on_page));
        }
        if !path.steps.is_empty() {
            page.push(named(path, Some(ink), None, id));
        }
    }
    let place = Path::outline(&picture.place).mapped(on_page);
    let thin = Stroke::continuous(width_mm::NARROW, Ink::BLACK);
    page.push(named(place, None, Some(thin), "place"));
    let part = Path::outline(&picture.part).mapped(on_page);
    let dashed = Stroke::dashed(width_mm::FAINT, OVER);
    page.push(named(part, None, Some(dashed), "part"));
    for (list, ink) in [(&picture.overhangs, OVER), (&picture.gaps, OPEN)] {
        for &(at, depth_mm) in list.iter().take(MOST_MARKS) {
            let at = on_page(at);
            let ring = Stroke::continuous(width_mm::NARROW, ink);
            page.stroke(Path::circle(at, 1.0), ring);
            let text = format!("{:.2}", (depth_mm * 100.0 - 1e-9).ceil() / 100.0);
            let beside = at.x < 0.8 * width;
            let (shift, align) = if beside {
                (1.6, Align::Left)
            } else {
                (-1.6, Align::Right)
            };
            let from = Point::new(at.x + shift, at.y - 0.5 * LETTER_MM);
            page.words(&text, Face::Regular, LETTER_MM, from, align, ink);
        }
    }
    let legend = "grey: both; red: overhangs; blue: stays open; full line: place; depths in mm";
    for (k, words) in [picture.title.as_str(), picture.summary.as_str(), legend]
        .into_iter()
        .enumerate()
    {
        let at = Point::new(
            MARGIN_MM,
            lines - (k as f64 + 0.5) * 2.0 * LETTER_MM + 0.5 * MARGIN_MM,
        );
        let room = width - 2.0 * MARGIN_MM;
        let line = line_narrowed(words, Face::Regular, LETTER_MM, room);
        page.text(line, at, Align::Left, Ink::BLACK);
    }
    Ok(page)
}

fn named(path: Path, fill: Option<Ink>, stroke: Option<Stroke>, id: &str) -> Item {
    Item::Shape(Shape {
        path,
        fill,
        stroke,
        id: Some(id.to_owned()),
        title: None,
    })
}
