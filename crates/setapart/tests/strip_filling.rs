//! `strip-fill`: instances are filled soundly, and what is no instance is refused with its place.

mod common;

use common::{folder, run};
use serde_json::{Value, json};
use shape::{Outline, Point, Pose, intersection_area_mm2};
use std::fs;
use std::path::{Path, PathBuf};

fn instance() -> Value {
    json!({
        "name": "two kinds",
        "strip_height": 10.0,
        "items": [
            { "id": 7, "demand": 3, "allowed_orientations": [0.0, 180.0],
              "shape": { "type": "simple_polygon", "data": [[0, 0], [6, 0], [0, 5], [0, 0]] } },
            { "id": 8, "demand": 2, "dxf": "not used",
              "shape": { "type": "simple_polygon", "data": [[100, 50], [100, 52], [104, 52], [104, 50]] } },
        ],
    })
}

fn written(test: &str, instance: &Value) -> PathBuf {
    let path = folder(test).join("instance.json");
    fs::write(&path, instance.to_string()).expect("the test's folder can be written");
    path
}

fn fill(path: &Path, more: &[&str]) -> common::Run {
    let mut args = vec![
        "strip-fill".to_owned(),
        path.display().to_string(),
        "--json".into(),
    ];
    args.extend(more.iter().map(|s| (*s).to_owned()));
    run(args)
}

/// Truth: `shape`'s overlay on the instance's own polygons, placed as the answer says.
#[test]
fn every_copy_lies_in_the_strip_clear_of_the_others() {
    let path = written("strip-fill-sound", &instance());
    let done = fill(&path, &["--steps", "2000"]);
    assert_eq!(done.status, Some(0), "{}", done.err);
    let answer = done.json();
    let length = answer["length"].as_f64().expect("a length");
    let mut placed = Vec::new();
    for p in answer["placements"].as_array().expect("placements") {
        let item = instance()["items"]
            .as_array()
            .and_then(|items| items.iter().find(|i| i["id"] == p["item"]).cloned())
            .expect("an item of the instance");
        let number = |v: &Value| v.as_f64().expect("a number");
        let points = item["shape"]["data"].as_array().expect("points").iter();
        let outline = Outline::try_new(
            points
                .map(|q| Point::new(number(&q[0]), number(&q[1])))
                .collect(),
            vec![],
        )
        .expect("a valid outline");
        let pose = Pose::new(number(&p["x"]), number(&p["y"]), number(&p["turn_deg"]));
        placed.push(outline.placed(pose));
    }
    assert_eq!(placed.len(), 5);
    for (i, a) in placed.iter().enumerate() {
        let b = a.bounds();
        assert!(
            b.min.x > -1e-9 && b.min.y > -1e-9 && b.max.x < length + 1e-9 && b.max.y < 10.0 + 1e-9
        );
        assert!(
            placed[i + 1..]
                .iter()
                .all(|b| intersection_area_mm2(a, b) < 1e-5)
        );
    }
    // 3 triangles of 15, 2 rectangles of 8.
    let density = answer["density"].as_f64().expect("a density");
    assert!((density - 61.0 / (10.0 * length)).abs() < 1e-12);
    assert_eq!(answer["stopped_by"], "steps");
}

#[test]
fn the_same_steps_and_seed_print_the_same() {
    let path = written("strip-fill-same", &instance());
    let one = fill(&path, &["--steps", "3000", "--seed", "4"]);
    let two = fill(&path, &["--steps", "3000", "--seed", "4"]);
    assert_eq!(one.out, two.out);
    assert_eq!(one.status, Some(0), "{}", one.err);
}

#[test]
fn a_time_that_is_up_at_once_still_gives_a_layout() {
    let path = written("strip-fill-time", &instance());
    let done = fill(&path, &["--time", "0.3"]);
    assert_eq!(done.status, Some(0), "{}", done.err);
    assert_eq!(done.json()["placements"].as_array().map(Vec::len), Some(5));
}

/// Units of light years and of nanometres are the same instance.
#[test]
fn the_unit_of_an_instance_changes_nothing() {
    let mut lengths = Vec::new();
    for scale in [1.0 / 1024.0 / 64.0, 1.0, 1024.0 * 64.0] {
        let mut scaled = instance();
        scaled["strip_height"] = json!(10.0 * scale);
        for item in scaled["items"].as_array_mut().expect("items") {
            for p in item["shape"]["data"].as_array_mut().expect("points") {
                *p = json!([
                    p[0].as_f64().map(|v| v * scale),
                    p[1].as_f64().map(|v| v * scale)
                ]);
            }
        }
        let path = written("strip-fill-units", &scaled);
        let done = fill(&path, &["--steps", "500"]);
        assert_eq!(done.status, Some(0), "{}", done.err);
        lengths.push(done.json()["length"].as_f64().expect("a length") / scale);
    }
    assert!(lengths.windows(2).all(|w| w[0] == w[1]), "{lengths:?}");
}

#[test]
fn what_is_no_instance_is_refused_with_its_place() {
    let spoilt: Vec<(&str, Value, &[&str])> = vec![
        ("/strip_height", json!(0), &["strip_height"]),
        ("/strip_height", json!("ten"), &["strip_height"]),
        ("/items", json!([]), &["no item"]),
        ("/items/0/demand", json!(-1), &["items[0].demand"]),
        ("/items/0/demand", json!(1_000_000), &["limit"]),
        (
            "/items/0/allowed_orientations",
            json!([]),
            &["item 0", "turns"],
        ),
        ("/items/0/shape/type", json!("blob"), &["items[0].shape"]),
        (
            "/items/0/shape/data",
            json!([[0, 0], [1, 1]]),
            &["items[0]", "three"],
        ),
        (
            "/items/0/shape/data",
            json!([[0, 0], [1, 1], [2, 2]]),
            &["items[0]", "area"],
        ),
        (
            "/items/0/shape/data",
            json!([[0, 0], [6, 5], [6, 0], [0, 4]]),
            &["items[0]", "crosses"],
        ),
        (
            "/items/0/shape/data/1",
            json!([9, null]),
            &["items[0].shape"],
        ),
        (
            "/items/0/shape/data/1",
            json!([6, 40]),
            &["items[0]", "id 7", "high"],
        ),
    ];
    for (place, value, words) in spoilt {
        let mut bad = instance();
        *bad.pointer_mut(place).expect("a place of the instance") = value;
        let path = written("strip-fill-spoilt", &bad);
        fill(&path, &["--steps", "100"]).is_refused_with(words);
    }
}

#[test]
fn bad_files_and_arguments_are_refused() {
    let folder = folder("strip-fill-files");
    fill(&folder.join("none.json"), &[]).is_refused_with(&["none.json", "no such file"]);
    let cut = folder.join("cut.json");
    fs::write(&cut, &instance().to_string()[..90]).expect("the test's folder can be written");
    fill(&cut, &[]).is_refused_with(&["cut.json"]);
    let path = written("strip-fill-arguments", &instance());
    fill(&path, &["--time=-1"]).is_refused_with(&["--time"]);
    fill(&path, &["--time=NaN"]).is_refused_with(&["--time"]);
    fill(&path, &["--gap=-0.5"]).is_refused_with(&["--gap"]);
}
