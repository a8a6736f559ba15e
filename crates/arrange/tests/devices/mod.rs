//! Invented devices to arrange: one drawn by hand, and a seeded generator.

#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each user takes what it needs; the figures are known to be good"
)]

use arrange::{Arranged, check};
use piece::{Frame, Home, Level, Margin, Part, PartId, PartKind, Piece};
use shape::{Outline, Point, Vector, difference, union};

/// The piece with a layout in it.
pub fn laid_out(piece: &Piece, found: Arranged) -> Piece {
    Piece {
        placements: found.placements,
        captions: found.captions,
        ..piece.clone()
    }
}

/// What is wrong with a layout apart from notes and captions for which there was no room.
pub fn faults(piece: &Piece) -> Vec<String> {
    check(piece)
        .into_iter()
        .filter(|f| f.level != Level::Note)
        .map(|f| format!("{}: {}", f.code, f.text))
        .collect()
}

/// A deep frame of a glazing size with a 6 mm lip and room to breathe.
pub fn frame(w: f64, h: f64) -> Frame {
    Frame {
        size_mm: [w, h],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(35.0),
        margin_mm: Margin {
            left: 12.0,
            right: 12.0,
            top: 12.0,
            bottom: 18.0,
        },
        spacer_width_mm: 5.0,
        glazing: None,
    }
}

fn arc(points: &mut Vec<Point>, c: Point, r: f64, from_deg: f64, to_deg: f64, n: usize) {
    for k in 0..=n {
        let a = (from_deg + (to_deg - from_deg) * k as f64 / n as f64).to_radians();
        points.push(c + Vector::new(a.cos(), a.sin()) * r);
    }
}

/// A rectangle with round corners, lower-left corner at (x, y).
pub fn rounded(x: f64, y: f64, w: f64, h: f64, r: f64) -> Outline {
    let r = r.min(0.49 * w).min(0.49 * h);
    let mut points = Vec::new();
    arc(
        &mut points,
        Point::new(x + w - r, y + r),
        r,
        270.0,
        360.0,
        12,
    );
    arc(
        &mut points,
        Point::new(x + w - r, y + h - r),
        r,
        0.0,
        90.0,
        12,
    );
    arc(
        &mut points,
        Point::new(x + r, y + h - r),
        r,
        90.0,
        180.0,
        12,
    );
    arc(&mut points, Point::new(x + r, y + r), r, 180.0, 270.0, 12);
    Outline::try_new(points, vec![]).unwrap()
}

pub fn disc(x: f64, y: f64, r: f64) -> Outline {
    let mut points = Vec::new();
    arc(&mut points, Point::new(x, y), r, 0.0, 355.0, 71);
    Outline::try_new(points, vec![]).unwrap()
}

fn cut(a: Outline, holes: &[Outline]) -> Outline {
    difference(&a, holes).remove(0)
}

fn join(parts: &[Outline]) -> Outline {
    union(parts).remove(0)
}

/// A part drawn where it sits in the device.
pub fn part(id: &str, name: &str, kind: PartKind, layer: u32, in_device: &Outline) -> Part {
    let (outline, shift) = in_device.at_origin();
    let mut part = Part::new(PartId::try_new(id).unwrap(), name, kind, outline);
    part.home = Some(Home {
        x: shift.x,
        y: shift.y,
        turn_deg: 0.0,
        layer,
    });
    part
}

/// A hand-held sound recorder of 64 x 120 mm, 19 parts in 9 layers.
pub fn recorder(frame: Frame) -> Piece {
    use PartKind::*;
    let shell = rounded(0.0, 0.0, 64.0, 120.0, 11.0);
    let front = cut(
        shell.clone(),
        &[
            rounded(9.0, 68.0, 46.0, 29.0, 2.0),
            disc(48.0, 48.0, 8.0),
            disc(32.0, 20.0, 1.5),
            disc(27.0, 20.0, 1.5),
            disc(37.0, 20.0, 1.5),
        ],
    );
    let board = cut(
        join(&[
            rounded(4.0, 30.0, 24.0, 80.0, 1.0),
            rounded(4.0, 30.0, 56.0, 34.0, 1.0),
        ]),
        &[
            disc(8.0, 34.0, 1.2),
            disc(56.0, 34.0, 1.2),
            disc(8.0, 106.0, 1.2),
        ],
    );
    let ribbon = join(&[
        rounded(24.0, 60.0, 6.0, 38.0, 0.5),
        rounded(18.0, 92.0, 20.0, 8.0, 1.0),
        rounded(22.0, 56.0, 14.0, 6.0, 1.0),
    ]);
    let ribbon_2 = join(&[
        rounded(40.0, 28.0, 5.0, 30.0, 0.5),
        rounded(38.0, 24.0, 16.0, 5.0, 0.5),
    ]);
    let bracket = cut(
        join(&[
            rounded(6.0, 66.0, 52.0, 7.0, 2.0),
            rounded(52.0, 66.0, 6.0, 16.0, 2.0),
        ]),
        &[disc(9.5, 69.5, 1.3), disc(55.0, 79.0, 1.3)],
    );
    let mut piece = Piece::new("Recorder", frame);
    piece.parts = vec![
        part("front", "Front shell", Shell, 0, &front),
        part(
            "display",
            "Display",
            Display,
            1,
            &rounded(7.0, 66.0, 50.0, 34.0, 1.0),
        ),
        part(
            "keys",
            "Key mat",
            Keys,
            1,
            &rounded(8.0, 42.0, 32.0, 18.0, 3.0),
        ),
        part(
            "wheel",
            "Scroll wheel",
            Wheel,
            1,
            &cut(disc(48.0, 48.0, 10.0), &[disc(48.0, 48.0, 2.0)]),
        ),
        part("speaker", "Speaker", Speaker, 1, &disc(32.0, 20.0, 14.0)),
        part(
            "mic",
            "Microphone bar",
            Microphone,
            1,
            &rounded(17.0, 108.0, 30.0, 6.0, 2.0),
        ),
        part("ribbon1", "Display ribbon", Ribbon, 2, &ribbon),
        part("board", "Main board", Board, 3, &board),
        part(
            "audio",
            "Audio board",
            Board,
            4,
            &rounded(12.0, 6.0, 40.0, 30.0, 2.0),
        ),
        part("ribbon2", "Audio ribbon", Ribbon, 4, &ribbon_2),
        part(
            "shield",
            "Shield can",
            Shield,
            4,
            &rounded(8.0, 74.0, 18.0, 26.0, 1.0),
        ),
        part(
            "cell",
            "Cell (stand-in)",
            Cell,
            5,
            &rounded(16.0, 46.0, 34.0, 50.0, 2.0),
        ),
        part("bracket", "Cell bracket", Bracket, 6, &bracket),
        part(
            "antenna",
            "Antenna",
            Antenna,
            6,
            &rounded(40.0, 98.0, 16.0, 18.0, 1.0),
        ),
        part(
            "back",
            "Back shell",
            Shell,
            7,
            &cut(
                shell,
                &[
                    disc(8.0, 8.0, 2.0),
                    disc(56.0, 8.0, 2.0),
                    disc(8.0, 112.0, 2.0),
                    disc(56.0, 112.0, 2.0),
                ],
            ),
        ),
        part("s1", "Case screw", Screw, 8, &disc(8.0, 8.0, 2.0)),
        part("s2", "Case screw", Screw, 8, &disc(56.0, 8.0, 2.0)),
        part("s3", "Case screw", Screw, 8, &disc(8.0, 112.0, 2.0)),
        part("s4", "Case screw", Screw, 8, &disc(56.0, 112.0, 2.0)),
    ];
    piece
}

/// SplitMix64, so that generated devices never depend on a library's version.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// A device of `n` parts: two shells, and between them boards, discs, brackets and ribbons that lie
/// inside the shells' outline, a few to each layer, and screws at the back.
pub fn generated(seed: u64, n: usize, frame: Frame) -> Piece {
    use PartKind::*;
    let mut dice = Dice(seed);
    let (w, h) = (dice.between(45.0, 80.0), dice.between(70.0, 150.0));
    let mut piece = Piece::new(format!("Device {seed}"), frame);
    let shell = rounded(0.0, 0.0, w, h, dice.between(4.0, 14.0));
    let n_screws = if n > 7 { 2 + dice.below(3) } else { 0 };
    let inner = n.saturating_sub(2 + n_screws);
    piece
        .parts
        .push(part("front", "Front shell", Shell, 0, &shell));
    let mut layer = 1;
    for k in 0..inner {
        if dice.below(10) < 6 {
            layer += 1;
        }
        let (kind, name) = [
            (Board, "Main board"),
            (Ribbon, "Ribbon"),
            (Speaker, "Speaker"),
            (Bracket, "Bracket"),
            (Shield, "Shield can"),
            (Connector, "Socket"),
            (Motor, "Motor"),
        ][dice.below(7)];
        let (pw, ph) = match kind {
            Board => (dice.between(0.4, 0.9) * w, dice.between(0.25, 0.7) * h),
            Ribbon => (dice.between(5.0, 9.0), dice.between(0.2, 0.5) * h),
            Bracket => (dice.between(0.3, 0.8) * w, dice.between(6.0, 12.0)),
            _ => (dice.between(8.0, 24.0), dice.between(8.0, 24.0)),
        };
        let (x, y) = (dice.between(0.0, w - pw), dice.between(0.0, h - ph));
        let body = rounded(x, y, pw, ph, dice.between(0.5, 4.0));
        let outline = match kind {
            Board => cut(
                body,
                &[
                    rounded(x + 0.6 * pw, y + 0.6 * ph, pw, ph, 0.5),
                    disc(x + 4.0, y + 4.0, 1.1),
                ],
            ),
            Speaker | Motor => disc(x + 0.5 * pw, y + 0.5 * pw, 0.5 * pw),
            _ => body,
        };
        let id = format!("p{k}");
        piece.parts.push(part(
            &id,
            &format!("{name} {}", k + 1),
            kind,
            layer,
            &outline,
        ));
    }
    piece
        .parts
        .push(part("back", "Back shell", Shell, layer + 1, &shell));
    for k in 0..n_screws {
        let (x, y) = (dice.between(3.0, w - 3.0), dice.between(3.0, h - 3.0));
        let id = format!("screw{k}");
        piece
            .parts
            .push(part(&id, "Case screw", Screw, layer + 2, &disc(x, y, 1.8)));
    }
    piece
}
