//! The sheet on which parts are photographed.

use crate::drawing::{Align, Compose};
use crate::scale_bar::{Axis, bar_mm, draw_scale_bar};
use crate::{Drawing, Ink, Path, PressError, Speech, Stroke, width_mm};
use lettering::{Face, break_lines, set_line};
use shape::{Bounds, Point, Vector};

/// Cells along a tag's side, its black border included.
pub const TAG_CELLS: usize = 8;

/// A tag as it is to be printed.
#[derive(Debug, Clone, PartialEq)]
pub struct TagDrawing {
    /// Corners of the black square, mm: upper left, upper right, lower right, lower left.
    pub corners: [Point; 4],
    /// Cells, rows from the top; `true` is white.
    pub white: [[bool; TAG_CELLS]; TAG_CELLS],
}

/// What a capture sheet is to show. Coordinates in mm from the sheet's lower-left corner, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetDrawing {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// The paper's name as people write it, such as `A4`.
    pub paper: String,
    /// Its tags: a frame of them round the blank field.
    pub tags: Vec<TagDrawing>,
    /// The blank field.
    pub field: Bounds,
}

/// What printers leave white, mm (common practice, no source).
const PRINTER_MARGIN_MM: f64 = 5.0;

/// Height of the small letters' capitals, mm (ISO 3098).
const SMALL_MM: f64 = 2.5;

/// From the field's edge to the corner marks, mm: outside, so that no mark is taken for a part.
const MARK_OFFSET_MM: f64 = 0.9;

/// Length of a corner mark's arms, mm.
const MARK_MM: f64 = 9.0;

/// How to use the sheet: one word to remember and what it means.
const STEPS: [(&str, &str); 4] = [
    ("Print", "at 100\u{a0}%. Both bars are 100\u{a0}mm long."),
    ("Lay", "parts flat inside the marks, apart."),
    ("Photograph", "all of it from above, evenly lit."),
    ("Measure", "and note each part’s thickness."),
];

/// Lays out a capture sheet.
///
/// # Errors
/// [`PressError::Length`] for a sheet of no sensible size.
pub fn lay_out(sheet: &SheetDrawing) -> Result<Drawing, PressError> {
    let [w, h] = sheet.size_mm;
    let title = format!("Setapart capture sheet, {}", sheet.paper);
    let mut page = Drawing::new(title, w, h)?;
    for tag in &sheet.tags {
        page.fill(black_cells(tag), Ink::BLACK);
    }
    draw_field_marks(&mut page, sheet.field);

    let across = |half: f64, side: f64| 0.5 * side - half;
    let middle = PRINTER_MARGIN_MM + 2.2;
    // What captures photos asks for bars of 100 mm.
    let speech = Speech::default();
    let half = 0.5 * bar_mm(speech.units);
    let bottom = Point::new(across(half, w), middle);
    draw_scale_bar(&mut page, bottom, Axis::Horizontal, speech, SMALL_MM);
    let left = Point::new(middle, across(half, h));
    draw_scale_bar(&mut page, left, Axis::Vertical, speech, SMALL_MM);

    let (top, bottom) = rows_of_gaps(sheet);
    draw_steps(&mut page, &bottom);
    draw_head(&mut page, sheet, &top);
    Ok(page)
}

/// L-shaped marks outside the four corners of the field.
fn draw_field_marks(page: &mut Drawing, field: Bounds) {
    let marks = field.grown(MARK_OFFSET_MM);
    let centre = marks.centre();
    for corner in [
        marks.min,
        Point::new(marks.max.x, marks.min.y),
        marks.max,
        Point::new(marks.min.x, marks.max.y),
    ] {
        let sx = MARK_MM * (centre.x - corner.x).signum();
        let sy = MARK_MM * (centre.y - corner.y).signum();
        let arms = [
            corner + Vector::new(sx, 0.0),
            corner,
            corner + Vector::new(0.0, sy),
        ];
        page.stroke(
            Path::polyline(&arms),
            Stroke::continuous(width_mm::MEDIUM, Ink::BLACK),
        );
    }
}

/// The white stretches between neighbours in the top row of tags and in the bottom row, left to right,
/// less a rim of one cell.
fn rows_of_gaps(sheet: &SheetDrawing) -> (Vec<Bounds>, Vec<Bounds>) {
    let boxes: Vec<Bounds> = sheet
        .tags
        .iter()
        .filter_map(|t| Bounds::around(t.corners))
        .collect();
    let gaps = |in_row: &dyn Fn(&Bounds) -> bool| {
        let mut row: Vec<Bounds> = boxes.iter().copied().filter(in_row).collect();
        row.sort_by(|a, b| a.min.x.total_cmp(&b.min.x));
        row.windows(2)
            .map(|pair| {
                let rim = pair[0].width_mm() / TAG_CELLS as f64;
                Bounds {
                    min: Point::new(pair[0].max.x + rim, pair[0].min.y),
                    max: Point::new(pair[1].min.x - rim, pair[0].max.y),
                }
            })
            .collect()
    };
    let field = sheet.field;
    (
        gaps(&|b: &Bounds| b.min.y >= field.max.y),
        gaps(&|b: &Bounds| b.max.y <= field.min.y),
    )
}

/// One step in each of the middle four gaps.
fn draw_steps(page: &mut Drawing, gaps: &[Bounds]) {
    let first = gaps.len().saturating_sub(STEPS.len()) / 2;
    for (i, ((verb, rest), gap)) in STEPS.iter().zip(gaps.iter().skip(first)).enumerate() {
        let body = break_lines(rest, Face::Regular, SMALL_MM, gap.width_mm() - 0.8);
        // The verb's capitals end where the tags end, the last of three lines stands where they stand.
        let x = gap.min.x + 0.5;
        let head = gap.max.y - SMALL_MM;
        let pitch = (head - gap.min.y) / 3.0;
        let number = set_line(&format!("{}", i + 1), Face::SemiBold, SMALL_MM);
        let verb_x = x + number.width_mm + 1.2;
        page.text(number, Point::new(x, head), Align::Left, Ink::BLACK);
        page.words(
            verb,
            Face::SemiBold,
            SMALL_MM,
            Point::new(verb_x, head),
            Align::Left,
            Ink::BLACK,
        );
        for (row, line) in body.into_iter().enumerate() {
            let y = head - pitch * (row + 1) as f64;
            page.text(line, Point::new(x, y), Align::Left, Ink::BLACK);
        }
    }
}

/// The arrow for up, and the sheet's name.
fn draw_head(page: &mut Drawing, sheet: &SheetDrawing, gaps: &[Bounds]) {
    let (Some(first), Some(last)) = (gaps.first(), gaps.last()) else {
        return;
    };
    let (x, y) = (first.min.x, first.min.y);
    let height = first.height_mm();
    // A broad arrow as high as the tags, its word beside it on the same foot.
    let (head_w, head_h, stem_w) = (0.72 * height, 0.5 * height, 0.26 * height);
    let tip_x = x + 1.2 + 0.5 * head_w;
    let p = |dx: f64, dy: f64| Point::new(tip_x + dx, y + dy);
    let arrow = Path::polygon(&[
        p(0.0, height),
        p(-0.5 * head_w, height - head_h),
        p(-0.5 * stem_w, height - head_h),
        p(-0.5 * stem_w, 0.0),
        p(0.5 * stem_w, 0.0),
        p(0.5 * stem_w, height - head_h),
        p(0.5 * head_w, height - head_h),
    ]);
    page.fill(arrow, Ink::BLACK);
    let up = Point::new(tip_x + 0.5 * head_w + 1.2, y);
    page.words("UP", Face::SemiBold, 5.0, up, Align::Left, Ink::BLACK);

    let right = last.max.x - 0.3;
    let lines = [
        ("Capture sheet".to_owned(), Face::SemiBold),
        (sheet.paper.clone(), Face::Regular),
        ("Setapart".to_owned(), Face::Regular),
    ];
    let pitch = (height - SMALL_MM) / 3.0;
    for (row, (text, face)) in lines.into_iter().enumerate() {
        let at = Point::new(right, last.max.y - SMALL_MM - pitch * row as f64);
        page.words(&text, face, SMALL_MM, at, Align::Right, Ink::BLACK);
    }
}

/// The edge of a tag's black cells as one path, so that no seam shows between cells.
fn black_cells(tag: &TagDrawing) -> Path {
    let n = TAG_CELLS as i32;
    let black = |col: i32, row: i32| {
        (0..n).contains(&col) && (0..n).contains(&row) && !tag.white[row as usize][col as usize]
    };
    // Every edge between black and white, with black on its right (rows run down the page).
    let mut edges: Vec<((i32, i32), (i32, i32))> = Vec::new();
    for row in 0..n {
        for col in (0..n).filter(|&col| black(col, row)) {
            let (a, b, c, d) = (
                (col, row),
                (col + 1, row),
                (col + 1, row + 1),
                (col, row + 1),
            );
            for (neighbour, edge) in [
                ((col, row - 1), (a, b)),
                ((col + 1, row), (b, c)),
                ((col, row + 1), (c, d)),
                ((col - 1, row), (d, a)),
            ] {
                if !black(neighbour.0, neighbour.1) {
                    edges.push(edge);
                }
            }
        }
    }
    let [ul, ur, lr, ll] = tag.corners;
    let at = |(col, row): (i32, i32)| {
        let (u, v) = (f64::from(col) / f64::from(n), f64::from(row) / f64::from(n));
        ul.lerp(ur, u).lerp(ll.lerp(lr, u), v)
    };
    let mut path = Path::default();
    while let Some((start, mut end)) = edges.pop() {
        let mut corners = vec![start];
        while end != start {
            let Some(next) = edges.iter().position(|&(from, _)| from == end) else {
                break;
            };
            corners.push(end);
            end = edges.swap_remove(next).1;
        }
        let ring: Vec<(i32, i32)> = (0..corners.len())
            .filter(|&i| {
                // Corners on a straight run are no corners.
                let before = corners[(i + corners.len() - 1) % corners.len()];
                let after = corners[(i + 1) % corners.len()];
                before.0 != after.0 && before.1 != after.1
            })
            .map(|i| corners[i])
            .collect();
        let ring: Vec<Point> = ring.into_iter().map(at).collect();
        path.append(Path::polygon(&ring));
    }
    path
}
