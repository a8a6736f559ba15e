//! Rows of pixels that are shared out among the machine's cores.

use shape::{mapped, thread_count};
use std::sync::Mutex;

/// Works on each row of pixels, with its number.
pub(crate) fn on_rows<P: Send>(
    pixels: &mut [P],
    width: usize,
    work: impl Fn(usize, &mut [P]) + Sync,
) {
    if width == 0 {
        return;
    }
    let rows = pixels.len().div_ceil(width);
    let count = thread_count(rows);
    // Several stretches for each thread, so that none waits long for the slowest.
    let tall = rows.div_ceil(4 * count.max(1)).max(1);
    let stretches: Vec<Mutex<(usize, &mut [P])>> = pixels
        .chunks_mut(tall * width)
        .enumerate()
        .map(|(n, stretch)| Mutex::new((n * tall, stretch)))
        .collect();
    mapped(&stretches, |stretch| {
        let Ok(mut stretch) = stretch.lock() else {
            return;
        };
        let (first, pixels) = &mut *stretch;
        for (n, row) in pixels.chunks_mut(width).enumerate() {
            work(*first + n, row);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_worked_on_once_and_knows_its_number() {
        for rows in [1, 7, 640] {
            let mut pixels = vec![0_usize; rows * 3];
            on_rows(&mut pixels, 3, |y, row| {
                row.iter_mut().for_each(|p| *p += y + 1)
            });
            let wanted: Vec<usize> = (0..rows * 3).map(|i| i / 3 + 1).collect();
            assert_eq!(pixels, wanted);
        }
    }
}
