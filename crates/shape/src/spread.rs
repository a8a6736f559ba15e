//! Work that is spread over the machine's cores. What comes out never depends on how many there are.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// More threads than this only wait for memory.
const MOST_THREADS: usize = 8;

/// How many threads so many pieces of work are worth.
pub fn thread_count(items: usize) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    cores.min(MOST_THREADS).min(items)
}

/// What a function makes of each item, in their order.
pub fn mapped<T: Sync, R: Send>(items: &[T], make: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let count = thread_count(items.len());
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
}
