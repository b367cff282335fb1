//! Leaving one group out at a time.

use super::describe::mean;

/// A jackknife over groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Jackknife {
    /// Estimate from everything.
    pub value: f64,
    pub se: f64,
    /// Estimated bias of `value`.
    pub bias: f64,
    /// Estimates with each group left out.
    pub left_out: Vec<f64>,
}

/// Delete-one-group jackknife. `estimate(Some(g))` is the estimate without group `g`,
/// `estimate(None)` the one from everything. `None` below two groups or if any estimate fails:
/// the caller decides what a failure means.
///
/// Standard error sqrt((G − 1)/G · Σ(θ_i − mean)²); read it with G − 1 degrees of freedom. Source:
/// Efron and Tibshirani, An Introduction to the Bootstrap (1993), chapter 11.
pub fn jackknife(
    groups: usize,
    estimate: impl Fn(Option<usize>) -> Option<f64>,
) -> Option<Jackknife> {
    if groups < 2 {
        return None;
    }
    let value = estimate(None)?;
    let left_out: Vec<f64> = (0..groups)
        .map(|g| estimate(Some(g)))
        .collect::<Option<_>>()?;
    let centre = mean(&left_out);
    let squares: f64 = left_out.iter().map(|t| (t - centre).powi(2)).sum();
    let g = groups as f64;
    Some(Jackknife {
        value,
        se: ((g - 1.0) / g * squares).sqrt(),
        bias: (g - 1.0) * (centre - value),
        left_out,
    })
}
