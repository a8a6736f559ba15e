//! What pages printed at 1:1 on office paper have in common: a head with names, and at the foot a bar along each axis.

use crate::drawing::{Align, Compose};
use crate::fitting::{draw_within, lines_in};
use crate::scale_bar::{Axis, bar_mm, draw_scale_bar};
use crate::words::filled;
use crate::{
    Drawing, Group, Ink, Item, Paper, Path, PressError, PrinterCorrection, Speech, Stroke, width_mm,
};
use lettering::Face;
use shape::{Bounds, Point};

/// What printers leave white, mm (common practice, no source).
const EDGE_MM: f64 = 5.0;

/// Heights of capitals, mm (ISO 3098).
pub(crate) const SMALL_MM: f64 = 2.5;
const NAME_MM: f64 = 3.5;

/// Grey of words that only explain.
pub(crate) const QUIET: Ink = Ink::grey(90);

/// Heads of the pages of one sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Head<'a> {
    /// The piece's name.
    pub(crate) piece: &'a str,
    /// What the sheet is, as within a sentence.
    pub(crate) sheet: &'a str,
    /// What to do with it, in a sentence or two.
    pub(crate) what_to_do: &'a str,
    /// In which language and units.
    pub(crate) speech: Speech,
}

/// A word as at the head of a page.
fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

/// The stretch of a page that is left for content.
pub(crate) fn content_of(size_mm: [f64; 2]) -> Bounds {
    let [w, h] = size_mm;
    Bounds {
        min: Point::new(EDGE_MM + 11.0, EDGE_MM + 13.0),
        max: Point::new(w - EDGE_MM - 5.0, h - EDGE_MM - 22.0),
    }
}

/// The least of the papers, from the wanted one up, whose content area holds a box; it may be turned on its side.
fn paper_for(wanted: &Paper, [w, h]: [f64; 2], what: &str) -> Result<[f64; 2], PressError> {
    let larger = Paper::LARGE.into_iter().chain([Paper::A3]);
    let mut papers: Vec<Paper> = larger
        .filter(|p| p.size_mm[0] * p.size_mm[1] > wanted.size_mm[0] * wanted.size_mm[1])
        .collect();
    papers.push(wanted.clone());
    papers.sort_by(|a, b| (a.size_mm[0] * a.size_mm[1]).total_cmp(&(b.size_mm[0] * b.size_mm[1])));
    for paper in &papers {
        let [pw, ph] = paper.size_mm;
        for size in [[pw, ph], [ph, pw]] {
            let room = content_of(size);
            if w <= room.width_mm() && h <= room.height_mm() {
                return Ok(size);
            }
        }
    }
    Err(PressError::DoesNotFit {
        what: what.to_owned(),
        width_mm: w,
        height_mm: h,
        paper: papers
            .last()
            .map_or_else(String::new, |p| p.name.to_string()),
    })
}

/// Makes a page of content that is drawn in the page's own coordinates, within [`content_of`] its size.
pub(crate) fn page(
    head: Head<'_>,
    [index, count]: [usize; 2],
    size_mm: [f64; 2],
    content: Vec<Item>,
    correction: PrinterCorrection,
) -> Result<Drawing, PressError> {
    let [w, h] = size_mm;
    let mut items = Vec::new();
    let (left, right) = (EDGE_MM + 11.0, w - EDGE_MM - 5.0);
    let top = h - EDGE_MM - 4.0;
    let number = filled(
        head.speech.sheets().page_of,
        &[&(index + 1).to_string(), &count.to_string()],
    );
    let number = lettering::set_line(&number, Face::Regular, SMALL_MM);
    let name_room = right - left - number.width_mm - 6.0;
    let at = Point::new(right, top - NAME_MM);
    if count > 1 {
        items.text(number, at, Align::Right, QUIET);
    }
    let name = lettering::set_line(&capitalised(head.sheet), Face::SemiBold, NAME_MM);
    let name_mm = name.width_mm;
    items.text(
        name,
        Point::new(left, top - NAME_MM),
        Align::Left,
        Ink::BLACK,
    );
    draw_within(
        &mut items,
        (head.piece, Face::Regular, NAME_MM),
        Point::new(left + name_mm + 3.0, top - NAME_MM),
        name_room - name_mm - 3.0,
        Ink::BLACK,
    );
    let rule = Path::line(Point::new(left, top - 6.0), Point::new(right, top - 6.0));
    items.stroke(rule, Stroke::continuous(width_mm::MEDIUM, Ink::BLACK));
    for (down, line) in lines_in(head.what_to_do, SMALL_MM, [right - left, 7.0]) {
        let y = top - 6.0 - 2.0 - down;
        items.text(line, Point::new(left, y), Align::Left, QUIET);
    }
    items.extend(content);
    draw_foot(&mut items, [left, right], h, correction, head.speech);
    let title = format!("{}, {}", head.piece, head.sheet);
    let mut page = Drawing::new(title, w, h)?;
    page.items = if correction.is_none() {
        items
    } else {
        vec![Item::Group(Group {
            outer_from_inner: correction.page_from_content(size_mm),
            clip: None,
            opacity: 1.0,
            id: None,
            items,
        })]
    };
    Ok(page)
}

fn draw_foot(
    items: &mut Vec<Item>,
    [left, right]: [f64; 2],
    h: f64,
    correction: PrinterCorrection,
    speech: Speech,
) {
    let bar_mm = bar_mm(speech.units);
    let foot = EDGE_MM + 3.0;
    let bar = Point::new(right - bar_mm, foot);
    draw_scale_bar(items, bar, Axis::Horizontal, speech, SMALL_MM);
    let up = Point::new(EDGE_MM + 2.2, 0.5 * (h - bar_mm));
    draw_scale_bar(items, up, Axis::Vertical, speech, SMALL_MM);
    let said = correction.printing_in_words(speech);
    let room = right - left - bar_mm - 5.0;
    // Its middle is level with the bar's.
    let lines = lines_in(&said, SMALL_MM, [room, 10.0]);
    let top = foot + 0.5 * lines.last().map_or(0.0, |(down, _)| *down);
    for (down, line) in lines {
        items.text(line, Point::new(left, top - down), Align::Left, QUIET);
    }
}

/// Boxes collected on pages, in their order: all that fit on pages of one size lie on those, larger ones on larger paper.
pub(crate) struct BoxPages<'a> {
    paper: &'a Paper,
    sizes: Vec<PagesOfSize>,
}

struct PagesOfSize {
    size_mm: [f64; 2],
    shelves: Shelves,
    pages: Vec<Vec<Item>>,
}

/// Between two boxes, mm.
const BOX_GAP_MM: f64 = 6.0;

impl<'a> BoxPages<'a> {
    /// No pages yet; `paper` is what is taken where a box fits on it.
    pub(crate) fn on(paper: &'a Paper) -> Self {
        Self {
            paper,
            sizes: Vec::new(),
        }
    }

    /// The page and the box for the next thing of that size; `what` names it where no paper holds it.
    pub(crate) fn next(
        &mut self,
        size: [f64; 2],
        what: &str,
    ) -> Result<(&mut Vec<Item>, Bounds), PressError> {
        let size_mm = paper_for(self.paper, size, what)?;
        let at = match self.sizes.iter().position(|s| s.size_mm == size_mm) {
            Some(at) => at,
            None => {
                self.sizes.push(PagesOfSize {
                    size_mm,
                    shelves: Shelves::new(content_of(size_mm), BOX_GAP_MM),
                    pages: Vec::new(),
                });
                self.sizes.len() - 1
            }
        };
        let PagesOfSize { shelves, pages, .. } = &mut self.sizes[at];
        let (n, place) = shelves.next(size);
        if pages.len() <= n {
            pages.resize_with(n + 1, Vec::new);
        }
        Ok((&mut pages[n], place))
    }

    /// All pages with their heads and bars.
    pub(crate) fn drawn(
        self,
        head: Head<'_>,
        correction: PrinterCorrection,
    ) -> Result<Vec<Drawing>, PressError> {
        let count = self.sizes.iter().map(|s| s.pages.len()).sum();
        self.sizes
            .into_iter()
            .flat_map(|s| s.pages.into_iter().map(move |items| (s.size_mm, items)))
            .enumerate()
            .map(|(n, (size, items))| page(head, [n, count], size, items, correction))
            .collect()
    }
}

/// Where boxes go on pages of one size: in rows from the upper left, in their order.
pub(crate) struct Shelves {
    room: Bounds,
    at: Point,
    row_mm: f64,
    gap_mm: f64,
    page: usize,
}

impl Shelves {
    pub(crate) fn new(room: Bounds, gap_mm: f64) -> Self {
        Self {
            room,
            at: Point::new(room.min.x, room.max.y),
            row_mm: 0.0,
            gap_mm,
            page: 0,
        }
    }

    /// The page and the box for the next thing of that size.
    pub(crate) fn next(&mut self, [w, h]: [f64; 2]) -> (usize, Bounds) {
        if self.at.x + w > self.room.max.x + 1e-9 && self.at.x > self.room.min.x {
            self.at = Point::new(self.room.min.x, self.at.y - self.row_mm - self.gap_mm);
            self.row_mm = 0.0;
        }
        if self.at.y - h < self.room.min.y - 1e-9 && self.at.y < self.room.max.y {
            self.page += 1;
            self.at = Point::new(self.room.min.x, self.room.max.y);
            self.row_mm = 0.0;
        }
        let place = Bounds {
            min: Point::new(self.at.x, self.at.y - h),
            max: Point::new(self.at.x + w, self.at.y),
        };
        self.at = Point::new(self.at.x + w + self.gap_mm, self.at.y);
        self.row_mm = self.row_mm.max(h);
        (self.page, place)
    }
}
