//! Mean and standard deviation of a normal sample of which some values are only bounds.

use super::describe::{mean, sd};
use super::distributions::normal_cdf;

/// An observation, exact or a bound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Observation {
    Exact(f64),
    /// The true value lies above.
    Above(f64),
    /// The true value lies below.
    Below(f64),
}

/// Maximum likelihood estimates of a normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CensoredNormal {
    pub mean: f64,
    /// Maximum likelihood (not n − 1) standard deviation.
    pub sd: f64,
    pub log_likelihood: f64,
    /// Standard errors from the observed information.
    pub se_mean: f64,
    pub se_sd: f64,
}

/// Fits a normal distribution by maximum likelihood. `None` if fewer than two different exact
/// values are there, or it does not converge.
///
/// Newton in 1/sd and mean/sd, in which the log likelihood is concave. Source: Olsen, Econometrica
/// 46 (1978) 1211.
pub fn fit(observations: &[Observation]) -> Option<CensoredNormal> {
    let exact: Vec<f64> = observations
        .iter()
        .filter_map(|o| match o {
            Observation::Exact(x) => Some(*x),
            _ => None,
        })
        .collect();
    let spread = sd(&exact);
    if spread.is_nan() || spread <= 0.0 {
        return None;
    }
    let start = Point {
        a: mean(&exact) / spread,
        b: 1.0 / spread,
    };
    let (point, hessian) = climb(observations, start)?;
    // Information of (mean, sd) from that of (a, b): mean = a/b, sd = 1/b.
    let det = hessian[0] * hessian[2] - hessian[1] * hessian[1];
    let (var_a, cov, var_b) = (-hessian[2] / det, hessian[1] / det, -hessian[0] / det);
    let (a, b) = (point.a, point.b);
    let (da, db) = (1.0 / b, -a / (b * b));
    Some(CensoredNormal {
        mean: a / b,
        sd: 1.0 / b,
        log_likelihood: log_likelihood(observations, point),
        se_mean: (da * da * var_a + 2.0 * da * db * cov + db * db * var_b).sqrt(),
        se_sd: var_b.sqrt() / (b * b),
    })
}

/// a = mean/sd, b = 1/sd.
#[derive(Debug, Clone, Copy)]
struct Point {
    a: f64,
    b: f64,
}

fn climb(observations: &[Observation], start: Point) -> Option<(Point, [f64; 3])> {
    let mut point = start;
    for _ in 0..200 {
        let (gradient, hessian) = derivatives(observations, point);
        let det = hessian[0] * hessian[2] - hessian[1] * hessian[1];
        let step_a = -(hessian[2] * gradient[0] - hessian[1] * gradient[1]) / det;
        let step_b = -(hessian[0] * gradient[1] - hessian[1] * gradient[0]) / det;
        if !(step_a.is_finite() && step_b.is_finite()) {
            return None;
        }
        let here = log_likelihood(observations, point);
        let mut share = 1.0;
        let next = loop {
            let next = Point {
                a: point.a + share * step_a,
                b: point.b + share * step_b,
            };
            if next.b > 0.0 && log_likelihood(observations, next) >= here - 1e-12 * here.abs() {
                break next;
            }
            share *= 0.5;
            if share < 1e-12 {
                return None;
            }
        };
        let moved = (next.a - point.a).abs() + (next.b - point.b).abs();
        point = next;
        if moved <= 1e-13 * (point.a.abs() + point.b) {
            return Some((point, derivatives(observations, point).1));
        }
    }
    None
}

fn log_likelihood(observations: &[Observation], p: Point) -> f64 {
    const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;
    observations
        .iter()
        .map(|o| match o {
            Observation::Exact(x) => p.b.ln() - LN_SQRT_2PI - 0.5 * (p.b * x - p.a).powi(2),
            Observation::Above(x) => normal_cdf(p.a - p.b * x).ln(),
            Observation::Below(x) => normal_cdf(p.b * x - p.a).ln(),
        })
        .sum()
}

/// Gradient (a, b) and Hessian (aa, ab, bb) of the log likelihood.
fn derivatives(observations: &[Observation], p: Point) -> ([f64; 2], [f64; 3]) {
    let (mut g, mut h) = ([0.0; 2], [0.0; 3]);
    for o in observations {
        // First and second derivative in z = b·x − a.
        let (x, first, second) = match o {
            Observation::Exact(x) => {
                g[1] += 1.0 / p.b;
                h[2] -= 1.0 / (p.b * p.b);
                (x, -(p.b * x - p.a), -1.0)
            }
            Observation::Above(x) => {
                let z = p.b * x - p.a;
                let m = inverse_mills(-z);
                (x, -m, -m * (m - z))
            }
            Observation::Below(x) => {
                let z = p.b * x - p.a;
                let m = inverse_mills(z);
                (x, m, -m * (m + z))
            }
        };
        g[0] -= first;
        g[1] += first * x;
        h[0] += second;
        h[1] -= second * x;
        h[2] += second * x * x;
    }
    (g, h)
}

/// φ(z)/Φ(z); for z far below 0, where both vanish, its asymptote.
fn inverse_mills(z: f64) -> f64 {
    if z < -30.0 {
        return -z - 1.0 / z;
    }
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt() / normal_cdf(z)
}
