//! Tags and camera against photos whose every number is known: path-traced scenes with exact truth.

mod tags_truth;

use capture::camera::{View, solve};
use capture::tags::detect;
use shape::Point;
use tags_truth::{SCENES, Truth, photo, test_sheet};

/// Mean distance of points from the closed ring.
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

#[test]
fn every_studio_photo_gives_its_camera() {
    let sheet = test_sheet();
    println!(
        "scene    tags  corners px (raw, worst)   after camera   rms px   mm      dx     dy     dz mm  (sigma)  focal % (sigma)   k1 err   k2 err  shift px rise px  base rms mm  worst"
    );
    for scene in SCENES {
        let photo = photo(scene);
        let truth = Truth::of(scene);
        let seen = detect(&photo.linear_luma());
        assert_eq!(seen.tags.len(), 24, "{scene}");
        assert!(seen.repeated.is_empty() && seen.mirrored.is_empty());
        let rms = |tags: &[capture::tags::DetectedTag]| {
            let misses: Vec<f64> = tags
                .iter()
                .flat_map(|t| {
                    let corners = sheet.tags[&t.id].map(|p| truth.project(p));
                    [0, 1, 2, 3].map(|i| corners[i].distance_px(t.corners_in_photo[i]))
                })
                .collect();
            let squares: f64 = misses.iter().map(|m| m * m).sum();
            let worst = misses.iter().copied().fold(0.0, f64::max);
            ((squares / misses.len() as f64).sqrt(), worst)
        };
        let (raw_rms, raw_worst) = rms(&seen.tags);
        let solved = solve(&seen, Some(&sheet), &View::of(&photo)).unwrap();
        let (rms, worst) = rms(&solved.tags);
        let (eye, true_eye) = (solved.camera.position(), truth.position_mm());
        let off = [
            eye.x - true_eye[0],
            eye.y - true_eye[1],
            eye.z - true_eye[2],
        ];
        let focal = 100.0 * (solved.camera.focal_px / truth.focal_px() - 1.0);
        let [k1, k2] = truth.k1_k2();
        let (mut squares, mut n, mut base_worst) = (0.0, 0.0, 0.0_f64);
        for (_, ring_mm, rings_px) in truth.bases() {
            for p in &rings_px[0] {
                let miss = miss_mm(solved.camera.sheet_from_photo(*p, 0.0).unwrap(), &ring_mm);
                squares += miss * miss;
                n += 1.0;
                base_worst = base_worst.max(miss);
            }
        }
        let base_rms = f64::sqrt(squares / n);
        println!(
            "{scene:8} {:3}  {raw_rms:.3} {raw_worst:.3}  {rms:.3} {worst:.3}  {:.3} {:.4}  {:+.3} {:+.3} {:+.3} (h {:.2} n {:.2})  {focal:+.3} ({:.3})  {:+.4} {:+.4}  {:+.3} {:.2}  {base_rms:.4} {base_worst:.4}  {:?}",
            seen.tags.len(),
            solved.corner_rms_px,
            solved.corner_rms_mm,
            off[0],
            off[1],
            off[2],
            solved.height_sigma_mm,
            solved.nadir_sigma_mm,
            100.0 * solved.focal_sigma_px / truth.focal_px(),
            solved.camera.k1 - k1,
            solved.camera.k2 - k2,
            solved.edge_shift_px,
            solved.rise_px,
            solved.warnings,
        );
    }
}
