//! The gain in level top speed that the season's flights show at one condition.

use std::collections::BTreeMap;

use crate::findings::evidence::{Evidence, percent};
use crate::findings::level_speeds::{Cause, Condition, LevelSpeed, level_speeds};
use crate::stats::mover::Bounds;
use crate::stats::observed::{Effect, FlightSpeed, ObservedGain, observed_gain};
use crate::stats::welch::Difference;

/// Seed of the permutation test (also in the JSON).
pub const SEED: u64 = 20_250_412;

/// The gain observed in flight under one condition.
#[derive(Debug, Clone)]
pub struct Observed<'a> {
    pub speeds: Vec<LevelSpeed<'a>>,
    pub gain: ObservedGain,
    /// 95 % and 90 %, what flights may have wrong together included.
    pub bounds: Option<Bounds>,
}

/// Fits the observed gain of `candidate` over `baseline` at `condition`; `None`: as flown.
pub fn observe<'a>(
    evidence: &Evidence<'a>,
    baseline: &'a str,
    candidate: &'a str,
    condition: Option<Condition>,
) -> Observed<'a> {
    let speeds = level_speeds(evidence, [baseline, candidate], condition);
    let distinct = |pick: fn(&LevelSpeed<'a>) -> &'a str| {
        let mut names: Vec<&'a str> = speeds.iter().map(pick).collect();
        names.sort_unstable();
        names.dedup();
        names
    };
    let (days, airframes) = (distinct(|s| s.day), distinct(|s| s.airframe));
    let rows: Vec<FlightSpeed> = speeds
        .iter()
        .map(|s| FlightSpeed {
            log_speed: s.speed_m_s.ln(),
            se: Some(s.relative_se).filter(|se| *se > 0.0),
            day: days.partition_point(|d| *d < s.day),
            candidate: s.power == candidate,
            airframe: airframes.partition_point(|a| *a < s.airframe),
        })
        .collect();
    let gain = observed_gain(&rows, SEED);
    let mut observed = Observed {
        speeds,
        gain,
        bounds: None,
    };
    observed.bounds = observed.gain.effect.as_ref().map(|e| observed.bounds_of(e));
    observed
}

impl Observed<'_> {
    /// Limits of an effect of the model, what flights may have wrong together included: each cause
    /// enters by the sum of its errors times the flights' shares in the effect (GUM 5.2.2), so that
    /// it cancels where both sides have it alike.
    pub fn bounds_of(&self, effect: &Effect) -> Bounds {
        effect.bounds(self.common_error(effect))
    }

    /// The gain as a difference of log speeds, for tests.
    pub fn difference(&self) -> Option<Difference> {
        let effect = self.gain.effect.as_ref()?;
        Some(Difference {
            value: effect.coefficient,
            se: effect.se.hypot(self.common_error(effect)),
            df: effect.df as f64,
        })
    }

    /// Standard error of the log ratio that flights have in common.
    pub fn common_error(&self, effect: &Effect) -> f64 {
        let variance: f64 = self.by_cause(effect).values().map(|e| e * e).sum();
        variance.sqrt()
    }

    /// Error of the effect's log ratio for one standard deviation of each cause.
    fn by_cause(&self, effect: &Effect) -> BTreeMap<Cause<'_>, f64> {
        let mut sums = BTreeMap::new();
        for (speed, share) in self.speeds.iter().zip(&effect.influence) {
            for (cause, error) in &speed.common {
                *sums.entry(*cause).or_insert(0.0) += share * error;
            }
        }
        sums
    }

    /// How far unlike scales of the loggers' voltage sensors may shift an effect (95 %).
    pub fn logger_error(&self, effect: &Effect) -> f64 {
        let variance: f64 = self
            .by_cause(effect)
            .into_iter()
            .filter(|(cause, _)| matches!(cause, Cause::VoltageScale(_)))
            .map(|(_, e)| e * e)
            .sum();
        crate::stats::normal_quantile(0.975) * variance.sqrt()
    }
}

/// Said where unlike loggers matter: by more than a fifth of a percent.
pub fn logger_remark(observed: &Observed, effect: &Effect) -> Option<String> {
    let error = observed.logger_error(effect);
    (error > 0.002).then(|| {
        format!(
            "The two sides flew with different loggers: their voltage sensors may differ, which the \
             interval holds (±{}). Swap the loggers between flights and it cancels.",
            percent(error)
        )
    })
}
