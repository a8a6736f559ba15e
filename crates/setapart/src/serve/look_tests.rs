//! The tokens' contrast by the formula of WCAG 2.2 ("relative luminance", "contrast ratio"), in both lights.

use std::collections::BTreeMap;

const TOKENS: &str = include_str!("assets/tokens.css");

type Pair = [[u8; 3]; 2];

/// Colours by day and under the lamp.
fn colours() -> BTreeMap<&'static str, Pair> {
    let hex = |text: &str| {
        let digits = text.trim().strip_prefix('#').filter(|d| d.len() == 6)?;
        let channel = |k: usize| u8::from_str_radix(&digits[2 * k..2 * k + 2], 16).ok();
        Some([channel(0)?, channel(1)?, channel(2)?])
    };
    TOKENS
        .lines()
        .filter_map(|line| {
            let (name, value) = line.trim().strip_prefix("--")?.split_once(": ")?;
            let value = value.strip_suffix(';')?;
            let pair = match value.strip_prefix("light-dark(") {
                Some(both) => {
                    let (day, lamp) = both.strip_suffix(')')?.split_once(", ")?;
                    [hex(day)?, hex(lamp)?]
                }
                None => [hex(value)?; 2],
            };
            Some((name, pair))
        })
        .collect()
}

fn luminance(rgb: [u8; 3]) -> f64 {
    let linear = rgb.map(|c| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn the_formula_gives_the_standards_own_examples() {
    // WCAG 2.2: black on white is 21 to 1; #777777 on white is just below 4.5 (its Understanding document).
    assert!((contrast([0; 3], [255; 3]) - 21.0).abs() < 1e-9);
    let grey = contrast([0x77; 3], [255; 3]);
    assert!((4.47..4.5).contains(&grey), "{grey}");
}

#[test]
fn words_have_4_5_to_1_and_edges_3_to_1_on_every_ground_they_stand_on() {
    let grounds = ["bench", "bench-deep", "card", "card-sunk", "tray"];
    let washes = ["patina-wash", "stop-wash", "fix-wash", "note-wash"];
    let both: Vec<&str> = grounds.iter().chain(&washes).copied().collect();
    let rules: Vec<(&str, Vec<&str>, f64)> = vec![
        ("ink", both.clone(), 4.5),
        ("ink-soft", both, 4.5),
        (
            "patina",
            vec!["bench", "bench-deep", "card", "card-sunk", "patina-wash"],
            4.5,
        ),
        ("on-patina", vec!["patina", "patina-deep"], 4.5),
        ("brass-ink", vec!["bench", "card", "card-sunk", "tray"], 4.5),
        ("stop", vec!["bench", "card", "stop-wash", "tray"], 4.5),
        ("fix", vec!["bench", "card", "fix-wash", "tray"], 4.5),
        ("note", vec!["bench", "card", "note-wash"], 4.5),
        ("edge", grounds.to_vec(), 3.0),
        ("brass", vec!["bench", "card"], 3.0),
        ("focus", vec!["bench", "card", "patina-wash"], 3.0),
        ("mount-ink", vec!["mount"], 4.5),
        ("mount-soft", vec!["mount"], 4.5),
    ];
    let colours = colours();
    for (ink, grounds, least) in rules {
        for ground in grounds {
            for light in 0..2 {
                let found = contrast(colours[ink][light], colours[ground][light]);
                assert!(found >= least, "{ink} on {ground}, {light}: {found:.2}");
            }
        }
    }
}
