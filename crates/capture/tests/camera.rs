//! The camera's conventions, and photos from which no camera can be had.

mod tags_truth;

use capture::camera::{Camera, CameraError, CameraWarning, SheetPoint3, View, solve};
use capture::photo::{LinearLuma, PhotoPoint};
use capture::sheet::{Paper, Sheet};
use capture::tags::{DetectedTag, TagsSeen, detect};
use shape::Point;
use tags_truth::{photo, test_sheet};

/// A camera with its rotation written out from the axis-angle vector (2.9, 0.15, -0.3) by OpenCV 5.0.0's Rodrigues.
fn camera() -> Camera {
    Camera {
        focal_px: 3028.5,
        centre_px: PhotoPoint::new(2015.5, 1511.5),
        k1: -0.11,
        k2: 0.045,
        rotation: [
            [
                0.9739240029931303,
                0.12347981324239851,
                -0.19032806444520964,
            ],
            [
                0.07817456361072861,
                -0.9701864405190579,
                -0.22940577202248577,
            ],
            [-0.2129806892610446, 0.20854497441698985, -0.954540842314936],
        ],
        translation_mm: [-95.0, 130.0, 390.0],
    }
}

/// Expected values: OpenCV 5.0.0, cv2.projectPoints with K, dist = [k1, k2, 0, 0, 0], rvec, tvec as above.
#[test]
fn projection_agrees_with_opencv() {
    for (at, expected) in [
        ([0.0, 0.0, 0.0], [1290.6555000002386, 2503.392473683884]),
        ([210.0, 0.0, 0.0], [2949.9316861515463, 2760.690261473093]),
        ([210.0, 297.0, 0.0], [3075.948820990013, 483.4659929971647]),
        ([0.0, 297.0, 0.0], [1630.2861833101945, 467.03843628855816]),
        (
            [105.0, 148.5, 0.0],
            [2209.8998326985457, 1466.9654402922872],
        ),
        ([30.0, 250.0, 8.0], [1759.8357878129887, 725.3385490391232]),
        (
            [180.0, 40.0, 12.0],
            [2725.6532913807177, 2388.9976857881616],
        ),
    ] {
        let [x, y, z] = at;
        let seen = camera().project(SheetPoint3::new(x, y, z)).unwrap();
        assert!((seen.x - expected[0]).abs() < 1e-9, "{at:?}: {seen:?}");
        assert!((seen.y - expected[1]).abs() < 1e-9, "{at:?}: {seen:?}");
        let back = camera().sheet_from_photo(seen, z).unwrap();
        assert!(back.distance_mm(Point::new(x, y)) < 1e-9);
    }
}

/// Expected values: OpenCV 5.0.0, cv2.undistortPoints with P = K, iterated to 1e-16; a camera without distortion has to put
/// the undistorted place where the real one puts the photo's.
#[test]
fn undistortion_agrees_with_opencv() {
    let straight = Camera {
        k1: 0.0,
        k2: 0.0,
        ..camera()
    };
    for (photo, expected) in [
        ([100.0, 80.0], [-11.16839448558062, -3.0788601963499787]),
        ([3900.0, 2900.0], [4006.1629080385073, 2978.2208531766873]),
        ([2100.0, 1400.0], [2100.019832013466, 1399.97383113016]),
    ] {
        let a = camera()
            .sheet_from_photo(PhotoPoint::new(photo[0], photo[1]), 0.0)
            .unwrap();
        let b = straight
            .sheet_from_photo(PhotoPoint::new(expected[0], expected[1]), 0.0)
            .unwrap();
        assert!(a.distance_mm(b) < 1e-9, "{photo:?}: {}", a.distance_mm(b));
    }
}

/// Expected position: -R^T t by NumPy. The parallax by hand: H 400, h 8 reads 1.0204 times too large.
#[test]
fn height_and_nadir_are_where_the_camera_is() {
    let c = camera();
    let [x, y, z] = [165.42255582676006, 56.522279502879336, 384.01251274345327];
    let nadir = c.nadir();
    assert!((nadir.x - x).abs() < 1e-9 && (nadir.y - y).abs() < 1e-9);
    assert!((c.height_mm() - z).abs() < 1e-9);

    let above = Camera {
        rotation: [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]],
        translation_mm: [0.0, 0.0, 400.0],
        ..c
    };
    let seen = above.project(SheetPoint3::new(50.0, -20.0, 8.0)).unwrap();
    let on_sheet = above.sheet_from_photo(seen, 0.0).unwrap();
    assert!(
        (on_sheet.x / 50.0 - 1.0204).abs() < 5e-5 && (on_sheet.y / -20.0 - 1.0204).abs() < 5e-5
    );
    assert!((above.tilt_deg()).abs() < 1e-9);
    // One millimetre at 400 mm.
    assert!((above.px_per_mm(Point::default()).unwrap() - 3028.5 / 400.0).abs() < 1e-6);
}

#[test]
fn what_is_behind_the_camera_is_not_seen() {
    assert_eq!(camera().project(SheetPoint3::new(0.0, 0.0, 5000.0)), None);
    let folded = Camera {
        k1: -0.9,
        ..camera()
    };
    assert_eq!(
        folded.sheet_from_photo(PhotoPoint::new(90_000.0, 0.0), 0.0),
        None
    );
    assert_eq!(
        camera().sheet_from_photo(PhotoPoint::new(f64::NAN, 0.0), 0.0),
        None
    );
}

const SIZE: [u32; 2] = [4032, 3024];

fn view(focal_35mm: Option<f64>) -> View {
    View {
        size_px: SIZE,
        focal_35mm,
        printed_mm: [100.0, 100.0],
    }
}

/// The 35 mm equivalent of `camera`'s focal length (diagonal 5040 px for 43.2666 mm).
fn focal_35mm() -> f64 {
    3028.5 * 43.266_615 / 5040.0
}

/// What `camera` sees of a sheet: exact but for a small shake from a fixed rule.
fn seen_by(camera: &Camera, sheet: &Sheet) -> TagsSeen {
    let tags = sheet.tags.iter().map(|(&id, corners)| {
        let shake = |k: u32| 0.04 * f64::from((id * 37 + k * 101) % 19) / 9.0 - 0.04;
        DetectedTag {
            id,
            corners_in_photo: std::array::from_fn(|i| {
                let p = camera
                    .project(SheetPoint3::over(corners[i], 0.0))
                    .expect("the sheet lies in front of the camera");
                PhotoPoint::new(p.x + shake(2 * i as u32), p.y + shake(2 * i as u32 + 1))
            }),
            hamming: 0,
            corner_sigma_px: 0.03,
            rise_px: 2.0,
            fitted_share: 0.94,
        }
    });
    TagsSeen {
        tags: tags.collect(),
        ..TagsSeen::default()
    }
}

#[test]
fn every_paper_of_ours_is_recognised_and_solved() {
    for paper in Paper::ALL {
        let sheet = Sheet::ours(paper);
        let solved = solve(&seen_by(&camera(), &sheet), None, &view(Some(focal_35mm()))).unwrap();
        assert_eq!(solved.sheet.paper, Some(paper));
        assert!(solved.print_aspect.abs() < 3.0 * solved.print_aspect_sigma);
        assert!(
            (solved.camera.height_mm() - camera().height_mm()).abs()
                < 3.0 * solved.height_sigma_mm.max(0.05)
        );
        assert!(
            solved.camera.nadir().distance_mm(camera().nadir()) < 0.3,
            "{paper:?}"
        );
        assert!(solved.warnings.is_empty(), "{:?}", solved.warnings);
        let sigma = solved.sigma_mm_at(sheet.field.centre()).unwrap();
        assert!((1e-4..0.05).contains(&sigma), "{sigma}");
    }
}

#[test]
fn without_a_focal_length_a_tilted_photo_still_tells_it() {
    let sheet = Sheet::ours(Paper::A4);
    let solved = solve(&seen_by(&camera(), &sheet), None, &view(None)).unwrap();
    let off = (solved.camera.focal_px - 3028.5).abs();
    assert!(
        off < 3.0 * solved.focal_sigma_px && off < 60.0,
        "{off} of {}",
        solved.focal_sigma_px
    );
    // Straight from above it does not, and says so.
    let above = Camera {
        rotation: [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]],
        translation_mm: [-105.0, 148.5, 390.0],
        ..camera()
    };
    let solved = solve(&seen_by(&above, &sheet), None, &view(None)).unwrap();
    assert!(
        solved
            .warnings
            .iter()
            .any(|w| matches!(w, CameraWarning::FocalUnsure { .. }))
    );
    assert!(solved.height_sigma_mm > 10.0);
    // What lies on the sheet is measured as well as ever.
    assert!(solved.sigma_mm_at(sheet.field.centre()).unwrap() < 0.05);
}

#[test]
fn the_bars_scale_the_sheet() {
    // Printed 0.4 % short along x and 0.3 % long along y: the camera sees that sheet.
    let nominal = Sheet::ours(Paper::A4);
    let mut printed = nominal.clone();
    for p in printed.tags.values_mut().flatten() {
        *p = Point::new(p.x * 0.996, p.y * 1.003);
    }
    let seen = seen_by(&camera(), &printed);
    let told = View {
        printed_mm: [99.6, 100.3],
        ..view(Some(focal_35mm()))
    };
    let solved = solve(&seen, None, &told).unwrap();
    let p = Point::new(99.6, 200.6);
    let in_photo = camera().project(SheetPoint3::over(p, 0.0)).unwrap();
    let measured = solved.camera.sheet_from_photo(in_photo, 0.0).unwrap();
    assert!(
        measured.distance_mm(p) < 0.02,
        "{}",
        measured.distance_mm(p)
    );
    assert!((solved.sheet.size_mm[0] - 210.0 * 0.996).abs() < 0.02);
    let unusable = View {
        printed_mm: [100.0, f64::NAN],
        ..told
    };
    assert!(matches!(
        solve(&seen, None, &unusable),
        Err(CameraError::PrintScale { .. })
    ));
}

#[test]
fn a_print_with_one_axis_longer_does_not_move_the_camera() {
    // A tilt of 3 degrees and 0.1 % more along x, which nobody measured.
    let (s, c) = 3_f64.to_radians().sin_cos();
    let low_tilt = Camera {
        rotation: [[1.0, 0.0, 0.0], [0.0, -c, -s], [0.0, s, -c]],
        translation_mm: [-105.0, 150.0, 350.0],
        ..camera()
    };
    let nominal = Sheet::ours(Paper::A4);
    let mut printed = nominal.clone();
    for p in printed.tags.values_mut().flatten() {
        *p = Point::new(p.x * 1.0005, p.y * 0.9995);
    }
    let solved = solve(
        &seen_by(&low_tilt, &printed),
        None,
        &view(Some(focal_35mm())),
    )
    .unwrap();
    assert!(
        (solved.print_aspect - 1e-3).abs() < 2e-4,
        "{}",
        solved.print_aspect
    );
    let off = (solved.camera.height_mm() - low_tilt.height_mm()).abs();
    assert!(off < 2.0, "{off} mm");
    assert!(
        off < 2.5 * solved.height_sigma_mm,
        "{off} of {}",
        solved.height_sigma_mm
    );
}

#[test]
fn a_lens_that_sits_off_the_middle_is_found() {
    let off = Camera {
        centre_px: PhotoPoint::new(2015.5 + 22.0, 1511.5 - 15.0),
        ..camera()
    };
    let sheet = Sheet::ours(Paper::A4);
    let solved = solve(&seen_by(&off, &sheet), None, &view(Some(focal_35mm()))).unwrap();
    assert!(
        solved.camera.centre_px.distance_px(off.centre_px) < 5.0,
        "{:?}",
        solved.camera.centre_px
    );
    assert!(solved.camera.nadir().distance_mm(off.nadir()) < 1.0);
    assert!(solved.corner_rms_px < 0.05);
}

#[test]
fn a_tag_that_disagrees_is_left_out_and_named() {
    let sheet = Sheet::ours(Paper::A4);
    let exact = solve(&seen_by(&camera(), &sheet), None, &view(Some(focal_35mm()))).unwrap();
    for by in [2.0, 15.0, 400.0] {
        let mut seen = seen_by(&camera(), &sheet);
        for corner in &mut seen.tags[4].corners_in_photo {
            corner.x += by;
        }
        seen.tags[9].corners_in_photo[2].y -= by;
        let solved = solve(&seen, None, &view(Some(focal_35mm()))).unwrap();
        let ids = [seen.tags[4].id, seen.tags[9].id];
        let ignored: Vec<u32> = solved
            .warnings
            .iter()
            .flat_map(|w| match w {
                CameraWarning::TagsIgnored { tags } => tags.iter().map(|t| t.0).collect(),
                _ => vec![],
            })
            .collect();
        assert_eq!(ignored, ids, "{by} px");
        assert!(solved.camera.nadir().distance_mm(exact.camera.nadir()) < 0.3);
        assert!(solved.corner_rms_px < 0.1);
    }
}

#[test]
fn a_sheet_that_is_not_flat_or_not_the_one_described_is_told_or_refused() {
    let sheet = Sheet::ours(Paper::A4);
    // A paper whose right edge lifts off the table, as a parabola.
    let curled = |lift_mm: f64| {
        let mut seen = seen_by(&camera(), &sheet);
        for tag in &mut seen.tags {
            for (corner, p) in tag.corners_in_photo.iter_mut().zip(&sheet.tags[&tag.id]) {
                let z = lift_mm * ((p.x - 105.0).max(0.0) / 105.0).powi(2);
                *corner = camera().project(SheetPoint3::over(*p, z)).unwrap();
            }
        }
        solve(&seen, None, &view(Some(focal_35mm())))
    };
    assert!(curled(0.0).unwrap().warnings.is_empty());
    let doubts = |w: &CameraWarning| {
        matches!(
            w,
            CameraWarning::NotFlat { .. } | CameraWarning::TagsIgnored { .. }
        )
    };
    let told = curled(4.0).unwrap();
    assert!(
        told.warnings.iter().any(doubts),
        "{} mm",
        told.corner_rms_mm
    );
    assert!(matches!(
        curled(40.0),
        Err(CameraError::DoesNotFit { .. } | CameraError::NoSolution)
    ));
}

#[test]
fn too_few_tags_foreign_tags_and_two_sheets_are_clear_errors() {
    let (a4, a3) = (Sheet::ours(Paper::A4), Sheet::ours(Paper::A3));
    let all = seen_by(&camera(), &a4);
    let with = |tags: Vec<DetectedTag>| TagsSeen {
        tags,
        ..TagsSeen::default()
    };
    let error = |seen: &TagsSeen, sheet: Option<&Sheet>| {
        solve(seen, sheet, &view(Some(26.0)))
            .map(|s| s.corner_rms_px)
            .unwrap_err()
    };
    assert_eq!(error(&TagsSeen::default(), None), CameraError::NoTag);
    let ids = vec![100, 101, 102];
    assert_eq!(
        error(&with(all.tags[..3].to_vec()), None),
        CameraError::FewTags { ids }
    );

    let two = with([&all.tags[..], &seen_by(&camera(), &a3).tags].concat());
    let papers = vec![Paper::A4, Paper::A3];
    assert_eq!(error(&two, None), CameraError::TwoSheets { papers });

    assert!(matches!(
        error(&all, Some(&test_sheet())),
        CameraError::OtherSheet { .. }
    ));
    let unknown = seen_by(&camera(), &test_sheet());
    assert!(matches!(
        error(&unknown, None),
        CameraError::OtherSheet { .. }
    ));

    let twice = TagsSeen {
        repeated: vec![104, 105],
        ..all.clone()
    };
    assert_eq!(
        error(&twice, None),
        CameraError::SameSheetTwice {
            ids: vec![104, 105]
        }
    );

    // One tag of another paper may be a misreading: it is named and not used.
    let mut stray = all.clone();
    stray.tags.push(seen_by(&camera(), &a3).tags[0].clone());
    let solved = solve(&stray, None, &view(Some(focal_35mm()))).unwrap();
    assert_eq!(
        solved.warnings,
        [CameraWarning::ForeignTags { ids: vec![200] }]
    );
}

#[test]
fn a_photo_in_a_mirror_is_refused_as_such() {
    let upright = photo("window").linear_luma();
    let mut data = upright.data.clone();
    for row in data.chunks_mut(upright.width) {
        row.reverse();
    }
    let seen = detect(&LinearLuma { data, ..upright });
    assert_eq!((seen.tags.len(), seen.mirrored.len()), (0, 24));
    let error = solve(&seen, Some(&test_sheet()), &view(Some(26.0)))
        .map(|s| s.camera)
        .unwrap_err();
    assert_eq!(error, CameraError::Mirrored);
}

/// Blur by three passes of a running mean, which come close to a Gaussian.
fn blurred(luma: &LinearLuma, reach: usize) -> LinearLuma {
    let (w, h) = (luma.width, luma.height);
    let mut data = luma.data.clone();
    let mean = |line: &mut Vec<f32>| {
        let n = line.len();
        let mut sums = vec![0.0_f64];
        for v in line.iter() {
            sums.push(sums[sums.len() - 1] + f64::from(*v));
        }
        for (i, v) in line.iter_mut().enumerate() {
            let (from, to) = (i.saturating_sub(reach), (i + reach + 1).min(n));
            *v = ((sums[to] - sums[from]) / (to - from) as f64) as f32;
        }
    };
    for _ in 0..3 {
        for row in data.chunks_mut(w) {
            let mut line = row.to_vec();
            mean(&mut line);
            row.copy_from_slice(&line);
        }
        for x in 0..w {
            let mut line: Vec<f32> = (0..h).map(|y| data[y * w + x]).collect();
            mean(&mut line);
            for (y, v) in line.into_iter().enumerate() {
                data[y * w + x] = v;
            }
        }
    }
    LinearLuma {
        width: w,
        height: h,
        data,
    }
}

#[test]
fn a_blurred_photo_is_refused_as_such_and_a_soft_one_is_not() {
    let sharp = photo("window").linear_luma();
    let solved = |luma: &LinearLuma| solve(&detect(luma), Some(&test_sheet()), &view(Some(26.0)));
    // Three running means of 2 r + 1 pixels have a variance of r (r + 1): r = 1 is a sigma of 1.4 px, r = 3 3.5 px.
    let soft = solved(&blurred(&sharp, 1)).unwrap();
    assert!((3.0..5.0).contains(&soft.rise_px), "{}", soft.rise_px);
    assert!(soft.corner_rms_px < 0.15);
    for reach in [3, 5] {
        let error = solved(&blurred(&sharp, reach))
            .map(|s| s.rise_px)
            .unwrap_err();
        assert!(matches!(error, CameraError::Blurred { .. }), "{error}");
    }
}
