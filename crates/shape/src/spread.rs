//! Work that is spread over the machine's cores. What comes out never depends on how many there are.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{LazyLock, Mutex};

/// More threads than this only wait for memory.
const MOST_THREADS: usize = 8;

/// Asked for once: the system reads files to tell.
static CORES: LazyLock<usize> =
    LazyLock::new(|| std::thread::available_parallelism().map_or(1, usize::from));

/// How many threads so many pieces of work are worth.
pub fn thread_count(items: usize) -> usize {
    CORES.min(MOST_THREADS).min(items)
}

/// What a function makes of each item, in their order.
pub fn mapped<T: Sync, R: Send>(items: &[T], make: impl Fn(&T) -> R + Sync) -> Vec<R> {
    mapped_by(MOST_THREADS, items, make)
}

/// As [`mapped`], by so many threads at most: for items that take much memory, or share themselves out again.
pub fn mapped_by<T: Sync, R: Send>(
    most: usize,
    items: &[T],
    make: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let count = thread_count(items.len()).min(most);
    if count < 2 {
        return items.iter().map(make).collect();
    }
    let next = AtomicUsize::new(0);
    let made = Mutex::new(Vec::with_capacity(items.len()));
    std::thread::scope(|scope| {
        for _ in 0..count {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(at) else { break };
                    let one = make(item);
                    if let Ok(mut made) = made.lock() {
                        made.push((at, one));
                    }
                }
            });
        }
    });
    let mut made = made.into_inner().unwrap_or_else(|e| e.into_inner());
    made.sort_by_key(|(at, _)| *at);
    made.into_iter().map(|(_, one)| one).collect()
}

/// What a function makes of each number below `count`, in their order: for many small pieces of work.
pub fn counted<R: Clone + Default + Send>(
    count: usize,
    make: impl Fn(usize) -> R + Sync,
) -> Vec<R> {
    let mut made = vec![R::default(); count];
    on_rows(&mut made, STRETCH, |row, places| {
        for (n, place) in places.iter_mut().enumerate() {
            *place = make(row * STRETCH + n);
        }
    });
    made
}

/// So many small pieces of work are worth being handed over.
const STRETCH: usize = 64;

/// Works on each row of `width` values, with its number. Rows know nothing of each other.
pub fn on_rows<T: Send>(values: &mut [T], width: usize, work: impl Fn(usize, &mut [T]) + Sync) {
    if width == 0 {
        return;
    }
    let rows = values.len().div_ceil(width);
    // Several stretches for each thread, so that none waits long for the slowest.
    let tall = rows.div_ceil(4 * thread_count(rows).max(1)).max(1);
    let stretches: Vec<Mutex<(usize, &mut [T])>> = values
        .chunks_mut(tall * width)
        .enumerate()
        .map(|(n, stretch)| Mutex::new((n * tall, stretch)))
        .collect();
    mapped(&stretches, |stretch| {
        let Ok(mut stretch) = stretch.lock() else {
            return;
        };
        let (first, values) = &mut *stretch;
        for (n, row) in values.chunks_mut(width).enumerate() {
            work(*first + n, row);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_their_items() {
        let items: Vec<u64> = (0..1000).collect();
        assert_eq!(
            mapped(&items, |n| n * n),
            items.iter().map(|n| n * n).collect::<Vec<_>>()
        );
    }
    #[test]
    fn numbers_come_in_their_order() {
        for count in [0, 1, 63, 64, 65, 1000] {
            assert_eq!(counted(count, |n| n + 1), (1..=count).collect::<Vec<_>>());
        }
    }

    #[test]
    fn every_row_is_worked_on_once_and_knows_its_number() {
        for rows in [0, 1, 7, 640] {
            let mut values = vec![0_usize; rows * 3];
            on_rows(&mut values, 3, |y, row| {
                row.iter_mut().for_each(|v| *v += y + 1)
            });
            let wanted: Vec<usize> = (0..rows * 3).map(|i| i / 3 + 1).collect();
            assert_eq!(values, wanted);
        }
    }
}
