//! Flatbed scans. Truth: by construction; every scan is drawn here, with known shapes or from the printed sheet's picture
//! through a scanner whose errors are known.

#![allow(
    clippy::print_stdout,
    reason = "what was measured is shown with --nocapture"
)]

mod png;

use capture::photo::{Limits, Photo};
use capture::scan::{ProfileError, Scan, ScannerProfile, measure_scanner};
use capture::{Capture, Knowledge, OutlineWarning, Study, TakenWarning, ThicknessAt};
use png::png;
use shape::Point;

const INCH_MM: f64 = 25.4;

/// A picture drawn from a function of pixel places (centres at integers), with a little even noise.
fn drawn(width: u32, height: u32, grey: impl Fn(f64, f64) -> f64) -> Photo {
    let mut rgb8 = Vec::with_capacity((width * height * 3) as usize);
    let mut state = 1u32;
    for y in 0..height {
        for x in 0..width {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 24) / 256.0 * 3.0 - 1.5;
            let v = (grey(f64::from(x), f64::from(y)) + noise)
                .round()
                .clamp(0.0, 255.0) as u8;
            rgb8.extend([v, v, v]);
        }
    }
    let bytes = png(width, height, &rgb8, image::ExtendedColorType::Rgb8);
    Photo::decode(&bytes, &Limits::default()).expect("the test data are sound")
}

/// An sRGB value of linear light (IEC 61966-2-1).
fn stored(light: f64) -> f64 {
    let v = if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    };
    255.0 * v
}

/// How much of a pixel a shape covers whose border is `inside_px` pixels away (positive inside): straight edges blurred
/// over a pixel.
fn cover(inside_px: f64) -> f64 {
    (inside_px + 0.5).clamp(0.0, 1.0)
}

/// A plate 60 x 40 mm with a hole of 10 mm, and a disc of 24 mm, dark on a lid; mm from the picture's lower-left corner.
const PLATE: [f64; 4] = [15.0, 20.0, 75.0, 60.0];
const HOLE: ([f64; 2], f64) = ([35.0, 40.0], 5.0);
const DISC: ([f64; 2], f64) = ([100.0, 45.0], 12.0);
const GLASS_MM: [f64; 2] = [130.0, 80.0];

/// The share of each pixel that parts cover, at a resolution along x and y.
fn parts_cover(dpi: [f64; 2], px: [f64; 2]) -> f64 {
    let height_px = (GLASS_MM[1] / INCH_MM * dpi[1]).round();
    let per_mm = dpi.map(|d| d / INCH_MM);
    let x = (px[0] + 0.5) / per_mm[0];
    let y = (height_px - (px[1] + 0.5)) / per_mm[1];
    let scale = per_mm[0].min(per_mm[1]);
    let round = |([cx, cy], r): ([f64; 2], f64)| (r - (x - cx).hypot(y - cy)) * scale;
    let [x0, y0, x1, y1] = PLATE;
    let plate = ((x - x0).min(x1 - x) * per_mm[0]).min((y - y0).min(y1 - y) * per_mm[1]);
    cover(plate.min(-round(HOLE))).max(cover(round(DISC)))
}

fn scan_of_parts(dpi: [f64; 2], lid: f64, part: f64) -> Photo {
    let [w, h] = [0, 1].map(|k| (GLASS_MM[k] / INCH_MM * dpi[k]).round() as u32);
    drawn(w, h, |x, y| {
        let c = parts_cover(dpi, [x, y]);
        stored(part * c + lid * (1.0 - c))
    })
}

fn captured(photo: &Photo, dpi: [f64; 2], knowledge: &Knowledge) -> Capture {
    let scan = Scan::try_new(photo.size_px(), Some(dpi), None).expect("the test data are sound");
    Study::of_scan(photo, scan, &shape::Silent)
        .expect("the test data are sound")
        .capture(knowledge)
        .expect("the test data are sound")
}

fn check_parts(capture: &Capture) {
    assert_eq!(capture.parts.len(), 2);
    let plate = capture
        .part_at(Point::new(60.0, 40.0))
        .expect("the test data are sound");
    let b = plate.outline.bounds();
    for (found, truth) in [b.min.x, b.min.y, b.max.x, b.max.y].iter().zip(PLATE) {
        // The bounds are where the noise reaches farthest.
        assert!((found - truth).abs() < 0.09, "{b:?}");
    }
    assert_eq!(plate.outline.holes().len(), 1);
    let hole = plate.outline.holes()[0].signed_area_mm2().abs();
    let radius = (hole / std::f64::consts::PI).sqrt();
    assert!((radius - HOLE.1).abs() < 0.05, "{radius}");
    let disc = capture
        .part_at(DISC.0.into())
        .expect("the test data are sound");
    let radius = (disc.outline.area_mm2() / std::f64::consts::PI).sqrt();
    assert!((radius - DISC.1).abs() < 0.04, "{radius}");
    let middle = disc.outline.centroid();
    assert!(middle.distance_mm(DISC.0.into()) < 0.05, "{middle:?}");
}

#[test]
fn parts_on_the_glass_have_the_size_that_the_resolution_says() {
    let dpi = [300.0, 300.0];
    let photo = scan_of_parts(dpi, 0.85, 0.06);
    let knowledge = Knowledge {
        thicknesses: vec![ThicknessAt {
            at: Point::new(60.0, 40.0),
            thickness_mm: 12.0,
        }],
        ..Knowledge::default()
    };
    let capture = captured(&photo, dpi, &knowledge);
    check_parts(&capture);
    // No camera, so no height: thickness is kept, changes nothing, and nobody is asked for it.
    assert!(capture.taken.camera().is_none());
    assert_eq!(capture.warnings, [TakenWarning::ScannerUnmeasured]);
    let plate = capture
        .part_at(Point::new(60.0, 40.0))
        .expect("the test data are sound");
    assert_eq!(plate.thickness_mm, Some(12.0));
    assert_eq!(plate.outline, plate.silhouette.in_sheet);
    for part in &capture.parts {
        assert!(!part.warnings.contains(&OutlineWarning::ThicknessUnknown));
        assert_eq!(part.sigma.height_mm, 0.0);
        // 0.3 % of half of 72 mm across, over the root of 2.
        assert!(part.sigma.total_mm < 0.12, "{:?}", part.sigma);
    }
}

#[test]
fn resolutions_may_differ_along_x_and_y() {
    let dpi = [300.0, 450.0];
    check_parts(&captured(
        &scan_of_parts(dpi, 0.85, 0.06),
        dpi,
        &Knowledge::default(),
    ));
}

#[test]
fn a_dark_lid_behind_light_parts_is_a_background_too() {
    let dpi = [300.0, 300.0];
    check_parts(&captured(
        &scan_of_parts(dpi, 0.02, 0.7),
        dpi,
        &Knowledge::default(),
    ));
}

/// A grain of plus and minus `share` that has no pattern.
fn grain(x: f64, y: f64, share: f64) -> f64 {
    let mixed = ((x as u64) << 32 | y as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    1.0 + share * ((mixed >> 40) as f64 / f64::from(1u32 << 23) - 1.0)
}

/// A lid left open: the ground falls to an eighth from top to bottom, and its grain is a fifth of its light.
#[test]
fn parts_are_told_from_an_uneven_grainy_dark_ground() {
    let dpi = [300.0, 300.0];
    let [w, h] = [0, 1].map(|k| (GLASS_MM[k] / INCH_MM * dpi[k]).round() as u32);
    let photo = drawn(w, h, |x, y| {
        let ground = 0.1 * (-2.1 * y / f64::from(h)).exp() * grain(x, y, 0.2);
        let part = 0.45 * grain(y, x, 0.05);
        let c = parts_cover(dpi, [x, y]);
        stored(part * c + ground * (1.0 - c))
    });
    let capture = captured(&photo, dpi, &Knowledge::default());
    check_parts(&capture);
    for part in &capture.parts {
        assert!(part.warnings.is_empty(), "{:?}", part.warnings);
        // Grain blurs the edge: by a tenth of a pixel (0.085 mm) at least, by half of one at most.
        assert!(
            (0.008..0.043).contains(&part.sigma.edge_mm),
            "{:?}",
            part.sigma
        );
    }
}

/// A glow that fades over many pixels, such as the ground's beside a lamp, is no part.
#[test]
fn a_glow_on_a_dark_ground_is_no_part() {
    let dpi = [300.0, 300.0];
    let [w, h] = [0, 1].map(|k| (GLASS_MM[k] / INCH_MM * dpi[k]).round() as u32);
    let photo = drawn(w, h, |x, y| {
        let away = (x - f64::from(w)).hypot(y - 0.75 * f64::from(h)) / 60.0;
        let glow = 0.01 + 0.12 * (-0.5 * away * away).exp();
        let c = parts_cover(dpi, [x, y]);
        stored(0.6 * c + glow * (1.0 - c))
    });
    check_parts(&captured(&photo, dpi, &Knowledge::default()));
}

/// The file's own form does not matter: 16 bits a channel, grey.
#[test]
fn sixteen_bits_a_channel_are_read() {
    let dpi = [300.0, 300.0];
    let [w, h] = [0, 1].map(|k| (GLASS_MM[k] / INCH_MM * dpi[k]).round() as u32);
    let mut pixels = Vec::new();
    for y in 0..h {
        for x in 0..w {
            let c = parts_cover(dpi, [f64::from(x), f64::from(y)]);
            let v = stored(0.06 * c + 0.85 * (1.0 - c)) * 257.0;
            pixels.extend((v.round() as u16).to_ne_bytes());
        }
    }
    let bytes = png(w, h, &pixels, image::ExtendedColorType::L16);
    let photo = Photo::decode(&bytes, &Limits::default()).expect("the test data are sound");
    check_parts(&captured(&photo, dpi, &Knowledge::default()));
}

/// A scanner whose lengths along x are wrong in a known way, and the sheet as it would scan it.
struct Scanner<F: Fn(f64) -> f64> {
    true_x: F,
    /// x grows with y downwards.
    skew: f64,
    y_share: f64,
}

const DPI: f64 = 300.0;

impl<F: Fn(f64) -> f64> Scanner<F> {
    /// Where a pixel truly is on the glass: mm right and down.
    fn on_glass(&self, px: [f64; 2]) -> [f64; 2] {
        let [u, v] = px.map(|p| (p + 0.5) * INCH_MM / DPI);
        let y = v * self.y_share;
        [(self.true_x)(u) + self.skew * y, y]
    }

    /// The A4 sheet on its long side, a little askew (tests/data/README.md says how its picture was made).
    fn scan(&self) -> Photo {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../tests/data/capture/sheet-a4.png"
        );
        let sheet = image::open(path)
            .expect("the test data are sound")
            .to_luma8();
        let (sin, cos) = 90.7f64.to_radians().sin_cos();
        drawn(3650, 2600, |x, y| {
            let mut sum = 0.0;
            for (dx, dy) in [(-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)] {
                let [gx, gy] = self.on_glass([x + dx, y + dy]);
                // The sheet's upper-left corner lies at the lower left; its upward direction points left.
                let (a, b) = (gx - 4.0, gy - 214.0);
                let (right, down) = (cos * a - sin * b, sin * a + cos * b);
                let at = |mm: f64| mm * 600.0 / INCH_MM - 0.5;
                sum += sample(&sheet, at(right), at(down)) / 4.0;
            }
            sum
        })
    }

    fn check(&self) {
        let photo = self.scan();
        let profile =
            measure_scanner(&photo, Some([DPI; 2]), None, None).expect("the test data are sound");
        assert_eq!(profile.tags(), 20);
        assert!(
            profile.residual_rms_mm() < 0.02,
            "{}",
            profile.residual_rms_mm()
        );
        let plain =
            Scan::try_new(photo.size_px(), Some([DPI; 2]), None).expect("the test data are sound");
        let read = ScannerProfile::from_json(profile.to_json().as_bytes())
            .expect("the test data are sound");
        assert_eq!(read, profile);
        let scan = Scan::try_new(photo.size_px(), Some([DPI; 2]), Some(profile))
            .expect("the test data are sound");
        let px_of = |mm: f64| mm * DPI / INCH_MM;
        let (mut worst, mut worst_plain) = (0.0f64, 0.0f64);
        for i in 0..=28 {
            let from = [px_of(12.0), px_of(30.0)];
            for to in [
                [px_of(12.0 + 10.0 * f64::from(i)), px_of(30.0)],
                [px_of(12.0 + 10.0 * f64::from(i)), px_of(190.0)],
            ] {
                let truth = {
                    let ([a, b], [c, d]) = (self.on_glass(from), self.on_glass(to));
                    (c - a).hypot(d - b)
                };
                let off = |s: &Scan| (s.distance_mm(from, to) - truth).abs();
                worst = worst.max(off(&scan));
                worst_plain = worst_plain.max(off(&plain));
            }
        }
        println!(
            "lengths up to 280 mm: off by {worst_plain:.3} mm as scanned, {worst:.3} mm corrected"
        );
        assert!(worst < 0.03, "{worst}");
        assert!(worst_plain > 0.2, "{worst_plain}");
    }
}

fn sample(sheet: &image::GrayImage, x: f64, y: f64) -> f64 {
    let (w, h) = (f64::from(sheet.width()), f64::from(sheet.height()));
    if !(x >= 0.0 && y >= 0.0 && x < w - 1.0 && y < h - 1.0) {
        return 240.0;
    }
    let (x0, y0) = (x as u32, y as u32);
    let (u, v) = (x - f64::from(x0), y - f64::from(y0));
    let at = |x, y| f64::from(sheet.get_pixel(x, y).0[0]);
    (at(x0, y0) * (1.0 - u) + at(x0 + 1, y0) * u) * (1.0 - v)
        + (at(x0, y0 + 1) * (1.0 - u) + at(x0 + 1, y0 + 1) * u) * v
}

/// One half 0.3 % short, the other 0.3 % long: the 0.6 % from half to half that owners of scanners found.
#[test]
fn a_scanner_whose_halves_differ_is_corrected() {
    Scanner {
        true_x: |u: f64| u + 0.003 * (u - 150.0).abs(),
        skew: 0.001,
        y_share: 1.0,
    }
    .check();
}

/// 0.6 % more here and less there along a wave, and one axis short throughout.
#[test]
fn a_scanner_that_wavers_is_corrected() {
    let turn = std::f64::consts::TAU / 290.0;
    Scanner {
        true_x: move |u: f64| u + 0.006 / turn * (u * turn).sin(),
        skew: 0.0,
        y_share: 0.997,
    }
    .check();
}

#[test]
fn a_scan_without_a_sheet_gives_no_profile() {
    let photo = scan_of_parts([300.0, 300.0], 0.85, 0.06);
    assert!(matches!(
        measure_scanner(&photo, Some([300.0; 2]), None, None),
        Err(ProfileError::Sheet(capture::camera::CameraError::NoTag))
    ));
    assert!(matches!(
        measure_scanner(&photo, None, None, None),
        Err(ProfileError::Scan(_))
    ));
}

#[test]
fn a_profile_of_another_form_is_refused_by_its_path() {
    let good = serde_json::json!({
        "format": "setapart-scanner-profile", "version": 1,
        "x": { "nominal_mm": [0.0, 100.0, 200.0], "true_mm": [0.0, 100.3, 200.1] },
        "y": { "nominal_mm": [0.0, 290.0], "true_mm": [0.0, 290.0] },
        "skew": 0.0, "residual_rms_mm": 0.01, "residual_worst_mm": 0.03, "tags": 20, "print_measured": true
    });
    let read = |v: &serde_json::Value| ScannerProfile::from_json(v.to_string().as_bytes());
    assert!(read(&good).is_ok());
    for (pointer, value, words) in [
        (
            "/format",
            serde_json::json!("setapart-piece"),
            "setapart-piece",
        ),
        ("/version", serde_json::json!(2), "version 2"),
        ("/x/true_mm/1", serde_json::json!(-100.3), "x:"),
        ("/x/true_mm/1", serde_json::json!(180.0), "x:"),
        ("/y/nominal_mm", serde_json::json!([0.0]), "y:"),
        ("/skew", serde_json::json!(0.5), "skew"),
        (
            "/residual_rms_mm",
            serde_json::json!(-1.0),
            "residual_rms_mm",
        ),
        ("/tags", serde_json::json!("many"), "tags"),
    ] {
        let mut spoilt = good.clone();
        *spoilt
            .pointer_mut(pointer)
            .expect("the test data are sound") = value;
        let error = read(&spoilt).unwrap_err().to_string();
        assert!(error.contains(words), "{pointer}: {error}");
    }
    assert!(ScannerProfile::from_json(b"[1, 2]").is_err());
    assert!(ScannerProfile::from_json(b"{").is_err());
}
