//! The noncentral t distribution, by integration over the standard deviation.

use super::distributions::{bisect, normal_cdf, normal_quantile};
use super::quadrature::over_estimated_sd;

/// P(T ≤ t) for `df` > 0 degrees of freedom and noncentrality `delta`; NaN for bad arguments.
///
/// Integral of Φ(t·x − delta) over the density of x = sqrt(chi²/df), composite Gauss-Legendre.
/// Source of the form: Owen, Technometrics 10 (1968) 445.
pub fn cdf(t: f64, df: f64, delta: f64) -> f64 {
    if t.is_nan() || delta.is_nan() || !df.is_finite() || df <= 0.0 {
        return f64::NAN;
    }
    const PANELS: usize = 400;
    // x has standard deviation close to 1/sqrt(2·df): thirteen of them on either side.
    let reach = 9.0 / df.sqrt();
    over_estimated_sd(df, reach, PANELS, |x| normal_cdf(t * x - delta))
}

/// Quantile at `p` in 0..1 (ends excluded); NaN for bad arguments.
pub fn quantile(p: f64, df: f64, delta: f64) -> f64 {
    let inside = p > 0.0 && p < 1.0;
    if !inside || !df.is_finite() || df <= 0.0 || !delta.is_finite() {
        return f64::NAN;
    }
    let excess = |t: f64| cdf(t, df, delta) - p;
    let mut step = 1.0 + delta.abs() + normal_quantile(p).abs();
    let (mut low, mut high) = (delta - step, delta + step);
    while excess(low) > 0.0 && step < 1e12 {
        step *= 2.0;
        low -= step;
    }
    while excess(high) < 0.0 && step < 1e12 {
        step *= 2.0;
        high += step;
    }
    bisect(low, high, excess)
}
