//! Stacks of stock thicknesses.

/// Layers of foam that fill a height.
#[derive(Debug, Clone, PartialEq)]
pub struct FoamStack {
    /// Stock thicknesses, mm, the thickest first.
    pub layers_mm: Vec<f64>,
    /// Share by which the stack is pressed together to the height.
    pub compression: f64,
}

/// A hundredth of a millimetre: stock thicknesses are told no finer.
const PER_MM: f64 = 100.0;
/// Highest stack that is looked for, mm; thicker stock is passed over.
const HIGHEST_MM: f64 = 500.0;
/// Most that a stack may be pressed together: the heights that are looked at grow beyond all measure towards 1.
const MOST_COMPRESSION: f64 = 0.9;

/// The stack of fewest layers that meets the height with a compression of 0 to `most_compression`; among those the one
/// that is pressed least. `None` where no stack does, the height is not within 0.1 to 500 mm, or `most_compression` not within
/// 0 to 0.9.
///
/// ```
/// let stack = mount::foam_stack(&[2.0, 3.0, 5.0, 10.0], 7.6, 0.1).unwrap();
/// assert_eq!(stack.layers_mm, [5.0, 3.0]);
/// assert!((stack.compression - 0.05).abs() < 1e-12);
/// ```
pub fn foam_stack(stock_mm: &[f64], height_mm: f64, most_compression: f64) -> Option<FoamStack> {
    if !(0.1..=HIGHEST_MM).contains(&height_mm)
        || !(0.0..=MOST_COMPRESSION).contains(&most_compression)
    {
        return None;
    }
    let low = (height_mm * PER_MM - 1e-6).ceil() as usize;
    let high = (height_mm / (1.0 - most_compression) * PER_MM + 1e-6).floor() as usize;
    let fewest = fewest_layers(stock_mm, high);
    let sum = (low..=high)
        .filter(|&s| fewest[s].is_some())
        .min_by_key(|&s| (fewest[s].map(|(n, _)| n), s))?;
    let layers_mm = layers_of(&fewest, sum);
    let total = sum as f64 / PER_MM;
    Some(FoamStack {
        layers_mm,
        compression: (1.0 - height_mm / total).max(0.0),
    })
}

/// The stack of spacers that is least above what is needed, of at most `most_layers` layers; among equal ones the one of
/// fewest layers. `None` where none reaches it.
pub fn spacer_stack(stock_mm: &[f64], needed_mm: f64, most_layers: usize) -> Option<Vec<f64>> {
    if !(0.0..=HIGHEST_MM).contains(&needed_mm) {
        return None;
    }
    let tallest = stock_mm
        .iter()
        .copied()
        .filter(|t| *t <= HIGHEST_MM)
        .fold(0.0, f64::max);
    let low = (needed_mm * PER_MM - 1e-6).ceil().max(1.0) as usize;
    let high = low + (tallest * PER_MM) as usize;
    let fewest = fewest_layers(stock_mm, high);
    let sum = (low..=high).find(|&s| fewest[s].is_some_and(|(n, _)| n <= most_layers))?;
    Some(layers_of(&fewest, sum))
}

/// For each sum, in hundredths, the fewest layers that make it and the last layer put on; the thickest last layer
/// where there are several.
fn fewest_layers(stock_mm: &[f64], high: usize) -> Vec<Option<(usize, usize)>> {
    let mut stock: Vec<usize> = stock_mm
        .iter()
        .filter(|t| **t > 0.0 && **t <= HIGHEST_MM)
        .map(|t| (t * PER_MM).round() as usize)
        .filter(|t| *t > 0)
        .collect();
    stock.sort_unstable();
    stock.dedup();
    let mut fewest: Vec<Option<(usize, usize)>> = vec![None; high + 1];
    fewest[0] = Some((0, 0));
    for sum in 1..=high {
        fewest[sum] = stock
            .iter()
            .take_while(|t| **t <= sum)
            .filter_map(|&t| fewest[sum - t].map(|(n, _)| (n + 1, t)))
            .min_by_key(|&(n, t)| (n, std::cmp::Reverse(t)));
    }
    fewest
}

fn layers_of(fewest: &[Option<(usize, usize)>], mut sum: usize) -> Vec<f64> {
    let mut layers = Vec::new();
    while let Some((_, last)) = fewest[sum].filter(|_| sum > 0) {
        layers.push(last as f64 / PER_MM);
        sum -= last;
    }
    layers.sort_by(|a, b| b.total_cmp(a));
    layers
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const STOCK: [f64; 5] = [1.0, 2.0, 3.2, 5.0, 12.7];

    /// All stacks of up to `most` layers, by brute force.
    fn all_sums(most: usize) -> Vec<(usize, f64)> {
        let mut sums = vec![(0, 0.0)];
        let mut last = vec![0.0];
        for n in 1..=most {
            last = last
                .iter()
                .flat_map(|s| STOCK.iter().map(move |t| s + t))
                .collect();
            sums.extend(last.iter().map(|s| (n, *s)));
        }
        sums
    }

    proptest! {
        #[test]
        fn no_stack_of_fewer_layers_does(height in 1.0..40.0f64) {
            let height = (height * 100.0).round() / 100.0;
            let does = |sum: f64| sum >= height - 1e-6 && height >= 0.9 * sum - 1e-6;
            let by_force = all_sums(4).into_iter().filter(|(_, s)| does(*s)).map(|(n, _)| n).min();
            match (foam_stack(&STOCK, height, 0.1), by_force) {
                (Some(found), Some(fewest)) => {
                    prop_assert_eq!(found.layers_mm.len(), fewest);
                    prop_assert!(does(found.layers_mm.iter().sum()));
                    prop_assert!((0.0..=0.1 + 1e-9).contains(&found.compression));
                }
                (Some(found), None) => prop_assert!(found.layers_mm.len() > 4),
                (None, by_force) => prop_assert_eq!(by_force, None),
            }
        }
    }

    #[test]
    fn heights_that_cannot_be_give_no_stack() {
        for height in [f64::NAN, -3.0, 0.0, 1e9] {
            assert_eq!(foam_stack(&STOCK, height, 0.1), None);
        }
        assert_eq!(foam_stack(&[], 5.0, 0.1), None);
        assert_eq!(foam_stack(&[5.0], 3.0, 0.1), None);
        for compression in [f64::NAN, -0.1, 0.95, 1.0 - f64::EPSILON, 1.0] {
            assert_eq!(foam_stack(&STOCK, 5.0, compression), None);
        }
    }

    #[test]
    fn stock_that_cannot_be_is_passed_over() {
        for odd in [f64::INFINITY, f64::NAN, -3.0, 0.0, 1e300] {
            assert_eq!(spacer_stack(&[odd, 3.0], 5.0, 3), Some(vec![3.0, 3.0]));
            assert_eq!(spacer_stack(&[odd], 5.0, 3), None);
            let stack = foam_stack(&[odd, 5.0], 5.0, 0.1).unwrap();
            assert_eq!(stack.layers_mm, [5.0]);
        }
    }

    /// By hand: 3 + 10 = 13 is the least of these sums above 12.2; 12 falls short.
    #[test]
    fn spacers_stack_to_the_least_that_is_enough() {
        assert_eq!(
            spacer_stack(&[3.0, 6.0, 10.0], 12.2, 3),
            Some(vec![10.0, 3.0])
        );
        assert_eq!(
            spacer_stack(&[3.0, 6.0, 10.0], 12.0, 3),
            Some(vec![6.0, 6.0])
        );
        assert_eq!(spacer_stack(&[3.0], 100.0, 3), None);
    }
}
