//! A photo with an ID-1 card beside the parts: measured in the card's plane. Photo: path-traced, exact truth
//! (tests/data/README.md). It shows a capture sheet too; its tags are not looked at here, they lie about as parts.

#![allow(
    clippy::print_stdout,
    reason = "what was measured is shown with --nocapture"
)]

use capture::photo::{Limits, Photo};
use capture::{Captured, Knowledge, Study, Taken, ThicknessAt};
use serde_json::Value;
use shape::{Outline, Point};

fn data(name: &str) -> Vec<u8> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/capture/");
    std::fs::read(format!("{folder}{name}")).expect("the test data are sound")
}

struct Token {
    outline: Outline,
    thickness_mm: f64,
}

/// The truth, and its tokens, mm of the sheet.
fn truth() -> (Value, Vec<Token>) {
    let all: Value =
        serde_json::from_slice(&data("card.truth.json")).expect("the test data are sound");
    let mut parts: Vec<Token> = all["parts"]
        .as_array()
        .expect("the test data are sound")
        .iter()
        .map(|p| {
            let points: Vec<Point> = p["outline_mm"]
                .as_array()
                .expect("the test data are sound")
                .iter()
                .map(|q| {
                    Point::new(
                        q[0].as_f64().expect("the test data are sound"),
                        q[1].as_f64().expect("the test data are sound"),
                    )
                })
                .collect();
            Token {
                outline: Outline::try_new(points, vec![]).expect("the test data are sound"),
                thickness_mm: p["rim_z_mm"].as_f64().expect("the test data are sound"),
            }
        })
        .collect();
    // The card comes first.
    parts.remove(0);
    (all, parts)
}

fn diameter_mm(outline: &Outline) -> f64 {
    2.0 * (outline.area_mm2() / std::f64::consts::PI).sqrt()
}

/// The part that is round and nearest to a diameter.
fn round_part(parts: &[Captured], diameter: f64) -> &Captured {
    parts
        .iter()
        .filter(|c| {
            let (area, length) = (c.outline.area_mm2(), c.outline.perimeter_mm());
            4.0 * std::f64::consts::PI * area / (length * length) > 0.8
        })
        .min_by(|a, b| {
            let off = |c: &Captured| (diameter_mm(&c.outline) - diameter).abs();
            off(a).total_cmp(&off(b))
        })
        .expect("the test data are sound")
}

#[test]
fn tokens_beside_a_card_have_their_true_size_and_distance() {
    let photo =
        Photo::decode(&data("card.jpg"), &Limits::default()).expect("the test data are sound");
    let (all, tokens) = truth();
    let study = Study::beside_card(&photo, &shape::Silent).expect("the test data are sound");
    let Taken::BesideCard(card) = study.taken() else {
        panic!("not beside a card");
    };
    // The truth's camera stands 346 mm high.
    let height = all["camera"]["height_mm"]
        .as_f64()
        .expect("the test data are sound");
    println!(
        "height {:.1} ({:.1} sigma {:.1}), card's corners within {:.3} mm, {:.2} px",
        card.camera.height_mm(),
        height,
        card.height_sigma_mm,
        card.corner_rms_mm,
        card.corner_rms_px
    );
    assert!(card.focal_known);
    assert!((card.camera.height_mm() - height).abs() < 3.0 * card.height_sigma_mm);
    assert!((card.camera.height_mm() - height).abs() < 0.02 * height);
    // It lies on its short side in the photo.
    assert_eq!(card.size_mm, [53.98, 85.60]);

    let seen = study
        .capture(&Knowledge::default())
        .expect("the test data are sound");
    let knowledge = Knowledge {
        thicknesses: tokens
            .iter()
            .map(|t| ThicknessAt {
                at: round_part(&seen.parts, diameter_mm(&t.outline))
                    .outline
                    .centroid(),
                thickness_mm: t.thickness_mm,
            })
            .collect(),
        ..Knowledge::default()
    };
    let found = study.capture(&knowledge).expect("the test data are sound");
    let card_middle = Point::new(0.5 * card.size_mm[0], 0.5 * card.size_mm[1]);
    // The card is the measure, no part.
    assert!(found.part_at(card_middle).is_none());
    // The same photo by its tags: what the eye takes for a token's edge is the same, so that what differs is the plane.
    let by_tags = Knowledge {
        thicknesses: tokens
            .iter()
            .map(|t| ThicknessAt {
                at: t.outline.centroid(),
                thickness_mm: t.thickness_mm,
            })
            .collect(),
        ..Knowledge::default()
    };
    let by_tags = capture::capture(&photo, &by_tags, &shape::Silent).expect("a sheet");
    let mut middles = Vec::new();
    for token in &tokens {
        let truth = diameter_mm(&token.outline);
        let part = round_part(&found.parts, truth);
        let same = by_tags
            .part_at(token.outline.centroid())
            .expect("a token on the sheet");
        let diameter = diameter_mm(&part.outline);
        let (off, differs) = (diameter - truth, diameter - diameter_mm(&same.outline));
        println!(
            "token {truth:.2}: off by {off:+.3} mm, by {differs:+.3} mm from what the tags say; {:?}",
            part.sigma
        );
        assert_eq!(part.thickness_mm, Some(token.thickness_mm));
        // The blank metal of one token passes for paper along a part of its rim, seen by either way.
        assert!(off.abs() < 0.5, "{off}");
        assert!(differs.abs() < 0.1, "{differs}");
        middles.push([part.outline.centroid(), same.outline.centroid()]);
    }
    for (i, j) in [(0, 1), (1, 2), (0, 2)] {
        let [beside_card, on_sheet] = [0, 1].map(|k| middles[i][k].distance_mm(middles[j][k]));
        println!("tokens {i} and {j}: {beside_card:.3} mm apart, by the tags {on_sheet:.3}");
        assert!(
            (beside_card - on_sheet).abs() < 0.15,
            "{beside_card} {on_sheet}"
        );
    }
}

/// Without its card a photo gives no scale, and says so.
#[test]
fn an_empty_sheet_shows_no_card() {
    let photo =
        Photo::decode(&data("empty.jpg"), &Limits::default()).expect("the test data are sound");
    let error = Study::beside_card(&photo, &shape::Silent)
        .err()
        .expect("the test data are sound");
    assert!(error.to_string().contains("no card is seen"), "{error}");
}
