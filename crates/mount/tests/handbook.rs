//! Against handbooks and worked examples; each number's source stands beside it.

#![allow(missing_docs, clippy::unwrap_used)]

use mount::{Element, Group, bead_ml, plate_bow_mm, sheet_mass_g, wire_tension_n};
use shape::{Outline, Point, Vector};

fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found} is not {expected} within {within}"
    );
}

/// Source: design manual AA-SM-004, eccentric fastener group (after Niu): forces 2493, 1210, 1220, 2507, 1165, 1451.
#[test]
fn an_eccentric_group_of_six_fasteners_gives_the_manuals_forces() {
    let at = [
        (1.0, 1.0),
        (-1.0, 1.0),
        (-1.0, -1.0),
        (1.0, 5.0),
        (0.0, 5.0),
        (10.0, 2.0),
    ];
    let diameter = [0.375, 0.25, 0.25, 0.375, 0.25, 0.375];
    let area = |d: f64| std::f64::consts::PI * d * d / 4.0;
    let elements = at
        .iter()
        .zip(diameter)
        .map(|(&(x, y), d)| Element::Fastener {
            at: Point::new(x, y),
            area_mm2: area(d),
        })
        .collect();
    let group = Group::try_new(elements).unwrap();
    near(group.centroid().x, 2.5641, 5e-5);
    near(group.centroid().y, 2.3590, 5e-5);
    near(group.polar_mm4(), 10.1926, 5e-4);
    let expected = [2493.0, 1210.0, 1220.0, 2507.0, 1165.0, 1451.0];
    for ((&(x, y), d), force) in at.iter().zip(diameter).zip(expected) {
        // 10000 down at x = 0.3, and 12000 clockwise.
        let stress = group.shear_at(
            Point::new(x, y),
            Vector::new(0.0, -10_000.0),
            Point::new(0.3, 0.0),
            -12_000.0,
        );
        near(stress.length_mm() * area(d), force, 0.5);
    }
}

/// Source: textbook exercise, four fasteners at (±75, ±60) mm, 16 kN at 425 mm: 20.97 and 14.79 kN, worked out by hand.
#[test]
fn four_fasteners_far_beside_a_load_give_the_exercises_forces() {
    let at = [(75.0, 60.0), (75.0, -60.0), (-75.0, 60.0), (-75.0, -60.0)];
    let group = Group::try_new(
        at.iter()
            .map(|&(x, y)| Element::Fastener {
                at: Point::new(x, y),
                area_mm2: 1.0,
            })
            .collect(),
    )
    .unwrap();
    let force = |x: f64, y: f64| {
        let load = Vector::new(0.0, -16.0);
        group
            .shear_at(Point::new(x, y), load, Point::new(425.0, 0.0), 0.0)
            .length_mm()
    };
    near(force(75.0, 60.0), 20.97, 0.005);
    near(force(-75.0, -60.0), 14.79, 0.005);
}

fn patch() -> Group {
    let outline = Outline::rectangle(Point::new(-20.0, -10.0), Point::new(20.0, 10.0)).unwrap();
    Group::try_new(vec![Element::Face(outline)]).unwrap()
}

/// By the closed form: a patch of 40 x 20 mm, 1 N at 30 mm beside its middle: J 133333 mm4, corner 0.00617 MPa.
#[test]
fn a_bonded_patch_beside_its_load_has_the_closed_forms_corner_stress() {
    near(patch().polar_mm4(), 133_333.0, 0.5);
    let stress = patch().greatest_shear_mpa(Vector::new(0.0, -1.0), Point::new(30.0, 0.0));
    near(stress, 0.00617, 5e-6);
}

/// By the closed form: a weight W that stands off by z pulls at the upper edge with 6 W z / (b h^2).
#[test]
fn a_weight_that_stands_off_pulls_at_the_upper_edge() {
    let (w, z, b, h) = (1.0, 12.0, 40.0, 20.0);
    let pull = patch().greatest_pull_mpa(0.0, Point::new(0.0, 0.0), Vector::new(0.0, w * z));
    near(pull, 6.0 * w * z / (b * h * h), 1e-12);
}

/// A strip and the rectangle that it covers are the same thing.
#[test]
fn a_strip_has_the_moments_of_its_rectangle() {
    let strip = Group::try_new(vec![Element::Strip {
        from: Point::new(-20.0, 0.0),
        to: Point::new(20.0, 0.0),
        width_mm: 20.0,
    }])
    .unwrap();
    near(strip.area_mm2(), 800.0, 1e-9);
    near(strip.polar_mm4(), patch().polar_mm4(), 1e-6);
}

/// Source: sealant maker's table TB2017-15: 50 ml at 3 mm give 7.1 m, 310 ml at 5 mm give 16 m.
#[test]
fn beads_hold_what_the_tables_packs_do() {
    // The table rounds 7.1 m to 0.05 m, which hold 0.35 ml, and 16 m to 0.5 m, which hold 9.8 ml.
    near(bead_ml(7_100.0, 3.0), 50.0, 0.35);
    near(bead_ml(16_000.0, 5.0), 310.0, 9.8);
}

/// Source: textbook exercise: tension of 0.75 W where the halves stand 48.2 degrees from the vertical; by the closed
/// form W at 30 and 2.88 W at 10 degrees above the horizontal.
#[test]
fn a_picture_wire_has_the_exercises_tension() {
    near(wire_tension_n(1.0, 90.0 - 48.2), 0.75, 0.0005);
    near(wire_tension_n(1.0, 30.0), 1.0, 1e-12);
    near(wire_tension_n(1.0, 10.0), 2.88, 0.001);
}

/// Source: glass and acrylic pages: 2500 and 1190 kg/m3, so 5.0 and 2.38 kg/m2 at 2 mm.
#[test]
fn glazing_of_two_millimetres_has_the_handbooks_mass() {
    near(sheet_mass_g([1000.0, 1000.0], 2.0, 2500.0), 5000.0, 1e-9);
    near(sheet_mass_g([1000.0, 1000.0], 2.0, 1190.0), 2380.0, 1e-9);
}

/// Source: Timoshenko and Woinowsky-Krieger, table 8 (recalled): w D / (q a^4) = 0.00406 for a square, 0.01013 for two to
/// one.
#[test]
fn a_plate_on_its_edges_bows_as_the_table_says() {
    near(plate_bow_mm([1.0, 1.0], 1.0, 1.0), 0.00406, 5e-6);
    near(plate_bow_mm([1.0, 2.0], 1.0, 1.0), 0.01013, 5e-6);
}
