//! One axis of a scanner: where lengths by the resolution truly are.

/// Steps between two knots that a scanner may have, true over nominal: beyond, it is not a scanner's.
pub(super) const SOUND_SLOPE: std::ops::RangeInclusive<f64> = 0.8..=1.25;

/// Stretches over which it is told how far lengths are off, mm.
const STRETCH_MM: f64 = 60.0;

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

    /// By what share lengths are off, the least and the greatest of all stretches of some centimetres: single pieces
    /// would tell the print's and the fit's noise.
    pub fn off_shares(&self) -> [f64; 2] {
        let (n, t) = (&self.nominal_mm, &self.true_mm);
        let last = n.len() - 1;
        let mut shares = [f64::INFINITY, f64::NEG_INFINITY];
        for i in 0..last {
            // The first knot that is far enough away; near the end there is none.
            let far = n.partition_point(|v| *v < n[i] + STRETCH_MM);
            let (i, j) = if far <= last { (i, far) } else { (0, last) };
            let share = (t[j] - t[i]) / (n[j] - n[i]) - 1.0;
            shares = [shares[0].min(share), shares[1].max(share)];
        }
        shares
    }
}

fn along(from: &[f64], to: &[f64], at: f64) -> f64 {
    let i = from.partition_point(|f| *f <= at).clamp(1, from.len() - 1);
    let t = (at - from[i - 1]) / (from[i] - from[i - 1]);
    to[i - 1] + t * (to[i] - to[i - 1])
}
