//! A normal sample of which some values are only known to lie beyond a bound.
//!
//! An instrument at its end, a flight landed before its reserve: such a value bounds and is never
//! averaged as if it were exact. Maximum likelihood uses it for what it says. It assumes that what
//! cut the value short does not depend on the value.

use super::describe::{mean, sd};
use super::distributions::normal_cdf;

/// What was seen of one value, any one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    Exact(f64),
    /// The value is greater (right-censored).
    Above(f64),
    /// The value is smaller (left-censored).
    Below(f64),
    /// The value lies in between (interval-censored).
    Between(f64, f64),
}

/// Mean and standard deviation by maximum likelihood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalFit {
    pub mean: f64,
    /// Of the maximum likelihood: without censoring it has n, not n − 1, below it.
    pub sd: f64,
    /// Variances and covariance of (mean, sd) from the observed information.
    pub covariance: [[f64; 2]; 2],
    pub log_likelihood: f64,
    pub exact: usize,
    pub censored: usize,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoFit {
    /// Without two different exact values nothing tells the spread.
    TooFewExact,
    /// A bound or value that is not a finite number, or an interval the wrong way round.
    BadValue,
    NotConverged,
}

impl Seen {
    fn is_sound(self) -> bool {
        match self {
            Self::Exact(x) | Self::Above(x) | Self::Below(x) => x.is_finite(),
            Self::Between(a, b) => a.is_finite() && b.is_finite() && a < b,
        }
    }

    pub fn is_exact(self) -> bool {
        matches!(self, Self::Exact(_))
    }

    /// The value or its bound; the middle of two.
    fn mark(self) -> f64 {
        match self {
            Self::Exact(x) | Self::Above(x) | Self::Below(x) => x,
            Self::Between(a, b) => 0.5 * (a + b),
        }
    }

    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        match self {
            Self::Exact(x) => Self::Exact(f(x)),
            Self::Above(x) => Self::Above(f(x)),
            Self::Below(x) => Self::Below(f(x)),
            Self::Between(a, b) => Self::Between(f(a), f(b)),
        }
    }
}

/// Log-likelihood of a sample under a normal distribution; −infinity where a censored value is
/// impossible to the precision of f64.
pub fn log_likelihood(seen: &[Seen], mean: f64, sd: f64) -> f64 {
    let theta = sd.recip();
    seen.iter()
        .map(|s| Terms::of(*s, mean * theta, theta).value)
        .sum()
}

/// Fits mean and standard deviation.
///
/// Newton's method in mean/sd and 1/sd, in which the log-likelihood is concave, so that there is one
/// maximum and halved steps reach it. Sources: Cohen, Technometrics 1 (1959) 217, for the
/// likelihood; Olsen, Econometrica 46 (1978) 1211, for the concave form.
pub fn normal_fit(seen: &[Seen]) -> Result<NormalFit, NoFit> {
    if !seen.iter().all(|s| s.is_sound()) {
        return Err(NoFit::BadValue);
    }
    let exact: Vec<f64> = seen
        .iter()
        .filter(|s| s.is_exact())
        .map(|s| s.mark())
        .collect();
    if exact.iter().all(|x| Some(x) == exact.first()) {
        return Err(NoFit::TooFewExact);
    }
    let marks: Vec<f64> = seen.iter().map(|s| s.mark()).collect();
    let (centre, width) = (mean(&marks), sd(&marks));
    let scaled: Vec<Seen> = seen
        .iter()
        .map(|s| s.map(|x| (x - centre) / width))
        .collect();
    let (eta, theta, terms) = climb(&scaled).ok_or(NoFit::NotConverged)?;
    let (fit_mean, fit_sd) = (eta / theta, theta.recip());
    let [ee, et, tt] = terms.information().ok_or(NoFit::NotConverged)?;
    // From (eta, theta) to (mean, sd): d mean = sd·(d eta − mean·d theta), d sd = −sd²·d theta.
    let mm = fit_sd.powi(2) * (ee - 2.0 * fit_mean * et + fit_mean.powi(2) * tt);
    let ms = -fit_sd.powi(3) * (et - fit_mean * tt);
    let ss = fit_sd.powi(4) * tt;
    let square = width * width;
    Ok(NormalFit {
        mean: centre + width * fit_mean,
        sd: width * fit_sd,
        covariance: [[square * mm, square * ms], [square * ms, square * ss]],
        log_likelihood: terms.value - exact.len() as f64 * width.ln(),
        exact: exact.len(),
        censored: seen.len() - exact.len(),
    })
}

/// The greatest log-likelihood of all normal distributions that have `place` at `z` standard
/// deviations above their mean: what the sample says of that quantile alone. `None` where it does
/// not converge.
pub fn profile_log_likelihood(seen: &[Seen], place: f64, z: f64) -> Option<f64> {
    // With the mean at place − z·sd, eta = theta·place − z: one direction is left, still concave.
    let marks: Vec<f64> = seen.iter().map(|s| s.mark()).collect();
    let mut theta = sd(&marks).recip();
    let (mut low, mut high) = (0.0, f64::INFINITY);
    for _ in 0..200 {
        let here = Terms::sum(seen, theta * place - z, theta);
        let slope = here.e * place + here.t;
        let bend = here.ee * place * place + 2.0 * here.et * place + here.tt;
        let newton = theta - slope / bend;
        // So narrow a distribution that a bound is out of its reach has no slope: too narrow.
        if slope > 0.0 {
            low = theta;
        } else {
            high = theta;
        }
        let next = match () {
            () if newton > low && newton < high => newton,
            () if high.is_finite() => 0.5 * (low + high),
            () => 2.0 * theta,
        };
        if (next / theta - 1.0).abs() < 1e-9 {
            return here.value.is_finite().then_some(here.value);
        }
        theta = next;
    }
    None
}

/// Value, gradient and second derivatives of the log-likelihood in (eta, theta).
#[derive(Debug, Clone, Copy, Default)]
struct Terms {
    value: f64,
    e: f64,
    t: f64,
    ee: f64,
    et: f64,
    tt: f64,
}

impl Terms {
    fn of(seen: Seen, eta: f64, theta: f64) -> Self {
        match seen {
            Seen::Exact(x) => {
                let z = theta * x - eta;
                Self {
                    value: theta.ln() + ln_density(z),
                    e: z,
                    t: theta.recip() - x * z,
                    ee: -1.0,
                    et: x,
                    tt: -theta.powi(-2) - x * x,
                }
            }
            Seen::Above(c) => Self::between(Some(c), None, eta, theta),
            Seen::Below(c) => Self::between(None, Some(c), eta, theta),
            Seen::Between(a, b) => Self::between(Some(a), Some(b), eta, theta),
        }
    }

    /// ln(Φ(theta·high − eta) − Φ(theta·low − eta)); an end that is missing is infinite.
    fn between(low: Option<f64>, high: Option<f64>, eta: f64, theta: f64) -> Self {
        // Bound, its place in standard deviations and the density there, for either end.
        let end = |bound: Option<f64>| {
            bound.map_or((0.0, 0.0, 0.0), |x| {
                let z = theta * x - eta;
                (x, z, ln_density(z).exp())
            })
        };
        let ((a, za, fa), (b, zb, fb)) = (end(low), end(high));
        let share = match (low, high) {
            (Some(_), None) => normal_cdf(-za),
            (None, _) => normal_cdf(zb),
            // On the side of the smaller tail no digits are lost.
            _ if za > 0.0 => normal_cdf(-za) - normal_cdf(-zb),
            _ => normal_cdf(zb) - normal_cdf(za),
        };
        let e = (fa - fb) / share;
        let t = (b * fb - a * fa) / share;
        Self {
            value: share.ln(),
            e,
            t,
            ee: (za * fa - zb * fb) / share - e * e,
            et: (b * zb * fb - a * za * fa) / share - e * t,
            tt: (a * a * za * fa - b * b * zb * fb) / share - t * t,
        }
    }

    fn sum(seen: &[Seen], eta: f64, theta: f64) -> Self {
        seen.iter().fold(Self::default(), |s, &one| {
            let o = Self::of(one, eta, theta);
            Self {
                value: s.value + o.value,
                e: s.e + o.e,
                t: s.t + o.t,
                ee: s.ee + o.ee,
                et: s.et + o.et,
                tt: s.tt + o.tt,
            }
        })
    }

    /// Inverse of the negative second derivatives: variances and covariance of (eta, theta).
    fn information(&self) -> Option<[f64; 3]> {
        let det = self.ee * self.tt - self.et * self.et;
        (det > 0.0 && det.is_finite()).then(|| [-self.tt / det, self.et / det, -self.ee / det])
    }
}

fn ln_density(z: f64) -> f64 {
    -0.5 * (z * z + std::f64::consts::TAU.ln())
}

/// The maximum over (eta, theta) of a sample of mean 0 and standard deviation 1.
fn climb(seen: &[Seen]) -> Option<(f64, f64, Terms)> {
    let (mut eta, mut theta) = (0.0, 1.0);
    let mut here = Terms::sum(seen, eta, theta);
    for _ in 0..100 {
        let [ee, et, tt] = here.information()?;
        let (step_e, step_t) = (ee * here.e + et * here.t, et * here.e + tt * here.t);
        // What is still to be gained by the parabola. From here one step more doubles the digits that
        // are right, and the rounding of the sum would only refuse it.
        if step_e * here.e + step_t * here.t < 1e-12 {
            let (e, t) = (eta + step_e, theta + step_t);
            return Some((e, t, Terms::sum(seen, e, t)));
        }
        let mut share = 1.0;
        loop {
            let (e, t) = (eta + share * step_e, theta + share * step_t);
            let there = Terms::sum(seen, e, t);
            if t > 0.0 && there.value >= here.value {
                (eta, theta, here) = (e, t, there);
                break;
            }
            share *= 0.5;
            if share < 1e-10 {
                return None;
            }
        }
    }
    None
}
