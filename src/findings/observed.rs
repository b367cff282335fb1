//! The gain in level top speed that the season's flights show at one condition.

use std::collections::BTreeMap;

use crate::findings::covariates::{complete, of_flight};
use crate::findings::evidence::{Evidence, percent};
use crate::findings::level_speeds::{Cause, Condition, LevelSpeed, level_speeds};
use crate::findings::speed_tables::METHODS;
use crate::season::Covariate;
use crate::stats::disagreement::between_methods;
use crate::stats::mover::Bounds;
use crate::stats::observed::{Effect, FlightSpeed, ObservedGain, observed_gain_given};
use crate::stats::sd;
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
    /// Held fixed in the comparison.
    pub covariates: Vec<Covariate>,
    /// Flights left out for want of a covariate, in words.
    pub left_out: Vec<String>,
}

/// Fits the observed gain of `candidate` over `baseline` at `condition` (`None`: as flown), with
/// `covariates` held fixed.
pub fn observe<'a>(
    evidence: &Evidence<'a>,
    baseline: &'a str,
    candidate: &'a str,
    condition: Option<Condition>,
    covariates: &[Covariate],
) -> Observed<'a> {
    let speeds = level_speeds(evidence, [baseline, candidate], condition);
    let (speeds, left_out) = complete(evidence, speeds, covariates);
    Observed {
        left_out,
        ..of_speeds(evidence, speeds, candidate, covariates, Some(SEED))
    }
}

/// The same from given speeds of flights that have every covariate, with a permutation test where there
/// is a seed.
fn of_speeds<'a>(
    evidence: &Evidence<'a>,
    speeds: Vec<LevelSpeed<'a>>,
    candidate: &str,
    covariates: &[Covariate],
    seed: Option<u64>,
) -> Observed<'a> {
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
    let columns: Vec<Vec<f64>> = covariates
        .iter()
        .map(|c| {
            speeds
                .iter()
                .map(|s| of_flight(evidence, s.flight, *c).unwrap_or(f64::NAN))
                .collect()
        })
        .collect();
    let gain = observed_gain_given(&rows, &columns, seed);
    let mut observed = Observed {
        speeds,
        gain,
        bounds: None,
        covariates: covariates.to_vec(),
        left_out: Vec::new(),
    };
    observed.bounds = observed.gain.effect.as_ref().map(|e| observed.bounds_of(e));
    observed
}

impl<'a> Observed<'a> {
    /// The same with one flight left out, without a permutation test.
    pub fn without(&self, evidence: &Evidence<'a>, candidate: &str, left_out: usize) -> Self {
        let mut speeds = self.speeds.clone();
        speeds.remove(left_out);
        of_speeds(evidence, speeds, candidate, &self.covariates, None)
    }

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
            df: effect.df,
        })
    }

    /// Standard error of an effect's log ratio that repetition does not shrink.
    pub fn common_error(&self, effect: &Effect) -> f64 {
        let variance: f64 = self.by_cause(effect).values().map(|e| e * e).sum();
        let method = self.method_error(effect).map_or(0.0, |(_, error)| error);
        variance.sqrt().hypot(method)
    }

    /// The other way to the level speed whose effect differs most from the joint fit's beyond their
    /// joint error, and the standard error of the effect's log ratio that this charges: a model error.
    /// The joint error is that of the differences from flight to flight, each fan by itself.
    pub fn method_error(&self, effect: &Effect) -> Option<(&'static str, f64)> {
        METHODS
            .iter()
            .filter_map(|(name, pick)| {
                let of_flight = |s: &LevelSpeed| -> Option<f64> {
                    Some((pick(s.flight)? / s.flight.level_speed_m_s?).ln())
                };
                // A method that knows some of the flights only compares other flights.
                let off: Vec<f64> = self.speeds.iter().map(of_flight).collect::<Option<_>>()?;
                let of_power = |power: &str| -> Vec<f64> {
                    let both = self.speeds.iter().zip(&off);
                    both.filter(|(s, _)| s.power == power)
                        .map(|(_, d)| *d)
                        .collect()
                };
                let shift: f64 = off.iter().zip(&effect.influence).map(|(d, w)| d * w).sum();
                let mut scatter: BTreeMap<&str, f64> = BTreeMap::new();
                let mut variance = 0.0;
                for (speed, share) in self.speeds.iter().zip(&effect.influence) {
                    let of_power = || sd(&of_power(speed.power));
                    let sd = *scatter.entry(speed.power).or_insert_with(of_power);
                    // Of a single flight there is none.
                    if !sd.is_finite() {
                        return None;
                    }
                    variance += share * share * sd.powi(2);
                }
                Some((*name, between_methods(shift, variance.sqrt())))
            })
            .filter(|(_, error)| *error > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
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

    /// Error of the effect's log ratio by each cause, in words, with what would lessen it; causes of one
    /// kind together.
    pub fn causes(&self, evidence: &Evidence, effect: &Effect) -> Vec<(String, &'static str, f64)> {
        let mut variances: BTreeMap<(String, &'static str), f64> = BTreeMap::new();
        for (cause, error) in self.by_cause(effect) {
            let words = match cause {
                Cause::TimeConstant(power) => (
                    format!(
                        "time constant of the run-ups with {}",
                        evidence.power_name(power)
                    ),
                    "longer passes lessen it",
                ),
                Cause::VoltageScale(_) => (
                    "accuracy of the loggers' voltage".to_owned(),
                    "the same logger with both cancels it",
                ),
                Cause::CurrentScale(_) => (
                    "accuracy of the loggers' current".to_owned(),
                    "the same logger with both, held against a meter, lessens it",
                ),
                Cause::AssumedVoltage(power) => (
                    format!("unknown voltage with {}", evidence.power_name(power)),
                    "a logged voltage takes it away",
                ),
                Cause::SpeedExponent => (
                    "way that speed goes with voltage".to_owned(),
                    "packs alike full for every flight lessen it",
                ),
                Cause::PackResistance => (
                    "pack's resistance on the passes".to_owned(),
                    "steps from half to full throttle tell it better",
                ),
            };
            *variances.entry(words).or_insert(0.0) += error * error;
        }
        variances
            .into_iter()
            .map(|((words, remedy), v)| (words, remedy, v.sqrt()))
            .collect()
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

/// Said where another way to the level speed tells another gain.
pub fn method_remark(observed: &Observed, effect: &Effect) -> Option<String> {
    let (name, error) = observed.method_error(effect)?;
    Some(format!(
        "Level speeds by {name} give another gain than the joint fit, by more than their errors explain: \
         ±{} is charged to the interval as a model error.",
        percent(crate::stats::normal_quantile(0.975) * error)
    ))
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
