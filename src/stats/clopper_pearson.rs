//! How often something happens, from how often it did.

use statrs::function::beta::beta_reg;

use super::distributions::bisect;

/// A share of trials with its exact interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    pub events: usize,
    pub trials: usize,
    pub low: f64,
    pub high: f64,
}

/// Exact binomial interval with equal tails. `None` without trials, or with more events than trials.
///
/// Source: Clopper and Pearson, Biometrika 26 (1934) 404; ends by the incomplete beta function.
pub fn clopper_pearson(events: usize, trials: usize, level: f64) -> Option<Share> {
    if trials == 0 || events > trials {
        return None;
    }
    let tail = 0.5 * (1.0 - level);
    let (k, n) = (events as f64, trials as f64);
    Some(Share {
        events,
        trials,
        low: if events == 0 {
            0.0
        } else {
            bisect(0.0, 1.0, |p| beta_reg(k, n - k + 1.0, p) - tail)
        },
        high: if events == trials {
            1.0
        } else {
            bisect(0.0, 1.0, |p| beta_reg(k + 1.0, n - k, p) - (1.0 - tail))
        },
    })
}

/// The same where nothing or everything is a bound: with no event (or nothing but events) the whole
/// error goes to the one end that is open, so that the upper bound of none in `n` is 1 − 0.05^(1/n),
/// about 3/n.
pub fn share(events: usize, trials: usize, level: f64) -> Option<Share> {
    let two_sided = clopper_pearson(events, trials, level)?;
    let bound = (1.0 - level).powf(1.0 / trials as f64);
    Some(match events {
        0 => Share {
            high: 1.0 - bound,
            ..two_sided
        },
        _ if events == trials => Share {
            low: bound,
            ..two_sided
        },
        _ => two_sided,
    })
}
