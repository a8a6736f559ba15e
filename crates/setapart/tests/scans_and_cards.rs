//! Scans and photos beside a card: what they tell, and that what gives no outline is refused with what to do.

mod common;

use common::{Run, data, folder, run};
use image::{Rgb, RgbImage};
use std::fs;
use std::path::{Path, PathBuf};

/// A scan of a dark plate on a white lid: 30 x 20 mm at 300 dpi, at (20, 15) mm from the lower left of 80 x 60 mm.
fn plate_scan() -> RgbImage {
    let (w, h) = (945, 709);
    RgbImage::from_fn(w, h, |x, y| {
        let (right, up) = (
            (f64::from(x) + 0.5) * 25.4 / 300.0,
            f64::from(h - 1 - y) * 25.4 / 300.0,
        );
        let on = (20.0..50.0).contains(&right) && (15.0..35.0).contains(&up);
        let v = if on { 60 } else { 236 } + ((x * 7 + y * 13) % 3) as u8;
        Rgb([v, v, v])
    })
}

fn saved(folder: &Path, name: &str, picture: &RgbImage) -> PathBuf {
    let path = folder.join(name);
    picture.save(&path).expect("the picture is written");
    path
}

fn capture(picture: &Path, more: &[&str]) -> Run {
    let mut args = vec!["capture".as_ref(), picture.as_os_str()];
    args.extend(more.iter().map(std::ffi::OsStr::new));
    args.push("--json".as_ref());
    run(args)
}

#[test]
fn a_scan_tells_its_resolution_and_outlines_and_no_camera() {
    let folder = folder("a_scan_tells_its_resolution_and_outlines_and_no_camera");
    let scan = saved(&folder, "scan.png", &plate_scan());
    let run = capture(&scan, &["--dpi", "300", "--thickness", "4"]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let told = run.json();
    let capture = &told["captures"][0];
    assert!(capture.get("camera").is_none(), "{capture}");
    assert_eq!(capture["scan"]["dpi"], serde_json::json!([300.0, 300.0]));
    assert!(capture["scan"]["profile"].is_null());
    let outlines = capture["outlines"].as_array().expect("a list");
    assert_eq!(outlines.len(), 1);
    assert_eq!(outlines[0]["thickness_mm"], 4.0);
    let points: Vec<[f64; 2]> =
        serde_json::from_value(outlines[0]["outer"].clone()).expect("points");
    let most = points
        .iter()
        .fold([0.0f64; 2], |m, p| [m[0].max(p[0]), m[1].max(p[1])]);
    assert!(
        (most[0] - 50.0).abs() < 0.15 && (most[1] - 35.0).abs() < 0.15,
        "{most:?}"
    );
    // At twice the resolution, everything is half as large.
    let run = common::run([
        "capture".as_ref(),
        scan.as_os_str(),
        "--dpi".as_ref(),
        "600x600".as_ref(),
    ]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert!(run.out.contains("scan of 40 x 30 mm"), "{}", run.out);
}

#[test]
fn a_scan_of_no_known_or_possible_resolution_is_refused() {
    let folder = folder("a_scan_of_no_known_or_possible_resolution_is_refused");
    let scan = saved(&folder, "scan.png", &plate_scan());
    capture(&scan, &["--scan"]).is_refused_with(&[
        "scan.png",
        "does not say",
        "give the resolution",
    ]);
    for dpi in ["0", "1e9", "-300", "nan", "72", "300x100000"] {
        let dpi = format!("--dpi={dpi}");
        capture(&scan, &[&dpi]).is_refused_with(&["scan.png", "no scan's resolution"]);
    }
    capture(&scan, &["--dpi", "fine"]).is_refused_with(&["--dpi", "600"]);
    capture(&scan, &["--dpi", "19000"]).is_refused_with(&["scan.png", "mm", "resolution right"]);
    capture(&scan, &["--dpi", "300", "--card"]).is_refused_with(&["--card"]);
    capture(&scan, &["--dpi", "300", "--printed-x", "100"]).is_refused_with(&["--printed-x"]);
}

#[test]
fn a_scan_with_nothing_on_it_is_refused() {
    let folder = folder("a_scan_with_nothing_on_it_is_refused");
    let bare = RgbImage::from_fn(900, 700, |x, y| {
        let v = 235 + ((x * 7 + y * 13) % 3) as u8;
        Rgb([v, v, v])
    });
    let scan = saved(&folder, "bare.png", &bare);
    capture(&scan, &["--dpi", "300"]).is_refused_with(&["bare.png", "no part is seen in the scan"]);
}

#[test]
fn a_profile_of_another_form_is_refused() {
    let folder = folder("a_profile_of_another_form_is_refused");
    let scan = saved(&folder, "scan.png", &plate_scan());
    for (text, words) in [
        (
            "{\"format\": \"setapart-piece\", \"version\": 1}",
            "a piece document",
        ),
        ("Dear Sir or Madam", "which is JSON"),
        (
            "{\"format\": \"setapart-scanner-profile\", \"version\": 1}",
            "missing field",
        ),
        ("", "is empty"),
    ] {
        let profile = folder.join("profile.json");
        fs::write(&profile, text).expect("the profile is written");
        let path = profile.to_str().expect("UTF-8");
        capture(&scan, &["--dpi", "300", "--scanner", path]).is_refused_with(&[
            "profile.json",
            "a scanner's profile",
            words,
        ]);
    }
    capture(&scan, &["--dpi", "300", "--scanner", "none-there.json"])
        .is_refused_with(&["none-there.json", "no such file"]);
}

#[test]
fn a_profile_moves_what_a_scan_measures() {
    let folder = folder("a_profile_moves_what_a_scan_measures");
    let scan = saved(&folder, "scan.png", &plate_scan());
    let profile = folder.join("profile.json");
    // 2 % longer along x throughout.
    let text = serde_json::json!({
        "format": "setapart-scanner-profile", "version": 1,
        "x": { "nominal_mm": [0.0, 100.0], "true_mm": [0.0, 102.0] },
        "y": { "nominal_mm": [0.0, 100.0], "true_mm": [0.0, 100.0] },
        "skew": 0.0, "residual_rms_mm": 0.01, "residual_worst_mm": 0.03, "tags": 20, "print_measured": true
    });
    fs::write(&profile, text.to_string()).expect("the profile is written");
    let width = |run: &Run| {
        let told = run.json();
        let points: Vec<[f64; 2]> =
            serde_json::from_value(told["captures"][0]["outlines"][0]["outer"].clone())
                .expect("points");
        let xs = points.iter().map(|p| p[0]);
        xs.clone().fold(0.0, f64::max) - xs.fold(f64::MAX, f64::min)
    };
    let plain = capture(&scan, &["--dpi", "300"]);
    let path = profile.to_str().expect("UTF-8");
    let corrected = capture(&scan, &["--dpi", "300", "--scanner", path]);
    assert!(
        (width(&corrected) / width(&plain) - 1.02).abs() < 0.001,
        "{} {}",
        width(&plain),
        width(&corrected)
    );
    let told = corrected.json();
    assert_eq!(
        told["captures"][0]["scan"]["profile"]["residual_rms_mm"],
        0.01
    );
}

#[test]
fn a_scan_without_a_sheet_gives_no_profile_and_writes_nothing() {
    let folder = folder("a_scan_without_a_sheet_gives_no_profile_and_writes_nothing");
    let scan = saved(&folder, "scan.png", &plate_scan());
    let out = folder.join("profile.json");
    let args = |more: &[&str]| {
        let mut args = vec![
            "scanner-profile".to_owned(),
            scan.display().to_string(),
            "--out".into(),
            out.display().to_string(),
        ];
        args.extend(more.iter().map(|m| (*m).to_owned()));
        args
    };
    run(args(&["--dpi", "300"])).is_refused_with(&["scan.png", "no tag"]);
    run(args(&[])).is_refused_with(&["scan.png", "does not say"]);
    run(args(&["--dpi", "0"])).is_refused_with(&["scan.png", "no scan's resolution"]);
    assert!(!out.exists());
}

/// The sheet's own picture is the scan of a perfect scanner: its file says 600 pixels an inch (tests/data/README.md), and
/// its tags are within half a pixel, 0.02 mm, of their places.
#[test]
fn a_perfect_scanner_has_nothing_to_correct() {
    let folder = folder("a_perfect_scanner_has_nothing_to_correct");
    let (sheet, out) = (data("capture/sheet-a4.png"), folder.join("profile.json"));
    let run = run([
        "scanner-profile".as_ref(),
        sheet.as_os_str(),
        "--printed-x=100".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
        "--json".as_ref(),
    ]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let told = run.json();
    assert_eq!(told["tags"], 20);
    for axis in ["x", "y"] {
        for share in told[axis]["off_shares"].as_array().expect("a list") {
            assert!(share.as_f64().is_some_and(|s| s.abs() < 5e-4), "{told}");
        }
    }
    assert!(
        told["residual_worst_mm"]
            .as_f64()
            .is_some_and(|mm| mm < 0.02)
    );
    let written = fs::read(&out).expect("the profile is there");
    let written: serde_json::Value = serde_json::from_slice(&written).expect("JSON");
    assert_eq!(written["print_measured"], true);
}

#[test]
fn a_photo_without_a_card_is_refused() {
    let empty = data("capture/empty.jpg");
    capture(&empty, &["--card"]).is_refused_with(&["empty.jpg", "no card is seen", "85.60"]);
    let folder = folder("a_photo_without_a_card_is_refused");
    let noise = RgbImage::from_fn(640, 480, |x, y| {
        let v = ((x * x * 31 + y * y * 17 + x * y * 7) % 251) as u8;
        Rgb([v, 255 - v, v / 2])
    });
    capture(&saved(&folder, "carpet.png", &noise), &["--card"])
        .is_refused_with(&["carpet.png", "no even surface"]);
    capture(&empty, &["--card", "--printed-x", "100"]).is_refused_with(&["--printed-x"]);
}
