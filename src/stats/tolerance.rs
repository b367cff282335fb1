//! Tolerance limits: a bound that a stated share of all future flights keeps.

use super::censored::{NoFit, NormalFit, Seen, normal_fit, profile_log_likelihood};
use super::distributions::{bisect, normal_cdf, normal_quantile};
use super::noncentral_t;

/// Factor k of the one-sided tolerance limit mean − k·sd (or mean + k·sd) of a normal sample of
/// `n` that a share `coverage` keeps with confidence `confidence`; NaN below two values.
///
/// Exact: quantile of the noncentral t over sqrt(n). Source: ISO 16269-6:2014, annex on unknown
/// mean and standard deviation. Small samples make it large (7.66 at three, 4.20 at five); it is
/// for the caller to refuse a sample too small to be worth it.
pub fn one_sided_factor(n: usize, coverage: f64, confidence: f64) -> f64 {
    if n < 2 {
        return f64::NAN;
    }
    let root = (n as f64).sqrt();
    let delta = normal_quantile(coverage) * root;
    noncentral_t::quantile(confidence, n as f64 - 1.0, delta) / root
}

/// Sample size from which the smallest value itself is a one-sided tolerance limit, whatever the
/// distribution: the least n with 1 − coverageⁿ ≥ confidence. Source: ISO 16269-6:2014 (Wilks 1941).
pub fn distribution_free_size(coverage: f64, confidence: f64) -> Option<usize> {
    let inside = |p: f64| p > 0.0 && p < 1.0;
    (inside(coverage) && inside(confidence))
        .then(|| ((1.0 - confidence).ln() / coverage.ln() - 1e-9).ceil() as usize)
}

/// A lower one-sided tolerance limit of a sample with censored values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CensoredLimit {
    pub limit: f64,
    /// Where the limit's own quantile most likely lies.
    pub quantile: f64,
    /// The sample size that the values are worth, see [`worth`].
    pub size: usize,
    pub fit: NormalFit,
}

/// Exact values below which a limit with censored ones beside them would rest on wishes.
pub const FEWEST_EXACT: usize = 3;

/// The value that a share `coverage` exceeds with confidence `confidence`, from a normal sample of
/// which some values are only known to be greater (or smaller) than a bound.
///
/// The lower confidence limit of the quantile at 1 − `coverage` by its profile likelihood. Its
/// threshold is not the asymptotic one but that which, without censoring, gives the very limit of
/// [`one_sided_factor`]; with censoring it is that of a sample as large as the values are [`worth`].
/// Over samples of 5 to 20 with none to four fifths right-censored, at one bound, at bounds of their
/// own or at once, the limit holds in 94 to 99 % (`tests/stats/censored.rs` makes the trial anew; to
/// count half of all censored values instead holds in 91 % where they were cut short at once).
/// Refused below [`FEWEST_EXACT`] exact values.
pub fn censored_lower_limit(
    seen: &[Seen],
    coverage: f64,
    confidence: f64,
) -> Result<CensoredLimit, NoFit> {
    let exact = seen.iter().filter(|s| s.is_exact()).count();
    if exact < FEWEST_EXACT {
        return Err(NoFit::TooFewExact);
    }
    let fit = normal_fit(seen)?;
    let z = -normal_quantile(coverage);
    let quantile = fit.mean + z * fit.sd;
    let size = worth(seen, &fit);
    let allowed = one_sided_deviance(size, coverage, confidence);
    let beyond = |place: f64| {
        profile_log_likelihood(seen, place, z)
            .map(|profile| 2.0 * (fit.log_likelihood - profile) - allowed)
    };
    let mut step = fit.sd;
    while beyond(quantile - step).ok_or(NoFit::NotConverged)? < 0.0 {
        step *= 2.0;
        if step > 1e6 * fit.sd {
            return Err(NoFit::NotConverged);
        }
    }
    let down = bisect(0.0, step, |down| {
        beyond(quantile - down).unwrap_or(f64::NAN)
    });
    Ok(CensoredLimit {
        limit: quantile - down,
        quantile,
        size,
        fit,
    })
}

/// The sample size that `seen` is worth: an exact value counts as one, a censored one as the share
/// of values that would have been seen within its bound, so that one cut short at once counts for
/// nothing. Rounded down.
pub fn worth(seen: &[Seen], fit: &NormalFit) -> usize {
    let share = |bound: f64| normal_cdf((bound - fit.mean) / fit.sd);
    let sum: f64 = seen
        .iter()
        .map(|s| match *s {
            Seen::Exact(_) => 1.0,
            Seen::Above(bound) => share(bound),
            Seen::Below(bound) => 1.0 - share(bound),
            Seen::Between(low, high) => 1.0 - (share(high) - share(low)),
        })
        .sum();
    // The rounding of a sum must not cost a value.
    (sum + 1e-9).floor() as usize
}

/// Twice the loss of log-likelihood from the best fit of `n` exact values to their exact one-sided
/// limit: the threshold of [`censored_lower_limit`].
pub fn one_sided_deviance(n: usize, coverage: f64, confidence: f64) -> f64 {
    let size = n as f64;
    let z = normal_quantile(coverage);
    // Mean less limit over the standard deviation with n below the squares.
    let k = one_sided_factor(n, coverage, confidence) * (size / (size - 1.0)).sqrt();
    // Best standard deviation (of one) where the limit is to be the quantile, as its inverse.
    let t = (k * z + (k * k * z * z + 4.0 * (1.0 + k * k)).sqrt()) / (2.0 * (1.0 + k * k));
    let loss = -0.5 - t.ln() + 0.5 * (t * t + (k * t - z).powi(2));
    2.0 * size * loss
}
