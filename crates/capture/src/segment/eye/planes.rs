//! Stacks of pictures of one size, laid out so that threads can fill rows of all of them at once.

use shape::on_rows;

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
    /// Planes that hold whatever `room` held before, between two rows of zeros; [`Self::fill_rows`] makes them whole.
    pub(super) fn bordered([channels, width, height]: [usize; 3], room: &mut Room) -> Self {
        let stride = width.div_ceil(RUN) * RUN + RUN;
        let row_len = channels * stride;
        let mut data = room.take((height + 2) * row_len);
        data[..row_len].fill(0.0);
        data[(height + 1) * row_len..].fill(0.0);
        Self {
            channels,
            width,
            height,
            stride,
            data,
        }
    }

    fn row_len(&self) -> usize {
        self.channels * self.stride
    }

    /// All channels of one row; row 0 is the border above the first.
    pub(super) fn bordered_row(&self, row: usize) -> &[f32] {
        &self.data[row * self.row_len()..(row + 1) * self.row_len()]
    }

    /// Fills rows on several threads: `fill` gets a row's number and its numbers, border and padding zero.
    pub(super) fn fill_rows(&mut self, fill: impl Fn(usize, &mut [f32]) + Sync) {
        let (row_len, stride) = (self.row_len(), self.stride);
        let (width, height) = (self.width, self.height);
        let inner = &mut self.data[row_len..(height + 1) * row_len];
        // Here, and not where memory is taken: its first touch costs much, and is shared out so.
        on_rows(inner, row_len, |y, row| {
            for own in row.chunks_exact_mut(stride) {
                own[0] = 0.0;
                own[1 + width..].fill(0.0);
            }
            fill(y, row);
        });
    }
}

/// Memory of planes that are done with, for the next ones: fresh memory of this size costs as much as what is worked out in
/// it.
#[derive(Default)]
pub(super) struct Room {
    free: Vec<Vec<f32>>,
}

impl Room {
    /// So many numbers, of any value.
    fn take(&mut self, len: usize) -> Vec<f32> {
        // The smallest that is large enough.
        let fitting = (0..self.free.len())
            .filter(|&k| self.free[k].capacity() >= len)
            .min_by_key(|&k| self.free[k].capacity());
        match fitting {
            Some(k) => {
                let mut data = self.free.swap_remove(k);
                data.resize(len, 0.0);
                data
            }
            None => vec![0.0; len],
        }
    }

    /// Takes planes back that nobody looks at any more.
    pub(super) fn give_back(&mut self, planes: Planes) {
        self.free.push(planes.data);
    }
}
