use super::super::*;

fn svg(root: &str, body: &str) -> String {
    format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {root}>{body}</svg>")
}

const MM: &str = "width=\"100mm\" height=\"50mm\" viewBox=\"0 0 100 50\"";

fn read_svg(root: &str, body: &str) -> Drawing {
    read(&svg(root, body), DrawingFormat::Svg).unwrap_or_else(|e| panic!("{body}: {e}"))
}

#[test]
fn shapes_have_the_areas_that_geometry_gives() {
    use std::f64::consts::PI;
    // Area, and the length of what is curved, mm.
    for (body, truth, curved) in [
        ("<rect x='1' y='2' width='30' height='20'/>", 600.0, 0.0),
        (
            "<rect width='30' height='20' rx='4'/>",
            600.0 - (4.0 - PI) * 16.0,
            8.0 * PI,
        ),
        ("<circle cx='40' cy='20' r='18'/>", PI * 324.0, 36.0 * PI),
        (
            "<ellipse cx='40' cy='20' rx='18' ry='9'/>",
            PI * 162.0,
            90.0,
        ),
        ("<polygon points='0,0 10,0 10,10'/>", 50.0, 0.0),
        ("<polyline points='0,0 10,0 10,10'/>", 50.0, 0.0),
        ("<path d='M0 0h10v10h-10z'/>", 100.0, 0.0),
        (
            "<path d='M 10 20 A 10 10 0 0 1 30 20 Z'/>",
            PI * 50.0,
            10.0 * PI,
        ),
        (
            "<path d='M 10 20 a 10 10 0 1 0 20 0 a 10 10 0 1 0 -20 0'/>",
            PI * 100.0,
            20.0 * PI,
        ),
        // Radii too small for their ends are made to reach (SVG 2, B.2.5): half a circle of radius 10.
        (
            "<path d='M 10 20 A 1 1 0 0 1 30 20 Z'/>",
            PI * 50.0,
            10.0 * PI,
        ),
        // A parabola over a chord of 12 with its control point 9 up: 2/3 of 12 x 4.5 (Archimedes).
        ("<path d='M 10 20 Q 16 11 22 20 Z'/>", 36.0, 16.0),
        // The cubic of the DXF test: 57.6.
        ("<path d='M 10 20 C 10 12 22 12 22 20 Z'/>", 57.6, 20.0),
        // Two smooth quadratics, above and below: they cancel but for sign; closed each for itself.
        ("<path d='M 10 20 q 6 -9 12 0 z'/>", 36.0, 16.0),
    ] {
        let d = read_svg(MM, body);
        let area = areas(&d)[0];
        assert!(
            (area - truth).abs() <= curved * 0.005 + 1e-9,
            "{body}: {area}, {truth}"
        );
        assert_eq!(d.warnings, [], "{body}");
    }
}

#[test]
fn y_is_turned_up_about_the_pages_lower_edge() {
    let d = read_svg(MM, "<rect x='1' y='2' width='3' height='4'/>");
    let b = d.outlines[0].outline.bounds();
    assert!((b.min.x - 1.0).abs() < 1e-9 && (b.max.y - 48.0).abs() < 1e-9);
}

#[test]
fn groups_transforms_and_references_place_their_shapes() {
    let body = "<defs><g id='cell'><rect width='2' height='1'/></g><symbol id='s' viewBox='0 0 10 10'><rect width='10' height='10'/></symbol></defs>
        <g transform='translate(10 10) scale(2)'><use href='#cell' x='3' y='1'/></g>
        <use href='#s' x='50' y='10' width='5' height='5'/>
        <svg x='80' y='10' width='10' height='20' viewBox='0 0 1 1'><rect width='1' height='1'/></svg>";
    let d = read_svg(MM, body);
    let boxes: Vec<[f64; 4]> = d
        .outlines
        .iter()
        .map(|o| o.outline.bounds())
        .map(|b| {
            [b.min.x, 50.0 - b.max.y, b.width_mm(), b.height_mm()].map(|v| (v * 1e6).round() / 1e6)
        })
        .collect();
    assert_eq!(
        boxes,
        [
            [16.0, 12.0, 4.0, 2.0],
            [50.0, 10.0, 5.0, 5.0],
            [80.0, 15.0, 10.0, 10.0]
        ]
    );
}

#[test]
fn a_path_within_a_path_is_a_hole() {
    let d = read_svg(MM, "<path d='M0 0h10v10h-10z M2 2h3v3h-3z'/>");
    assert_eq!(
        (d.outlines.len(), d.outlines[0].outline.holes().len()),
        (1, 1)
    );
    assert!((areas(&d)[0] - 91.0).abs() < 1e-9);
}

#[test]
fn names_come_from_labels_titles_and_ids() {
    let body = "<g id='group' xmlns:k='urn:k'><rect k:label='Lid' id='r1' width='1' height='1'/><rect id='r2' x='3' width='1' height='1'/>
        <rect x='6' width='1' height='1'/><rect x='9' width='1' height='1'><title>Key</title></rect></g>";
    let names: Vec<_> = read_svg(MM, body)
        .outlines
        .into_iter()
        .filter_map(|d| d.name)
        .collect();
    assert_eq!(names, ["Lid", "r2", "group", "Key"]);
}

/// CSS: an inch is 96 pixels and 25.4 mm (CSS Values 3, section 6.2).
#[test]
fn units_are_taken_from_the_page_and_assumed_aloud() {
    let square = "<rect width='10' height='10'/>";
    for (root, side, stated) in [
        (MM, 10.0, true),
        ("width='1in' height='1in' viewBox='0 0 100 100'", 2.54, true),
        ("width='10cm' viewBox='0 0 100 100'", 10.0, true),
        ("width='50mm' height='50mm'", 10.0 * 25.4 / 96.0, true),
        (
            "width='72pt' height='72pt' viewBox='0 0 254 254'",
            1.0,
            true,
        ),
        ("width='960' height='960' viewBox='0 0 10 10'", 254.0, false),
        ("viewBox='0 0 10 10'", 10.0 * 25.4 / 96.0, false),
        ("", 10.0 * 25.4 / 96.0, false),
    ] {
        let d = read_svg(root, square);
        let found = areas(&d)[0].sqrt();
        assert!((found - side).abs() < 1e-9 * side, "{root}: {found}");
        assert_eq!(
            (d.unit_stated, units_assumed(&d).is_none()),
            (stated, stated),
            "{root}"
        );
        assert!(
            (d.unit_mm - side / 10.0).abs() < 1e-9,
            "{root}: {}",
            d.unit_mm
        );
    }
    let d = read_in(
        &svg("viewBox='0 0 10 10'", square),
        DrawingFormat::Svg,
        DrawingUnit::Millimetre,
    );
    assert!((areas(&d)[0] - 100.0).abs() < 1e-9 && units_assumed(&d).is_none());
}

#[test]
fn what_is_not_seen_is_left_out_and_counted() {
    let body = "<rect width='9' height='9'/><rect style='display:none' width='1' height='1'/><g visibility='hidden'><rect width='1' height='1'/></g>
        <rect fill='none' width='4' height='4'/><text>x</text><use href='#nothing'/><g fill='none' stroke='red'><circle cx='5' cy='5' r='1'/></g>";
    let d = read_svg(MM, body);
    assert_eq!(d.outlines.len(), 1);
    assert_eq!(d.outlines[0].outline.holes().len(), 1);
    let counts: Vec<usize> = d
        .warnings
        .iter()
        .map(|w| match w {
            DrawingWarning::LeftOut { count, .. } => *count,
            other => panic!("{other}"),
        })
        .collect();
    assert_eq!(counts.iter().sum::<usize>(), 5, "{:?}", d.warnings);
}

#[test]
fn stroked_lines_chain_and_what_stays_open_is_told() {
    let body = "<g fill='none' stroke='#000'><path d='M0 0L10 0L10 10'/><path d='M10 10L0 10L0 0'/><path d='M20 0L30 0'/></g>";
    let d = read_svg(MM, body);
    assert!((areas(&d)[0] - 100.0).abs() < 1e-9);
    assert!(
        matches!(d.warnings[..], [DrawingWarning::OpenPaths { count: 1, .. }]),
        "{:?}",
        d.warnings
    );
}

/// 13 MB in 50,000 lines. Looking up the line of every shape took 3 * 10^11 steps, over a minute; the whole takes below a second.
#[test]
fn a_long_file_of_many_shapes_is_read_soon_and_its_errors_still_name_the_line() {
    let padding = "x".repeat(200);
    let line = format!("<line x1='1' y1='1' x2='1' y2='2' stroke='red'/><!--{padding}-->\n");
    let file = |last: &str| {
        let lines = line.repeat(50_000);
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'>\n{lines}{last}</svg>"
        )
    };
    let started = std::time::Instant::now();
    let drawing = read(&file("<rect width='2' height='2'/>"), DrawingFormat::Svg).expect("sound");
    assert_eq!(drawing.outlines.len(), 1);
    let said = read(&file("<rect width='wide'/>"), DrawingFormat::Svg)
        .expect_err("no length")
        .to_string();
    assert!(said.contains("line 50002"), "{said}");
    assert!(started.elapsed() < std::time::Duration::from_secs(20));
}
