//! `capture` with strokes, photos of backs, and cut-outs. Photos: path-traced, exact truth (tests/data/README.md).

#![allow(clippy::unwrap_used)]

mod common;

use common::{data, folder, run};
use std::fs;

fn capture(photo: &str, more: &[&std::ffi::OsStr]) -> common::Run {
    let photo = data(photo);
    let mut args = vec!["capture".as_ref(), photo.as_os_str(), "--json".as_ref()];
    args.extend(more);
    run(args)
}

#[test]
fn bad_strokes_are_refused_with_their_place() {
    let file = folder("bad_strokes_are_refused_with_their_place").join("strokes.json");
    for (text, words) in [
        ("{}", "strokes"),
        (
            r#"{"strokes": [{"kind": "rub", "points_mm": [[1, 2]]}]}"#,
            "strokes[0].kind",
        ),
        (
            r#"{"strokes": [{"kind": "split", "points_mm": [[1, 2]]}]}"#,
            "strokes[0].points_mm",
        ),
        ("not json", "not a file of strokes"),
    ] {
        fs::write(&file, text).unwrap();
        capture(
            "demo/4-small.jpg",
            &["--strokes".as_ref(), file.as_os_str()],
        )
        .is_refused_with(&["strokes.json", words]);
    }
    let other = data("demo/2-boards.jpg");
    fs::write(&file, r#"{"strokes": []}"#).unwrap();
    capture(
        "demo/4-small.jpg",
        &[other.as_os_str(), "--strokes".as_ref(), file.as_os_str()],
    )
    .is_refused_with(&["one photo"]);
}

/// The same photo stands for the backs: a part is its own back only where its outline is its own mirror image, and
/// then it is joined to itself.
#[test]
fn backs_are_joined_and_cut_outs_written() {
    let folder = folder("backs_are_joined_and_cut_outs_written");
    let backs = data("demo/3-inside.jpg");
    let got = capture(
        "demo/3-inside.jpg",
        &[
            "--backs".as_ref(),
            backs.as_os_str(),
            "--cutouts".as_ref(),
            folder.as_os_str(),
        ],
    );
    let json = got.json();
    let outlines = json["captures"][0]["outlines"].as_array().unwrap();
    let joined: Vec<_> = outlines
        .iter()
        .enumerate()
        .filter(|(_, o)| o["back"].is_object())
        .map(|(k, o)| {
            (
                k as u64,
                o["back"]["index"].as_u64().unwrap(),
                o["back"]["rms_mm"].as_f64().unwrap(),
            )
        })
        .collect();
    assert!(!joined.is_empty());
    for (front, back, rms_mm) in joined {
        assert_eq!(front, back);
        assert!(rms_mm < 0.35);
    }
    for k in 1..=outlines.len() {
        for face in ["", "-back"] {
            let picture = image::open(folder.join(format!("3-inside-{k}{face}.png")))
                .unwrap()
                .to_rgba8();
            assert!(picture.pixels().any(|p| p[3] == 255) && picture.pixels().any(|p| p[3] == 0));
        }
    }
}

/// Told in words too, and the new piece shows each part from behind as it lies from the front.
#[test]
fn a_new_piece_has_the_pictures_of_backs_and_what_they_leave_open_is_told() {
    let folder = folder("a_new_piece_has_the_pictures_of_backs");
    let photo = data("demo/3-inside.jpg");
    let (piece, pictures) = (folder.join("new.json"), folder.join("pictures"));
    let got = run([
        "capture".as_ref(),
        photo.as_os_str(),
        "--backs".as_ref(),
        photo.as_os_str(),
        "--cutouts".as_ref(),
        pictures.as_os_str(),
        "--new-piece".as_ref(),
        piece.as_os_str(),
    ]);
    let told = |word: &str| got.out.matches(word).count();
    assert_eq!(told("[capture.back-alone]"), 1, "{}", got.out);
    // The backs are a photo like the first: as many parts, and the same said of them.
    assert_eq!(told("3-inside.jpg: "), 2, "{}", got.out);
    assert!(told("[capture.thickness-unknown]") > 0);
    assert_eq!(told("[capture.thickness-unknown]") % 2, 0, "{}", got.out);
    let new: serde_json::Value = serde_json::from_slice(&fs::read(&piece).unwrap()).unwrap();
    let parts = new["parts"].as_array().unwrap();
    let backs: Vec<_> = parts
        .iter()
        .filter(|p| p["back_cutout"].is_object())
        .collect();
    assert!(!backs.is_empty() && backs.len() < parts.len());
    for part in backs {
        let back = &part["back_cutout"];
        let picture = image::open(folder.join(back["image"].as_str().unwrap())).unwrap();
        let picture = picture.to_rgba8();
        let number = |v: &serde_json::Value| v.as_f64().unwrap();
        let px_per_mm = number(&back["px_per_mm"]);
        assert_eq!(number(&back["turn_deg"]), 0.0);
        // What is opaque has the outline's own box, seen from behind, to within the joining's 0.35 mm and a pixel.
        let ring = part["outline"]["outer"].as_array().unwrap();
        for k in 0..2 {
            let of_ring = ring.iter().map(|p| number(&p[k]));
            let end = of_ring.fold(0.0, f64::max);
            let seen = picture.enumerate_pixels().filter(|(_, _, p)| p[3] > 127);
            let at = seen.map(|(x, y, _)| if k == 0 { x } else { picture.height() - 1 - y });
            let (least, most) = at.fold((u32::MAX, 0), |(a, b), v| (a.min(v), b.max(v)));
            let in_part = |px: f64| number(&back["origin_mm"][k]) + px / px_per_mm;
            assert!(in_part(f64::from(least)).abs() < 0.5, "{part}");
            assert!((in_part(f64::from(most) + 1.0) - end).abs() < 0.5, "{part}");
        }
    }
}

/// Once the second photo is refused, the first one's pictures must not be there either.
#[test]
fn a_photo_that_is_refused_leaves_no_cut_outs_of_those_before_it() {
    let folder = folder("a_photo_that_is_refused_leaves_no_cut_outs");
    let (empty, out) = (data("capture/empty.jpg"), folder.join("pictures"));
    capture(
        "demo/4-small.jpg",
        &[empty.as_os_str(), "--cutouts".as_ref(), out.as_os_str()],
    )
    .is_refused_with(&["empty.jpg", "no part"]);
    assert_eq!(common::files_below(&folder), Vec::<String>::new());
}

#[test]
fn two_photos_of_one_name_cannot_both_have_cut_outs() {
    let folder = folder("two_photos_of_one_name");
    let same = data("demo/4-small.jpg");
    capture(
        "demo/4-small.jpg",
        &[same.as_os_str(), "--cutouts".as_ref(), folder.as_os_str()],
    )
    .is_refused_with(&["--cutouts", "4-small", "another name"]);
    assert_eq!(common::files_below(&folder), Vec::<String>::new());
}
