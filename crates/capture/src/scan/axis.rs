//! One axis of a scanner: where lengths by the resolution truly are.

/// Steps between two knots that a scanner may have, true over nominal: beyond, it is not a scanner's.
pub(super) const SOUND_SLOPE: std::ops::RangeInclusive<f64> = 0.8..=1.25;

/// Most knots that are taken from outside.
const MOST_KNOTS: usize = 500;

/// A rising line of straight pieces from lengths by the resolution to true ones, mm; its first and last piece go on
/// beyond its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct ScannerAxis {
    nominal_mm: Vec<f64>,
    true_mm: Vec<f64>,
}

impl ScannerAxis {
    /// The line through these knots; `None` unless there are two to five hundred, all finite, rising, and each piece
    /// between 0.8 and 1.25 times its nominal length.
    pub fn try_new(nominal_mm: Vec<f64>, true_mm: Vec<f64>) -> Option<Self> {
        let n = nominal_mm.len();
        let sound = (2..=MOST_KNOTS).contains(&n)
            && true_mm.len() == n
            && nominal_mm
                .iter()
                .chain(&true_mm)
                .all(|v| v.abs() < 10_000.0)
            && (1..n).all(|i| {
                let step = nominal_mm[i] - nominal_mm[i - 1];
                step > 0.01 && SOUND_SLOPE.contains(&((true_mm[i] - true_mm[i - 1]) / step))
            });
        sound.then_some(Self {
            nominal_mm,
            true_mm,
        })
    }

    /// Knots by the resolution, mm.
    pub fn nominal_mm(&self) -> &[f64] {
        &self.nominal_mm
    }

    /// Where they truly are, mm.
    pub fn true_mm(&self) -> &[f64] {
        &self.true_mm
    }

    /// The true length of a nominal one, mm.
    pub fn true_of(&self, nominal_mm: f64) -> f64 {
        along(&self.nominal_mm, &self.true_mm, nominal_mm)
    }

    /// The nominal length of a true one, mm.
    pub fn nominal_of(&self, true_mm: f64) -> f64 {
        along(&self.true_mm, &self.nominal_mm, true_mm)
    }

    /// The least and the greatest of its pieces' slopes, less one: how far lengths are off from place to place, as a
    /// share.
    pub fn off_shares(&self) -> [f64; 2] {
        let slopes = self
            .nominal_mm
            .windows(2)
            .zip(self.true_mm.windows(2))
            .map(|(n, t)| (t[1] - t[0]) / (n[1] - n[0]) - 1.0);
        slopes.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], s| {
            [a.min(s), b.max(s)]
        })
    }
}

fn along(from: &[f64], to: &[f64], at: f64) -> f64 {
    let i = from.partition_point(|f| *f <= at).clamp(1, from.len() - 1);
    let t = (at - from[i - 1]) / (from[i] - from[i - 1]);
    to[i - 1] + t * (to[i] - to[i - 1])
}
