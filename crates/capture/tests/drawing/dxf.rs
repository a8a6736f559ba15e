use super::super::*;

/// A DXF file in text form around entities, with a unit (4: mm) and blocks.
pub fn dxf(unit: &str, blocks: &str, entities: &str) -> String {
    let header = if unit.is_empty() {
        String::new()
    } else {
        format!("0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n{unit}\n0\nENDSEC\n")
    };
    format!(
        "{header}0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"
    )
}

/// Pairs from words: code, value, code, value.
pub fn pairs(text: &str) -> String {
    text.split_whitespace()
        .fold(String::new(), |all, word| all + word + "\n")
}

pub const SQUARE: &str =
    "0 LWPOLYLINE 8 edge 90 4 70 1 10 0 20 0 10 10 20 0 10 10 20 10 10 0 20 10";

fn read_dxf(entities: &str) -> Drawing {
    read(&dxf("4", "", &pairs(entities)), DrawingFormat::Dxf).expect("sound")
}

/// A stadium: straight sides of 20 mm, ends of half circles of radius 5 (bulge 1, the DXF reference's group 42;
/// recalled, not verified). By hand: 20 x 10 + pi 25.
#[test]
fn bulges_draw_arcs() {
    let d =
        read_dxf("0 LWPOLYLINE 90 4 70 1 10 0 20 0 10 20 20 0 42 1 10 20 20 10 10 0 20 10 42 1");
    let area = d.outlines[0].outline.area_mm2();
    let truth = 200.0 + std::f64::consts::PI * 25.0;
    assert!(
        area < truth && area > truth - 31.5 * 0.005,
        "{area}, {truth}"
    );
    let b = d.outlines[0].outline.bounds();
    assert!((b.min.x + 5.0).abs() <= 0.005 && (b.max.x - 25.0).abs() <= 0.005);
    assert_eq!(d.warnings, []);
}

#[test]
fn circles_lie_as_holes_in_what_holds_them_and_layers_give_names() {
    let d = read_dxf(&format!(
        "{SQUARE} 0 CIRCLE 8 drill 10 3 20 3 40 1 0 CIRCLE 8 drill 10 7 20 7 40 1"
    ));
    assert_eq!(d.outlines.len(), 1);
    let outline = &d.outlines[0].outline;
    assert_eq!(outline.holes().len(), 2);
    let one = (100.0 - outline.area_mm2()) / 2.0;
    assert_circle_area(one, 1.0);
    assert_eq!(d.outlines[0].name.as_deref(), Some("edge"));
}

/// A quarter ring by hand: radii 10 and 6, lines between: pi / 4 (100 - 36).
#[test]
fn lines_and_arcs_chain() {
    let d = read_dxf(
        "0 ARC 10 0 20 0 40 10 50 0 51 90 0 LINE 10 0 20 6 11 0 21 10 0 ARC 10 0 20 0 40 6 50 0 51 90 0 LINE 10 6 20 0 11 10 21 0",
    );
    let truth = std::f64::consts::FRAC_PI_4 * 64.0;
    assert!((d.outlines[0].outline.area_mm2() - truth).abs() < 25.2 * 0.005);
}

/// An ellipse's area is pi a b.
#[test]
fn an_ellipse_has_its_area() {
    let d = read_dxf("0 ELLIPSE 10 5 20 5 11 3 21 4 40 0.5 41 0 42 6.283185307179586");
    let truth = std::f64::consts::PI * 5.0 * 2.5;
    let area = d.outlines[0].outline.area_mm2();
    assert!(
        area < truth && area > truth - 25.0 * 0.005,
        "{area}, {truth}"
    );
}

/// A closed path of one cubic Bezier (0,0) (10,0)... as a clamped spline, closed by a line. Area under a cubic
/// Bezier by Green's theorem: for control points (0,0), (0,8), (12,8), (12,0):
/// 3/20 (x1 y0 - x0 y1 ...) worked out: with y = 24 t (1 - t), x = 12 t^2 (3 - 2 t), the area is
/// the integral of y dx = 24 * 72 * integral of t^2 (1 - t)^2 = 1728 / 30 = 57.6.
#[test]
fn a_spline_has_the_area_that_calculus_gives() {
    let d = read_dxf(
        "0 SPLINE 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 10 0 20 8 10 12 20 8 10 12 20 0 0 LINE 10 12 20 0 11 0 21 0",
    );
    let area = d.outlines[0].outline.area_mm2();
    assert!((area - 57.6).abs() < 20.0 * 0.005, "{area}");
}

#[test]
fn old_polylines_are_read_with_their_vertices() {
    let d = read_dxf(
        "0 POLYLINE 8 old 66 1 70 1 0 VERTEX 10 0 20 0 0 VERTEX 10 4 20 0 42 1 0 VERTEX 10 4 20 4 0 VERTEX 10 0 20 4 0 SEQEND",
    );
    let truth = 16.0 + std::f64::consts::PI * 2.0;
    assert!((d.outlines[0].outline.area_mm2() - truth).abs() < 0.04);
    assert_eq!(d.outlines[0].name.as_deref(), Some("old"));
}

/// Block: a square of side 1 about its base point (0.5, 0.5). Twice as large, turned by 30 degrees, at
/// (10, 20), in two columns 5 apart: areas 4, centres by hand.
#[test]
fn inserts_are_placed_scaled_turned_and_repeated() {
    let block = pairs(
        "0 BLOCK 2 cell 10 0.5 20 0.5 0 LWPOLYLINE 8 0 70 1 10 0 20 0 10 1 20 0 10 1 20 1 10 0 20 1 0 ENDBLK",
    );
    let insert = pairs("0 INSERT 8 cells 2 cell 10 10 20 20 41 2 42 2 50 30 70 2 44 5");
    let d = read(&dxf("4", &block, &insert), DrawingFormat::Dxf).unwrap();
    assert_eq!(d.outlines.len(), 2);
    for (drawn, centre) in d
        .outlines
        .iter()
        .zip([(10.0, 20.0), (10.0 + 5.0 * 30_f64.to_radians().cos(), 22.5)])
    {
        assert!((drawn.outline.area_mm2() - 4.0).abs() < 1e-9);
        let c = drawn.outline.centroid();
        assert!(
            (c.x - centre.0).abs() < 1e-9 && (c.y - centre.1).abs() < 1e-9,
            "{c:?}"
        );
        assert_eq!(drawn.name.as_deref(), Some("cells"));
    }
}

/// What is seen from behind (normal 0, 0, -1) has its x axis turned over.
#[test]
fn what_faces_down_is_mirrored() {
    let d = read_dxf("0 CIRCLE 10 5 20 5 40 1 210 0 220 0 230 -1");
    let c = d.outlines[0].outline.centroid();
    assert!((c.x + 5.0).abs() < 1e-6 && (c.y - 5.0).abs() < 1e-6);
}

#[test]
fn units_are_taken_from_the_header_and_assumed_aloud() {
    for (code, mm) in [("4", 1.0), ("1", 25.4), ("5", 10.0), ("9", 0.0254)] {
        let d = read(&dxf(code, "", &pairs(SQUARE)), DrawingFormat::Dxf).unwrap();
        let side = 10.0 * mm;
        assert!(
            (areas(&d)[0] - side * side).abs() < 1e-9 * side * side,
            "{code}"
        );
        assert!(d.unit_stated && units_assumed(&d).is_none());
    }
    for code in ["0", ""] {
        let d = read(&dxf(code, "", &pairs(SQUARE)), DrawingFormat::Dxf).unwrap();
        assert_eq!((units_assumed(&d), d.unit_stated), (Some(1.0), false));
        let d = read_in(
            &dxf(code, "", &pairs(SQUARE)),
            DrawingFormat::Dxf,
            DrawingUnit::Inch,
        );
        assert!((areas(&d)[0] - 254.0 * 254.0).abs() < 1e-6);
        assert_eq!(units_assumed(&d), None);
    }
}

#[test]
fn what_is_not_drawn_is_counted() {
    let layers = pairs(
        "0 SECTION 2 TABLES 0 TABLE 2 LAYER 0 LAYER 2 off 70 0 62 -7 0 LAYER 2 frozen 70 1 62 7 0 ENDTAB 0 ENDSEC",
    );
    let text = dxf(
        "4",
        "",
        &pairs(&format!(
            "{SQUARE} 0 CIRCLE 8 off 10 1 20 1 40 1 0 CIRCLE 8 frozen 10 1 20 1 40 1 0 TEXT 1 hello 0 TEXT 1 hello 0 HATCH 2 SOLID 0 LINE 10 0 20 0 30 0 11 1 21 1 31 5 0 LINE 67 1 10 0 20 0 11 1 21 1"
        )),
    );
    let d = read(&(layers + &text), DrawingFormat::Dxf).unwrap();
    let mut said: Vec<(usize, &str)> = d
        .warnings
        .iter()
        .map(|w| match w {
            DrawingWarning::LeftOut { count, what, .. } => (*count, what.as_str()),
            other => panic!("{other}"),
        })
        .collect();
    said.sort_unstable();
    assert_eq!(
        said,
        [
            (1, "HATCH"),
            (1, "entity out of the plane"),
            (1, "paper space entity"),
            (2, "TEXT"),
            (2, "hidden entity"),
        ]
    );
    assert_eq!(areas(&d), [100.0]);
}
