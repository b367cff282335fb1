//! A linear fit that one wild observation cannot pull far.

use super::describe::median;
use super::linear::{Fit, fit};

/// Residuals beyond this many scales count less (95 % efficient where nothing is wild).
const K: f64 = 1.345;
/// The median absolute deviation over this is the standard deviation of a normal sample.
const MAD_TO_SD: f64 = 0.674_489_750_196_081_7;
const MOST_STEPS: usize = 2_000;

/// Huber's M-estimate of `y` on an intercept and `columns`, scale by the median absolute residual.
/// The fit's coefficients and contrasts are meant; its errors are not. `None` for bad input, or
/// where more than half of the residuals are nothing and leave no scale, or where it does not settle.
///
/// By pseudo-values: fit, pull residuals beyond K scales in to K scales, fit again. Source: Huber,
/// Robust Statistics (1981), 7.8 (modified residuals).
pub fn huber(columns: &[Vec<f64>], y: &[f64]) -> Option<Fit> {
    let mut found = fit(columns, y)?;
    let mut fitted = less(y, &found.residuals);
    let size = y.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    for _ in 0..MOST_STEPS {
        let residuals = less(y, &fitted);
        let sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
        let scale = median(&sizes) / MAD_TO_SD;
        if scale <= 1e-12 * size {
            return None;
        }
        let pseudo: Vec<f64> = fitted
            .iter()
            .zip(&residuals)
            .map(|(f, r)| f + r.clamp(-K * scale, K * scale))
            .collect();
        let next = fit(columns, &pseudo)?;
        let moved = less(&next.coefficients, &found.coefficients)
            .iter()
            .fold(0.0_f64, |m, d| m.max(d.abs()));
        fitted = less(&pseudo, &next.residuals);
        found = next;
        if moved <= 1e-13 * size {
            return Some(found);
        }
    }
    None
}

fn less(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}
