//! The chance that flights yet to be flown will settle a question: the power of the verdict rule
//! itself, not of a test that resembles it.

use super::distributions::{normal_cdf, normal_quantile, t_quantile};
use super::mover::Bounds;
use super::quadrature::over_estimated_sd;
use super::verdict::{Evidence, Verdict, verdict};

/// What an arrangement of flights makes of their scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// Standard error of the coefficient (log ratio) over the true scatter's own standard error: the
    /// standard error itself, were the scatter known.
    pub se: f64,
    /// Of the estimated variance.
    pub df: f64,
    /// What the limits' t factor will be taken at, in thirds of seasons: less than `df` where it is
    /// itself estimated from flights.
    pub limits: [f64; 3],
}

impl Precision {
    /// With the degrees of freedom known beforehand.
    pub fn new(se: f64, df: f64) -> Self {
        Self {
            se,
            df,
            limits: [df; 3],
        }
    }

    /// The mean of a chance over what the limits may be.
    fn over_limits(self, chance: impl Fn(&Limits) -> f64) -> f64 {
        let [low, middle, high] = self.limits;
        if low == high {
            return chance(&Limits::new(middle));
        }
        let chances = self.limits.map(|df| chance(&Limits::new(df)));
        chances.iter().sum::<f64>() / 3.0
    }
}

/// Panels over the estimated scatter, cells over the coefficient, halvings of a cell whose ends
/// differ: together the chance is good to 0.001 (tests/stats/chance.rs).
const PANELS: usize = 8;
const CELLS: usize = 48;
const HALVINGS: usize = 14;

/// P(`says`(coefficient, its standard error)) for a coefficient that is normal about `truth` and an
/// estimated standard error that goes as sqrt(chi²/df), independent of it; `probes` are values of the
/// coefficient about which `says` may hold only narrowly.
///
/// Integral over the standard error of the exact normal probability of the set on which `says`
/// holds, its ends found by bisection; for one end it is the noncentral t (Owen, Technometrics 10
/// (1968) 445).
pub fn chance(
    precision: Precision,
    truth: f64,
    probes: &[f64],
    says: impl Fn(f64, f64) -> bool,
) -> f64 {
    let Precision {
        se, df: freedom, ..
    } = precision;
    let is_positive = |x: f64| x.is_finite() && x > 0.0;
    if !is_positive(freedom) || !is_positive(se) {
        return 0.0;
    }
    let reach = 6.0 / (2.0 * freedom).sqrt();
    let mut edges: Vec<f64> = (0..=CELLS)
        .map(|i| truth + se * (12.0 * i as f64 / CELLS as f64 - 6.0))
        .collect();
    edges.extend(probes);
    edges.sort_by(f64::total_cmp);
    over_estimated_sd(freedom, reach, PANELS, |x| {
        normal_measure(&edges, |b| says(b, se * x), |b| (b - truth) / se)
    })
}

/// Normal probability of where `holds`, searched between neighbouring edges.
fn normal_measure(
    edges: &[f64],
    holds: impl Fn(f64) -> bool,
    standard: impl Fn(f64) -> f64,
) -> f64 {
    let mut total = 0.0;
    let Some(first) = edges.first() else {
        return 0.0;
    };
    // Where the current stretch on which it holds began.
    let mut since = holds(*first).then_some(f64::NEG_INFINITY);
    for pair in edges.windows(2) {
        let (mut a, mut b) = (pair[0], pair[1]);
        let (before, after) = (since.is_some(), holds(b));
        if before == after {
            continue;
        }
        for _ in 0..HALVINGS {
            let middle = 0.5 * (a + b);
            if holds(middle) == before {
                a = middle;
            } else {
                b = middle;
            }
        }
        let end = standard(0.5 * (a + b));
        since = match since {
            Some(start) => {
                total += normal_cdf(end) - normal_cdf(start);
                None
            }
            None => Some(end),
        };
    }
    total + since.map_or(0.0, |start| 1.0 - normal_cdf(start))
}

/// The verdict rule of one question, but for the flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    pub margin: f64,
    pub band: Option<(Bounds, Bounds)>,
    /// Standard errors of the log ratio that flights share and that more of them do not shrink.
    pub common_pack: f64,
    pub common_compared: f64,
    /// Log ratio of the gain that is held against the band, less the one as on the same pack; `None`
    /// where nothing is.
    pub compared_less_pack: Option<f64>,
}

impl Rule {
    /// The chance that the verdict is settled, and right, if `truth` is the log ratio as on the same
    /// pack.
    pub fn chance(&self, precision: Precision, truth: f64) -> f64 {
        let margin = [-self.margin, 0.0, self.margin].map(f64::ln_1p);
        let ends = self.band.map(|(low, high)| {
            let shift = self.compared_less_pack.unwrap_or(0.0);
            [low.value.ln_1p() - shift, high.value.ln_1p() - shift]
        });
        let probes: Vec<f64> = margin
            .into_iter()
            .chain(ends.into_iter().flatten())
            .collect();
        precision.over_limits(|limits| {
            chance(precision, truth, &probes, |coefficient, se| {
                let evidence = self.evidence(limits, coefficient, se);
                self.holds(verdict(&evidence), truth)
            })
        })
    }

    fn evidence(&self, limits: &Limits, coefficient: f64, se: f64) -> Evidence {
        Evidence {
            same_pack: Some(limits.of(coefficient, se, self.common_pack)),
            compared: self
                .compared_less_pack
                .map(|shift| limits.of(coefficient + shift, se, self.common_compared)),
            margin: self.margin,
            band: self.band,
            static_gain: None,
        }
    }

    /// Settled, and nothing untrue of the gain and the band's best values.
    fn holds(&self, verdict: Verdict, truth: f64) -> bool {
        let gain = truth.exp_m1();
        let compared = (truth + self.compared_less_pack.unwrap_or(0.0)).exp_m1();
        let Some((low, high)) = self.band.map(|(l, h)| (l.value, h.value)) else {
            return match verdict {
                Verdict::NoDifferenceThatMatters { .. } => gain.abs() < self.margin,
                Verdict::Worse => gain < 0.0,
                _ => false,
            };
        };
        match verdict {
            Verdict::NotSettled(_) => false,
            Verdict::NoDifferenceThatMatters { .. } => gain.abs() < self.margin,
            Verdict::Worse => gain < 0.0,
            Verdict::NothingToCarry { .. } => true,
            Verdict::MoreThanTheReferenceCases => compared > high,
            Verdict::PartlyCarriedOver => compared > 0.0 && compared < low,
            Verdict::CarriedOver => compared > 0.0 && compared >= low - self.margin,
        }
    }
}

/// The chance that the difference between two airframes is settled, and rightly: shown to be within
/// ±`margin` (two one-sided tests at 5 %) or shown not to be zero. `truth` is its log ratio, `common`
/// the standard error that repetition does not shrink.
pub fn airframes_chance(precision: Precision, margin: f64, common: f64, truth: f64) -> f64 {
    let gain = truth.exp_m1();
    let probes = [-margin, 0.0, margin].map(f64::ln_1p);
    precision.over_limits(|limits| {
        chance(precision, truth, &probes, |coefficient, se| {
            let bounds = limits.of(coefficient, se, common);
            if -margin < bounds.low90 && bounds.high90 < margin {
                gain.abs() < margin
            } else {
                (bounds.low > 0.0 && gain > 0.0) || (bounds.high < 0.0 && gain < 0.0)
            }
        })
    })
}

/// Factors of the 95 and 90 % limits at some degrees of freedom.
struct Limits {
    t: [f64; 2],
    z: [f64; 2],
}

impl Limits {
    fn new(df: f64) -> Self {
        let at = [0.975, 0.95];
        Self {
            t: at.map(|p| t_quantile(p, df)),
            z: at.map(normal_quantile),
        }
    }

    /// As `observed::Effect::bounds` makes them.
    fn of(&self, coefficient: f64, se: f64, common: f64) -> Bounds {
        let half = |i: usize| (self.t[i] * se).hypot(self.z[i] * common);
        let (half95, half90) = (half(0), half(1));
        Bounds {
            value: coefficient.exp_m1(),
            low: (coefficient - half95).exp_m1(),
            high: (coefficient + half95).exp_m1(),
            low90: (coefficient - half90).exp_m1(),
            high90: (coefficient + half90).exp_m1(),
        }
    }
}
