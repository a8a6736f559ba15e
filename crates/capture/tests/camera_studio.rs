//! Tags and camera against photos whose every number is known: path-traced scenes with exact truth.
#![allow(clippy::print_stdout)]

mod tags_truth;

use capture::camera::{Solved, View, solve};
use capture::photo::{Limits, Photo};
use capture::sheet::{Paper, Sheet};
use capture::tags::{DetectedTag, detect};
use shape::Point;
use tags_truth::{DEMO, SCENES, Truth, photo, read, test_sheet};

/// Distance of a point from a closed ring.
fn miss_mm(p: Point, ring: &[Point]) -> f64 {
    (0..ring.len())
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let (along, to) = (b - a, p - a);
            let t = (to.dot(along) / along.dot(along)).clamp(0.0, 1.0);
            p.distance_mm(a.lerp(b, t))
        })
        .fold(f64::INFINITY, f64::min)
}

/// Root mean square and greatest.
fn rms_and_worst(misses: &[f64]) -> [f64; 2] {
    let squares: f64 = misses.iter().map(|m| m * m).sum();
    let worst = misses.iter().copied().fold(0.0, f64::max);
    [(squares / misses.len() as f64).sqrt(), worst]
}

/// How far the corners are from where the truth's camera sees the sheet's.
fn corner_misses(tags: &[DetectedTag], sheet: &Sheet, truth: &Truth) -> Vec<f64> {
    let misses = tags.iter().flat_map(|t| {
        let corners = sheet.tags[&t.id].map(|p| truth.project(p));
        [0, 1, 2, 3].map(|i| corners[i].distance_px(t.corners_in_photo[i]))
    });
    misses.collect()
}

/// How far the camera puts the parts' undersides, as the truth's camera sees them, from where they lie.
fn base_misses(solved: &Solved, truth: &Truth) -> Vec<f64> {
    let mut misses = Vec::new();
    for (_, ring_in_mm, rings_in_photo) in truth.bases() {
        for p in &rings_in_photo[0] {
            let on_sheet = solved
                .camera
                .sheet_from_photo(*p, 0.0)
                .expect("a part in the photo");
            misses.push(miss_mm(on_sheet, &ring_in_mm));
        }
    }
    misses
}

struct Row {
    raw: [f64; 2],
    corners: [f64; 2],
    base: [f64; 2],
    solved: Solved,
    /// The camera's miss: position, mm; focal length, as a share.
    off: [f64; 3],
    focal_off: f64,
}

fn check(scene: &str, photo: &Photo, sheet: &Sheet, truth: &Truth, described: bool) -> Row {
    let seen = detect(&photo.linear_luma());
    assert_eq!(seen.tags.len(), sheet.tags.len(), "{scene}");
    assert!(seen.repeated.is_empty() && seen.mirrored.is_empty());
    let solved = solve(&seen, described.then_some(sheet), &View::of(photo)).expect("a camera");
    assert!(solved.warnings.is_empty(), "{scene}: {:?}", solved.warnings);
    let (eye, true_eye) = (solved.camera.position(), truth.position_mm());
    let row = Row {
        raw: rms_and_worst(&corner_misses(&seen.tags, sheet, truth)),
        corners: rms_and_worst(&corner_misses(&solved.tags, sheet, truth)),
        base: rms_and_worst(&base_misses(&solved, truth)),
        off: [
            eye.x - true_eye[0],
            eye.y - true_eye[1],
            eye.z - true_eye[2],
        ],
        focal_off: solved.camera.focal_px / truth.focal_px() - 1.0,
        solved,
    };
    let (s, [k1, k2]) = (&row.solved, truth.k1_k2());
    println!(
        "{scene:9} {:.3} {:.3}   {:.3} {:.3}    {:+.2} {:+.2} {:+.2} ({:.2}, {:.2})  {:+.3} ({:.3})   {:+.4} {:+.4}   {:+5.1} {:+5.1}   {:+4.0} ({:3.0})   {:+.3}  {:.2}   {:.4} {:.4}",
        row.raw[0],
        row.raw[1],
        row.corners[0],
        row.corners[1],
        row.off[0],
        row.off[1],
        row.off[2],
        s.nadir_sigma_mm,
        s.height_sigma_mm,
        100.0 * row.focal_off,
        100.0 * s.focal_sigma_px / truth.focal_px(),
        s.camera.k1 - k1,
        s.camera.k2 - k2,
        s.camera.centre_px.x - 2015.5,
        s.camera.centre_px.y - 1511.5,
        1e6 * s.print_aspect,
        1e6 * s.print_aspect_sigma,
        s.edge_shift_px,
        s.rise_px,
        row.base[0],
        row.base[1],
    );
    row
}

/// The lines of a table; run with `--nocapture` to see it.
#[test]
fn every_photo_gives_its_tags_and_its_camera() {
    println!(
        "photo     corners px    after camera   position mm (sigma x y, z)      focal % (sigma)   k1, k2            centre px       aspect ppm    shift   rise   undersides mm"
    );
    let sheet = test_sheet();
    let mut rows = Vec::new();
    for scene in SCENES {
        rows.push(check(scene, &photo(scene), &sheet, &Truth::of(scene), true));
    }
    let ours = Sheet::ours(Paper::A4);
    for scene in DEMO {
        let bytes = read(&format!("demo/{scene}.jpg"));
        let photo = Photo::decode(&bytes, &Limits::default()).unwrap();
        let truth = Truth::in_folder("demo", scene);
        rows.push(check(scene, &photo, &ours, &truth, false));
    }
    for row in &rows {
        // The issue asks for 0.3 px; reached is 0.05 to 0.12.
        assert!(row.raw[0] < 0.15 && row.corners[0] < 0.14);
        assert!(row.solved.corner_rms_px < 0.09);
        // Asked: 0.03 mm.
        assert!(row.base[0] < 0.02, "{:?}", row.base);
        // What the solution says of itself holds.
        let [dx, dy, dz] = row.off;
        assert!(dx.hypot(dy) < 3.0 * row.solved.nadir_sigma_mm);
        assert!(dz.abs() < 3.0 * row.solved.height_sigma_mm);
        assert!(dz.abs() < 0.006 * row.solved.camera.height_mm());
        assert!(row.focal_off.abs() < 0.006);
    }
}
