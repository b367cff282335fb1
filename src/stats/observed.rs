//! The gain in level top speed that flights show, by what they can tell apart.
//!
//! The unit is the flight: one log level speed each. Days share air, wind and the pilot's form, so
//! a day is a block. What can be estimated is decided by the rank of the design, never assumed.

mod design;
mod diagnose;

use super::distributions::normal_quantile;
use super::linear::fit;
use super::mover::Bounds;
use super::permutation::{Permutation, within_blocks};
use design::Design;
use diagnose::diagnose;

/// One flight of the comparison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlightSpeed {
    /// Natural logarithm of level top speed.
    pub log_speed: f64,
    /// Standard error of `log_speed` from within the flight (relative error of the speed).
    pub se: Option<f64>,
    /// Flying day, any numbering.
    pub day: usize,
    /// Whether the candidate flew (else the baseline).
    pub candidate: bool,
    /// Airframe, any numbering.
    pub airframe: usize,
}

/// The observed gain of the candidate over the baseline.
#[derive(Debug, Clone, PartialEq)]
pub struct ObservedGain {
    pub model: Model,
    /// There unless the model is [`Model::NotEstimable`].
    pub effect: Option<Effect>,
    /// Speed of other airframes over that of the first (lowest number), where they can be told
    /// apart from fan and day.
    pub airframe_effects: Vec<(usize, Effect)>,
    /// Slope of each covariate, in the order given; `None` where the model leaves nothing of it (it
    /// does not vary within days, say).
    pub covariates: Vec<Option<Slope>>,
    /// The gain by a fit that one wild flight cannot pull far (Huber); `None` where there is none.
    pub robust_gain: Option<f64>,
    /// Test by re-dealing the fans within days (and airframes), where a day holds both.
    pub permutation: Option<Permutation>,
    /// What the model takes for granted, in words.
    pub assumptions: Vec<String>,
    pub flights_baseline: usize,
    pub flights_candidate: usize,
    pub days: usize,
    /// Days on which both fans flew.
    pub days_with_both: usize,
}

/// How the gain was estimated.
#[derive(Debug, Clone, PartialEq)]
pub enum Model {
    /// Least squares on flights: fan + day, and airframe where there are several.
    WithinDays,
    /// Least squares on the means of days: fan, and airframe where there are several.
    DayMeans,
    NotEstimable(NotEstimable),
}

/// Why there is no gain to give.
#[derive(Debug, Clone, PartialEq)]
pub struct NotEstimable {
    pub confounded: Confounded,
    pub why: String,
    /// The flights that would separate it.
    pub cross_over: String,
}

/// What the flights cannot tell apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Confounded {
    /// One of the two has not flown.
    OneFanOnly,
    FanAndAirframe,
    FanAndDay,
    /// Fan against airframe and day together.
    FanAndAirframeAndDay,
    /// It could be computed, but nothing is repeated from which to tell its error.
    NothingRepeated,
    /// What is repeated agrees to the last digit, and nothing else tells an error.
    NoScatter,
    /// Fan and declared covariates.
    FanAndCovariate,
}

/// Change of log speed for one unit of a covariate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    pub value: f64,
    pub se: f64,
    pub df: usize,
}

/// A ratio − 1 with its intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// exp(coefficient) − 1.
    pub gain: f64,
    /// 95 % interval.
    pub low: f64,
    pub high: f64,
    /// 90 % interval, for the two one-sided tests at 5 %.
    pub low90: f64,
    pub high90: f64,
    /// Coefficient in log speed, its standard error and effective degrees of freedom.
    pub coefficient: f64,
    pub se: f64,
    pub df: f64,
    /// Both fans were taken to scatter alike, for want of flights that tell.
    pub pooled: bool,
    /// Residual standard deviation of the rows of the model: flights within days, or day means.
    pub scatter: f64,
    /// The interval was widened to what the flights' own standard errors allow.
    pub floored: bool,
    /// Share of each flight, in the order given: coefficient = Σ share·log speed. An error that
    /// flights have in common goes into the coefficient by the sum of their shares.
    pub influence: Vec<f64>,
    /// What leaving out each flight would change of the coefficient, in the order given (its share of what
    /// leaving out its day would, between days); not finite where the others cannot tell it.
    pub without_each: Vec<f64>,
}

impl Effect {
    /// The gain with its limits, widened by the standard error `common` (of the log speed) that
    /// repetition does not shrink and the scatter does not show.
    pub fn bounds(&self, common: f64) -> Bounds {
        let at = |level: f64, low: f64, high: f64| {
            let extra = normal_quantile(0.5 + 0.5 * level) * common;
            let down = (self.coefficient - low.ln_1p()).hypot(extra);
            let up = (high.ln_1p() - self.coefficient).hypot(extra);
            (
                (self.coefficient - down).exp_m1(),
                (self.coefficient + up).exp_m1(),
            )
        };
        let (low, high) = at(0.95, self.low, self.high);
        let (low90, high90) = at(0.90, self.low90, self.high90);
        Bounds {
            value: self.gain,
            low,
            high,
            low90,
            high90,
        }
    }
}

/// [`observed_gain_given`] without covariates.
pub fn observed_gain(flights: &[FlightSpeed], seed: u64) -> ObservedGain {
    observed_gain_given(flights, &[], Some(seed))
}

/// Estimates the gain, with `covariates` (each one value a flight) held fixed. Flights with a log
/// speed or a covariate that is not finite are left out (shares then are of the others, in their
/// order); `seed` is used only where a permutation test has too many arrangements to count; without one
/// there is no such test, and no robust fit.
///
/// In trial on synthetic flights (tests/stats/coverage.rs) both models cover what they claim; least
/// squares without days does not when fans were swapped at home.
pub fn observed_gain_given(
    flights: &[FlightSpeed],
    covariates: &[Vec<f64>],
    seed: Option<u64>,
) -> ObservedGain {
    let used: Vec<usize> = (0..flights.len())
        .filter(|i| {
            let value = |c: &Vec<f64>| c.get(*i).is_some_and(|v| v.is_finite());
            flights[*i].log_speed.is_finite() && covariates.iter().all(value)
        })
        .collect();
    let covariates: Vec<Vec<f64>> = covariates
        .iter()
        .map(|c| used.iter().map(|i| c[*i]).collect())
        .collect();
    let flights: Vec<FlightSpeed> = used.iter().map(|i| flights[*i]).collect();
    let days = distinct(flights.iter().map(|f| f.day));
    let with_both = |day: &&usize| {
        let flew = |c: bool| flights.iter().any(|f| f.day == **day && f.candidate == c);
        flew(true) && flew(false)
    };
    let mut observed = ObservedGain {
        model: Model::WithinDays,
        effect: None,
        airframe_effects: Vec::new(),
        covariates: Vec::new(),
        robust_gain: None,
        permutation: None,
        assumptions: Vec::new(),
        flights_baseline: flights.iter().filter(|f| !f.candidate).count(),
        flights_candidate: flights.iter().filter(|f| f.candidate).count(),
        days: days.len(),
        days_with_both: days.iter().filter(with_both).count(),
    };
    let within = Design::within_days(&flights, &covariates);
    let between = Design::day_means(&flights, &covariates);
    if let Some(effect) = within.effect() {
        let scatter = if effect.pooled {
            "and with both fans alike (too few to tell otherwise)"
        } else {
            "with each fan by an amount of its own"
        };
        observed.effect = Some(effect);
        observed.airframe_effects = within.airframe_effects();
        observed.covariates = within.covariate_slopes();
        observed.robust_gain = seed.and_then(|_| within.robust()).map(f64::exp_m1);
        observed.permutation = seed.and_then(|seed| permute(&flights, &covariates, seed));
        observed.assumptions.push(format!(
            "Assumed, not tested: the fans differ by the same percentage on every day; flights of one \
             day scatter independently about their day, {scatter}."
        ));
    } else if let Some(effect) = between.effect() {
        observed.model = Model::DayMeans;
        observed.effect = Some(effect);
        observed.airframe_effects = between.airframe_effects();
        observed.covariates = between.covariate_slopes();
        observed.robust_gain = seed.and_then(|_| between.robust()).map(f64::exp_m1);
        observed.assumptions.push(
            "No day tells the fans apart, so days are compared: nothing but the fan may differ \
             between the days of the one and of the other, other than by chance, and both sets of \
             days scatter alike."
                .to_owned(),
        );
    } else {
        observed.model = Model::NotEstimable(diagnose(&flights, &within, &between, &covariates));
    }
    if observed.effect.is_some() && !within.airframes.is_empty() {
        observed
            .assumptions
            .push("Assumed, not tested: the fan's gain is the same on every airframe.".to_owned());
    }
    if observed.effect.is_some() && !covariates.is_empty() {
        observed.assumptions.push(
            "What is declared as a covariate acts on the log of the speed in proportion, alike with \
             both fans, and the fan does not change it."
                .to_owned(),
        );
    }
    observed
}

/// Re-deals fans among flights of one day with one airframe. With covariates what is dealt are the
/// residuals on them: they are fixed before the fan is, so the test stays exact.
fn permute(flights: &[FlightSpeed], covariates: &[Vec<f64>], seed: u64) -> Option<Permutation> {
    let cells = {
        let mut cells: Vec<(usize, usize)> = flights.iter().map(|f| (f.day, f.airframe)).collect();
        cells.sort_unstable();
        cells.dedup();
        cells
    };
    let block = |f: &FlightSpeed| cells.partition_point(|cell| *cell < (f.day, f.airframe));
    let logs: Vec<f64> = flights.iter().map(|f| f.log_speed).collect();
    let values = if covariates.is_empty() {
        logs
    } else {
        let mut columns: Vec<Vec<f64>> = (1..cells.len())
            .map(|k| flights.iter().map(|f| f64::from(block(f) == k)).collect())
            .collect();
        columns.extend(covariates.iter().cloned());
        fit(&columns, &logs)?.residuals
    };
    let treated: Vec<bool> = flights.iter().map(|f| f.candidate).collect();
    let blocks: Vec<usize> = flights.iter().map(block).collect();
    within_blocks(&values, &treated, &blocks, seed)
}

fn distinct(values: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut values: Vec<usize> = values.collect();
    values.sort_unstable();
    values.dedup();
    values
}

fn after_first(values: &[usize]) -> &[usize] {
    values.get(1..).unwrap_or_default()
}
