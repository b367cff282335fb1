//! The time constant of a power system, pooled over its flights.

use super::problem::{PRIOR_LN_SD, PRIOR_TIME_CONSTANT_S};
use super::{Fit, TimeConstant};
use crate::stats;

/// A time constant common to a power system's flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledTimeConstant {
    pub value_s: f64,
    pub se_s: f64,
    pub flights: usize,
}

impl PooledTimeConstant {
    /// To as many digits as it is worth: one flight more seldom changes what the others are told.
    #[must_use]
    pub fn as_told(mut self) -> Self {
        (self.value_s, self.se_s) = stats::to_its_uncertainty(self.value_s, self.se_s);
        self
    }

    pub fn for_fit(&self) -> TimeConstant {
        TimeConstant::Pooled {
            value_s: self.value_s,
            se_s: self.se_s,
        }
    }
}

/// Mean of ln(time constant), flights with fewer or shorter passes weighing less; the standard error
/// by jackknife over flights from three flights on, else from the flights' own errors. `None`
/// without a free fit.
pub fn pool(fits: &[Fit]) -> Option<PooledTimeConstant> {
    let prior = 1.0 / PRIOR_LN_SD.powi(2);
    // (what the data alone say of ln tau, its information, the flight's own error)
    let known: Vec<(f64, f64, f64)> = fits
        .iter()
        .filter(|f| !f.time_constant_pooled && f.ln_time_constant_information > 0.0)
        .map(|f| {
            let info = f.ln_time_constant_information;
            let ln = f.time_constant_s.ln();
            let data = ln + (ln - PRIOR_TIME_CONSTANT_S.ln()) * prior / info;
            (data, info, f.time_constant_se_s / f.time_constant_s)
        })
        .collect();
    // What a flight knows depends on the time constant it came out with, so a plain inverse-variance
    // weight would pull the mean to one side; above half the median all count alike. A fit that
    // knows next to nothing must not speak louder by being taken off its prior.
    let median = stats::median(&known.iter().map(|k| k.1).collect::<Vec<_>>());
    let known: Vec<_> = known
        .into_iter()
        .filter(|k| k.1 > 0.05 * median)
        .map(|(x, info, se)| (x, (info / (0.5 * median)).min(1.0), se))
        .collect();
    if known.is_empty() {
        return None;
    }
    let mean = |skip: Option<usize>| {
        let (mut top, mut bottom) = (0.0, 0.0);
        for (i, (x, info, _)) in known.iter().enumerate() {
            if Some(i) != skip {
                top += x * info;
                bottom += info;
            }
        }
        top / bottom
    };
    let n = known.len();
    let ln = mean(None);
    let se = if n >= 3 {
        let left: Vec<f64> = (0..n).map(|i| mean(Some(i))).collect();
        (n as f64 - 1.0) / (n as f64).sqrt() * stats::sd(&left)
    } else {
        let total: f64 = known.iter().map(|k| k.1).sum();
        known
            .iter()
            .map(|(_, info, se)| (info / total * se).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    Some(PooledTimeConstant {
        value_s: ln.exp(),
        se_s: se * ln.exp(),
        flights: n,
    })
}
