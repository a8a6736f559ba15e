//! What the store's tests share: a fresh folder, small pieces.

#![allow(dead_code, reason = "each test file uses its own share")]

use piece::{Frame, Margin, Part, PartId, Piece, Placement};
use serde_json::json;
use std::path::{Path, PathBuf};
use workshop::{Edit, Saved, State, Workshop};

/// A fresh, empty folder for one test.
pub fn folder(test: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if path.exists() {
        std::fs::remove_dir_all(&path).expect("the old folder goes");
    }
    std::fs::create_dir_all(&path).expect("the new folder comes");
    path
}

/// A workshop in a fresh folder.
pub fn fresh(test: &str) -> Workshop {
    Workshop::open_or_create(folder(test)).expect("a workshop can be made")
}

/// The id of part number `n`.
pub fn id(n: usize) -> PartId {
    PartId::try_new(format!("p{n}")).expect("a sound id")
}

/// Part number `n`: a wavy disc of that many points, about 20 mm wide.
pub fn part(n: usize, points: usize) -> Part {
    let ring: Vec<[f64; 2]> = (0..points)
        .map(|i| {
            let a = std::f64::consts::TAU * i as f64 / points as f64;
            let r = 10.0 + (3.0 * a + n as f64).sin();
            [12.0 + r * a.cos(), 12.0 + r * a.sin()]
        })
        .collect();
    let form = json!({
        "id": id(n), "name": format!("Part {n}"), "kind": "other", "outline": { "outer": ring },
        "sigma_mm": 0.05, "thickness_mm": 1.6,
        "home": { "x": 1.5 * n as f64, "y": 0.1, "turn_deg": 0.0, "layer": 0 }
    });
    serde_json::from_value(form).expect("a sound part")
}

/// A piece of that many parts, all placed.
pub fn piece(parts: usize, points: usize) -> Piece {
    let frame = Frame {
        size_mm: [600.0, 800.0],
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
    };
    let mut piece = Piece::new("Test piece", frame);
    piece.parts = (1..=parts).map(|n| part(n, points)).collect();
    piece.placements = (1..=parts)
        .map(|n| Placement {
            part: id(n),
            x: 20.0 + 30.0 * (n % 15) as f64,
            y: 20.0 + 30.0 * (n / 15) as f64,
            turn_deg: 0.0,
            pinned: false,
        })
        .collect();
    piece
}

/// Saves and expects that nobody was quicker.
pub fn save(
    store: &Workshop,
    id: workshop::PieceId,
    on: &State,
    piece: &Piece,
    what: &str,
) -> State {
    match store
        .save(id, on.revision, piece, &Edit::new(what))
        .expect("it can be saved")
    {
        Saved::Saved(state) => state,
        Saved::Stale(stale) => panic!("stale: {:?}", stale.merge),
    }
}

/// The folder of a test, as it is.
pub fn folder_of(test: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(test)
}
