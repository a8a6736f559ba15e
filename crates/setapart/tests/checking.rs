//! `check` and `arrange` on a piece of three parts: findings, exit status, pipes.

mod common;

use common::{folder, part, placed, run, run_on, small_piece};
use serde_json::{Value, json};
use std::fs;

/// The small piece with its parts placed as told.
fn piece_with(placements: Value) -> Value {
    let mut piece = small_piece();
    piece["placements"] = placements;
    piece
}

/// Runs `check --json`: its exit status, and (level, code) of each finding.
fn findings_of(piece: &Value) -> (Option<i32>, Vec<(String, String)>) {
    let run = run_on(["check", "--json"], piece.to_string().as_bytes());
    let found = run.json()["findings"]
        .as_array()
        .expect("findings is a list")
        .clone();
    let text = |f: &Value, field: &str| f[field].as_str().expect("a text").to_owned();
    (
        run.status,
        found
            .iter()
            .map(|f| (text(f, "level"), text(f, "code")))
            .collect(),
    )
}

/// Placed 10 mm apart, inside the margin, by construction.
fn apart() -> Value {
    json!([
        placed("p1", 30.0, 40.0),
        placed("p2", 30.0, 110.0),
        placed("p3", 30.0, 160.0)
    ])
}

#[test]
fn parts_that_lie_well_apart_are_no_reason_to_stop() {
    let (status, found) = findings_of(&piece_with(apart()));
    assert_eq!(status, Some(0), "{found:?}");
    assert!(
        found
            .iter()
            .all(|(level, code)| level != "stop" && !code.starts_with("layout.")),
        "{found:?}"
    );
}

#[test]
fn overlap_is_a_stop_and_gives_status_1() {
    let mut placements = apart();
    placements[1]["y"] = json!(95.0); // 5 mm into the part below it, by construction
    let (status, found) = findings_of(&piece_with(placements));
    assert_eq!(status, Some(1));
    assert!(
        found.contains(&("stop".into(), "layout.overlap".into())),
        "{found:?}"
    );
}

#[test]
fn a_gap_that_is_too_small_is_a_fix_and_gives_status_0() {
    let mut placements = apart();
    placements[1]["y"] = json!(103.0); // 3 mm from the part below it; 4 are asked
    let (status, found) = findings_of(&piece_with(placements));
    assert_eq!(status, Some(0));
    assert!(
        found.contains(&("fix".into(), "layout.gap".into())),
        "{found:?}"
    );
}

#[test]
fn a_part_that_reaches_out_of_the_window_is_a_stop() {
    let mut placements = apart();
    placements[2]["x"] = json!(-1.0);
    let (status, found) = findings_of(&piece_with(placements));
    assert_eq!(status, Some(1));
    assert!(
        found.contains(&("stop".into(), "layout.outside-window".into())),
        "{found:?}"
    );
}

#[test]
fn a_part_larger_than_the_window_is_a_stop_that_says_what_to_do() {
    let mut piece = small_piece();
    piece["parts"][0] = part("p1", "Door", 700.0, 900.0, 0);
    let run = run_on(["check", "--json"], piece.to_string().as_bytes());
    assert_eq!(run.status, Some(1));
    let found = run.json();
    let stop = found["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|f| f["code"] == "layout.part-too-large");
    let stop = stop.expect("the part is found");
    assert_eq!(
        (&stop["level"], &stop["parts"]),
        (&json!("stop"), &json!(["p1"]))
    );
    assert!(stop["text"].as_str().is_some_and(|t| t.contains("Door")));
    assert!(stop["remedy"].as_str().is_some_and(|t| !t.is_empty()));
}

#[test]
fn arranging_a_part_larger_than_the_window_is_no_success() {
    let mut piece = small_piece();
    piece["parts"][0] = part("p1", "Door", 700.0, 900.0, 0);
    let run = run_on(["arrange"], piece.to_string().as_bytes());
    assert!(
        matches!(run.status, Some(1 | 2)),
        "{:?} {}",
        run.status,
        run.err
    );
    assert!(
        run.err.contains("Door") || run.err.contains("p1"),
        "{}",
        run.err
    );
}

#[test]
fn a_caption_on_a_part_is_found() {
    let mut piece = piece_with(apart());
    piece["captions"] =
        json!([{ "part": "p1", "text": "Front shell", "x": 40.0, "y": 50.0, "w": 30.0, "h": 5.0 }]);
    let (_, found) = findings_of(&piece);
    assert!(
        found.iter().any(|(_, code)| code == "caption.on-part"),
        "{found:?}"
    );
}

#[test]
fn findings_carry_all_that_a_script_needs() {
    let run = run_on(["check", "--json"], small_piece().to_string().as_bytes());
    for finding in run.json()["findings"].as_array().expect("a list") {
        assert!(["stop", "fix", "note"].contains(&finding["level"].as_str().expect("a level")));
        for field in ["code", "text", "remedy"] {
            assert!(
                finding[field].as_str().is_some_and(|t| !t.is_empty()),
                "{finding}"
            );
        }
        assert!(finding["parts"].is_array());
    }
}

#[test]
fn an_arranged_piece_passes_its_own_check() {
    let arranged = run_on(["arrange"], small_piece().to_string().as_bytes());
    assert_eq!(arranged.status, Some(0), "{}", arranged.err);
    assert_eq!(
        arranged.json()["placements"].as_array().map(Vec::len),
        Some(3)
    );
    let (status, found) = findings_of(&arranged.json());
    assert_eq!(status, Some(0));
    assert!(found.iter().all(|(level, _)| level == "note"), "{found:?}");
}

#[test]
fn the_same_piece_and_seed_give_the_same_bytes() {
    let piece = small_piece().to_string();
    let first = run_on(["arrange", "--seed", "7"], piece.as_bytes());
    let second = run_on(["arrange", "--seed", "7"], piece.as_bytes());
    assert_eq!(first.status, Some(0), "{}", first.err);
    assert_eq!(first.out, second.out);
}

#[test]
fn a_file_and_a_pipe_give_the_same() {
    let folder = folder("a_file_and_a_pipe_give_the_same");
    let (source, target) = (folder.join("piece.json"), folder.join("arranged.json"));
    let piece = small_piece().to_string();
    fs::write(&source, &piece).expect("the piece is written");
    let args = [
        "arrange".as_ref(),
        "--in".as_ref(),
        source.as_os_str(),
        "--out".as_ref(),
        target.as_os_str(),
    ];
    assert_eq!(run(args).status, Some(0));
    assert_eq!(
        fs::read_to_string(target).expect("the result is there"),
        run_on(["arrange"], piece.as_bytes()).out
    );
}

#[test]
fn measures_agree_with_what_was_drawn() {
    let run = run_on(
        ["measure", "--json"],
        piece_with(apart()).to_string().as_bytes(),
    );
    assert_eq!(run.status, Some(0), "{}", run.err);
    let measured = run.json();
    let first = &measured["parts"][0];
    // 90 x 60 mm less a hole of 3 x 3 mm; outer and inner edge.
    assert_eq!(first["part"], "p1");
    assert!((first["area_mm2"].as_f64().expect("a number") - 5391.0).abs() < 1e-9);
    assert!((first["perimeter_mm"].as_f64().expect("a number") - 312.0).abs() < 1e-9);
    let pair = measured["pairs"]
        .as_array()
        .expect("a list")
        .iter()
        .find(|p| p["a"] == "p1" && p["b"] == "p2");
    assert!(
        (pair.expect("the pair is there")["clearance_mm"]
            .as_f64()
            .expect("a number")
            - 10.0)
            .abs()
            < 1e-9
    );
}

/// The exit status said that something must not go on, and nothing said what.
#[test]
fn arrange_tells_what_stands_in_the_way() {
    let mut piece = piece_with(json!([placed("p1", -1.0, 40.0)]));
    piece["placements"][0]["pinned"] = json!(true);
    let place = folder("arrange_tells_what_stands_in_the_way").join("out.json");
    let to_pipe = run_on(["arrange"], piece.to_string().as_bytes());
    let to_file = run_on(
        ["arrange".as_ref(), "--out".as_ref(), place.as_os_str()],
        piece.to_string().as_bytes(),
    );
    for run in [to_pipe, to_file] {
        assert_eq!(run.status, Some(1), "{}", run.err);
        let told = ["stop", "[layout.outside-window]"];
        assert!(told.iter().all(|w| run.err.contains(w)), "{}", run.err);
    }
}
