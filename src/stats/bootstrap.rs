//! Resampling of whole units (flights, passes), seeded.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::describe::quantile_of_sorted;

/// Sorted estimates of `resamples` draws with replacement of `units` units. `estimate` gets the
/// indices drawn; a draw on which it fails (`None` or NaN) is left out, so the length may be less.
///
/// Each resample has a stream of its own: the result does not depend on the number of threads.
pub fn bootstrap(
    units: usize,
    resamples: usize,
    seed: u64,
    estimate: impl Fn(&[usize]) -> Option<f64> + Sync,
) -> Vec<f64> {
    if units == 0 {
        return Vec::new();
    }
    let mut estimates: Vec<f64> = (0..resamples as u64)
        .into_par_iter()
        .filter_map(|stream| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(stream);
            let drawn: Vec<usize> = (0..units).map(|_| rng.random_range(0..units)).collect();
            estimate(&drawn).filter(|e| !e.is_nan())
        })
        .collect();
    estimates.sort_by(f64::total_cmp);
    estimates
}

/// Percentile interval at `level` from sorted bootstrap estimates; `None` if there are none.
///
/// Source: Efron and Tibshirani, An Introduction to the Bootstrap (1993), section 13.3. With a
/// handful of units it covers less than it says: use it for many.
pub fn percentile_interval(sorted: &[f64], level: f64) -> Option<(f64, f64)> {
    let tail = 0.5 * (1.0 - level);
    (!sorted.is_empty()).then(|| {
        (
            quantile_of_sorted(sorted, tail),
            quantile_of_sorted(sorted, 1.0 - tail),
        )
    })
}
