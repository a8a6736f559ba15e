//! A piece and its cut-outs from files, for examples and benches.

use homes::{Picture, Sought};
use piece::Piece;
use shape::Pose;
use std::path::Path;

/// The parts of a piece as they are looked for, with their ids.
pub fn parts_of(path: &Path) -> (Vec<String>, Vec<Sought>) {
    let piece = Piece::from_json(&std::fs::read(path).expect("a piece")).expect("a sound piece");
    let folder = path.parent().expect("a folder");
    let picture = |image: &str, px_per_mm: f64, pose: Pose| {
        let pixels = image::open(folder.join(image))
            .expect("a cut-out")
            .into_rgba8();
        Picture {
            width: pixels.width() as usize,
            height: pixels.height() as usize,
            rgba8: pixels.into_raw().into(),
            px_per_mm,
            outline_from_picture: pose,
        }
    };
    let sought = |part: &piece::Part| Sought {
        outline: part.outline.clone(),
        sigma_mm: part.sigma_mm,
        thickness_mm: part.thickness_mm,
        front: part.cutout.as_ref().map(|c| {
            let [x, y] = c.origin_mm;
            picture(&c.image, c.px_per_mm, Pose::new(x, y, 0.0))
        }),
        back: part.back_cutout.as_ref().map(|c| {
            let [x, y] = c.origin_mm;
            picture(&c.image, c.px_per_mm, Pose::new(x, y, c.turn_deg))
        }),
    };
    let ids = piece.parts.iter().map(|p| p.id.to_string()).collect();
    (ids, piece.parts.iter().map(sought).collect())
}
