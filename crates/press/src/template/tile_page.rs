//! A page of a tiled template.

use super::board::draw_board;
use super::page_of;
use super::tiling::{Border, CUT_WASTE_MM, OVERLAP_MM, Tile, Tiling, code, tile_with_border};
use crate::drawing::{Align, Compose};
use crate::fitting::{draw_within, lines_in};
use crate::scale_bar::{Axis, bar_mm, draw_scale_bar};
use crate::words::filled;
use crate::{
    Affine, Drawing, Group, Ink, Item, Paper, Path, PressError, PrinterCorrection, Speech, Stroke,
    width_mm,
};
use lettering::{Face, SetLine, set_line};
use piece::Piece;
use shape::{Bounds, Point, Vector};

/// What printers leave white, mm (common practice, no source).
const EDGE_MM: f64 = 5.0;

/// Height of the words and bars at the foot of a page, mm.
const FOOT_MM: f64 = 20.0;

/// Height of the small words' capitals, mm (ISO 3098).
const SMALL_MM: f64 = 2.5;

/// What is shown of the table round the board, mm, so that the board's edge can be seen.
const ROUND_BOARD_MM: f64 = 3.0;

/// Grey of words that only explain.
const QUIET: Ink = Ink::grey(90);

/// Grey of the strip that a neighbour covers.
const STRIP: Ink = Ink::grey(236);

pub(super) const BORDER: Border = Border {
    // The vertical bar stands to the left, the horizontal one at the foot.
    left: EDGE_MM + 6.0,
    right: EDGE_MM,
    top: EDGE_MM,
    bottom: EDGE_MM + FOOT_MM + 4.0,
    least_page_width: 205.0,
};

/// Lays out the template as pages to be joined, in the order in which they are joined.
///
/// # Errors
/// - [`PressError::PaperTooSmall`], [`PressError::TooManyTiles`]: the paper does not suit the board.
/// - [`PressError::MissingGlyphs`], [`PressError::Length`]: a caption that cannot be set.
pub fn tiled(
    piece: &Piece,
    paper: &Paper,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Vec<Drawing>, PressError> {
    let region = piece.frame.board().grown(ROUND_BOARD_MM);
    let tiling = tile_with_border(region, paper, BORDER)?;
    let board = draw_board(piece, speech)?;
    // Each item's box once: every page and every word asks for it.
    let board: Vec<(Bounds, &Item)> = board
        .iter()
        .filter_map(|item| Some((item.bounds()?, item)))
        .collect();
    tiling
        .tiles
        .iter()
        .enumerate()
        .map(|(index, tile)| {
            let content = lay_out_tile(piece, &tiling, tile, index, &board, correction, speech);
            let title = filled(speech.sheets().template_page, &[&piece.name, &tile.code()]);
            page_of(title, tiling.page_size_mm, content, correction)
        })
        .collect()
}

fn lay_out_tile(
    piece: &Piece,
    tiling: &Tiling,
    tile: &Tile,
    index: usize,
    board: &[(Bounds, &Item)],
    correction: PrinterCorrection,
    speech: Speech,
) -> Vec<Item> {
    let mut page = Vec::new();
    let [w, h] = tiling.page_size_mm;
    // Equal tiles leave some room over: the tile stands in the middle of what there is.
    let spare_x = w - BORDER.left - BORDER.right - tile.printed.width_mm();
    let spare_y = h - BORDER.top - BORDER.bottom - tile.printed.height_mm();
    let corner = Point::new(BORDER.left + 0.5 * spare_x, BORDER.bottom + 0.5 * spare_y);
    let page_from_board = Affine::shifted(Point::new(
        corner.x - tile.printed.min.x,
        corner.y - tile.printed.min.y,
    ));
    let on_page = |b: Bounds| Bounds {
        min: page_from_board.apply(b.min),
        max: page_from_board.apply(b.max),
    };
    let (own, printed) = (on_page(tile.own), on_page(tile.printed));
    // Where the words in strips and waste, and the marks, meet nothing of the board.
    let mut free = Free {
        board,
        page_from_board,
        taken: Vec::new(),
    };
    let marks = place_marks(tiling, tile, own, &free);
    let round_mark = Vector::new(MARK_MM.1, MARK_MM.1);
    free.taken = marks
        .iter()
        .map(|&m| Bounds::between(m - round_mark, m + round_mark))
        .collect();
    draw_strips(&mut page, tiling, tile, own, printed, &free, speech);
    let shown = tile.printed.grown(width_mm::WIDE);
    page.push(Item::Group(Group {
        outer_from_inner: page_from_board,
        clip: Some(Path::rectangle(tile.printed)),
        opacity: 1.0,
        id: None,
        items: board
            .iter()
            .filter(|(around, _)| around.distance_mm(shown) <= 0.0)
            .map(|&(_, item)| item.clone())
            .collect(),
    }));
    draw_cuts(&mut page, tile, own, printed, &free, speech);
    draw_marks(&mut page, &marks);
    draw_foot(&mut page, piece, tiling, tile, index, correction, speech);
    let bar = Point::new(EDGE_MM + 2.2, 0.5 * (h - bar_mm(speech.units)));
    draw_scale_bar(&mut page, bar, Axis::Vertical, speech, SMALL_MM);
    page
}

/// Finds places on a page where the board shows nothing.
struct Free<'a> {
    board: &'a [(Bounds, &'a Item)],
    page_from_board: Affine,
    /// Where marks stand, on the page.
    taken: Vec<Bounds>,
}

impl Free<'_> {
    /// The point of a stretch, nearest to the share `wish` and at most `most` from it, round which a
    /// box is empty.
    ///
    /// Neighbours ask for the same stretch of the board and get the same answer, so that their marks
    /// meet.
    fn along(
        &self,
        (wish, most): (f64, f64),
        from: Point,
        to: Point,
        half: Vector,
    ) -> Option<Point> {
        let shift = Vector::new(self.page_from_board.x0, self.page_from_board.y0);
        let stretch = Bounds::between(from, to);
        let steps = (192.0 * most) as i32;
        (0..=2 * steps)
            .map(|i| {
                let step = f64::from((i + 1) / 2) / 192.0;
                from.lerp(to, wish + if i % 2 == 0 { step } else { -step })
            })
            .find(|&middle| {
                let b = Bounds::between(middle - half, middle + half);
                let on_board = Bounds::between(b.min - shift, b.max - shift);
                let ends_inside = (b.min.x >= stretch.min.x && b.max.x <= stretch.max.x)
                    || (b.min.y >= stretch.min.y && b.max.y <= stretch.max.y);
                ends_inside
                    && !self.taken.iter().any(|t| t.distance_mm(b) <= 0.0)
                    && !self.board.iter().any(|(around, item)| {
                        around.distance_mm(on_board) <= 0.0 && item.touches(on_board)
                    })
            })
    }
    /// The longest of some words that finds a place along the stretch, set, with that place; where none
    /// does, the shortest at its wish. `half` is half the box that a line of this width needs.
    fn words_along(
        &self,
        words: &[String],
        from: Point,
        to: Point,
        half: impl Fn(f64) -> Vector,
    ) -> (SetLine, Point) {
        let set = |w: &String| set_line(w, Face::Regular, SMALL_MM);
        words
            .iter()
            .map(set)
            .find_map(|line| {
                let at = self.along(WORDS_AT, from, to, half(line.width_mm))?;
                Some((line, at))
            })
            .unwrap_or_else(|| {
                let shortest = words.last().map(set).unwrap_or_else(|| set(&String::new()));
                (shortest, from.lerp(to, WORDS_AT.0))
            })
    }
}

/// How far words may stand from their wish, as a share of the stretch.
const WORDS_AT: (f64, f64) = (0.33, 0.5);

/// The strips that the neighbours to the right and below are glued onto, each with its neighbour's
/// code and an arrow towards it.
fn draw_strips(
    page: &mut Vec<Item>,
    tiling: &Tiling,
    tile: &Tile,
    own: Bounds,
    printed: Bounds,
    free: &Free<'_>,
    speech: Speech,
) {
    let right = (tile.column + 1 < tiling.columns).then(|| code(tile.row, tile.column + 1));
    let below = (tile.row + 1 < tiling.rows).then(|| code(tile.row + 1, tile.column));
    let mut strips = Path::default();
    if right.is_some() {
        strips.append(Path::rectangle(Bounds {
            min: Point::new(own.max.x, printed.min.y),
            max: printed.max,
        }));
    }
    if below.is_some() {
        // Up to the own area's edge only: where the strips meet, even-odd would leave a hole.
        strips.append(Path::rectangle(Bounds {
            min: printed.min,
            max: Point::new(own.max.x, own.min.y),
        }));
    }
    if !strips.steps.is_empty() {
        page.fill(strips, STRIP);
    }
    let words = |code: &str| {
        [
            filled(speech.sheets().glue_here, &[code]),
            filled(speech.sheets().glue_here_short, &[code]),
        ]
    };
    // The arrow stands before the words; both are clear of the marks.
    let (gap, head) = (2.0, 4.0);
    // Beyond the marks, which reach into the strip.
    let off = 0.63 * OVERLAP_MM;
    if let Some(code) = right {
        let x = own.max.x + off;
        let (from, to) = (Point::new(x, own.min.y), Point::new(x, own.max.y));
        let half = |w: f64| Vector::new(0.5 * SMALL_MM + 0.8, 0.5 * w + gap + head);
        let (line, at) = free.words_along(&words(&code), from, to, half);
        arrow(
            page,
            at + Vector::new(2.0, 0.5 * line.width_mm + gap + 2.0),
            0.0,
        );
        let at = at + Vector::new(0.5 * SMALL_MM, 0.0);
        page.turned_text(line, at, Align::Centre, 90.0, QUIET);
    }
    if let Some(code) = below {
        let y = own.min.y - off;
        let (from, to) = (Point::new(own.min.x, y), Point::new(own.max.x, y));
        let half = |w: f64| Vector::new(0.5 * w + gap + head, 0.5 * SMALL_MM + 0.8);
        let (line, at) = free.words_along(&words(&code), from, to, half);
        arrow(
            page,
            at + Vector::new(0.5 * line.width_mm + gap + 2.0, -2.0),
            -90.0,
        );
        let at = at - Vector::new(0.0, 0.5 * SMALL_MM);
        page.text(line, at, Align::Centre, QUIET);
    }
}

/// A small solid arrowhead.
fn arrow(page: &mut Vec<Item>, tip: Point, turn_deg: f64) {
    let place = Affine::turned(turn_deg, tip);
    let head = [(0.0, 0.0), (-4.0, 1.8), (-4.0, -1.8)].map(|(x, y)| place.apply(Point::new(x, y)));
    page.fill(Path::polygon(&head), QUIET);
}

/// Dashed lines to cut along, to the left and above, with words in the waste.
fn draw_cuts(
    page: &mut Vec<Item>,
    tile: &Tile,
    own: Bounds,
    printed: Bounds,
    free: &Free<'_>,
    speech: Speech,
) {
    // A little beyond what is printed, so that a ruler finds both ends.
    let beyond = Vector::new(2.5, 2.5);
    let dashed = || Stroke::dashed(width_mm::MEDIUM, Ink::BLACK);
    let words = speech.sheets();
    let words = [words.cut_to_here, words.cut_to_here_short].map(str::to_owned);
    let off = 0.5 * CUT_WASTE_MM;
    if tile.column > 0 {
        let x = own.min.x;
        let line = Path::line(
            Point::new(x, printed.min.y - beyond.y),
            Point::new(x, printed.max.y + beyond.y),
        );
        page.stroke(line, dashed());
        let (from, to) = (
            Point::new(x - off, own.min.y),
            Point::new(x - off, own.max.y),
        );
        let half = |w: f64| Vector::new(off, 0.5 * w + 1.0);
        let (text, at) = free.words_along(&words, from, to, half);
        page.turned_text(
            text,
            at + Vector::new(0.5 * SMALL_MM, 0.0),
            Align::Centre,
            90.0,
            QUIET,
        );
    }
    if tile.row > 0 {
        let y = own.max.y;
        let line = Path::line(
            Point::new(printed.min.x - beyond.x, y),
            Point::new(printed.max.x + beyond.x, y),
        );
        page.stroke(line, dashed());
        let (from, to) = (
            Point::new(own.min.x, y + off),
            Point::new(own.max.x, y + off),
        );
        let half = |w: f64| Vector::new(0.5 * w + 1.0, off);
        let (text, at) = free.words_along(&words, from, to, half);
        page.text(
            text,
            at - Vector::new(0.0, 0.5 * SMALL_MM),
            Align::Centre,
            QUIET,
        );
    }
}

/// Radius of a mark's circle and half length of its cross, mm.
const MARK_MM: (f64, f64) = (2.2, 3.6);

/// Places three marks on every cut line that the page shares with a neighbour.
fn place_marks(tiling: &Tiling, tile: &Tile, own: Bounds, free: &Free<'_>) -> Vec<Point> {
    let corner = Point::new;
    let (x0, y0, x1, y1) = (own.min.x, own.min.y, own.max.x, own.max.y);
    let cuts = [
        (tile.column > 0, corner(x0, y0), corner(x0, y1)),
        (
            tile.column + 1 < tiling.columns,
            corner(x1, y0),
            corner(x1, y1),
        ),
        (tile.row > 0, corner(x0, y1), corner(x1, y1)),
        (tile.row + 1 < tiling.rows, corner(x0, y0), corner(x1, y0)),
    ];
    let arm = MARK_MM.1 + 1.2;
    let half = Vector::new(arm, arm);
    cuts.into_iter()
        .filter(|cut| cut.0)
        .flat_map(|(_, from, to)| {
            [1.0 / 8.0, 0.5, 7.0 / 8.0].map(|wish| {
                free.along((wish, 0.12), from, to, half)
                    .unwrap_or_else(|| from.lerp(to, wish))
            })
        })
        .collect()
}

/// Crossed circles: half of each is cut away and the other half closes with the neighbour's.
fn draw_marks(page: &mut Vec<Item>, marks: &[Point]) {
    let (radius, arm) = MARK_MM;
    for &centre in marks {
        let fine = || Stroke::continuous(width_mm::NARROW, Ink::BLACK);
        page.stroke(Path::circle(centre, radius), fine());
        for arm in [Vector::new(arm, 0.0), Vector::new(0.0, arm)] {
            page.stroke(Path::line(centre - arm, centre + arm), fine());
        }
    }
}

/// Code, map, names, what to do, and the horizontal bar.
fn draw_foot(
    page: &mut Vec<Item>,
    piece: &Piece,
    tiling: &Tiling,
    tile: &Tile,
    index: usize,
    correction: PrinterCorrection,
    speech: Speech,
) {
    let words = speech.sheets();
    let bar_mm = bar_mm(speech.units);
    let [w, _] = tiling.page_size_mm;
    let top = EDGE_MM + FOOT_MM;
    let (left, right) = (EDGE_MM + width_mm::FAINT, w - EDGE_MM - width_mm::FAINT);
    let rule = Path::line(Point::new(left, top + 1.5), Point::new(right, top + 1.5));
    page.stroke(rule, Stroke::continuous(width_mm::FAINT, Ink::BLACK));

    let code_line = set_line(&tile.code(), Face::SemiBold, 10.0);
    page.text(
        code_line,
        Point::new(EDGE_MM + 0.4, top - 11.5),
        Align::Left,
        Ink::BLACK,
    );
    let count = filled(
        words.page_of,
        &[&(index + 1).to_string(), &tiling.tiles.len().to_string()],
    );
    let foot = EDGE_MM + 0.9;
    page.words(
        &count,
        Face::Regular,
        SMALL_MM,
        Point::new(EDGE_MM + 0.4, foot),
        Align::Left,
        Ink::BLACK,
    );

    let map = Bounds {
        min: Point::new(EDGE_MM + 24.0, foot),
        max: Point::new(EDGE_MM + 42.0, top - 1.5),
    };
    draw_map(page, tiling, tile, map);

    let x = map.max.x + 5.0;
    let bar_x = w - EDGE_MM - bar_mm - 0.5;
    let name_mm = bar_x - x - 4.0;
    let quiet = |page: &mut Vec<Item>, words: &str, y: f64| {
        draw_within(
            page,
            (words, Face::Regular, SMALL_MM),
            Point::new(x, y),
            name_mm,
            Ink::BLACK,
        );
    };
    let name = (piece.name.as_str(), Face::SemiBold, SMALL_MM);
    draw_within(
        page,
        name,
        Point::new(x, top - 1.5 - SMALL_MM),
        name_mm,
        Ink::BLACK,
    );
    quiet(page, words.template_scale, top - 1.5 - SMALL_MM - 4.6);
    let size = speech.size(&piece.frame.size_mm);
    quiet(page, &filled(words.frame_size, &[&size]), foot);

    let mut said = what_to_do(tiling, tile, speech);
    if let Some(more) = correction.in_words(speech) {
        said = format!("{said} {more}");
    }
    for (y, line) in lines_in(&said, SMALL_MM, [bar_mm, 11.6]) {
        let y = top - 1.5 - y;
        page.text(line, Point::new(bar_x, y), Align::Left, Ink::BLACK);
    }
    let bar = Point::new(bar_x, EDGE_MM + 2.0);
    draw_scale_bar(page, bar, Axis::Horizontal, speech, SMALL_MM);
}

/// The pages as a small grid, this one filled.
fn draw_map(page: &mut Vec<Item>, tiling: &Tiling, tile: &Tile, room: Bounds) {
    let (columns, rows) = (tiling.columns as f64, tiling.rows as f64);
    let (cell_w, cell_h) = (tile.own.width_mm(), tile.own.height_mm());
    let scale = (room.width_mm() / (columns * cell_w)).min(room.height_mm() / (rows * cell_h));
    let (cell_w, cell_h) = (scale * cell_w, scale * cell_h);
    for t in &tiling.tiles {
        let corner = Point::new(
            room.min.x + cell_w * t.column as f64,
            room.max.y - cell_h * (t.row + 1) as f64,
        );
        let cell = Bounds {
            min: corner,
            max: corner + Vector::new(cell_w, cell_h),
        };
        if (t.row, t.column) == (tile.row, tile.column) {
            page.fill(Path::rectangle(cell), Ink::BLACK);
        }
        let fine = Stroke::continuous(width_mm::NARROW, Ink::BLACK);
        page.stroke(Path::rectangle(cell), fine);
    }
}

fn what_to_do(tiling: &Tiling, tile: &Tile, speech: Speech) -> String {
    let words = speech.sheets();
    if tiling.tiles.len() == 1 {
        return PrinterCorrection::NONE.printing_in_words(speech);
    }
    let left = (tile.column > 0).then(|| code(tile.row, tile.column - 1));
    let above = (tile.row > 0).then(|| code(tile.row - 1, tile.column));
    match (left, above) {
        (None, None) => words.start_here.to_owned(),
        (Some(one), None) | (None, Some(one)) => filled(words.join_one, &[&one]),
        (Some(left), Some(above)) => filled(words.join_two, &[&left, &above]),
    }
}
