//! Cover, contents and the foot of a page.

use super::flow::{ACCENT, BODY_MM, INK, LEFT_MM, QUIET, RIGHT_MM, RULE, SMALL_MM, broken};
use crate::drawing::{Align, Compose};
use crate::fitting::line_within;
use crate::guide::Guide;
use crate::{Affine, Bookmark, Item, Path, Picture, Stroke};
use lettering::{Face, set_line};
use shape::Point;

/// Title, what it is, the preview, and the facts at the foot.
pub(super) fn draw(
    items: &mut Vec<Item>,
    guide: &Guide,
    cover: Option<&Picture>,
    [w, h]: [f64; 2],
) {
    let (left, right) = (LEFT_MM, w - RIGHT_MM);
    let room = right - left;
    let mut y = h - 30.0;
    let kind = set_line(&guide.kind, Face::Medium, 2.8);
    items.text(kind, Point::new(left, y), Align::Left, ACCENT);
    y -= 4.5;
    for line in broken(&guide.plaque.title, Face::SemiBold, 9.0, room)
        .into_iter()
        .take(3)
    {
        y -= 10.5;
        items.text(line, Point::new(left, y), Align::Left, INK);
        y -= 3.2;
    }
    if !guide.plaque.about.is_empty() {
        y -= 4.6;
        let line = line_within(&guide.plaque.about, Face::Regular, 3.2, room);
        items.text(line, Point::new(left, y), Align::Left, QUIET);
    }
    let foot = 46.0;
    if let Some(picture) = cover {
        let (pw, ph) = (f64::from(picture.width_px), f64::from(picture.height_px));
        let (top, bottom) = (y - 10.0, foot + 12.0);
        let scale = (room / pw).min((top - bottom) / ph);
        let (pw, ph) = (scale * pw, scale * ph);
        let corner = Point::new(left + 0.5 * (room - pw), bottom + 0.5 * (top - bottom - ph));
        items.push(Item::Picture(Picture {
            page_from_unit: Affine::scaled(pw, ph, corner),
            ..picture.clone()
        }));
    }
    items.stroke(
        Path::line(Point::new(left, foot), Point::new(right, foot)),
        Stroke::continuous(0.35, ACCENT),
    );
    // Each fact as wide as it is; what is over goes between them.
    let set: Vec<_> = guide
        .facts
        .iter()
        .map(|[label, value]| {
            let label = line_within(label, Face::Regular, SMALL_MM, 0.5 * room);
            let value = line_within(value, Face::Medium, 2.7, 0.5 * room);
            (label, value)
        })
        .collect();
    let wide: f64 = set.iter().map(|(l, v)| l.width_mm.max(v.width_mm)).sum();
    let gap = ((room - wide) / (set.len().max(2) - 1) as f64).max(2.0);
    let mut x = left;
    for (label, value) in set {
        let own = label.width_mm.max(value.width_mm);
        items.text(label, Point::new(x, foot - 6.0), Align::Left, QUIET);
        items.text(value, Point::new(x, foot - 12.0), Align::Left, INK);
        x += own + gap;
    }
}

/// Chapters with their pages.
pub(super) fn draw_contents(
    items: &mut Vec<Item>,
    title: &str,
    bookmarks: &[Bookmark],
    [w, h]: [f64; 2],
) {
    let (left, right) = (LEFT_MM, w - RIGHT_MM);
    let mut y = h - 22.0;
    items.stroke(
        Path::line(Point::new(left, y), Point::new(right, y)),
        Stroke::continuous(0.35, ACCENT),
    );
    y -= 4.2 + 5.6;
    let line = set_line(title, Face::SemiBold, 5.6);
    items.text(line, Point::new(left, y), Align::Left, INK);
    y -= 8.0;
    for mark in bookmarks.iter().filter(|b| b.level == 0) {
        y -= 8.2;
        if y < 30.0 {
            break;
        }
        let number = set_line(&(mark.page + 1).to_string(), Face::Regular, BODY_MM + 0.4);
        let room = right - left - number.width_mm - 6.0;
        let name = line_within(&mark.title, Face::Regular, BODY_MM + 0.4, room);
        let from = left + name.width_mm + 3.0;
        let to = right - number.width_mm - 3.0;
        items.text(name, Point::new(left, y), Align::Left, INK);
        items.text(number, Point::new(right, y), Align::Right, INK);
        if to > from {
            let dots = Stroke {
                dash_mm: vec![0.3, 1.5],
                ..Stroke::continuous(0.3, RULE)
            };
            items.stroke(Path::line(Point::new(from, y), Point::new(to, y)), dots);
        }
    }
}

/// The piece's name to the left, the page's number to the right.
pub(super) fn draw_foot(items: &mut Vec<Item>, name: &str, number: &str, [w, _]: [f64; 2]) {
    let y = 13.0;
    let number = set_line(number, Face::Regular, SMALL_MM);
    let room = w - LEFT_MM - RIGHT_MM - number.width_mm - 8.0;
    let name = line_within(name, Face::Regular, SMALL_MM, room);
    items.text(name, Point::new(LEFT_MM, y), Align::Left, QUIET);
    items.text(number, Point::new(w - RIGHT_MM, y), Align::Right, QUIET);
}
