//! Strokes and thicknesses heard after a photo was studied. Photo: path-traced, exact truth (tests/data/README.md).

#![allow(clippy::unwrap_used)]

use capture::photo::{Limits, Photo};
use capture::sheet::Sheet;
use capture::{Capture, Knowledge, Stroke, StrokeKind, Study, TakenWarning, ThicknessAt};
use shape::{EdgeTree, Outline, Point, Vector};

fn photo() -> Photo {
    photo_of("studio/window.jpg")
}

fn photo_of(name: &str) -> Photo {
    let path = format!("{}/../../tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    Photo::decode(&std::fs::read(path).unwrap(), &Limits::default()).unwrap()
}

fn knowledge() -> Knowledge {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/data/studio/test_sheet.json"
    );
    Knowledge {
        sheet: Some(Sheet::from_json(&std::fs::read(path).unwrap()).unwrap()),
        thickness_mm: Some(0.0),
        ..Knowledge::default()
    }
}

fn stroke(kind: StrokeKind, points: &[[f64; 2]]) -> Stroke {
    Stroke {
        kind,
        width_mm: 2.0,
        points: points.iter().map(|p| Point::from(*p)).collect(),
    }
}

fn covers(capture: &Capture, at: [f64; 2]) -> bool {
    capture.part_at(Point::from(at)).is_some()
}

#[test]
fn strokes_change_what_lies_round_them_and_nothing_else() {
    let photo = photo();
    let knowledge = knowledge();
    let mut study = Study::of(&photo, &knowledge, &shape::Silent).unwrap();
    let before = study.capture(&knowledge).unwrap();
    let ribbon = before
        .parts
        .iter()
        .min_by(|a, b| {
            let fill = |c: &capture::Captured| {
                c.outline.area_mm2()
                    / (c.outline.bounds().width_mm() * c.outline.bounds().height_mm())
            };
            fill(a).total_cmp(&fill(b))
        })
        .unwrap();
    let b = ribbon.outline.bounds();
    let middle = b.centre();
    // A line across everything at the ribbon's middle height.
    let line = stroke(
        StrokeKind::Split,
        &[[b.min.x - 5.0, middle.y], [b.max.x + 5.0, middle.y]],
    );
    study.guide(std::slice::from_ref(&line));
    let apart = study.capture(&knowledge).unwrap();
    assert!(apart.parts.len() > before.parts.len());
    let area = |c: &Capture| c.parts.iter().map(|p| p.outline.area_mm2()).sum::<f64>();
    assert!((area(&apart) - area(&before)).abs() < 1.0);

    // Drawn on bare paper: a new part where the stroke is, all others as they were, to the last digit.
    let free = (0..40)
        .flat_map(|i| (0..60).map(move |j| [36.0 + 3.5 * f64::from(i), 36.0 + 3.8 * f64::from(j)]))
        .find(|p| {
            before.parts.iter().all(|c| {
                let tree = shape::EdgeTree::new(c.silhouette.in_sheet.clone());
                let dot = [[-6.0, -6.0], [9.0, -6.0], [9.0, 6.0], [-6.0, 6.0]];
                let ring = dot.map(|d| Point::new(p[0] + d[0], p[1] + d[1])).to_vec();
                let near = shape::EdgeTree::new(shape::Outline::try_new(ring, vec![]).unwrap());
                tree.clearance_mm(&near, 1.0) > 0.5
            })
        })
        .unwrap();
    let dot = stroke(StrokeKind::Include, &[free, [free[0] + 3.0, free[1]]]);
    study.guide(std::slice::from_ref(&dot));
    let more = study.capture(&knowledge).unwrap();
    assert!(covers(&more, free) && !covers(&before, free));
    for part in &before.parts {
        assert!(more.parts.iter().any(|p| p.outline == part.outline));
    }

    // Without strokes, everything is as before.
    study.guide(&[]);
    assert_eq!(study.capture(&knowledge).unwrap().parts, before.parts);

    // Strokes far outside the photo do nothing, and take no time.
    study.guide(&[stroke(
        StrokeKind::Include,
        &[[-4000.0, -4000.0], [4000.0, -4000.0]],
    )]);
    assert_eq!(study.capture(&knowledge).unwrap().parts, before.parts);
}

/// A patch of soft shade in a board's window, path-traced (own scene, half size): all of its edge lies below the noise. It is told and left
/// out until somebody draws over it.
#[test]
fn what_hardly_differs_from_the_paper_is_told_and_heard_when_drawn_over() {
    let photo = photo_of("capture/faint.jpg");
    let knowledge = Knowledge {
        thickness_mm: Some(0.0),
        ..Knowledge::default()
    };
    let told = |c: &Capture| {
        let all = c.warnings.iter().filter_map(|w| match w {
            TakenWarning::FaintLeftOut { at, .. } => Some(*at),
            _ => None,
        });
        all.collect::<Vec<_>>()
    };
    let mut study = Study::of(&photo, &knowledge, &shape::Silent).unwrap();
    let before = study.capture(&knowledge).unwrap();
    let [at] = told(&before)[..] else {
        panic!("{:?}", before.warnings);
    };
    assert!(before.part_at(at).is_none());
    let dot = stroke(StrokeKind::Include, &[[at.x, at.y]]);
    study.guide(std::slice::from_ref(&dot));
    let drawn = study.capture(&knowledge).unwrap();
    assert_eq!(told(&drawn), []);
    assert!(drawn.part_at(at).is_some());
    study.guide(&[]);
    let after = study.capture(&knowledge).unwrap();
    assert_eq!(
        (after.parts, after.warnings),
        (before.parts, before.warnings)
    );
}

/// Strokes far apart, near each other, drawn one by one, taken away again: what is found hangs on those that hold alone.
#[test]
fn strokes_one_by_one_are_the_same_as_all_at_once() {
    let photo = photo();
    let knowledge = knowledge();
    let mut study = Study::of(&photo, &knowledge, &shape::Silent).unwrap();
    let parts = study.capture(&knowledge).unwrap().parts;
    let middle = |k: usize| {
        let p = parts[k].outline.bounds().centre();
        [[p.x, p.y], [p.x + 2.0, p.y + 1.0]]
    };
    let last = parts.len() - 1;
    let strokes = [
        stroke(StrokeKind::Exclude, &middle(0)),
        stroke(StrokeKind::Include, &[[40.0, 40.0], [44.0, 41.0]]),
        stroke(StrokeKind::Exclude, &middle(last)),
        stroke(StrokeKind::Include, &middle(0)),
        stroke(StrokeKind::Exclude, &[[43.0, 40.0], [46.0, 44.0]]),
    ];
    let sorted = |study: &Study| {
        let mut found: Vec<String> = study
            .capture(&knowledge)
            .unwrap()
            .parts
            .iter()
            .map(|p| format!("{p:?}"))
            .collect();
        found.sort();
        found
    };
    for held in [&strokes[..1], &strokes[..4], &strokes, &strokes[1..3]] {
        for n in 1..=held.len() {
            study.guide(&held[..n]);
        }
        let one_by_one = sorted(&study);
        study.guide(&[]);
        study.guide(held);
        assert_eq!(one_by_one, sorted(&study), "{} strokes", held.len());
    }
}

#[test]
fn a_thickness_given_later_is_the_same_as_one_given_first() {
    let photo = photo();
    let late = knowledge();
    let first = Knowledge {
        thickness_mm: Some(3.0),
        ..late.clone()
    };
    let study = Study::of(&photo, &late, &shape::Silent).unwrap();
    let direct = Study::of(&photo, &first, &shape::Silent).unwrap();
    assert_eq!(
        study.capture(&first).unwrap().parts,
        direct.capture(&first).unwrap().parts
    );
    assert_ne!(
        study.capture(&late).unwrap().parts,
        study.capture(&first).unwrap().parts
    );
}

/// At 12 px/mm a picture of 4,000 px holds 333 mm.
#[test]
fn a_part_too_large_for_a_cut_out_is_refused_by_its_size() {
    let photo = photo();
    let taken = capture::capture(&photo, &knowledge(), &shape::Silent)
        .unwrap()
        .taken;
    let cut = |length_mm: f64| {
        let part =
            shape::Outline::rectangle(Point::new(0.0, 0.0), Point::new(length_mm, 20.0)).unwrap();
        capture::cut_out(&photo, &taken, &part, 0.0, 12.0)
    };
    assert_eq!(cut(330.0).unwrap().width, 3962);
    let said = cut(340.0).unwrap_err().to_string();
    assert!(
        said.contains("340 x 20 mm") && said.contains("holds 333 mm"),
        "{said}"
    );
}

/// A block of bare metal and one of black plastic, path-traced (`studio/lamps`), whose small holes show little paper, in deep shade. They are
/// found once thicknesses are known, and the same again whatever was asked in between.
#[test]
fn round_holes_are_found_once_a_height_is_known() {
    let photo = photo_of("studio/lamps.jpg");
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/data/studio/lamps.truth.json"
    );
    let truth: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let ring = |v: &serde_json::Value| -> Vec<Point> {
        let points = v.as_array().unwrap().iter();
        points
            .map(|p| Point::new(p[0].as_f64().unwrap(), p[1].as_f64().unwrap()))
            .collect()
    };
    let rings = |v: &serde_json::Value| v.as_array().unwrap().iter().map(ring).collect();
    let blocks: Vec<(ThicknessAt, Outline)> = truth["parts"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|p| ["module4", "speaker6"].contains(&p["name"].as_str().unwrap()))
        .map(|block| {
            let whole =
                Outline::try_new(ring(&block["outline_mm"]), rings(&block["holes_mm"])).unwrap();
            let tree = EdgeTree::new(whole.clone());
            let middle = whole.bounds().centre();
            let at = (0..400)
                .map(|i| middle + Vector::new(f64::from(i % 20 - 10), f64::from(i / 20 - 10)))
                .min_by(|p, q| {
                    let depth = |p: &Point| tree.signed_distance_mm(*p);
                    depth(p).total_cmp(&depth(q))
                })
                .unwrap();
            let thickness_mm = block["thickness_mm"].as_f64().unwrap();
            (ThicknessAt { at, thickness_mm }, whole)
        })
        .collect();
    assert_eq!(blocks.len(), 2);
    let flat = knowledge();
    let known = Knowledge {
        thicknesses: blocks.iter().map(|(t, _)| *t).collect(),
        ..knowledge()
    };
    let study = Study::of(&photo, &flat, &shape::Silent).unwrap();
    let found = |knowledge: &Knowledge| {
        let captured = study.capture(knowledge).unwrap();
        let parts = blocks.iter().map(|(t, whole)| {
            let part = captured.part_at(t.at).unwrap().outline.clone();
            let centre = |r: &shape::Ring| r.bounds().centre();
            let open = whole.holes().iter().filter(|h| !part.contains(centre(h)));
            (open.count(), part)
        });
        parts.unzip::<usize, Outline, Vec<_>, Vec<_>>()
    };
    let (before, _) = found(&flat);
    let (open, parts) = found(&known);
    let count = |open: &[usize]| open.iter().sum::<usize>();
    assert!(count(&open) >= count(&before) + 2, "{before:?}, {open:?}");
    assert_ne!(found(&flat).1, parts);
    assert_eq!(found(&known).1, parts);
}
