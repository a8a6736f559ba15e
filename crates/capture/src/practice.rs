//! What the eye that tells parts from paper is taught with.

use crate::camera::{View, solve};
use crate::linear::LinearImage;
use crate::look::Look;
use crate::photo::Photo;
use crate::segment::lean::Lean;
use crate::sheet::Sheet;
use crate::tags;

/// The field of one photo as the eye sees it.
#[derive(Debug, Clone)]
pub struct PracticeField {
    /// Cells along x.
    pub width: usize,
    /// Cells along y.
    pub height: usize,
    /// Pixels along a cell's side.
    pub cell_px: usize,
    /// Photo pixel of the centre of the first cell's first pixel.
    pub origin: [f64; 2],
    /// Cells per millimetre at the field's middle.
    pub cells_per_mm: f64,
    /// Natural logarithm of each cell's light over bare paper's, per channel, rows from the top.
    pub log: Vec<[f32; 3]>,
    /// Whether each cell lies in the field.
    pub inside: Vec<bool>,
    /// How far the top of something appears moved against its foot, as a share of its height, along x and y: at the first cell, and
    /// its change from cell to cell along x and along y.
    pub lean: [[f64; 2]; 3],
    /// Natural logarithm of the paper's or card's own light at the field's middle, per channel; 0 is as light as a photo can be.
    pub ground_light: [f32; 3],
}

/// The field of a photo; `None` where the sheet, or its paper, is not seen.
pub fn practice_field(photo: &Photo, sheet: Option<&Sheet>) -> Option<PracticeField> {
    let seen = tags::detect(&photo.linear_luma());
    let solved = solve(&seen, sheet, &View::of(photo)).ok()?;
    let image = LinearImage::of(photo)?;
    let white = solved.sheet.white_points();
    let look = Look::on_sheet(&solved.camera, solved.sheet.field, &white).ok()?;
    let (grid, relative) = look.paper(&image).ok()?;
    let cells_per_mm = look.px_per_mm / grid.cell_px as f64;
    let first = grid.photo_from_grid([0.0, 0.0]);
    let lean = Lean::over(&grid, &solved.camera, look.px_per_mm)?;
    let inset = 0.5 * (grid.cell_px as f64 - 1.0);
    Some(PracticeField {
        width: grid.width,
        height: grid.height,
        cell_px: grid.cell_px,
        origin: first.map(|v| v - inset),
        cells_per_mm,
        inside: (0..grid.width * grid.height)
            .map(|c| grid.inside(c))
            .collect(),
        log: relative.log,
        ground_light: relative.ground_light,
        lean: [lean.at_first, lean.per_x, lean.per_y],
    })
}
