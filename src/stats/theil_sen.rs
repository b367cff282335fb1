//! A line that a few wild points do not tilt.

use super::describe::{median, quantile_of_sorted};
use super::distributions::normal_quantile;

/// A Theil-Sen line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    pub slope: f64,
    pub intercept: f64,
    /// Interval of the slope at the level asked for.
    pub low: f64,
    pub high: f64,
}

/// Median of the slopes between all pairs, intercept median(y) − slope·median(x), interval from
/// Kendall's statistic with ties. `None` for fewer than two distinct `x`.
///
/// Source: Theil (1950); Sen, J. Amer. Statist. Ass. 63 (1968) 1379.
pub fn theil_sen(x: &[f64], y: &[f64], level: f64) -> Option<TheilSen> {
    if x.len() != y.len() || x.iter().chain(y).any(|v| !v.is_finite()) {
        return None;
    }
    let mut slopes = Vec::new();
    for i in 0..x.len() {
        for j in 0..i {
            if x[i] != x[j] {
                slopes.push((y[i] - y[j]) / (x[i] - x[j]));
            }
        }
    }
    if slopes.is_empty() {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    let slope = quantile_of_sorted(&slopes, 0.5);
    let n = x.len() as f64;
    let pairs = |k: f64| k * (k - 1.0) * (2.0 * k + 5.0);
    let tied = |v: &[f64]| -> f64 { runs(v).iter().map(|k| pairs(*k)).sum() };
    let sigma = ((pairs(n) - tied(x) - tied(y)) / 18.0).max(0.0).sqrt();
    let count = slopes.len() as f64;
    let reach = normal_quantile(0.5 + 0.5 * level) * sigma;
    let last = slopes.len() - 1;
    let upper = (((count + reach) / 2.0).round() as usize).min(last);
    let lower = (((count - reach) / 2.0).round() - 1.0).max(0.0) as usize;
    Some(TheilSen {
        slope,
        intercept: median(y) - slope * median(x),
        low: slopes[lower],
        high: slopes[upper],
    })
}

/// Lengths of the groups of equal values.
fn runs(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a == b)
        .map(|group| group.len() as f64)
        .collect()
}
