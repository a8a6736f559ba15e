//! `mount` as people and scripts use it.

mod common;

use common::{folder, part, placed, run, run_on, small_piece};
use serde_json::{Value, json};
use std::fs;

/// Two parts of which all is known, placed.
fn known() -> Value {
    let mut piece = small_piece();
    let mut plate = part("p1", "Plate", 50.0, 40.0, 0);
    plate["kind"] = json!("board");
    plate["thickness_mm"] = json!(5.0);
    plate["mass_g"] = json!(16.0);
    plate["back_face"] = json!("fr4");
    let mut shell = part("p2", "Shell", 60.0, 90.0, 1);
    shell["kind"] = json!("shell");
    shell["thickness_mm"] = json!(10.5);
    shell["mass_g"] = json!(18.0);
    shell["back_face"] = json!("abs");
    shell["wall_mm"] = json!(1.5);
    shell["inner_depth_mm"] = json!(9.0);
    piece["parts"] = json!([plate, shell]);
    piece["placements"] = json!([placed("p1", 30.0, 40.0), placed("p2", 100.0, 40.0)]);
    piece["frame"]["rebate_depth_mm"] = json!(35.0);
    piece["frame"]["glazing"] = json!("float-2");
    piece
}

#[test]
fn the_json_has_the_shape_that_scripts_rely_on() {
    let run = run_on(["mount", "--json"], known().to_string().as_bytes());
    assert_eq!(run.status, Some(0), "{}{}", run.out, run.err);
    let plan = run.json();
    let depth = &plan["depth"];
    assert!(depth["needed_mm"].as_f64().is_some_and(|d| d > 15.0));
    for field in ["part", "top_mm", "clearance_mm"] {
        assert!(!depth["parts"][0][field].is_null(), "{field}");
    }
    for field in ["part", "outer", "holes", "layers_mm"] {
        assert!(!plan["supports"][0][field].is_null(), "{field}");
    }
    for bond in plan["bonds"].as_array().expect("a list") {
        for field in [
            "part",
            "adhesive",
            "paths",
            "bead_mm",
            "dose_ml",
            "utilisation",
        ] {
            assert!(!bond[field].is_null(), "{field}");
        }
    }
    for step in plan["steps"].as_array().expect("a list") {
        for field in ["id", "title", "after", "minutes", "cautions"] {
            assert!(!step[field].is_null(), "{field}");
        }
    }
    assert!(plan["mass_g"].as_f64().is_some_and(|m| m > 500.0));
}

#[test]
fn the_plan_goes_into_the_piece_and_the_schedule_into_a_drawing() {
    let folder = folder("mount-out");
    let (out, chart) = (folder.join("built.json"), folder.join("plan.svg"));
    let args: Vec<std::ffi::OsString> = vec![
        "mount".into(),
        "--out".into(),
        out.clone().into(),
        "--chart".into(),
        chart.clone().into(),
    ];
    let run = run_on(args, known().to_string().as_bytes());
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(
        run.out.contains("steps") && run.out.contains("depth"),
        "{}",
        run.out
    );
    let piece: Value = serde_json::from_slice(&fs::read(&out).expect("written")).expect("JSON");
    assert!(piece["build"]["made_from"].is_string());
    let svg = fs::read_to_string(&chart).expect("written");
    assert!(svg.contains("<svg") && svg.len() > 5_000);
    // What was written is read again.
    let again = common::run(["check", "--in", out.to_str().expect("UTF-8")]);
    assert!(again.status.is_some_and(|s| s < 2), "{}", again.err);
}

#[test]
fn ones_own_catalogue_changes_the_plan_and_a_bad_one_is_refused() {
    let folder = folder("mount-catalogue");
    let (good, bad) = (folder.join("good.json"), folder.join("bad.json"));
    fs::write(&good, r#"{"rules": {"air_gap_mm": 12}}"#).expect("written");
    fs::write(&bad, r#"{"rules": {"air_gap_mm": -12}}"#).expect("written");
    let text = known().to_string();
    let with = |file: &std::path::Path| {
        run_on(
            [
                "mount",
                "--json",
                "--catalogue",
                file.to_str().expect("UTF-8"),
            ],
            text.as_bytes(),
        )
    };
    // What is needed besides the board: which board does depends on the depth that is left.
    let besides_board = |plan: Value| {
        let layers = plan["depth"]["layers"].as_array().cloned();
        let board = layers.unwrap_or_default().into_iter();
        let board = board.filter(|l| l["kind"] == "board");
        let board_mm: f64 = board.filter_map(|l| l["thickness_mm"].as_f64()).sum();
        plan["depth"]["needed_mm"].as_f64().map(|n| n - board_mm)
    };
    let own = besides_board(with(&good).json());
    let plain = besides_board(run_on(["mount", "--json"], text.as_bytes()).json());
    let more = own.zip(plain).map(|(a, b)| a - b);
    assert!(more.is_some_and(|m| (m - 7.0).abs() < 0.11), "{more:?}");
    with(&bad).is_refused_with(&["rules.air_gap_mm"]);
}

#[test]
fn a_part_at_the_glazing_is_a_stop_for_mount_and_check() {
    let mut piece = known();
    piece["frame"]["rebate_depth_mm"] = json!(14.0);
    for command in ["mount", "check"] {
        let run = run_on([command], piece.to_string().as_bytes());
        assert_eq!(run.status, Some(1), "{}", run.out);
        assert!(run.out.contains("depth.touches-glazing"), "{}", run.out);
    }
}

#[test]
fn measures_that_cannot_be_are_refused_with_their_place() {
    for (field, value) in [
        ("thickness_mm", json!(-3)),
        ("mass_g", json!(1e9)),
        ("wall_mm", json!(-0.1)),
        ("lift_mm", json!(1e6)),
    ] {
        let mut piece = known();
        piece["parts"][1][field] = value;
        run_on(["mount"], piece.to_string().as_bytes()).is_refused_with(&["parts[1]", field]);
    }
}

#[test]
fn the_catalogue_and_its_schema_can_be_printed() {
    let shown = run(["mount", "--show-catalogue"]).json();
    assert!(shown["adhesives"]["epoxy"]["lap_shear_mpa"]["source"].is_string());
    let schema = run(["schema", "catalogue"]).json();
    assert!(schema["properties"]["adhesives"].is_object());
    assert!(run(["schema"]).json()["properties"]["parts"].is_object());
}
