use benchborne::stats::{mean, median, quantile, sd};
use proptest::prelude::*;

use super::close;

/// NIST StRD NumAcc1 and NumAcc4 (certified means and deviations [M; C]).
#[test]
fn nist_numerical_accuracy() {
    let first = [10000001.0, 10000003.0, 10000002.0];
    assert_eq!(mean(&first), 10000002.0);
    assert_eq!(sd(&first), 1.0);
    let mut fourth = vec![10000000.2];
    for _ in 0..500 {
        fourth.extend([10000000.1, 10000000.3]);
    }
    close(mean(&fourth), 10000000.2, 1e-15);
    // The values themselves are rounded to 1.9e-9 in binary.
    close(sd(&fourth), 0.1, 1e-8);
}

/// Hyndman and Fan type 7: the default of numpy and R, e.g. quartiles of 1..4 are 1.75 and 3.25 [M].
#[test]
fn quantiles() {
    let x = [4.0, 1.0, 3.0, 2.0];
    assert_eq!(quantile(&x, 0.25), 1.75);
    assert_eq!(quantile(&x, 0.75), 3.25);
    assert_eq!(median(&x), 2.5);
    assert_eq!(quantile(&x, 0.0), 1.0);
    assert_eq!(quantile(&x, 1.0), 4.0);
    assert_eq!(median(&[7.0]), 7.0);
}

#[test]
fn empty_samples_have_no_summary() {
    assert!(mean(&[]).is_nan() && median(&[]).is_nan() && sd(&[1.0]).is_nan());
}

proptest! {
    /// Picking the two order statistics gives the same bits as sorting all.
    #[test]
    fn quantile_is_that_of_the_sorted_sample(
        x in prop::collection::vec(prop_oneof![-3.0..3.0f64, Just(0.0), Just(-0.0), Just(f64::INFINITY)], 0..40),
        p in 0.0..=1.0f64,
    ) {
        let mut sorted = x.clone();
        sorted.sort_by(f64::total_cmp);
        let found = quantile(&x, p);
        let Some(last) = sorted.len().checked_sub(1) else {
            prop_assert!(found.is_nan());
            return Ok(());
        };
        let place = p * last as f64;
        let (low, high) = (sorted[place as usize], sorted[(place as usize + 1).min(last)]);
        let told = low + (place - place.floor()) * (high - low);
        prop_assert_eq!(found.to_bits(), told.to_bits());
    }

    #[test]
    fn sd_ignores_a_shift(x in prop::collection::vec(-10.0..10.0f64, 2..20), shift in -1e6..1e6f64) {
        let moved: Vec<f64> = x.iter().map(|v| v + shift).collect();
        prop_assert!((sd(&x) - sd(&moved)).abs() < 1e-8);
    }
}
