//! Stacks of pictures of one size, laid out so that threads can fill rows of all of them at once.

use crate::photo::threads;

/// Numbers that are worked on together; rows are padded so that a whole run of them can be read anywhere.
pub(super) const RUN: usize = 16;

/// Channels of one width and height with a border of zeros.
///
/// Row by row, each row with all channels, so that a band of rows is one slice.
pub(super) struct Planes {
    pub(super) channels: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Numbers in one channel's row, border and padding included; the first is the border's.
    pub(super) stride: usize,
    data: Vec<f32>,
}

impl Planes {
    pub(super) fn zeros(channels: usize, width: usize, height: usize) -> Self {
        let stride = width.div_ceil(RUN) * RUN + RUN;
        Self {
            channels,
            width,
            height,
            stride,
            data: vec![0.0; (height + 2) * channels * stride],
        }
    }

    fn row_len(&self) -> usize {
        self.channels * self.stride
    }

    /// All channels of one row; row 0 is the border above the first.
    pub(super) fn bordered_row(&self, row: usize) -> &[f32] {
        &self.data[row * self.row_len()..(row + 1) * self.row_len()]
    }

    /// Fills rows on several threads: `fill` gets a row's number and its numbers. Each row is its own work, so
    /// that the number of threads changes nothing.
    pub(super) fn fill_rows(&mut self, fill: impl Fn(usize, &mut [f32]) + Sync) {
        let (row_len, height) = (self.row_len(), self.height);
        let band = height.div_ceil(threads()).max(1);
        let inner = &mut self.data[row_len..(height + 1) * row_len];
        std::thread::scope(|scope| {
            for (k, rows) in inner.chunks_mut(band * row_len).enumerate() {
                let fill = &fill;
                scope.spawn(move || {
                    for (i, row) in rows.chunks_mut(row_len).enumerate() {
                        fill(k * band + i, row);
                    }
                });
            }
        });
    }
}
