//! `fit`: two outlines from files, a verdict, numbers for scripts, a picture.

#![allow(clippy::unwrap_used)]

mod common;

use common::{data, folder, run, small_piece};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// A bracket without symmetry; by construction 40 x 25 mm less a corner of 10 x 5 mm.
const BRACKET: [[f64; 2]; 6] = [
    [0.0, 0.0],
    [40.0, 0.0],
    [40.0, 25.0],
    [10.0, 25.0],
    [10.0, 20.0],
    [0.0, 20.0],
];

/// The same with a tab of 4 x 6 mm on its right side.
const WITH_TAB: [[f64; 2]; 10] = [
    [0.0, 0.0],
    [40.0, 0.0],
    [40.0, 8.0],
    [44.0, 8.0],
    [44.0, 14.0],
    [40.0, 14.0],
    [40.0, 25.0],
    [10.0, 25.0],
    [10.0, 20.0],
    [0.0, 20.0],
];

/// Turned by 90 degrees counter-clockwise, then shifted by (100, 50).
fn quarter_turned(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    ring.iter().map(|[x, y]| [100.0 - y, 50.0 + x]).collect()
}

/// A capture's JSON of these outlines, one photo each.
fn capture_file(folder: &Path, name: &str, rings: &[Vec<[f64; 2]>]) -> PathBuf {
    let captures: Vec<Value> = rings
        .iter()
        .map(|outer| json!({ "image": "a.jpg", "camera": {}, "outlines": [{ "outer": outer, "holes": [], "sigma_mm": 0.05, "warnings": [] }] }))
        .collect();
    let path = folder.join(name);
    fs::write(
        &path,
        json!({ "captures": captures, "findings": [] }).to_string(),
    )
    .unwrap();
    path
}

fn piece_file(folder: &Path) -> PathBuf {
    let mut piece = small_piece();
    piece["parts"][1]["outline"] = json!({ "outer": BRACKET, "holes": [] });
    let path = folder.join("piece.json");
    fs::write(&path, piece.to_string()).unwrap();
    path
}

fn with_part(path: &Path, part: &str) -> String {
    format!("{}#{part}", path.display())
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn a_part_fits_its_own_place_wherever_that_lies() {
    let folder = folder("a_part_fits_its_own_place_wherever_that_lies");
    let place = capture_file(&folder, "place.json", &[quarter_turned(&BRACKET)]);
    let part = with_part(&piece_file(&folder), "p2");
    let run = run(["fit", &part, place.to_str().unwrap(), "--json"]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let found = run.json();
    assert_eq!(found["verdict"], "fit");
    assert_eq!(found["flipped"], false);
    for (field, truth) in [
        ("x", 100.0),
        ("y", 50.0),
        ("turn_deg", 90.0),
        ("overhang_mm", 0.0),
        ("gap_mm", 0.0),
    ] {
        assert!(
            (number(&found[field]) - truth).abs() < 0.005,
            "{field}: {}",
            found[field]
        );
    }
    assert!((number(&found["a"]["area_mm2"]) - 950.0).abs() < 1e-9);
    assert_eq!(found["trim"], json!([]));
}

#[test]
fn a_tab_is_to_be_trimmed_and_said_where() {
    let folder = folder("a_tab_is_to_be_trimmed_and_said_where");
    let outlines = capture_file(
        &folder,
        "both.json",
        &[WITH_TAB.to_vec(), quarter_turned(&BRACKET)],
    );
    let (a, b) = (with_part(&outlines, "1"), with_part(&outlines, "2"));
    let json_run = run(["fit", &a, &b, "--json"]);
    assert_eq!(json_run.status, Some(0), "{}", json_run.err);
    let found = json_run.json();
    assert_eq!(found["verdict"], "trim");
    let trim = found["trim"].as_array().unwrap();
    assert_eq!(trim.len(), 1);
    assert!(
        (number(&trim[0]["depth_mm"]) - 4.0).abs() < 0.005,
        "{}",
        trim[0]
    );
    assert!((number(&trim[0]["area_mm2"]) - 24.0).abs() < 0.05);
    // On the part itself the tab ends at x = 44.
    assert!(
        (number(&trim[0]["at_in_a"][0]) - 44.0).abs() < 0.01,
        "{}",
        trim[0]
    );
    let words = run(["fit", &a, &b]);
    assert_eq!(words.status, Some(0));
    for part in ["trim", "4.0", "24.0 mm²"] {
        assert!(words.out.contains(part), "{part}: {}", words.out);
    }
}

#[test]
fn what_does_not_fit_gives_status_1() {
    let folder = folder("what_does_not_fit_gives_status_1");
    let round: Vec<[f64; 2]> = (0..90)
        .map(|k| (f64::from(k) * 4.0).to_radians().sin_cos())
        .map(|(s, c)| [30.0 * c, 30.0 * s])
        .collect();
    let outlines = capture_file(&folder, "both.json", &[round, BRACKET.to_vec()]);
    let run = run([
        "fit",
        &with_part(&outlines, "1"),
        &with_part(&outlines, "2"),
        "--json",
    ]);
    assert_eq!(run.status, Some(1), "{}", run.err);
    assert_eq!(run.json()["verdict"], "no");
}

#[test]
fn a_part_is_turned_over_only_where_that_is_allowed() {
    let folder = folder("a_part_is_turned_over_only_where_that_is_allowed");
    let mirrored: Vec<[f64; 2]> = BRACKET.iter().map(|[x, y]| [40.0 - x, *y]).collect();
    let outlines = capture_file(&folder, "both.json", &[BRACKET.to_vec(), mirrored]);
    let (a, b) = (with_part(&outlines, "1"), with_part(&outlines, "2"));
    let plain = run(["fit", &a, &b, "--json"]).json();
    assert_eq!(plain["flipped"], false);
    assert!(number(&plain["overhang_mm"]) > 1.0);
    let flipped = run(["fit", &a, &b, "--json", "--allow-flip"]).json();
    assert_eq!(flipped["flipped"], true);
    assert_eq!(flipped["verdict"], "fit");
    assert!(number(&flipped["overhang_mm"]) < 0.005);
}

#[test]
fn the_picture_is_an_svg_or_a_png_and_the_same_each_time() {
    let folder = folder("the_picture_is_an_svg_or_a_png_and_the_same_each_time");
    let outlines = capture_file(
        &folder,
        "both.json",
        &[WITH_TAB.to_vec(), quarter_turned(&BRACKET)],
    );
    let (a, b) = (with_part(&outlines, "1"), with_part(&outlines, "2"));
    let draw = |name: &str| {
        let picture = folder.join(name);
        let run = run(["fit", &a, &b, "--picture", picture.to_str().unwrap()]);
        assert_eq!(run.status, Some(0), "{}", run.err);
        (run.out, fs::read(picture).unwrap())
    };
    let svg = draw("a.svg");
    assert_eq!(svg, draw("b.svg"));
    let text = String::from_utf8(svg.1).unwrap();
    for id in ["common", "overhang", "place", "part"] {
        assert!(text.contains(&format!("id=\"{id}\"")), "{id} is missing");
    }
    let png = draw("c.png").1;
    assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
    let refused = run([
        "fit",
        &a,
        &b,
        "--picture",
        folder.join("d.jpg").to_str().unwrap(),
    ]);
    refused.is_refused_with(&["--picture", ".svg"]);
}

#[test]
fn bad_input_is_refused_with_what_to_do() {
    let folder = folder("bad_input_is_refused_with_what_to_do");
    let piece = piece_file(&folder);
    let outlines = capture_file(&folder, "both.json", &[BRACKET.to_vec(), BRACKET.to_vec()]);
    let (piece_text, captures) = (piece.to_str().unwrap(), outlines.to_str().unwrap());
    let one = with_part(&outlines, "1");
    run(["fit", piece_text, &one]).is_refused_with(&["3 parts", "#p1", "p2, p3"]);
    run(["fit", &with_part(&piece, "p9"), &one]).is_refused_with(&["no part \"p9\"", "p1, p2, p3"]);
    run(["fit", captures, &one]).is_refused_with(&["2 outlines", "#1"]);
    run(["fit", &with_part(&outlines, "3"), &one]).is_refused_with(&["no outline \"3\"", "from 1"]);
    run(["fit", &with_part(&outlines, "0"), &one]).is_refused_with(&["no outline \"0\""]);
    run(["fit", "nothing.json#1", &one]).is_refused_with(&["nothing.json", "no such file"]);
    run(["fit", &one, &one, "--part-a", "2"]).is_refused_with(&["--part-a", "already"]);
    run(["fit", &one, &one, "--tolerance", "20.5"]).is_refused_with(&["--tolerance", "0 to 20"]);
    run(["fit", &one, &one, "--tolerance", "NaN"])
        .is_refused_with(&["--tolerance", "not a number"]);
    for (name, text) in [
        ("empty.json", ""),
        ("list.json", "[]"),
        ("other.json", "{\"a\": 1}"),
    ] {
        let path = folder.join(name);
        fs::write(&path, text).unwrap();
        run(["fit", path.to_str().unwrap(), &one])
            .is_refused_with(&[name, "neither a piece document"]);
    }
    let crossed = capture_file(
        &folder,
        "crossed.json",
        &[vec![[0.0, 0.0], [9.0, 9.0], [9.0, 0.0], [0.0, 6.0]]],
    );
    run(["fit", crossed.to_str().unwrap(), &one])
        .is_refused_with(&["captures[0].outlines[0]", "crosses"]);
}

#[test]
fn a_part_may_be_named_by_an_option_too() {
    let folder = folder("a_part_may_be_named_by_an_option_too");
    let piece = piece_file(&folder);
    let path = piece.to_str().unwrap();
    let run = run([
        "fit", path, path, "--part-a", "p2", "--part-b", "p2", "--json",
    ]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(run.json()["verdict"], "fit");
}

/// A photo of the shipped demo: what `capture` writes is what `fit` reads, with arcs and without.
#[test]
fn capture_writes_lines_and_arcs_within_the_tolerance_and_fit_reads_them() {
    let folder = folder("capture_writes_lines_and_arcs_within_the_tolerance_and_fit_reads_them");
    let photo = data("demo/2-boards.jpg");
    let photo = photo.to_str().unwrap();
    let tidy = run(["capture", photo, "--json", "--thickness", "1.6"]);
    let plain = run([
        "capture",
        photo,
        "--json",
        "--thickness",
        "1.6",
        "--tidy",
        "0",
    ]);
    let (tidy_json, plain_json) = (tidy.json(), plain.json());
    let outlines = |v: &Value| v["captures"][0]["outlines"].as_array().unwrap().clone();
    let (tidied, measured) = (outlines(&tidy_json), outlines(&plain_json));
    assert_eq!(tidied.len(), measured.len());
    for (t, m) in tidied.iter().zip(&measured) {
        assert!(m.get("exact").is_none() && m.get("tidy").is_none());
        assert!(number(&t["tidy"]["reached_mm"]) <= 0.05);
        let count = |v: &Value| v["outer"].as_array().unwrap().len();
        assert!(
            count(&t["exact"]) < count(m) / 2,
            "{} of {}",
            count(&t["exact"]),
            count(m)
        );
        assert_eq!(t["sigma_mm"], m["sigma_mm"]);
    }
    let (a, b) = (folder.join("a.json"), folder.join("b.json"));
    fs::write(&a, tidy.out).unwrap();
    fs::write(&b, plain.out).unwrap();
    let run = run(["fit", &with_part(&a, "1"), &with_part(&b, "1"), "--json"]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    // Both are one measurement: no farther apart than the tolerance and the polygon's chords.
    assert!(number(&run.json()["overhang_mm"]) <= 0.06, "{}", run.out);
}

#[test]
fn a_tolerance_out_of_range_is_refused_before_the_photo_is_read() {
    let tidy = |bad: &str| run(["capture", "nothing.jpg", "--json", &format!("--tidy={bad}")]);
    for bad in ["-1", "0.001", "6"] {
        tidy(bad).is_refused_with(&["--tidy", "0.005 to 5"]);
    }
    tidy("NaN").is_refused_with(&["--tidy", "not a number"]);
}
