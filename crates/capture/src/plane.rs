//! How a picture's pixels and the sheet's plane belong together.

use shape::{Bounds, Point, Vector};

/// How photo pixels and the sheet's plane belong together.
pub(crate) trait SheetPlane: Sync {
    /// Carries a photo point to the sheet's plane, mm.
    fn sheet_from_photo(&self, photo_px: [f64; 2]) -> Option<Point>;
    /// Carries a point of the sheet's plane into the photo, pixels; `None` for a point that cannot be seen.
    fn photo_from_sheet(&self, sheet_mm: Point) -> Option<[f64; 2]>;
    /// How far a place a millimetre over the plane appears moved against the one below it, pixels; `None` where nobody knows.
    fn rise_px(&self, photo_px: [f64; 2]) -> Option<[f64; 2]>;
}

/// The field's border in the photo, in short steps: the lens bends it. What cannot be seen of it is left out.
pub(crate) fn border_px(plane: &impl SheetPlane, field: Bounds) -> Vec<[f64; 2]> {
    in_photo(plane, &dense_rectangle(field, 5.0))
}

/// Points of the sheet in the photo, without those that cannot be seen.
pub(crate) fn in_photo(plane: &impl SheetPlane, points: &[Point]) -> Vec<[f64; 2]> {
    points
        .iter()
        .filter_map(|p| plane.photo_from_sheet(*p))
        .collect()
}

/// Pixels per millimetre at the field's middle; `None` where that cannot be seen.
pub(crate) fn px_per_mm(plane: &impl SheetPlane, field: Bounds) -> Option<f64> {
    let centre = plane.photo_from_sheet(field.centre())?;
    let beside = plane.photo_from_sheet(field.centre() + Vector::new(1.0, 0.0))?;
    Some((beside[0] - centre[0]).hypot(beside[1] - centre[1]))
}

fn dense_rectangle(b: Bounds, step_mm: f64) -> Vec<Point> {
    let corners = [
        b.min,
        Point::new(b.max.x, b.min.y),
        b.max,
        Point::new(b.min.x, b.max.y),
    ];
    (0..4)
        .flat_map(|i| {
            let (p, q) = (corners[i], corners[(i + 1) % 4]);
            let n = (p.distance_mm(q) / step_mm).ceil().max(1.0) as usize;
            (0..n).map(move |k| p.lerp(q, k as f64 / n as f64))
        })
        .collect()
}
