//! What a shop's own outcomes teach.
//!
//! A chance comes with how many cases it is worth; each own case then counts as one (Beta and Dirichlet priors).

use crate::Chance;
use schemars::JsonSchema;
use serde::Serialize;

/// What is believed of a chance after some cases: a Beta distribution.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Belief {
    /// Cases for, prior ones included.
    pub alpha: f64,
    /// Cases against, prior ones included.
    pub beta: f64,
    /// The shop's own cases among them.
    pub n: u32,
}

impl Belief {
    /// A prior chance that is worth so many cases.
    pub fn prior(chance: Chance, strength: f64) -> Self {
        let strength = strength.max(1e-6);
        Self {
            alpha: chance.get() * strength,
            beta: (1.0 - chance.get()) * strength,
            n: 0,
        }
    }

    /// After so many of the shop's own cases.
    #[must_use]
    pub fn after(self, good: u32, bad: u32) -> Self {
        Self {
            alpha: self.alpha + f64::from(good),
            beta: self.beta + f64::from(bad),
            n: self.n.saturating_add(good).saturating_add(bad),
        }
    }

    /// The chance that it comes to.
    pub fn mean(&self) -> Chance {
        Chance::of(self.alpha / (self.alpha + self.beta))
    }

    /// Between these the chance lies with a probability of 0.9, as much above as below.
    pub fn interval90(&self) -> [Chance; 2] {
        [0.05, 0.95].map(|p| self.quantile(p))
    }

    /// Below it, the chance lies with this probability.
    pub fn quantile(&self, p: f64) -> Chance {
        // Priors of exactly 0 or 1 stay what they are until a case says otherwise.
        if self.alpha <= 0.0 {
            return Chance::NEVER;
        }
        if self.beta <= 0.0 {
            return Chance::SURE;
        }
        // Bisection on the library's distribution function: its own inverse stops at six digits.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if puruspe::betai(self.alpha, self.beta, middle) < p {
                low = middle;
            } else {
                high = middle;
            }
        }
        Chance::of(0.5 * (low + high))
    }
}

/// Chances of several outcomes after own cases of each: the prior ones are worth `strength` cases together.
pub(crate) fn learned(prior: &[f64], strength: f64, counts: &[u32]) -> Vec<f64> {
    let total: f64 = strength + counts.iter().map(|&n| f64::from(n)).sum::<f64>();
    prior
        .iter()
        .zip(counts)
        .map(|(p, &n)| (p * strength + f64::from(n)) / total)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: beta.ppf([0.05, 0.95], 4.5, 7.5) and beta.mean; values written here from its output.
    #[test]
    fn the_interval_is_scipys() {
        let belief = Belief::prior(Chance::try_new(0.25).unwrap(), 2.0).after(4, 6);
        assert_eq!((belief.alpha, belief.beta, belief.n), (4.5, 7.5, 10));
        assert!((belief.mean().get() - 0.375).abs() < 1e-12);
        let [low, high] = belief.interval90();
        assert!(
            (low.get() - SCIPY_LOW).abs() < 1e-9 && (high.get() - SCIPY_HIGH).abs() < 1e-9,
            "{low:?} {high:?}"
        );
    }
    const SCIPY_LOW: f64 = 0.166_384_645_968_803_76;
    const SCIPY_HIGH: f64 = 0.608_238_871_476_773_9;

    #[test]
    fn own_cases_outweigh_a_prior_in_time() {
        let prior = Belief::prior(Chance::try_new(0.9).unwrap(), 10.0);
        assert!(prior.after(10, 90).mean().get() < 0.2);
        assert_eq!(prior.mean().get(), 0.9);
        assert_eq!(
            Belief::prior(Chance::SURE, 5.0).interval90(),
            [Chance::SURE; 2]
        );
    }
}
