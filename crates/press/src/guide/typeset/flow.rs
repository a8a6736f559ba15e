//! Pages that fill from the top.

use crate::drawing::{Align, Compose};
use crate::{Bookmark, Ink, Item, Path, Stroke};
use lettering::{Face, SetLine, break_lines};
use shape::{Bounds, Point};

/// Margins of a page, mm: inner text is 60 to 75 letters wide beside a picture (common practice, no source).
pub(super) const LEFT_MM: f64 = 24.0;
pub(super) const RIGHT_MM: f64 = 20.0;
const TOP_MM: f64 = 22.0;
const BOTTOM_MM: f64 = 24.0;

/// Heights of capitals, mm.
pub(super) const BODY_MM: f64 = 2.35;
pub(super) const SMALL_MM: f64 = 2.0;
pub(super) const HEAD_MM: f64 = 3.0;
pub(super) const CHAPTER_MM: f64 = 5.6;

/// White above a chapter's title, and the least that must be left of a page for it and what comes first, mm.
const BEFORE_CHAPTER_MM: f64 = 13.0;
const LEAST_OF_CHAPTER_MM: f64 = 78.0;

/// From one baseline to the next as a multiple of the capitals' height.
pub(super) const PITCH: f64 = 2.05;

/// Colours of the document.
pub(super) const INK: Ink = Ink::rgb(36, 33, 30);
pub(super) const QUIET: Ink = Ink::rgb(98, 92, 86);
pub(super) const RULE: Ink = Ink::rgb(190, 182, 172);
pub(super) const ACCENT: Ink = Ink::rgb(148, 62, 34);
pub(super) const TINT: Ink = Ink::rgb(251, 244, 233);

/// Things that are drawn from a top edge downwards, with the height that they take.
#[derive(Debug, Default)]
pub(super) struct Set {
    pub(super) items: Vec<Item>,
    pub(super) height_mm: f64,
}

impl Set {
    /// Adds lines below what is there, its left edge at `x`; y counts down from 0.
    pub(super) fn lines(&mut self, lines: Vec<SetLine>, x: f64, ink: Ink) {
        for line in lines {
            let cap = line.cap_height_mm;
            let y = -self.height_mm - cap;
            self.items.text(line, Point::new(x, y), Align::Left, ink);
            self.height_mm += PITCH * cap;
        }
    }

    /// Adds white.
    pub(super) fn space(&mut self, mm: f64) {
        self.height_mm += mm;
    }

    /// Words broken to a width.
    pub(super) fn words(&mut self, text: &str, face: Face, cap: f64, x: f64, width: f64, ink: Ink) {
        self.lines(broken(text, face, cap, width), x, ink);
    }
}

/// Breaks words so that no line is left with a single short word: the paragraph is set a little narrower until its
/// last line has company.
pub(super) fn broken(text: &str, face: Face, cap: f64, width: f64) -> Vec<SetLine> {
    let lines = break_lines(text, face, cap, width);
    let lonely = |lines: &[SetLine]| {
        lines.len() > 1
            && lines
                .last()
                .is_some_and(|l| !l.text.contains(' ') || l.width_mm < 0.14 * width)
    };
    if !lonely(&lines) || text.contains('\n') {
        return lines;
    }
    for share in [0.97, 0.94, 0.91, 0.88, 0.85] {
        let narrower = break_lines(text, face, cap, share * width);
        if narrower.len() == lines.len() && !lonely(&narrower) {
            return narrower;
        }
    }
    lines
}

/// The pages so far.
pub(super) struct Flow {
    size_mm: [f64; 2],
    pages: Vec<Vec<Item>>,
    /// Where the next thing's upper edge goes.
    y: f64,
    bookmarks: Vec<Bookmark>,
}

impl Flow {
    pub(super) fn new(size_mm: [f64; 2]) -> Self {
        Self {
            size_mm,
            pages: Vec::new(),
            y: 0.0,
            bookmarks: Vec::new(),
        }
    }

    /// Width of the text, mm.
    pub(super) fn width_mm(&self) -> f64 {
        self.size_mm[0] - LEFT_MM - RIGHT_MM
    }

    pub(super) fn start_page(&mut self) {
        self.pages.push(Vec::new());
        self.y = self.top();
    }

    fn top(&self) -> f64 {
        self.size_mm[1] - TOP_MM
    }

    /// What is left of the page, mm.
    pub(super) fn left_mm(&self) -> f64 {
        self.y - BOTTOM_MM
    }

    /// Height of an empty page, mm.
    pub(super) fn page_mm(&self) -> f64 {
        self.top() - BOTTOM_MM
    }

    pub(super) fn at_top(&self) -> bool {
        self.y >= self.top() - 1e-9
    }

    /// Puts something on the page, on the next one where it does not fit.
    pub(super) fn put(&mut self, set: Set) {
        if set.height_mm > self.left_mm() && !self.at_top() {
            self.start_page();
        }
        let shift = crate::Affine::shifted(Point::new(LEFT_MM, self.y));
        let moved = set.items.into_iter().map(|item| moved(item, shift));
        if let Some(page) = self.pages.last_mut() {
            page.extend(moved);
        }
        self.y -= set.height_mm;
    }

    /// Puts things that follow each other, such as the points of a list or the rows of a table: where a page ends, two stay
    /// together on either side of it. `head` stands again at the top of each further page.
    pub(super) fn put_all(&mut self, sets: Vec<Set>, head: impl Fn() -> Option<Set>) {
        let heights: Vec<f64> = sets.iter().map(|s| s.height_mm).collect();
        let count = sets.len();
        for (n, set) in sets.into_iter().enumerate() {
            // The first stands with the second, and the last but one with the last.
            let with = if n == 0 || n + 2 == count { 2 } else { 1 };
            let needed: f64 = heights.iter().skip(n).take(with).sum();
            // Of three the middle one stands with both.
            let needed = if n == 0 && count == 3 {
                heights.iter().sum()
            } else {
                needed
            };
            if needed > self.left_mm() && !self.at_top() {
                self.start_page();
                if n > 0
                    && let Some(head) = head()
                {
                    self.put(head);
                }
            }
            self.put(set);
        }
    }

    /// White between blocks, none at a page's top.
    pub(super) fn space(&mut self, mm: f64) {
        if !self.at_top() {
            self.y -= mm;
        }
    }

    /// Begins a new page where less than that is left.
    pub(super) fn keep(&mut self, mm: f64) {
        if self.left_mm() < mm && !self.at_top() {
            self.start_page();
        }
    }

    pub(super) fn mark(&mut self, level: usize, title: &str) {
        self.bookmarks.push(Bookmark {
            level,
            title: title.to_owned(),
            page: self.pages.len().saturating_sub(1),
            y_mm: self.y + 4.0,
        });
    }

    /// Begins a chapter, on a new page where its title would stand there without what comes first, which is so tall.
    pub(super) fn chapter(&mut self, title: &str, first_mm: f64) {
        let width = self.width_mm();
        let mut set = Set::default();
        set.items.stroke(
            Path::line(Point::new(0.0, 0.0), Point::new(width, 0.0)),
            Stroke::continuous(0.35, ACCENT),
        );
        set.space(4.2);
        set.words(title, Face::SemiBold, CHAPTER_MM, 0.0, width, INK);
        set.space(1.5);
        // The first chapter leaves cover and contents behind.
        if self.pages.len() <= 2 {
            self.start_page();
        }
        self.keep(LEAST_OF_CHAPTER_MM.max(BEFORE_CHAPTER_MM + set.height_mm + first_mm));
        self.space(BEFORE_CHAPTER_MM);
        self.mark(0, title);
        self.put(set);
    }

    pub(super) fn finish(self) -> (Vec<Vec<Item>>, Vec<Bookmark>) {
        (self.pages, self.bookmarks)
    }
}

/// An item carried to its place; text is moved itself, so that what reads the page finds it.
pub(super) fn moved(item: Item, shift: crate::Affine) -> Item {
    let by = shape::Vector::new(shift.x0, shift.y0);
    match item {
        Item::Text(text) => Item::Text(crate::Text {
            at: text.at + by,
            ..text
        }),
        Item::Shape(shape) => Item::Shape(crate::Shape {
            path: shape.path.shifted(by),
            ..shape
        }),
        other => Item::Group(crate::Group {
            outer_from_inner: shift,
            clip: None,
            opacity: 1.0,
            id: None,
            items: vec![other],
        }),
    }
}

/// A box from its upper-left corner downwards.
pub(super) fn down(x: f64, y: f64, w: f64, h: f64) -> Bounds {
    Bounds {
        min: Point::new(x, y - h),
        max: Point::new(x + w, y),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many of so many points stand on each page, wherever the list begins.
    #[test]
    fn no_point_of_a_list_stands_alone_at_a_page_s_top_or_foot() {
        for count in [2, 3, 4, 9] {
            for start in 0..60 {
                let mut flow = Flow::new([210.0, 297.0]);
                flow.start_page();
                flow.space(4.0 * f64::from(start));
                let point = |_| {
                    let mut set = Set::default();
                    set.words("x", Face::Regular, BODY_MM, 0.0, 100.0, INK);
                    set.space(4.0);
                    set
                };
                flow.put(point(0));
                flow.put_all((0..count).map(point).collect(), || None);
                let (pages, _) = flow.finish();
                let mut on_pages: Vec<usize> = pages.iter().map(Vec::len).collect();
                on_pages[0] -= 1;
                assert_eq!(on_pages.iter().sum::<usize>(), count);
                assert!(!on_pages.contains(&1), "{count} from {start}: {on_pages:?}");
            }
        }
    }
}
