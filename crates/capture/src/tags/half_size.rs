//! A half-size view of a photo, in which regions are found.

use crate::photo::LinearLuma;
use shape::on_rows;

/// Half as wide and half as high; each value is the square root of the mean light of 2 x 2 pixels,
/// 0 to 255. The root brings lit and shaded paper closer together: a shadow that takes 70 % of
/// the light leaves 55 % of the value.
pub(super) struct HalfSize {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) data: Vec<u8>,
}

impl HalfSize {
    pub(super) fn of(luma: &LinearLuma) -> Self {
        let (width, height) = (luma.width / 2, luma.height / 2);
        let mut data = vec![0_u8; width * height];
        on_rows(&mut data, width, |y, row| {
            // What the buffer lacks stays black.
            let from = |y: usize| luma.data.get(y * luma.width..).unwrap_or_default();
            let (upper, lower) = (from(2 * y), from(2 * y + 1));
            let (upper, lower) = (upper.as_chunks::<2>().0, lower.as_chunks::<2>().0);
            for ((to, u), l) in row.iter_mut().zip(upper).zip(lower) {
                let mean: f32 = 0.25 * (u[0] + u[1] + l[0] + l[1]);
                *to = (255.0 * mean.sqrt() + 0.5) as u8;
            }
        });
        Self {
            width,
            height,
            data,
        }
    }

    pub(super) fn row(&self, y: usize) -> &[u8] {
        self.data
            .get(y * self.width..(y + 1) * self.width)
            .unwrap_or_default()
    }
}
