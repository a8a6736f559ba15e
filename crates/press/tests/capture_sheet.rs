//! The capture sheet keeps its promises to camera and printer.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/ink.rs"]
mod ink;
#[path = "support/sheet.rs"]
mod sheet;

use ink::{bar_lengths, bounds, leaves, words};
use press::capture_sheet::{SheetDrawing, lay_out};
use press::{Drawing, Item, Paper, Shape};
use shape::{Bounds, Point};

fn laid_out(paper: &Paper) -> (SheetDrawing, Drawing) {
    let sheet = sheet::sheet(paper);
    let drawing = lay_out(&sheet).unwrap();
    (sheet, drawing)
}

#[test]
fn nothing_is_printed_in_the_blank_field() {
    for paper in Paper::KNOWN {
        let (sheet, drawing) = laid_out(&paper);
        for (item, at) in leaves(&drawing) {
            // A corner mark's own box reaches round the corner, its two lines do not.
            if let Item::Shape(Shape {
                path,
                stroke: Some(s),
                ..
            }) = item
            {
                for pair in path.steps.windows(2) {
                    let [
                        press::Step::Move(a) | press::Step::Line(a),
                        press::Step::Line(b),
                    ] = pair
                    else {
                        continue;
                    };
                    let line = Bounds::between(*a, *b).grown(0.5 * s.width_mm);
                    assert!(line.distance_mm(sheet.field) > 0.0, "{}", paper.name);
                }
            } else {
                let b = bounds(item, at).unwrap();
                assert!(b.distance_mm(sheet.field) > 0.0, "{}", paper.name);
            }
        }
    }
}

#[test]
fn a_rim_of_one_cell_round_each_tag_stays_white() {
    for paper in Paper::KNOWN {
        let (sheet, drawing) = laid_out(&paper);
        let boxes: Vec<Bounds> = sheet
            .tags
            .iter()
            .map(|t| Bounds::around(t.corners).unwrap())
            .collect();
        for (item, at) in leaves(&drawing) {
            let b = bounds(item, at).unwrap();
            if boxes.iter().any(|t| t.contains(b.centre())) {
                continue;
            }
            let near = boxes
                .iter()
                .map(|t| t.distance_mm(b))
                .fold(f64::MAX, f64::min);
            let what = if let Item::Text(t) = item {
                t.line.text.as_str()
            } else {
                "a path"
            };
            assert!(near >= 1.75 - 1e-6, "{}: {near} mm, {what}", paper.name);
        }
    }
}

#[test]
fn bars_are_100_mm_and_all_stays_5_mm_from_the_edge() {
    for paper in Paper::KNOWN {
        let (_, drawing) = laid_out(&paper);
        let (across, up) = bar_lengths(&drawing);
        assert_eq!((across.len(), up.len()), (1, 1), "{}", paper.name);
        assert!((across[0] - 100.0).abs() < 1e-9 && (up[0] - 100.0).abs() < 1e-9);
        let inside = drawing.page().grown(-5.0);
        for (item, at) in leaves(&drawing) {
            assert!(inside.holds(bounds(item, at).unwrap()), "{}", paper.name);
        }
    }
}

#[test]
fn the_sheet_says_how_to_use_it_and_which_way_is_up() {
    for paper in Paper::KNOWN {
        let (_, drawing) = laid_out(&paper);
        let said = words(&drawing).join(" ");
        for word in ["UP", "Print", "Lay", "Photograph", "Measure", &paper.name] {
            assert!(said.contains(word), "{}: {word}", paper.name);
        }
    }
}

#[test]
fn a_tag_keeps_its_black_area() {
    let (sheet, drawing) = laid_out(&Paper::A4);
    for (tag, (item, _)) in sheet.tags.iter().zip(leaves(&drawing)) {
        let Item::Shape(shape) = item else {
            panic!("tags come first");
        };
        let white = tag.white.iter().flatten().filter(|&&w| w).count() as f64;
        let black_mm2 = (64.0 - white) * 1.75 * 1.75;
        // Rings of the path run with black on one side, so signed areas add up.
        let mut area = 0.0;
        let mut ring: Vec<Point> = Vec::new();
        for step in &shape.path.steps {
            match step {
                press::Step::Move(p) => ring = vec![*p],
                press::Step::Line(p) => ring.push(*p),
                _ => {
                    let n = ring.len();
                    area += (0..n)
                        .map(|i| {
                            let (a, b) = (ring[i], ring[(i + 1) % n]);
                            0.5 * (a.x * b.y - b.x * a.y)
                        })
                        .sum::<f64>();
                }
            }
        }
        assert!((area.abs() - black_mm2).abs() < 1e-6, "{area} {black_mm2}");
    }
}
