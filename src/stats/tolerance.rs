//! Tolerance limits: a bound that a stated share of all future flights keeps.

use super::distributions::normal_quantile;
use super::noncentral_t;

/// Factor k of the one-sided tolerance limit mean − k·sd (or mean + k·sd) of a normal sample of
/// `n` that a share `coverage` keeps with confidence `confidence`; NaN below two values.
///
/// Exact: quantile of the noncentral t over sqrt(n). Source: ISO 16269-6:2014, annex on unknown
/// mean and standard deviation. Small samples make it large (7.66 at three, 4.20 at five); it is
/// for the caller to refuse a sample too small to be worth it.
pub fn one_sided_factor(n: usize, coverage: f64, confidence: f64) -> f64 {
    if n < 2 {
        return f64::NAN;
    }
    let root = (n as f64).sqrt();
    let delta = normal_quantile(coverage) * root;
    noncentral_t::quantile(confidence, n as f64 - 1.0, delta) / root
}

/// Sample size from which the smallest value itself is a one-sided tolerance limit, whatever the
/// distribution: the least n with 1 − coverageⁿ ≥ confidence. Source: ISO 16269-6:2014 (Wilks 1941).
pub fn distribution_free_size(coverage: f64, confidence: f64) -> Option<usize> {
    let inside = |p: f64| p > 0.0 && p < 1.0;
    (inside(coverage) && inside(confidence))
        .then(|| ((1.0 - confidence).ln() / coverage.ln() - 1e-9).ceil() as usize)
}
