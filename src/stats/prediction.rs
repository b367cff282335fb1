//! What the next one of a kind may be.

use super::describe::{mean, sd};
use super::distributions::t_quantile;

/// Interval that holds one further value of the same normal population with probability `level`:
/// mean ± t·s·sqrt(1 + 1/n). `None` below two values.
///
/// Source: Hahn and Meeker, Statistical Intervals (1991), section 4.7.
pub fn prediction_interval(x: &[f64], level: f64) -> Option<(f64, f64)> {
    let half = half_width(x, 0.5 + 0.5 * level)?;
    Some((mean(x) - half, mean(x) + half))
}

/// Value that one further one stays below with probability `level`. `None` below two values.
pub fn upper_prediction_bound(x: &[f64], level: f64) -> Option<f64> {
    Some(mean(x) + half_width(x, level)?)
}

fn half_width(x: &[f64], p: f64) -> Option<f64> {
    let n = x.len() as f64;
    (x.len() > 1).then(|| t_quantile(p, n - 1.0) * sd(x) * (1.0 + 1.0 / n).sqrt())
}
