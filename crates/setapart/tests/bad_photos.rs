//! A photo that gives no outline is refused with what to do; `capture --json` has the shape that checks rely on.

mod common;

use common::{data, folder, run};
use image::RgbImage;
use std::fs;
use std::path::{Path, PathBuf};

/// Runs `capture` on a photo of the studio's sheet.
fn capture_on_studio_sheet(photo: &Path) -> common::Run {
    let sheet = data("studio/test_sheet.json");
    run([
        "capture".as_ref(),
        photo.as_os_str(),
        "--sheet".as_ref(),
        sheet.as_os_str(),
        "--json".as_ref(),
    ])
}

/// The studio's photo under soft light.
fn window() -> RgbImage {
    image::open(data("studio/window.jpg"))
        .expect("the photo is there")
        .to_rgb8()
}

/// Writes a picture as a JPEG of that name.
fn saved(folder: &Path, name: &str, picture: &RgbImage) -> PathBuf {
    let path = folder.join(name);
    picture.save(&path).expect("the picture is written");
    path
}

#[test]
fn a_photo_that_is_not_there_is_named() {
    capture_on_studio_sheet(Path::new("no-such-photo.jpg")).is_refused_with(&["no-such-photo.jpg"]);
}

#[test]
fn a_file_that_is_no_picture_is_refused() {
    let path = folder("a_file_that_is_no_picture_is_refused").join("letter.jpg");
    fs::write(&path, "Dear Sir or Madam").expect("the file is written");
    capture_on_studio_sheet(&path).is_refused_with(&["letter.jpg", "not an image"]);
}

#[test]
fn an_empty_file_is_refused() {
    let path = folder("an_empty_file_is_refused").join("empty.jpg");
    fs::write(&path, "").expect("the file is written");
    capture_on_studio_sheet(&path).is_refused_with(&["empty.jpg"]);
}

#[test]
fn a_photo_cut_off_on_the_way_is_refused() {
    let whole = fs::read(data("studio/window.jpg")).expect("the photo is there");
    let folder = folder("a_photo_cut_off_on_the_way_is_refused");
    for tenths in [1, 5, 9] {
        let path = folder.join(format!("cut-{tenths}.jpg"));
        fs::write(&path, &whole[..whole.len() * tenths / 10]).expect("the file is written");
        capture_on_studio_sheet(&path).is_refused_with(&["cut-", "cut short"]);
    }
}

#[test]
fn a_photo_without_a_tag_is_refused() {
    let folder = folder("a_photo_without_a_tag_is_refused");
    let grey = RgbImage::from_fn(1600, 1200, |x, y| {
        let v = 150 + ((x * 7 + y * 13) % 20) as u8;
        image::Rgb([v, v, v])
    });
    capture_on_studio_sheet(&saved(&folder, "wall.jpg", &grey)).is_refused_with(&["no tag"]);
}

#[test]
fn a_photo_of_one_corner_of_the_sheet_is_refused() {
    let folder = folder("a_photo_of_one_corner_of_the_sheet_is_refused");
    let corner =
        image::imageops::crop_imm(&window(), CORNER.0, CORNER.1, CORNER.2, CORNER.3).to_image();
    capture_on_studio_sheet(&saved(&folder, "corner.jpg", &corner))
        .is_refused_with(&["only 3", "four or more"]);
}

/// Left, upper, width, height of a piece of the photo that shows three tags and no more.
const CORNER: (u32, u32, u32, u32) = (400, 1860, 900, 700);

#[test]
fn a_blurred_photo_is_refused() {
    let folder = folder("a_blurred_photo_is_refused");
    let blurred = image::imageops::fast_blur(&window(), 9.0);
    capture_on_studio_sheet(&saved(&folder, "blurred.jpg", &blurred))
        .is_refused_with(&["blurred", "hold the camera still"]);
}

#[test]
fn a_described_sheet_that_is_malformed_is_refused_by_its_path() {
    let folder = folder("a_described_sheet_that_is_malformed_is_refused_by_its_path");
    let good: serde_json::Value = serde_json::from_slice(
        &fs::read(data("studio/test_sheet.json")).expect("the sheet is there"),
    )
    .expect("JSON");
    for (pointer, value, path) in [
        ("/family", serde_json::json!("25h9"), "family"),
        ("/size_mm/0", serde_json::json!(-1), "size_mm"),
        ("/tags/3/2", serde_json::json!([1]), "tags.3"),
        ("/tags/3/0", serde_json::json!([9000, 1]), "tags.3"),
    ] {
        let mut spoilt = good.clone();
        *spoilt
            .pointer_mut(pointer)
            .expect("the sheet has the field") = value;
        let sheet = folder.join("sheet.json");
        fs::write(&sheet, spoilt.to_string()).expect("the sheet is written");
        let photo = data("studio/window.jpg");
        run([
            "capture".as_ref(),
            photo.as_os_str(),
            "--sheet".as_ref(),
            sheet.as_os_str(),
            "--json".as_ref(),
        ])
        .is_refused_with(&[path]);
    }
}

#[test]
fn the_photo_of_another_sheet_than_the_described_one_is_refused() {
    let card = data("capture/card.jpg");
    capture_on_studio_sheet(&card).is_refused_with(&["not those of this capture sheet"]);
}

#[test]
fn tags_of_two_sheets_are_refused() {
    let photo = data("capture/two-sheets.jpg");
    run(["capture".as_ref(), photo.as_os_str(), "--json".as_ref()])
        .is_refused_with(&["one sheet at a time"]);
}

#[test]
fn an_empty_sheet_is_refused() {
    let photo = data("capture/empty.jpg");
    run(["capture".as_ref(), photo.as_os_str(), "--json".as_ref()])
        .is_refused_with(&["no part", "inside the corner marks"]);
}

#[test]
fn a_part_over_the_edge_of_the_field_is_a_stop_that_says_what_to_do() {
    let photo = data("capture/over-edge.jpg");
    let run = run(["capture".as_ref(), photo.as_os_str(), "--json".as_ref()]);
    assert_eq!(run.status, Some(1), "{}", run.err);
    let told = run.json();
    let stops: Vec<_> = told["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .filter(|f| f["level"] == "stop")
        .collect();
    assert_eq!(stops.len(), 1, "{told}");
    assert_eq!(stops[0]["code"], "capture.over-edge");
    assert!(
        stops[0]["remedy"]
            .as_str()
            .is_some_and(|r| r.contains("inside the marks")),
        "{}",
        stops[0]
    );
}

#[test]
fn a_thickness_table_that_is_malformed_is_refused_by_its_line() {
    let folder = folder("a_thickness_table_that_is_malformed_is_refused_by_its_line");
    let table = folder.join("thick.csv");
    fs::write(
        &table,
        "x_mm,y_mm,thickness_mm\n100,100,1.5\n100,thick,1.5\n",
    )
    .expect("the table is written");
    let (photo, sheet) = (data("studio/window.jpg"), data("studio/test_sheet.json"));
    let args = [
        "capture".as_ref(),
        photo.as_os_str(),
        "--sheet".as_ref(),
        sheet.as_os_str(),
        "--thicknesses".as_ref(),
        table.as_os_str(),
    ];
    run(args).is_refused_with(&["thick.csv", "3"]);
}

#[test]
fn a_capture_tells_camera_outlines_and_uncertainty() {
    let run = capture_on_studio_sheet(&data("studio/window.jpg"));
    assert_eq!(run.status, Some(0), "{}", run.err);
    let told = run.json();
    let capture = &told["captures"][0];
    let camera = &capture["camera"];
    // The rendered camera stands 310 mm high over (105, 126.8) mm: tests/data/studio/window.truth.json.
    assert!(
        (camera["height_mm"].as_f64().expect("a number") - 310.0).abs() < 3.0,
        "{camera}"
    );
    assert!(
        (camera["nadir_mm"][0].as_f64().expect("a number") - 105.0).abs() < 3.0,
        "{camera}"
    );
    assert!(
        camera["focal_px"].as_f64().is_some_and(|f| f > 0.0)
            && camera["corner_rms_px"].as_f64().is_some()
    );
    let outlines = capture["outlines"].as_array().expect("a list");
    assert!(!outlines.is_empty());
    for outline in outlines {
        for ring in [&outline["outer"]]
            .into_iter()
            .chain(outline["holes"].as_array().expect("a list"))
        {
            let points = ring.as_array().expect("a ring");
            assert!(
                points.len() >= 3 && points.first() != points.last(),
                "rings are open"
            );
        }
        // No thickness is given: 3 mm of height not known, at up to 150 mm from the nadir under a camera
        // 310 mm high, is 1.5 mm.
        assert!(
            outline["sigma_mm"]
                .as_f64()
                .is_some_and(|s| s > 0.0 && s < 1.6),
            "{}",
            outline["sigma_mm"]
        );
        assert!(outline["warnings"].is_array() && outline.get("thickness_mm").is_some());
    }
}
