//! Golden pictures: they catch change, not error. `SETAPART_BLESS=1` writes them anew.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/plan.rs"]
mod plan;
#[path = "support/sheet.rs"]
mod sheet;
mod support;

use plan::with_plan;
use press::art::{Art, Style};
use press::guide::{Options, guide_of, typeset};
use press::plaque::Plaque;
use press::preview::{CutoutImage, lay_out, oblique};
use press::{Drawing, Paper, PressError, PrinterCorrection, Speech, template, to_png};
use std::path::PathBuf;
use support::sample_piece;

/// Mean difference per channel that rounding on another machine may make, of 255.
const TOLERANCE: f64 = 0.25;

fn pixels(png: &[u8]) -> (u32, u32, Vec<u8>) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .unwrap();
    let mut buffer = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut buffer).unwrap();
    buffer.truncate(info.buffer_size());
    (info.width, info.height, buffer)
}

fn assert_as_golden(name: &str, drawing: &Drawing, px_per_mm: f64) {
    let actual = to_png(drawing, px_per_mm).unwrap();
    let golden =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/goldens/{name}.png"));
    if std::env::var_os("SETAPART_BLESS").is_some() {
        std::fs::write(&golden, &actual).unwrap();
    }
    let (w, h, expected) = pixels(&std::fs::read(&golden).unwrap());
    let (aw, ah, found) = pixels(&actual);
    assert_eq!((aw, ah), (w, h), "{name}");
    assert_eq!(found.len(), expected.len(), "{name}");
    let sum: u64 = found
        .iter()
        .zip(&expected)
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    let mean = sum as f64 / found.len() as f64;
    assert!(
        mean <= TOLERANCE,
        "{name}: differs by {mean} of 255 on average"
    );
}

#[test]
fn the_capture_sheet_looks_as_before() {
    let sheet = sheet::sheet(&Paper::A4);
    assert_as_golden(
        "capture-sheet",
        &press::capture_sheet::lay_out(&sheet).unwrap(),
        3.0,
    );
}

#[test]
fn a_template_tile_looks_as_before() {
    let pages = template::tiled(
        &sample_piece(),
        &Paper::A4,
        PrinterCorrection::NONE,
        Speech::default(),
    )
    .unwrap();
    assert_as_golden("template-tile", &pages[0], 3.0);
}

#[test]
fn the_preview_looks_as_before() {
    let piece = sample_piece();
    let px_per_mm = 1.4;
    assert_as_golden(
        "preview",
        &lay_out(&piece, &[], px_per_mm).unwrap(),
        px_per_mm,
    );
}

#[test]
fn the_side_view_looks_as_before() {
    let piece = with_plan(sample_piece());
    let art = Art::of(Style::Terraces, None);
    let page = oblique::lay_out(&piece, &[], &art, 1.2).unwrap();
    assert_as_golden("preview-side", &page, 1.2);
}

#[test]
fn the_board_s_art_looks_as_before_in_every_style() {
    let piece = with_plan(sample_piece());
    for (name, style) in [
        ("art-quiet", Style::Quiet),
        ("art-terraces", Style::Terraces),
        ("art-draught", Style::Draught),
        ("art-night", Style::Night),
    ] {
        let art = Art::of(style, Some(Plaque::of(&piece, Some("3/25")).unwrap()));
        assert_as_golden(
            name,
            &press::art::lay_out(&piece, &art, Speech::default()).unwrap(),
            1.2,
        );
    }
}

#[test]
fn glue_sheet_and_guide_look_as_before() {
    let piece = with_plan(sample_piece());
    let none = PrinterCorrection::NONE;
    let glue = press::glue_sheet::lay_out(&piece, &Paper::A4, none, Speech::default()).unwrap();
    assert_as_golden("glue-sheet", &glue[0], 2.5);
    let guide = guide_of(&piece, Some("3/25"), Options::default())
        .unwrap()
        .unwrap();
    let set = typeset(&guide, &piece, &[], None, &Paper::A4).unwrap();
    assert_as_golden("guide-needs", &set.pages[2], 2.5);
    let glue = set
        .bookmarks
        .iter()
        .find(|b| b.title.contains("Glue the"))
        .unwrap();
    assert_as_golden("guide-steps", &set.pages[glue.page], 2.5);
    let schedule = set
        .bookmarks
        .iter()
        .find(|b| b.title == "Schedule")
        .unwrap();
    assert_as_golden("guide-schedule", &set.pages[schedule.page], 2.5);
}

/// A red picture of the display, 4 px/mm, shown where the display lies: the pixel at its middle is red.
#[test]
fn a_cut_out_lies_where_its_part_lies() {
    let piece = sample_piece();
    let (w, h) = (192_u32, 152_u32);
    let cutout = CutoutImage {
        part: piece.parts[2].id.clone(),
        width_px: w,
        height_px: h,
        rgba: [200, 20, 20, 255].repeat((w * h) as usize).into(),
        px_per_mm: 4.0,
        origin_mm: [0.0, 0.0],
    };
    let px_per_mm = 2.0;
    let drawing = lay_out(&piece, std::slice::from_ref(&cutout), px_per_mm).unwrap();
    let (width, _, found) = pixels(&to_png(&drawing, px_per_mm).unwrap());
    // The page is the window with moulding and wall all round; the display's box is (104, 228) to
    // (152, 266) mm on the board.
    let window = piece.frame.window();
    let round_mm = 0.5 * (drawing.width_mm - window.width_mm());
    let at = |x: f64, y: f64| {
        let px = ((x + round_mm) * px_per_mm) as usize;
        let py = ((drawing.height_mm - round_mm - y) * px_per_mm) as usize;
        let i = (py * width as usize + px) * 3;
        [found[i], found[i + 1], found[i + 2]]
    };
    for (x, y) in [(128.0, 247.0), (105.0, 229.0), (151.0, 265.0)] {
        // The glazing's sheen makes it a little lighter, by a tenth at most.
        let [r, g, b] = at(x, y);
        assert!(
            r >= 200 && (20..46).contains(&g) && (20..46).contains(&b),
            "{x} {y}"
        );
    }
    for (x, y) in [
        (102.5, 247.0),
        (153.5, 247.0),
        (128.0, 226.5),
        (128.0, 267.5),
    ] {
        let [_, g, _] = at(x, y);
        assert!(g > 60, "{x} {y}");
    }

    let mut short = cutout;
    short.height_px += 1;
    let refused = lay_out(&piece, &[short], px_per_mm).unwrap_err();
    assert!(matches!(refused, PressError::Pixels { .. }), "{refused}");
}
