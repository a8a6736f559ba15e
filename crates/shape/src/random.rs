//! A small seeded source of numbers, for searches that have to give the same bytes again.

/// SplitMix64 (Steele, Lea and Flood 2014): one word of state, the same numbers on every machine.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// The numbers of a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Any whole number.
    pub fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 up to but not including `n`; 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        if n == 0 {
            return 0;
        }
        (self.next_u64() % n as u64) as usize
    }

    /// 0.0 up to but not including 1.0.
    pub fn share(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Between the two, evenly.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Puts the list in random order (Fisher and Yates).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for k in (1..list.len()).rev() {
            list.swap(k, self.below(k + 1));
        }
    }
}
