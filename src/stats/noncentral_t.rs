//! The noncentral t distribution, by integration over the standard deviation.

use statrs::function::gamma::ln_gamma;

use super::distributions::{bisect, normal_cdf, normal_quantile};

/// Nodes and weights of five-point Gauss-Legendre on −1..1.
const GAUSS: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

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
    let (low, high) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let half = 0.5 * (high - low) / PANELS as f64;
    let ln_norm = std::f64::consts::LN_2 + 0.5 * df * (0.5 * df).ln() - ln_gamma(0.5 * df);
    let mut sum = 0.0;
    for panel in 0..PANELS {
        let middle = low + half * (2 * panel + 1) as f64;
        for (node, weight) in GAUSS {
            let x = middle + half * node;
            let density = (ln_norm + (df - 1.0) * x.ln() - 0.5 * df * x * x).exp();
            sum += weight * density * normal_cdf(t * x - delta);
        }
    }
    (half * sum).clamp(0.0, 1.0)
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
