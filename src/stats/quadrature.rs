//! Integrals over an estimated standard deviation.

use statrs::function::gamma::ln_gamma;

/// Nodes and weights of five-point Gauss-Legendre on −1..1.
const GAUSS: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

/// Expectation of `f`(x), between 0 and 1, over x = sqrt(chi²/df), the estimated standard deviation
/// over the true one: `panels` of Gauss-Legendre from 1 − `reach` to 1 + `reach`.
pub fn over_estimated_sd(df: f64, reach: f64, panels: usize, f: impl Fn(f64) -> f64) -> f64 {
    let (low, high) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let half = 0.5 * (high - low) / panels as f64;
    let ln_norm = std::f64::consts::LN_2 + 0.5 * df * (0.5 * df).ln() - ln_gamma(0.5 * df);
    let mut sum = 0.0;
    for panel in 0..panels {
        let middle = low + half * (2 * panel + 1) as f64;
        for (node, weight) in GAUSS {
            let x = middle + half * node;
            let density = (ln_norm + (df - 1.0) * x.ln() - 0.5 * df * x * x).exp();
            sum += weight * density * f(x);
        }
    }
    (half * sum).clamp(0.0, 1.0)
}
