//! Power of a t test and the sample size it asks for.

use super::distributions::t_quantile;
use super::noncentral_t;

/// Two-sided or one-sided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    One,
    Two,
}

/// Power of a t test with `df` degrees of freedom and noncentrality `delta`, at level `alpha`.
pub fn t_test_power(delta: f64, df: f64, alpha: f64, sides: Sides) -> f64 {
    match sides {
        Sides::One => 1.0 - noncentral_t::cdf(t_quantile(1.0 - alpha, df), df, delta),
        Sides::Two => {
            let critical = t_quantile(1.0 - 0.5 * alpha, df);
            1.0 - noncentral_t::cdf(critical, df, delta) + noncentral_t::cdf(-critical, df, delta)
        }
    }
}

/// Flights in each of two groups (a real number, to be rounded up) for a difference of `effect`
/// standard deviations; `None` where it would take fewer than two or more than a million.
///
/// Source: Cohen, Statistical Power Analysis (1988), chapter 2, with the exact noncentral t.
pub fn two_sample_size(effect: f64, alpha: f64, power: f64, sides: Sides) -> Option<f64> {
    size(power, |n| {
        t_test_power(effect * (0.5 * n).sqrt(), 2.0 * n - 2.0, alpha, sides)
    })
}

/// Pairs (a real number) for a mean difference of `effect` standard deviations of the difference.
pub fn paired_size(effect: f64, alpha: f64, power: f64, sides: Sides) -> Option<f64> {
    size(power, |n| {
        t_test_power(effect * n.sqrt(), n - 1.0, alpha, sides)
    })
}

fn size(power: f64, at: impl Fn(f64) -> f64) -> Option<f64> {
    let mut high = 2.0;
    while at(high) < power {
        high *= 2.0;
        if high > 1e6 {
            return None;
        }
    }
    let mut low = 0.5 * high;
    if high <= 2.0 {
        return None;
    }
    while high - low > 1e-9 * high {
        let middle = 0.5 * (low + high);
        if at(middle) < power {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}
