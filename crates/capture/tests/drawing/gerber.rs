use super::super::*;

const HEAD: &str = "G04 invented*\n%TF.FileFunction,Profile,NP*%\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.100000*%\nG75*\nD10*\n";

fn read_gerber(body: &str) -> Drawing {
    read(&format!("{HEAD}{body}M02*\n"), DrawingFormat::Gerber)
        .unwrap_or_else(|e| panic!("{body}: {e}"))
}

const SQUARE: &str = "X0Y0D02*\nG01*\nX10000000D01*\nY10000000D01*\nX0D01*\nY0D01*\n";

#[test]
fn a_profile_of_lines_is_its_middle_line() {
    let d = read_gerber(SQUARE);
    assert_eq!((areas(&d), d.warnings), (vec![100.0], vec![]));
}

/// A board of 30 x 20 with corners of radius 5, by hand: 600 - (4 - pi) 25; a hole of radius 2.
#[test]
fn arcs_and_whole_turns_are_drawn() {
    let body = "X5000000Y0D02*G01*X25000000D01*G03*X30000000Y5000000I0J5000000D01*G01*Y15000000D01*G03*X25000000Y20000000I-5000000J0D01*
        G01*X5000000D01*G03*X0Y15000000I0J-5000000D01*G01*Y5000000D01*G03*X5000000Y0I5000000J0D01*
        X12000000Y10000000D02*G02*X12000000Y10000000I-2000000J0D01*";
    let d = read_gerber(body);
    let outline = &d.outlines[0].outline;
    assert_eq!(outline.holes().len(), 1);
    assert_circle_area(-outline.holes()[0].signed_area_mm2(), 2.0);
    let truth = 600.0 - (4.0 - std::f64::consts::PI) * 25.0 - std::f64::consts::PI * 4.0;
    assert!(
        (outline.area_mm2() - truth).abs() < 45.0 * 0.005,
        "{}",
        outline.area_mm2()
    );
    assert_eq!(d.warnings, []);
}

#[test]
fn single_quadrant_arcs_find_their_centre() {
    // A circle of radius 5 about (5, 5) in four quarters, offsets without signs (G74).
    let body = "G74*X10000000Y5000000D02*G03*X5000000Y10000000I5000000J0D01*X0Y5000000I0J5000000D01*X5000000Y0I5000000J0D01*X10000000Y5000000I0J5000000D01*";
    let d = read_gerber(body);
    assert_circle_area(areas(&d)[0], 5.0);
    assert_eq!(d.warnings, []);
}

#[test]
fn regions_are_closed_contours() {
    let d = read_gerber(
        "G36*X0Y0D02*G01*X10000000D01*Y10000000D01*X0D01*Y0D01*X2000000Y2000000D02*X4000000D01*Y4000000D01*X2000000D01*Y2000000D01*G37*",
    );
    assert_eq!(areas(&d), [96.0]);
}

#[test]
fn units_digits_and_zeros_are_followed() {
    let square = "X0Y0D02*X10000D01*Y10000D01*X0D01*Y0D01*M02*";
    // 2.4 inches with leading zeros left off: 10000 is 1 in. Trailing zeros left off: 01 is 1 in.
    let d = read(
        &format!("%FSLAX24Y24*%%MOIN*%G01*{square}"),
        DrawingFormat::Gerber,
    )
    .unwrap();
    assert!((areas(&d)[0] - 25.4 * 25.4).abs() < 1e-9);
    let trailing = "%FSTAX24Y24*%%MOIN*%G01*X0Y0D02*X01D01*Y01D01*X0D01*Y0D01*M02*";
    let d = read(trailing, DrawingFormat::Gerber).unwrap();
    assert!((areas(&d)[0] - 25.4 * 25.4).abs() < 1e-9);
    // Old: incremental, no code repeated, several words a line, inches by G70.
    let old = "%FSLIX24Y24*%G70*G01*X0Y0D02*X10000Y0D01*X0Y10000*X-10000Y0*X0Y-10000*M02*";
    let d = read(old, DrawingFormat::Gerber).unwrap();
    assert!((areas(&d)[0] - 25.4 * 25.4).abs() < 1e-9);
    // No unit: millimetres, aloud.
    let d = read(&format!("%FSLAX33Y33*%G01*{square}"), DrawingFormat::Gerber).unwrap();
    assert_eq!((areas(&d), units_assumed(&d)), (vec![100.0], Some(1.0)));
    let d = read_in(
        &format!("%FSLAX33Y33*%G01*{square}"),
        DrawingFormat::Gerber,
        DrawingUnit::Inch,
    );
    assert!((areas(&d)[0] - 254.0 * 254.0).abs() < 1e-6);
}

#[test]
fn repetitions_are_drawn() {
    let d = read_gerber(&format!("%SRX3Y2I15J20*%\n{SQUARE}%SR*%\n"));
    assert_eq!(areas(&d), vec![100.0; 6]);
    let corners: Vec<_> = d
        .outlines
        .iter()
        .map(|o| o.outline.bounds().min)
        .map(|p| (p.x, p.y))
        .collect();
    assert_eq!(
        corners,
        [
            (0.0, 0.0),
            (15.0, 0.0),
            (30.0, 0.0),
            (0.0, 20.0),
            (15.0, 20.0),
            (30.0, 20.0)
        ]
    );
}

#[test]
fn what_is_no_edge_is_told() {
    let text = format!("{HEAD}{SQUARE}X5000000Y5000000D03*X6000000Y5000000D03*M02*")
        .replace("Profile,NP", "Copper,L1,Top");
    let d = read(&text, DrawingFormat::Gerber).unwrap();
    assert!(
        matches!(&d.warnings[..], [DrawingWarning::NotAProfile { said }, DrawingWarning::LeftOut { count: 2, .. }] if said == "Copper,L1,Top"),
        "{:?}",
        d.warnings
    );
}
