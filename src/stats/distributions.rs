//! The distributions that the tests and intervals lean on.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::beta::beta_reg;
use statrs::function::erf::erfc;
use statrs::function::gamma::gamma_lr;

/// Above it the continued fraction of the incomplete beta function no longer converges in time.
const LARGE_DF: f64 = 1e4;

/// P(Z ≤ z) of the standard normal distribution.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Standard uncertainties in half a 95 % interval: the normal quantile at 0.975.
pub const NORMAL_95: f64 = 1.959_963_984_540_054;

/// Quantile of the standard normal distribution, `p` in 0..1; ±infinity at the ends, NaN outside.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    Normal::standard().inverse_cdf(p)
}

/// P(T ≤ t) of Student's t with `df` > 0 degrees of freedom (any real, infinite allowed).
pub fn t_cdf(t: f64, df: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    let tail = 0.5 * t_two_sided_p(t, df);
    if t > 0.0 { 1.0 - tail } else { tail }
}

/// P(|T| ≥ |t|): the p value of a two-sided t test.
///
/// By the incomplete beta function; beyond [`LARGE_DF`] by Wallace's normal form (Ann. Math.
/// Statist. 30 (1959) 1121), whose error falls with 1/df².
pub fn t_two_sided_p(t: f64, df: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    let t2 = t * t;
    if df > LARGE_DF {
        let z = if df.is_finite() {
            (df * (t2 / df).ln_1p()).sqrt() * (8.0 * df + 1.0) / (8.0 * df + 3.0)
        } else {
            t.abs()
        };
        return erfc(z / std::f64::consts::SQRT_2);
    }
    // Near t = 0 the complement keeps the digits.
    if t2 < 1.0 {
        1.0 - beta_reg(0.5, 0.5 * df, t2 / (df + t2))
    } else {
        beta_reg(0.5 * df, 0.5, df / (df + t2))
    }
}

/// Quantile of Student's t, `p` in 0..1, `df` > 0 (any real, infinite allowed); NaN outside.
///
/// Bisection on the distribution function to the last bit or two: it is called a few times a
/// question, so safety goes before speed.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if df.is_infinite() {
        return normal_quantile(p);
    }
    if p == 0.5 {
        return 0.0;
    }
    // The smaller tail, so that no digits are lost next to 1.
    let tail = p.min(1.0 - p);
    if tail == 0.0 {
        return if p < 0.5 {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
    }
    let upper_tail = |t: f64| 0.5 * t_two_sided_p(t, df);
    let mut high = 1.0;
    while upper_tail(high) > tail && high < 1e300 {
        high *= 2.0;
    }
    let t = bisect(0.0, high, |t| tail - upper_tail(t));
    if p < 0.5 { -t } else { t }
}

/// P(F ≥ f) of Fisher's F with `df1`, `df2` degrees of freedom.
pub fn f_upper_p(f: f64, df1: f64, df2: f64) -> f64 {
    if f.is_nan() || df1.is_nan() || df2.is_nan() || df1 <= 0.0 || df2 <= 0.0 {
        return f64::NAN;
    }
    if f <= 0.0 {
        return 1.0;
    }
    beta_reg(0.5 * df2, 0.5 * df1, df2 / (df2 + df1 * f))
}

/// Root of an increasing function between `low` and `high`, to the precision of f64. The ends must
/// bracket it; if they do not, the nearer end comes back.
pub(super) fn bisect(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Quantile of chi-square with `df` degrees of freedom, `p` inside 0..1; NaN outside.
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    let inside = p > 0.0 && p < 1.0;
    if !inside || !df.is_finite() || df <= 0.0 {
        return f64::NAN;
    }
    let below = |x: f64| gamma_lr(0.5 * df, 0.5 * x) - p;
    let mut high = df.max(1.0);
    while below(high) < 0.0 && high < 1e300 {
        high *= 2.0;
    }
    bisect(0.0, high, below)
}

/// Quantile of Fisher's F, `p` inside 0..1; NaN outside.
pub fn f_quantile(p: f64, df1: f64, df2: f64) -> f64 {
    let inside = p > 0.0 && p < 1.0;
    if !inside || !f_upper_p(1.0, df1, df2).is_finite() {
        return f64::NAN;
    }
    let below = |f: f64| 1.0 - f_upper_p(f, df1, df2) - p;
    let mut high = 1.0;
    while below(high) < 0.0 && high < 1e300 {
        high *= 2.0;
    }
    bisect(0.0, high, below)
}
