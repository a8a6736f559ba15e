//! An invented wind meter of ten parts on a 300 x 400 mm frame, drawn by hand for these tests.

#![allow(dead_code, reason = "each test file uses its share")]

use lettering::{Face, line_pitch_mm, set_line};
use piece::{Caption, Device, Frame, Margin, Part, PartId, PartKind, Piece, Placement};
use shape::{Outline, Point};
use std::f64::consts::TAU;

type Ring = Vec<Point>;

/// A box with round corners, lower-left corner at (x, y).
fn rounded([x, y, w, h]: [f64; 4], r: f64) -> Ring {
    let corners = [
        (x + w - r, y + r, -0.25),
        (x + w - r, y + h - r, 0.0),
        (x + r, y + h - r, 0.25),
        (x + r, y + r, 0.5),
    ];
    corners
        .iter()
        .flat_map(|&(cx, cy, from)| {
            (0..=12).map(move |i| {
                let a = TAU * (from + 0.25 * f64::from(i) / 12.0);
                Point::new(cx + r * a.cos(), cy + r * a.sin())
            })
        })
        .collect()
}

fn disc(cx: f64, cy: f64, r: f64) -> Ring {
    (0..96)
        .map(|i| {
            let a = TAU * f64::from(i) / 96.0;
            Point::new(cx + r * a.cos(), cy + r * a.sin())
        })
        .collect()
}

/// Four blades round a hub.
fn rotor(r: f64) -> Ring {
    (0..240)
        .map(|i| {
            let a = TAU * f64::from(i) / 240.0;
            let at = r * (0.62 + 0.38 * (4.0 * a + 0.7 * (4.0 * a).sin()).cos());
            Point::new(r + at * a.cos(), r + at * a.sin())
        })
        .collect()
}

fn polygon(points: &[(f64, f64)]) -> Ring {
    points.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

/// One part of the sample: id, name, kind, thickness, outer ring, holes, place, turn.
struct Sample(
    &'static str,
    &'static str,
    PartKind,
    f64,
    Ring,
    Vec<Ring>,
    [f64; 2],
    f64,
);

fn samples() -> Vec<Sample> {
    vec![
        Sample(
            "front",
            "Front shell",
            PartKind::Shell,
            9.0,
            rounded([0.0, 0.0, 68.0, 150.0], 14.0),
            vec![
                rounded([12.0, 62.0, 44.0, 34.0], 3.0),
                disc(34.0, 122.0, 18.0),
                rounded([16.0, 20.0, 14.0, 9.0], 4.0),
                rounded([38.0, 20.0, 14.0, 9.0], 4.0),
            ],
            [20.0, 196.0],
            0.0,
        ),
        Sample(
            "rotor",
            "Rotor",
            PartKind::Wheel,
            7.0,
            rotor(17.0),
            vec![disc(17.0, 17.0, 1.6)],
            [112.0, 300.0],
            0.0,
        ),
        Sample(
            "display",
            "Display",
            PartKind::Display,
            2.4,
            rounded([0.0, 0.0, 48.0, 38.0], 1.5),
            vec![],
            [104.0, 228.0],
            0.0,
        ),
        Sample(
            "ribbon",
            "Display ribbon",
            PartKind::Ribbon,
            0.3,
            polygon(&[
                (0.0, 0.0),
                (22.0, 0.0),
                (22.0, 20.0),
                (34.0, 32.0),
                (34.0, 44.0),
                (20.0, 44.0),
                (20.0, 37.0),
                (4.0, 21.0),
                (4.0, 8.0),
                (0.0, 8.0),
            ]),
            vec![],
            [112.0, 160.0],
            0.0,
        ),
        Sample(
            "main-board",
            "Main board",
            PartKind::Board,
            4.2,
            polygon(&[
                (0.0, 0.0),
                (56.0, 0.0),
                (56.0, 52.0),
                (48.0, 60.0),
                (48.0, 92.0),
                (8.0, 92.0),
                (8.0, 60.0),
                (0.0, 52.0),
            ]),
            vec![
                disc(5.0, 5.0, 1.6),
                disc(51.0, 5.0, 1.6),
                disc(28.0, 78.0, 9.0),
            ],
            [176.0, 254.0],
            0.0,
        ),
        Sample(
            "coil",
            "Pick-up coil",
            PartKind::Other,
            5.5,
            disc(11.0, 11.0, 11.0),
            vec![disc(11.0, 11.0, 4.5)],
            [246.0, 320.0],
            0.0,
        ),
        Sample(
            "keys",
            "Keys",
            PartKind::Keys,
            3.0,
            polygon(&[
                (0.0, 0.0),
                (44.0, 0.0),
                (44.0, 12.0),
                (30.0, 12.0),
                (30.0, 8.0),
                (14.0, 8.0),
                (14.0, 12.0),
                (0.0, 12.0),
            ]),
            vec![],
            [178.0, 206.0],
            8.0,
        ),
        Sample(
            "cell",
            "Cell, stand-in",
            PartKind::Cell,
            14.0,
            rounded([0.0, 0.0, 50.0, 14.5], 2.0),
            vec![],
            [176.0, 160.0],
            0.0,
        ),
        Sample(
            "back",
            "Back shell with battery bay",
            PartKind::Shell,
            12.0,
            rounded([0.0, 0.0, 150.0, 68.0], 14.0),
            vec![
                rounded([82.0, 18.0, 54.0, 32.0], 3.0),
                disc(28.0, 34.0, 12.0),
            ],
            [24.0, 56.0],
            0.0,
        ),
        Sample(
            "screw",
            "Screw M2 × 8",
            PartKind::Screw,
            3.8,
            polygon(&[
                (0.0, 0.6),
                (1.6, 0.0),
                (1.6, 0.9),
                (9.6, 0.9),
                (9.6, 2.9),
                (1.6, 2.9),
                (1.6, 3.8),
                (0.0, 3.2),
            ]),
            vec![],
            [214.0, 96.0],
            0.0,
        ),
    ]
}

/// Height of the captions' capitals, mm.
const LETTER_MM: f64 = 3.5;

/// The sample with two more screws close to the first, without captions of their own.
pub fn piece_with_spare_screws() -> Piece {
    let mut piece = sample_piece();
    let screw = piece.parts.len() - 1;
    for i in 1..=2 {
        let id = PartId::try_new(format!("screw-{i}")).unwrap();
        let mut part = piece.parts[screw].clone();
        part.id = id.clone();
        let mut place = piece.placements[screw].clone();
        place.part = id;
        place.y -= 6.0 * f64::from(i);
        piece.parts.push(part);
        piece.placements.push(place);
    }
    piece
}

pub fn sample_piece() -> Piece {
    let mut piece = Piece::new(
        "Wind in the hand",
        Frame {
            size_mm: [300.0, 400.0],
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
        },
    );
    piece.device = Some(Device {
        name: "Pocket wind meter W3".into(),
        maker: None,
        year: Some("1998".into()),
    });
    for (index, sample) in samples().into_iter().enumerate() {
        let Sample(id, name, kind, thickness, outer, holes, [x, y], turn_deg) = sample;
        let id = PartId::try_new(id).unwrap();
        let (outline, _) = Outline::try_new(outer, holes).unwrap().at_origin();
        let placement = Placement {
            part: id.clone(),
            x,
            y,
            turn_deg,
            pinned: false,
        };
        let shown = outline.placed(placement.board_from_part()).bounds();
        if id.as_str() != "coil" {
            piece.captions.push(caption(&id, index + 1, name, shown));
        }
        piece.parts.push(part(id, name, kind, thickness, outline));
        piece.placements.push(placement);
    }
    piece
}

fn part(id: PartId, name: &str, kind: PartKind, thickness: f64, outline: Outline) -> Part {
    let json = serde_json::json!({
        "id": id.as_str(), "name": name, "kind": kind, "outline": outline,
        "thickness_mm": thickness,
    });
    serde_json::from_value(json).unwrap()
}

/// Below its part, flush left; the screw's to its right with a leader.
fn caption(id: &PartId, number: usize, name: &str, part: shape::Bounds) -> Caption {
    let first = format!("{number}  {name}");
    let line = set_line(&first, Face::Medium, LETTER_MM);
    let h = LETTER_MM + line.descent_mm;
    let mut caption = Caption {
        part: id.clone(),
        text: name.into(),
        x: part.min.x,
        y: part.min.y - 2.5 - h,
        w: line.width_mm,
        h,
        letter_mm: Some(LETTER_MM),
        leader: Vec::new(),
    };
    if id.as_str() == "screw" {
        caption.x = part.max.x + 8.0;
        caption.y = part.max.y + 7.0;
        caption.leader = vec![
            Point::new(
                caption.x - 1.0,
                caption.y + line.descent_mm + 0.5 * LETTER_MM,
            ),
            Point::new(part.max.x - 3.0, part.centre().y),
        ];
    }
    if id.as_str() == "ribbon" {
        caption.text = "Display\nribbon".into();
        caption.h += line_pitch_mm(LETTER_MM);
        caption.y -= line_pitch_mm(LETTER_MM);
    }
    caption
}
