//! Pieces for the tests.

#![allow(dead_code, missing_docs, unused_imports, clippy::unwrap_used)]

#[path = "../../../shape/tests/figures/slowly.rs"]
mod slowly;

use mount::Catalogue;
use piece::{BuildPlan, Frame, Margin, Part, PartId, PartKind, Piece, Placement};
use shape::{Outline, Point, Silent};
pub use slowly::slowly;

pub fn id(text: &str) -> PartId {
    PartId::try_new(text).unwrap()
}

pub fn rectangle(w: f64, h: f64) -> Outline {
    Outline::rectangle(Point::new(0.0, 0.0), Point::new(w, h)).unwrap()
}

pub fn disc(x: f64, y: f64, r: f64) -> Outline {
    let ring = (0..96)
        .map(|k| {
            let (s, c) = (f64::from(k) * std::f64::consts::TAU / 96.0).sin_cos();
            Point::new(x + r * c, y + r * s)
        })
        .collect();
    Outline::try_new(ring, vec![]).unwrap()
}

/// A part of which all that mounting asks for is known.
pub fn part(
    name: &str,
    kind: PartKind,
    outline: Outline,
    height: f64,
    mass: f64,
    face: &str,
) -> Part {
    Part {
        thickness_mm: Some(height),
        mass_g: Some(mass),
        back_face: Some(face.into()),
        ..Part::new(id(name), name, kind, outline)
    }
}

/// A hollow shell of 60 x 100 mm, 1.5 mm of wall, 9 mm deep inside.
pub fn shell() -> Part {
    Part {
        wall_mm: Some(1.5),
        inner_depth_mm: Some(9.0),
        ..part(
            "shell",
            PartKind::Shell,
            rectangle(60.0, 100.0),
            10.5,
            18.0,
            "abs",
        )
    }
}

pub fn plate() -> Part {
    part(
        "plate",
        PartKind::Board,
        rectangle(50.0, 40.0),
        5.0,
        16.0,
        "fr4",
    )
}

/// A piece of 400 x 500 mm with these parts in a row.
pub fn piece(parts: Vec<Part>) -> Piece {
    let mut piece = Piece::new(
        "A piece",
        Frame {
            size_mm: [400.0, 500.0],
            lip_mm: 6.0,
            board_clearance_mm: 2.0,
            rebate_depth_mm: Some(40.0),
            margin_mm: Margin {
                left: 12.0,
                right: 12.0,
                top: 12.0,
                bottom: 18.0,
            },
            spacer_width_mm: 5.0,
            glazing: Some("float-2".into()),
        },
    );
    piece.placements = parts
        .iter()
        .enumerate()
        .map(|(k, p)| Placement {
            part: p.id.clone(),
            x: 30.0 + 60.0 * (k % 5) as f64,
            y: 30.0 + 100.0 * (k / 5) as f64,
            turn_deg: 0.0,
            pinned: false,
        })
        .collect();
    piece.parts = parts;
    piece
}

pub fn catalogue() -> Catalogue {
    Catalogue::built_in().unwrap()
}

pub fn plan(piece: &Piece) -> BuildPlan {
    mount::plan(piece, &catalogue(), &Silent).unwrap()
}

pub fn codes(plan: &BuildPlan) -> Vec<&str> {
    plan.findings.iter().map(|f| f.code.as_str()).collect()
}
