//! Tags drawn at known places, in good and bad light.

mod tags_truth;

use capture::photo::{LinearLuma, PhotoPoint};
use capture::tags::{TAG_CELLS, TAG_COUNT, detect, tag_pattern};
use tags_truth::drawn;

/// A tag drawn with its middle at `centre`, `side` px large, turned clockwise as seen.
#[derive(Clone, Copy)]
struct Drawn {
    id: u32,
    centre: [f64; 2],
    side: f64,
    turn_deg: f64,
    mirrored: bool,
    pattern: [[bool; TAG_CELLS]; TAG_CELLS],
}

fn tag(id: u32, centre: [f64; 2], side: f64, turn_deg: f64) -> Drawn {
    let pattern = tag_pattern(id).expect("an id of the family");
    Drawn {
        id,
        centre,
        side,
        turn_deg,
        mirrored: false,
        pattern,
    }
}

const BLACK: f32 = 0.04;
const WHITE: f32 = 0.7;

impl Drawn {
    /// Place on the tag, in sides from its middle.
    fn within(&self, x: f64, y: f64) -> [f64; 2] {
        let (s, c) = self.turn_deg.to_radians().sin_cos();
        let (dx, dy) = (
            (x - self.centre[0]) / self.side,
            (y - self.centre[1]) / self.side,
        );
        let u = dx * c + dy * s;
        [if self.mirrored { -u } else { u }, dy * c - dx * s]
    }

    fn is_black(&self, x: f64, y: f64) -> bool {
        let [u, v] = self.within(x, y).map(|w| (w + 0.5) * TAG_CELLS as f64);
        let cells = 0.0..TAG_CELLS as f64;
        cells.contains(&u) && cells.contains(&v) && !self.pattern[v as usize][u as usize]
    }

    fn corners(&self) -> [PhotoPoint; 4] {
        let (s, c) = self.turn_deg.to_radians().sin_cos();
        [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[u, v]| {
            PhotoPoint::new(
                self.centre[0] + self.side * (u * c - v * s),
                self.centre[1] + self.side * (u * s + v * c),
            )
        })
    }
}

/// Each pixel is the mean over a square of `blur` pixels round its centre, which takes the place of the lens.
fn picture(
    width: usize,
    height: usize,
    tags: &[Drawn],
    blur: f64,
    light: impl Fn(f64, f64) -> f32,
) -> LinearLuma {
    const N: i32 = 6;
    drawn(width, height, |x, y| {
        let (px, py) = (x as f64, y as f64);
        let near = |t: &&Drawn| (px - t.centre[0]).hypot(py - t.centre[1]) < 0.75 * t.side + blur;
        let Some(near) = tags.iter().find(near) else {
            return light(px, py) * WHITE;
        };
        let mut sum = 0.0;
        for j in 0..N {
            for i in 0..N {
                let at = |k: i32| (f64::from(k) + 0.5) / f64::from(N) - 0.5;
                let (x, y) = (px + blur * at(i), py + blur * at(j));
                sum += light(x, y) * if near.is_black(x, y) { BLACK } else { WHITE };
            }
        }
        sum / (N * N) as f32
    })
}

fn worst_px(found: &[PhotoPoint; 4], drawn: &Drawn) -> f64 {
    let misses = found
        .iter()
        .zip(drawn.corners())
        .map(|(p, q)| p.distance_px(q));
    misses.fold(0.0, f64::max)
}

#[test]
fn tags_of_every_size_are_found_to_a_tenth_of_a_pixel() {
    // Truth: the places they are drawn at.
    for (i, side) in [40.0, 48.5, 64.0, 100.0, 160.0, 233.0, 400.0]
        .into_iter()
        .enumerate()
    {
        for turn_deg in [0.7, 44.0, 100.0, 199.0] {
            let size = (side * 1.9) as usize + 20;
            let middle = [size as f64 / 2.0 + 0.37, size as f64 / 2.0 - 0.21];
            let drawn = tag(31 * i as u32 + 5, middle, side, turn_deg);
            let seen = detect(&picture(size, size, &[drawn], 1.6, |_, _| 1.0));
            assert_eq!(seen.tags.len(), 1, "{side} px turned {turn_deg}");
            let found = &seen.tags[0];
            assert_eq!((found.id, found.hamming), (drawn.id, 0));
            let miss = worst_px(&found.corners_in_photo, &drawn);
            assert!(miss < 0.1, "{side} px turned {turn_deg}: {miss:.3} px");
            assert!(found.corner_sigma_px < 0.1);
            // 10 % to 90 % of a square window of 1.6 px, sampled linearly: 1.3 px and a little more.
            assert!((1.0..2.2).contains(&found.rise_px), "{}", found.rise_px);
        }
    }
}

#[test]
fn every_id_of_the_family_is_read() {
    for id in (0..TAG_COUNT).step_by(9) {
        let drawn = tag(id, [60.0, 60.0], 64.0, 90.0 * f64::from(id % 4) + 3.0);
        let seen = detect(&picture(120, 120, &[drawn], 1.5, |_, _| 1.0));
        let ids: Vec<u32> = seen.tags.iter().map(|t| t.id).collect();
        assert_eq!(ids, [id]);
    }
}

#[test]
fn a_blurred_tag_is_found_and_its_blur_is_told() {
    let drawn = tag(77, [150.3, 149.6], 160.0, 12.0);
    let rise = |blur| {
        let seen = detect(&picture(300, 300, &[drawn], blur, |_, _| 1.0));
        assert!(worst_px(&seen.tags[0].corners_in_photo, &drawn) < 0.15);
        seen.rise_px().unwrap()
    };
    // A square window of w pixels turned 12 degrees rises from 10 % to 90 % over about 0.75 w.
    let (sharp, soft) = (rise(2.0), rise(10.0));
    assert!((1.3..2.5).contains(&sharp), "{sharp}");
    assert!((6.5..9.0).contains(&soft), "{soft}");
}

#[test]
fn a_shadow_across_tags_hides_none_of_them() {
    let tags: Vec<Drawn> = (0..6)
        .map(|i| {
            tag(
                10 + i,
                [150.0 + 250.0 * f64::from(i), 150.0],
                150.0,
                5.0 * f64::from(i),
            )
        })
        .collect();
    // Seven tenths of the light gone below a slanting line; hard, and soft over 60 px.
    for softness in [1.0, 60.0] {
        let light = |x: f64, y: f64| {
            let depth = ((y - 100.0 - 0.06 * x) / softness + 0.5).clamp(0.0, 1.0);
            (1.0 - 0.7 * depth) as f32
        };
        let seen = detect(&picture(1560, 300, &tags, 1.8, light));
        let ids: Vec<u32> = seen.tags.iter().map(|t| t.id).collect();
        assert_eq!(ids, [10, 11, 12, 13, 14, 15], "softness {softness}");
        for (found, drawn) in seen.tags.iter().zip(&tags) {
            let miss = worst_px(&found.corners_in_photo, drawn);
            assert!(
                miss < 0.35,
                "{}: {miss:.3} px, softness {softness}",
                found.id
            );
        }
    }
}

#[test]
fn a_tag_under_glare_is_missing_and_its_neighbours_are_not() {
    let tags = [
        tag(3, [100.0, 100.0], 110.0, 2.0),
        tag(4, [300.0, 100.0], 110.0, 2.0),
    ];
    let mut luma = picture(400, 200, &tags, 1.6, |_, _| 1.0);
    for y in 0..200 {
        for x in 0..400 {
            let r = (x as f32 - 290.0).hypot(y as f32 - 90.0);
            luma.data[y * 400 + x] =
                (luma.data[y * 400 + x] + (1.6 - r / 60.0).clamp(0.0, 1.0)).min(1.0);
        }
    }
    let ids: Vec<u32> = detect(&luma).tags.iter().map(|t| t.id).collect();
    assert_eq!(ids, [3]);
}

#[test]
fn a_tag_seen_twice_and_a_mirrored_one_are_told() {
    let mirrored = Drawn {
        mirrored: true,
        ..tag(9, [500.0, 100.0], 110.0, 30.0)
    };
    let tags = [
        tag(21, [100.0, 100.0], 110.0, 0.0),
        tag(21, [300.0, 100.0], 110.0, 50.0),
        mirrored,
    ];
    let seen = detect(&picture(600, 200, &tags, 1.6, |_, _| 1.0));
    assert_eq!(seen.tags.len(), 2);
    assert_eq!((seen.repeated, seen.mirrored), (vec![21], vec![9]));
}

#[test]
fn where_there_are_no_tags_none_are_found() {
    for (width, height) in [(0, 0), (1, 1), (3, 500), (640, 480)] {
        assert!(detect(&drawn(width, height, |_, _| 0.5)).tags.is_empty());
    }
    // Speckle, and a checkerboard of tag-sized squares.
    let speckle = drawn(640, 480, |x, y| {
        ((x * 7919 + y * 104_729 + x * y * 31) % 97) as f32 / 97.0
    });
    assert_eq!(detect(&speckle), Default::default());
    let board = drawn(640, 480, |x, y| {
        if (x / 64 + y / 64) % 2 == 0 {
            0.05
        } else {
            0.8
        }
    });
    assert_eq!(detect(&board), Default::default());
    let poisoned = drawn(
        640,
        480,
        |x, _| if x % 3 == 0 { f32::NAN } else { f32::INFINITY },
    );
    assert!(detect(&poisoned).tags.is_empty());
}

/// By construction: blur takes 2.5 px at each end of a side of 50 px, and 3 % of one of 160 px.
#[test]
fn small_tags_say_that_less_of_their_sides_was_fitted() {
    for (side, share) in [(50.0, 1.0 - 2.0 * 2.5 / 50.0), (160.0, 0.94)] {
        let drawn = tag(5, [150.4, 149.8], side, 10.0);
        let seen = detect(&picture(300, 300, &[drawn], 1.6, |_, _| 1.0));
        let told = seen.tags[0].fitted_share;
        assert!((told - share).abs() < 0.002, "{side}: {told}");
    }
}

#[test]
fn a_picture_with_fewer_pixels_than_its_size_says_has_no_tags_and_does_no_harm() {
    for (width, height, pixels) in [(0, 0, 0), (300, 200, 0), (300, 200, 12_345), (1, 9, 9)] {
        let luma = LinearLuma {
            width,
            height,
            data: vec![0.8; pixels],
        };
        assert!(detect(&luma).tags.is_empty());
    }
}
