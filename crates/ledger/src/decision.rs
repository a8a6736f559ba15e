//! Choosing under uncertainty: expected values, and what knowing more would be worth.
//!
//! A table has a payoff for each action in each state, and a chance for each state. Payoffs are plain numbers here
//! (expected amounts of money are no amounts that anybody pays): minor units, mostly.

/// Actions, states, chances and payoffs.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// Chance of each state; they add up to 1.
    chances: Vec<f64>,
    /// For each action, what it brings in each state.
    payoffs: Vec<Vec<f64>>,
}

impl Decision {
    /// A table; `None` where the lists' lengths differ, a number is not finite, or the chances are not chances that
    /// add up to 1 (within 1e-9).
    pub fn try_new(chances: Vec<f64>, payoffs: Vec<Vec<f64>>) -> Option<Self> {
        let are_chances = chances.iter().all(|c| (0.0..=1.0).contains(c))
            && (chances.iter().sum::<f64>() - 1.0).abs() < 1e-9;
        let fits = |row: &Vec<f64>| row.len() == chances.len() && row.iter().all(|v| v.is_finite());
        (are_chances && !payoffs.is_empty() && payoffs.iter().all(fits))
            .then_some(Self { chances, payoffs })
    }

    /// What each action brings on the average.
    pub fn expected(&self) -> Vec<f64> {
        let mean = |row: &Vec<f64>| row.iter().zip(&self.chances).map(|(v, c)| v * c).sum();
        self.payoffs.iter().map(mean).collect()
    }

    /// The action that brings most, the first of several, and what it brings.
    pub fn best(&self) -> (usize, f64) {
        first_best(&self.expected())
    }

    /// What knowing the state beforehand would be worth: at most so much is any check worth that tells of it.
    pub fn value_of_perfect_information(&self) -> f64 {
        let with: f64 = (0..self.chances.len())
            .map(|s| {
                let best = self.payoffs.iter().map(|row| row[s]);
                self.chances[s] * best.fold(f64::NEG_INFINITY, f64::max)
            })
            .sum();
        (with - self.best().1).max(0.0)
    }

    /// What a check would be worth whose result depends on the state: `likelihood[state][result]`, each state's adding
    /// up to 1. `None` where there is not a row for each state, or the rows' lengths differ.
    pub fn value_of_check(&self, likelihood: &[Vec<f64>]) -> Option<f64> {
        let results = likelihood.first().map_or(0, Vec::len);
        if likelihood.len() != self.chances.len() || likelihood.iter().any(|l| l.len() != results) {
            return None;
        }
        let with: f64 = (0..results)
            .map(|result| {
                // Chances of state and result together: not divided by the result's, which the sum would undo.
                let both: Vec<f64> = self
                    .chances
                    .iter()
                    .zip(likelihood)
                    .map(|(c, l)| c * l[result])
                    .collect();
                let value = |row: &Vec<f64>| row.iter().zip(&both).map(|(v, c)| v * c).sum::<f64>();
                self.payoffs
                    .iter()
                    .map(value)
                    .fold(f64::NEG_INFINITY, f64::max)
            })
            .sum();
        Some((with - self.best().1).max(0.0))
    }
}

fn first_best(values: &[f64]) -> (usize, f64) {
    let start = (0, f64::NEG_INFINITY);
    values.iter().enumerate().fold(
        start,
        |best, (k, &v)| if v > best.1 { (k, v) } else { best },
    )
}

/// What one knows after a result: chances times likelihoods, made to add up to 1. `None` where the result was impossible.
pub fn updated(chances: &[f64], likelihoods: &[f64]) -> Option<Vec<f64>> {
    let both: Vec<f64> = chances
        .iter()
        .zip(likelihoods)
        .map(|(c, l)| c * l)
        .collect();
    let sum: f64 = both.iter().sum();
    (sum > 0.0).then(|| both.iter().map(|b| b / sum).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Payoffs and chances of a textbook's table (joomag): FACTS 10; EVPI worked out by hand there, 1,600.
    #[test]
    fn a_textbooks_table_gives_its_expected_values_and_its_value_of_perfect_information() {
        let table = Decision::try_new(
            vec![0.3, 0.5, 0.2],
            vec![
                vec![22000.0, 12000.0, -2000.0],
                vec![14000.0, 10000.0, 6000.0],
                vec![9000.0, 8000.0, 4000.0],
            ],
        )
        .unwrap();
        let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(
            table
                .expected()
                .iter()
                .zip([12200.0, 10400.0, 7500.0])
                .all(|(a, b)| close(*a, b))
        );
        assert_eq!(table.best().0, 0);
        assert!(close(table.value_of_perfect_information(), 1600.0));
    }

    /// A second exercise (expertsmind): invest or not; FACTS 10: 125,000 and EVPI 135,000.
    #[test]
    fn another_exercise_gives_its_answer() {
        let table = Decision::try_new(
            vec![0.4, 0.3, 0.3],
            vec![vec![500e3, 200e3, -450e3], vec![0.0; 3]],
        )
        .unwrap();
        assert!((table.best().1 - 125e3).abs() < 1e-6);
        assert!((table.value_of_perfect_information() - 135e3).abs() < 1e-6);
    }

    /// By construction: a check that tells the state is worth as much as knowing it, one that tells nothing, nothing.
    #[test]
    fn a_check_is_worth_between_nothing_and_perfect_knowledge() {
        let table =
            Decision::try_new(vec![0.25, 0.75], vec![vec![10.0, -4.0], vec![0.0, 0.0]]).unwrap();
        let worth = |likelihood: [[f64; 2]; 2]| {
            let rows = likelihood.map(|row| row.to_vec());
            table.value_of_check(&rows).unwrap()
        };
        let sure = worth([[1.0, 0.0], [0.0, 1.0]]);
        assert!((sure - table.value_of_perfect_information()).abs() < 1e-12);
        assert_eq!(worth([[0.5, 0.5], [0.5, 0.5]]), 0.0);
        let half = worth([[0.8, 0.2], [0.2, 0.8]]);
        assert!(half > 0.0 && half < sure, "{half}");
    }

    #[test]
    fn a_check_whose_rows_are_ragged_or_missing_has_no_worth() {
        let table =
            Decision::try_new(vec![0.25, 0.75], vec![vec![10.0, -4.0], vec![0.0, 0.0]]).unwrap();
        assert_eq!(table.value_of_check(&[vec![0.5, 0.5], vec![1.0]]), None);
        assert_eq!(table.value_of_check(&[vec![0.5, 0.5]]), None);
        assert_eq!(table.value_of_check(&[]), None);
    }
}
