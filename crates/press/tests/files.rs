//! What the writers write.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/ink.rs"]
mod ink;
mod support;

use press::template::{tiled, whole};
use press::{
    DocumentInfo, Drawing, Paper, PrinterCorrection, Speech, outlines, to_pdf, to_png, to_svg,
};
use support::sample_piece;

fn info() -> DocumentInfo {
    DocumentInfo {
        title: "Wind in the hand".into(),
        description: "Template".into(),
        language: "en".into(),
    }
}

/// Numbers of every MediaBox, PDF units of 1/72 in.
fn media_boxes(pdf: &[u8]) -> Vec<[f64; 4]> {
    let text = String::from_utf8_lossy(pdf);
    text.split("/MediaBox")
        .skip(1)
        .map(|rest| {
            let inside = rest.split(['[', ']']).nth(1).unwrap();
            let numbers: Vec<f64> = inside
                .split_whitespace()
                .map(|n| n.parse().unwrap())
                .collect();
            numbers.try_into().unwrap()
        })
        .collect()
}

/// ISO 216: A4 210 x 297 mm, A3 297 x 420 mm. US Letter 8.5 x 11 in, Tabloid 11 x 17 in, 25.4 mm each.
#[test]
fn pages_have_the_size_of_their_paper() {
    let piece = sample_piece();
    for (paper, [w, h]) in [
        (Paper::A4, [210.0, 297.0]),
        (Paper::A3, [297.0, 420.0]),
        (Paper::LETTER, [8.5 * 25.4, 11.0 * 25.4]),
        (Paper::TABLOID, [11.0 * 25.4, 17.0 * 25.4]),
    ] {
        let pages = tiled(&piece, &paper, PrinterCorrection::NONE, Speech::default()).unwrap();
        let boxes = media_boxes(&to_pdf(&pages, &info()).unwrap());
        assert_eq!(boxes.len(), pages.len());
        for [x0, y0, x1, y1] in boxes {
            let mm = [(x1 - x0) / 72.0 * 25.4, (y1 - y0) / 72.0 * 25.4];
            let as_used = [[w, h], [h, w]]
                .iter()
                .any(|s| (mm[0] - s[0]).abs() < 0.001 && (mm[1] - s[1]).abs() < 0.001);
            assert!(as_used, "{}: {mm:?}", paper.name);
        }
    }
}

/// ISO 32000-1, 12.2 and 7.5.4: the entry, and a cross-reference that points at the object that has it.
#[test]
fn readers_are_asked_to_print_at_the_documents_own_size() {
    let page = whole(&sample_piece(), PrinterCorrection::NONE, Speech::default()).unwrap();
    let pdf = to_pdf(std::slice::from_ref(&page), &info()).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    assert_eq!(text.matches("/PrintScaling/None").count(), 1);
    let number = |after: &str| -> usize {
        let rest = text.rsplit(after).next().unwrap();
        rest.split_whitespace().next().unwrap().parse().unwrap()
    };
    let table = &pdf[number("startxref\n")..];
    assert!(table.starts_with(b"xref\n"));
    let line = String::from_utf8_lossy(table)
        .lines()
        .nth(2)
        .unwrap()
        .to_owned();
    let at: usize = line.split(' ').next().unwrap().parse().unwrap();
    let object = String::from_utf8_lossy(&pdf[at..]).into_owned();
    assert!(object.starts_with(&format!("{} 0 obj", number("/Root "))));
    assert!(
        object
            .split("endobj")
            .next()
            .unwrap()
            .contains("/PrintScaling/None")
    );
}

#[test]
fn the_same_piece_gives_the_same_bytes_without_date_or_time() {
    let piece = sample_piece();
    let page = whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap();
    let pdf = to_pdf(std::slice::from_ref(&page), &info()).unwrap();
    assert_eq!(pdf, to_pdf(std::slice::from_ref(&page), &info()).unwrap());
    let text = String::from_utf8_lossy(&pdf);
    for stamp in ["CreationDate", "ModDate", "CreateDate", "ModifyDate"] {
        assert!(!text.contains(stamp), "{stamp}");
    }
    assert_eq!(to_svg(&page), to_svg(&page));
    assert_eq!(to_png(&page, 1.0).unwrap(), to_png(&page, 1.0).unwrap());
}

#[test]
fn outlines_as_svg_keep_their_areas_and_their_names() {
    let piece = sample_piece();
    let svg = to_svg(&outlines::lay_out(&piece, Speech::default()).unwrap());
    assert!(svg.contains("width=\"298mm\" height=\"398mm\" viewBox=\"0 0 298 398\""));
    for (number, (part, outline)) in piece.outlines_on_board().into_iter().enumerate() {
        let start = svg.find(&format!("id=\"{}\"", part.id)).unwrap();
        let path = svg[start..].lines().next().unwrap();
        assert!(path.contains(&format!("<title>{}  {}</title>", number + 1, part.name)));
        let d = path
            .split(" d=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap();
        let area: f64 = d
            .split('Z')
            .filter(|ring| !ring.is_empty())
            .map(|ring| {
                let points: Vec<[f64; 2]> = ring
                    .split(['M', 'L'])
                    .filter(|p| !p.is_empty())
                    .map(|p| {
                        let (x, y) = p.split_once(' ').unwrap();
                        [x.parse().unwrap(), y.parse().unwrap()]
                    })
                    .collect();
                let n = points.len();
                (0..n)
                    .map(|i| {
                        let ([ax, ay], [bx, by]) = (points[i], points[(i + 1) % n]);
                        // y runs down in SVG.
                        -0.5 * (ax * by - bx * ay)
                    })
                    .sum::<f64>()
            })
            .sum();
        // Written to five decimals of a mm.
        assert!(
            (area - outline.area_mm2()).abs() < 1e-5 * outline.perimeter_mm(),
            "{}",
            part.name
        );
    }
}

#[test]
fn svg_stays_well_formed_whatever_a_name_says() {
    let mut piece = sample_piece();
    piece.name = "<\"&'>\u{0}\u{ffff}".into();
    piece.parts[0].name = "a</title><script>".into();
    let svg = to_svg(&outlines::lay_out(&piece, Speech::default()).unwrap());
    assert!(!svg.contains("<script>") && !svg.contains('\u{0}') && !svg.contains('\u{ffff}'));
}

#[test]
fn pictures_and_pages_beyond_reason_are_refused() {
    let page = Drawing::new("page", 1000.0, 1000.0).unwrap();
    assert!(to_png(&page, 100.0).is_err());
    assert!(to_png(&page, f64::NAN).is_err());
    assert!(to_png(&page, -1.0).is_err());
    assert!(Drawing::new("page", f64::INFINITY, 10.0).is_err());
    assert!(Drawing::new("page", 0.0, 10.0).is_err());
}

/// A slot 30 x 10 mm: two lines and two half circles of radius 5. SVG 1.1, 8.3.8: y runs down, so a turn to the left as it is
/// seen has sweep 0; a half circle is written as two quarters.
#[test]
fn an_outline_of_lines_and_arcs_is_drawn_with_arcs() {
    let slot = [
        [5.0, 0.0, 0.0],
        [25.0, 0.0, 1.0],
        [25.0, 10.0, 0.0],
        [5.0, 10.0, 1.0],
    ];
    let exact = shape::ExactOutline::try_new(slot.map(Into::into).to_vec(), vec![]).unwrap();
    let outline = shape::Outline::from_exact(exact).unwrap();
    let path = press::Path::outline(&outline);
    assert_eq!(path.steps.len(), 6, "{path:?}");
    let mut page = Drawing::new("A slot", 40.0, 20.0).unwrap();
    page.items.push(press::Item::Shape(press::Shape {
        path: path.shifted(shape::Vector::new(1.0, 2.0)),
        fill: Some(press::Ink::BLACK),
        stroke: None,
        id: None,
        title: None,
    }));
    let svg = to_svg(&page);
    let expected =
        "d=\"M6 18L26 18A5 5 0 0 0 31 13A5 5 0 0 0 26 8L6 8A5 5 0 0 0 1 13A5 5 0 0 0 6 18Z\"";
    assert!(svg.contains(expected), "{svg}");
    // The pixels of the same page: 20 x 10 mm and a circle of radius 5 are 278.54 mm2.
    let png = to_png(&page, 20.0).unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut pixels).unwrap();
    let channels = info.color_type.samples();
    let dark: f64 = pixels
        .chunks_exact(channels)
        .map(|p| 1.0 - f64::from(p[0]) / 255.0)
        .sum();
    let area_mm2 = dark / 400.0;
    assert!((area_mm2 - 278.54).abs() < 0.2, "{area_mm2}");
}
