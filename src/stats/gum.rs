//! Propagation of uncertainty (JCGM 100:2008, the GUM).

/// One input quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    pub value: f64,
    /// Standard uncertainty, same unit.
    pub u: f64,
    /// Degrees of freedom of `u`; infinite if it is taken as known.
    pub df: f64,
}

impl Input {
    /// An input whose standard uncertainty is taken as known.
    pub fn known(value: f64, u: f64) -> Self {
        Self {
            value,
            u,
            df: f64::INFINITY,
        }
    }
}

/// A combined result.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    pub value: f64,
    /// Combined standard uncertainty.
    pub u: f64,
    /// Effective degrees of freedom (Welch-Satterthwaite, G.2b). The formula is for independent
    /// inputs; with correlation it is a stand-in.
    pub df: f64,
    /// Sensitivity coefficients.
    pub sensitivities: Vec<f64>,
}

/// Standard uncertainty of a limit ±`half` of which nothing more is known: half/√3 (GUM 4.3.7).
pub fn rectangular(half: f64) -> f64 {
    half / 3.0_f64.sqrt()
}

/// Standard uncertainty from the resolution of a display: step/√12 (GUM F.2.2.1).
pub fn resolution(step: f64) -> f64 {
    step / 12.0_f64.sqrt()
}

/// Sensitivities of `f` at the inputs by finite differences over half of each uncertainty (GUM
/// 5.1.3, note 2, with the five-point formula); 0 for an input without uncertainty.
///
/// Steps much shorter would drown in rounding where an input is large beside its uncertainty.
pub fn sensitivities(f: impl Fn(&[f64]) -> f64, inputs: &[Input]) -> Vec<f64> {
    let mut x: Vec<f64> = inputs.iter().map(|i| i.value).collect();
    inputs
        .iter()
        .enumerate()
        .map(|(i, input)| {
            if input.u == 0.0 {
                return 0.0;
            }
            let step = 0.25 * input.u;
            let mut at = |steps: f64| {
                x[i] = input.value + steps * step;
                let value = f(&x);
                x[i] = input.value;
                value
            };
            (8.0 * (at(1.0) - at(-1.0)) - (at(2.0) - at(-2.0))) / (12.0 * step)
        })
        .collect()
}

/// Combines inputs through `f` to first order. `correlations` lists (i, j, r) for correlated pairs.
pub fn propagate(
    f: impl Fn(&[f64]) -> f64,
    inputs: &[Input],
    correlations: &[(usize, usize, f64)],
) -> Combined {
    let c = sensitivities(&f, inputs);
    let x: Vec<f64> = inputs.iter().map(|i| i.value).collect();
    combine(f(&x), c, inputs, correlations)
}

/// Combines inputs with given sensitivity coefficients (GUM equation 16).
pub fn combine(
    value: f64,
    sensitivities: Vec<f64>,
    inputs: &[Input],
    correlations: &[(usize, usize, f64)],
) -> Combined {
    let u = covariance(&sensitivities, &sensitivities, inputs, correlations)
        .max(0.0)
        .sqrt();
    let parts = inputs
        .iter()
        .zip(&sensitivities)
        .map(|(i, c)| (c * i.u, i.df));
    Combined {
        value,
        u,
        df: welch_satterthwaite(u, parts),
        sensitivities,
    }
}

/// Covariance of two results from the same inputs, given the sensitivities of each (GUM F.1.2.3).
pub fn covariance(
    a: &[f64],
    b: &[f64],
    inputs: &[Input],
    correlations: &[(usize, usize, f64)],
) -> f64 {
    let own: f64 = inputs
        .iter()
        .zip(a.iter().zip(b))
        .map(|(i, (a, b))| a * b * i.u * i.u)
        .sum();
    let shared: f64 = correlations
        .iter()
        .map(|(i, j, r)| r * inputs[*i].u * inputs[*j].u * (a[*i] * b[*j] + a[*j] * b[*i]))
        .sum();
    own + shared
}

/// Effective degrees of freedom u⁴ / Σ(u_i⁴/df_i) from the combined uncertainty and its parts
/// (contribution, degrees of freedom); infinite where all parts are taken as known.
pub fn welch_satterthwaite(u: f64, parts: impl Iterator<Item = (f64, f64)>) -> f64 {
    u.powi(4) / parts.map(|(part, df)| part.powi(4) / df).sum::<f64>()
}
/// A value and its standard uncertainty with the digits that they are worth (JCGM 100:2008, 7.2.6: an
/// uncertainty has at most two significant digits, and the estimate is rounded to be consistent with
/// it). The value is rounded to within a quarter of the uncertainty, which takes up what that costs
/// (F.2.2.1: 0.29 of the step) and is rounded up to five significant binary digits: so what hangs on
/// both changes seldom when a little is learned.
pub fn to_its_uncertainty(value: f64, u: f64) -> (f64, f64) {
    if !(value.is_finite() && u.is_normal() && u > 0.0) {
        return (value, u);
    }
    let power_below = |x: f64| x.log2().floor().exp2();
    let step = power_below(0.5 * u);
    let u = u.hypot(rectangular(0.5 * step));
    let digit = power_below(u) / 16.0;
    let u = (u / digit).ceil() * digit;
    ((value / step).round() * step, u)
}
