//! Learning curves: each doubling takes the same share of the time (Wright 1936).
//!
//! Two models use one formula, y = a x^b with b = log2(rate), for different things, and differ a lot: say which.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What the curve is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LearningModel {
    /// Of the time of the x-th piece (Crawford): at 80 % the second takes 80 % of the first.
    #[default]
    Unit,
    /// Of the average time of the first x pieces (Wright's own): at 80 % the second takes 60 % of the first.
    CumulativeAverage,
}

impl LearningModel {
    /// In words.
    pub fn title(self) -> &'static str {
        match self {
            Self::Unit => "unit times (Crawford)",
            Self::CumulativeAverage => "cumulative average (Wright)",
        }
    }

    /// The exponent b of a rate, such as 0.8.
    pub fn exponent(rate: f64) -> f64 {
        rate.log2()
    }

    /// What the first `n` take together, in the unit of what the first one takes.
    pub fn total(self, first: f64, rate: f64, n: u32) -> f64 {
        let b = Self::exponent(rate);
        match self {
            Self::Unit => first * (1..=n).map(|x| f64::from(x).powf(b)).sum::<f64>(),
            Self::CumulativeAverage => first * f64::from(n).powf(1.0 + b),
        }
    }

    /// What the next `n` take after `done`.
    pub fn next(self, first: f64, rate: f64, done: u32, n: u32) -> f64 {
        self.total(first, rate, done + n) - self.total(first, rate, done)
    }
}

#[cfg(test)]
mod tests {
    use super::LearningModel::{CumulativeAverage, Unit};

    /// A teaching page's unit curve at 80 % (business-analysis-made-easy; FACTS 10): 50, 40, 32 minutes at 1, 2, 4.
    #[test]
    fn unit_times_fall_to_80_percent_at_each_doubling() {
        for (n, minutes) in [(1, 50.0), (2, 40.0), (4, 32.0)] {
            assert!((Unit.next(50.0, 0.8, n - 1, 1) - minutes).abs() < 1e-9);
        }
    }

    /// The other model's second unit takes 60 % (maxwideman; FACTS 10): 2 * 0.8 - 1.
    #[test]
    fn with_the_cumulative_average_the_second_takes_60_percent() {
        assert!((CumulativeAverage.next(1.0, 0.8, 1, 1) - 0.6).abs() < 1e-12);
    }

    /// FACTS 10: 80 %, first 120, 230 done, the next 55: 750.02.
    #[test]
    fn a_textbooks_next_55_units_cost_750_02() {
        assert!((CumulativeAverage.next(120.0, 0.8, 230, 55) - 750.02).abs() < 0.005);
    }
}
