//! A capture sheet's geometry for these tests.

use press::Paper;
use press::capture_sheet::{SheetDrawing, TAG_CELLS, TagDrawing};
use shape::{Bounds, Point};

/// A frame of tags of 14 mm, 11 mm from the edge; the patterns are made up, as only their place matters.
pub fn sheet(paper: &Paper) -> SheetDrawing {
    let [w, h] = paper.size_mm;
    let (nx, ny) = if w < 250.0 { (5, 7) } else { (7, 10) };
    let at = |i: i32, n: i32, side: f64| 11.0 + f64::from(i) * (side - 36.0) / f64::from(n - 1);
    let mut tags = Vec::new();
    for row in 0..ny {
        for column in 0..nx {
            if row == 0 || row == ny - 1 || column == 0 || column == nx - 1 {
                let (x, y) = (at(column, nx, w), h - at(row, ny, h));
                let mut white = [[false; TAG_CELLS]; TAG_CELLS];
                for (r, line) in white.iter_mut().enumerate().skip(1).take(6) {
                    for (c, cell) in line.iter_mut().enumerate().skip(1).take(6) {
                        *cell = (r * 5 + c * 3 + (row * nx + column) as usize * 7) % 4 < 2;
                    }
                }
                let corners = [(0.0, 0.0), (14.0, 0.0), (14.0, -14.0), (0.0, -14.0)]
                    .map(|(dx, dy)| Point::new(x + dx, y + dy));
                tags.push(TagDrawing { corners, white });
            }
        }
    }
    SheetDrawing {
        size_mm: paper.size_mm,
        paper: paper.name.to_string(),
        tags,
        field: Bounds::between(Point::new(29.0, 29.0), Point::new(w - 29.0, h - 29.0)),
    }
}
