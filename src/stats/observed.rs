//! The gain in level top speed that flights show, by what they can tell apart.
//!
//! The unit is the flight: one log level speed each. Days share air, wind and the pilot's form, so
//! a day is a block. What can be estimated is decided by the rank of the design, never assumed.

use super::distributions::{normal_quantile, t_quantile};
use super::linear::{Contrast, Fit, fit};
use super::mover::Bounds;
use super::permutation::{Permutation, within_blocks};

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
    /// Coefficient in log speed, its standard error and residual degrees of freedom.
    pub coefficient: f64,
    pub se: f64,
    pub df: usize,
    /// Residual standard deviation of the rows of the model: flights within days, or day means.
    pub scatter: f64,
    /// The interval was widened to what the flights' own standard errors allow.
    pub floored: bool,
    /// Share of each flight, in the order given: coefficient = Σ share·log speed. An error that
    /// flights have in common goes into the coefficient by the sum of their shares.
    pub influence: Vec<f64>,
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

/// Estimates the gain. Flights with a log speed that is not finite are left out (shares then are of
/// the others, in their order); `seed` is used only where a permutation test has too many arrangements to count.
///
/// In trial on synthetic flights (tests/stats.rs) both models cover what they claim; least squares
/// without days does not when fans were swapped at home.
pub fn observed_gain(flights: &[FlightSpeed], seed: u64) -> ObservedGain {
    let flights: Vec<FlightSpeed> = flights
        .iter()
        .filter(|f| f.log_speed.is_finite())
        .copied()
        .collect();
    let days = distinct(flights.iter().map(|f| f.day));
    let with_both = |day: &&usize| {
        let flew = |c: bool| flights.iter().any(|f| f.day == **day && f.candidate == c);
        flew(true) && flew(false)
    };
    let mut observed = ObservedGain {
        model: Model::WithinDays,
        effect: None,
        airframe_effects: Vec::new(),
        permutation: None,
        assumptions: Vec::new(),
        flights_baseline: flights.iter().filter(|f| !f.candidate).count(),
        flights_candidate: flights.iter().filter(|f| f.candidate).count(),
        days: days.len(),
        days_with_both: days.iter().filter(with_both).count(),
    };
    let within = Design::within_days(&flights);
    let between = Design::day_means(&flights);
    if let Some(effect) = within.effect() {
        observed.effect = Some(effect);
        observed.airframe_effects = within.airframe_effects();
        observed.permutation = permute(&flights, seed);
        observed.assumptions.push(
            "The fans differ by the same percentage on every day; flights of one day scatter \
             independently about their day, and with both fans alike."
                .to_owned(),
        );
    } else if let Some(effect) = between.effect() {
        observed.model = Model::DayMeans;
        observed.effect = Some(effect);
        observed.airframe_effects = between.airframe_effects();
        observed.assumptions.push(
            "No day tells the fans apart, so days are compared: nothing but the fan may differ \
             between the days of the one and of the other, other than by chance, and both sets of \
             days scatter alike."
                .to_owned(),
        );
    } else {
        observed.model = Model::NotEstimable(diagnose(&flights, &within, &between));
    }
    if observed.effect.is_some() && !within.airframes.is_empty() {
        observed
            .assumptions
            .push("The fan's gain is the same on every airframe.".to_owned());
    }
    observed
}

/// A least-squares problem whose last column is the fan.
struct Design {
    fit: Option<Fit>,
    columns: usize,
    /// Airframes that have a column each, right before the fan.
    airframes: Vec<usize>,
    /// Standard error of each row from within flights; `None` where one is missing.
    se: Option<Vec<f64>>,
    /// The row that each flight is in, and its weight there.
    rows: Vec<(usize, f64)>,
}

impl Design {
    fn within_days(flights: &[FlightSpeed]) -> Self {
        let days = distinct(flights.iter().map(|f| f.day));
        let airframes = distinct(flights.iter().map(|f| f.airframe));
        let (other_days, others) = (after_first(&days), after_first(&airframes));
        let indicator = |is: &dyn Fn(&FlightSpeed) -> bool| -> Vec<f64> {
            flights.iter().map(|f| f64::from(is(f))).collect()
        };
        let mut columns: Vec<Vec<f64>> = other_days
            .iter()
            .map(|d| indicator(&|f| f.day == *d))
            .collect();
        columns.extend(others.iter().map(|a| indicator(&|f| f.airframe == *a)));
        columns.push(indicator(&|f| f.candidate));
        let y: Vec<f64> = flights.iter().map(|f| f.log_speed).collect();
        Self {
            fit: fit(&columns, &y),
            columns: columns.len(),
            airframes: others.to_vec(),
            se: flights.iter().map(|f| f.se).collect(),
            rows: (0..flights.len()).map(|i| (i, 1.0)).collect(),
        }
    }

    /// The same linear model averaged over each day: a day has the share of its flights that the
    /// candidate, or an airframe, flew.
    fn day_means(flights: &[FlightSpeed]) -> Self {
        let days = distinct(flights.iter().map(|f| f.day));
        let airframes = distinct(flights.iter().map(|f| f.airframe));
        let others = after_first(&airframes);
        let mean_of_day = |value: &dyn Fn(&FlightSpeed) -> f64| -> Vec<f64> {
            days.iter()
                .map(|day| {
                    let of_day: Vec<f64> = flights
                        .iter()
                        .filter(|f| f.day == *day)
                        .map(value)
                        .collect();
                    of_day.iter().sum::<f64>() / of_day.len() as f64
                })
                .collect()
        };
        let mut columns: Vec<Vec<f64>> = others
            .iter()
            .map(|a| mean_of_day(&|f| f64::from(f.airframe == *a)))
            .collect();
        columns.push(mean_of_day(&|f| f64::from(f.candidate)));
        let sizes: Vec<f64> = days
            .iter()
            .map(|d| flights.iter().filter(|f| f.day == *d).count() as f64)
            .collect();
        let known = flights.iter().all(|f| f.se.is_some());
        let mean_squares = mean_of_day(&|f| f.se.unwrap_or(0.0).powi(2));
        Self {
            fit: fit(&columns, &mean_of_day(&|f| f.log_speed)),
            columns: columns.len(),
            airframes: others.to_vec(),
            se: known.then(|| {
                mean_squares
                    .iter()
                    .zip(&sizes)
                    .map(|(m, n)| (m / n).sqrt())
                    .collect()
            }),
            rows: flights
                .iter()
                .map(|f| {
                    let row = days.partition_point(|day| *day < f.day);
                    (row, 1.0 / sizes[row])
                })
                .collect(),
        }
    }

    fn fan(&self) -> Option<Contrast> {
        self.fit.as_ref()?.coefficient(self.columns)
    }

    fn effect(&self) -> Option<Effect> {
        self.effect_of(self.columns)
    }

    fn airframe_effects(&self) -> Vec<(usize, Effect)> {
        let first = self.columns - self.airframes.len();
        self.airframes
            .iter()
            .enumerate()
            .filter_map(|(i, airframe)| Some((*airframe, self.effect_of(first + i)?)))
            .collect()
    }

    fn effect_of(&self, coefficient: usize) -> Option<Effect> {
        let fit = self.fit.as_ref()?;
        let contrast = fit.coefficient(coefficient)?;
        let influence = self
            .rows
            .iter()
            .map(|(row, weight)| weight * contrast.influence[*row])
            .collect();
        (fit.df > 0).then(|| Effect {
            influence,
            ..effect(fit, &contrast, self.se.as_deref())
        })
    }
}

/// Residual degrees of freedom up to which within-flight errors bound the interval from below.
const FEW: usize = 2;

/// Intervals of a contrast. With one or two degrees of freedom residuals can agree by luck far
/// better than the flights themselves were measured; the interval is then kept as wide as those
/// standard errors alone make it. They enter nowhere else: what scatters from flight to flight is
/// mostly not in them.
fn effect(fit: &Fit, contrast: &Contrast, se: Option<&[f64]>) -> Effect {
    let within: f64 = se.filter(|_| fit.df <= FEW).map_or(0.0, |se| {
        contrast
            .influence
            .iter()
            .zip(se)
            .map(|(a, s)| (a * s).powi(2))
            .sum::<f64>()
            .sqrt()
    });
    let half = |level: f64| {
        let p = 0.5 + 0.5 * level;
        let floor = normal_quantile(p) * within;
        let half = t_quantile(p, fit.df as f64) * contrast.se;
        (half.max(floor), half < floor)
    };
    let ((half95, floored), (half90, _)) = (half(0.95), half(0.90));
    let ratio = |log: f64| log.exp_m1();
    Effect {
        gain: ratio(contrast.value),
        low: ratio(contrast.value - half95),
        high: ratio(contrast.value + half95),
        low90: ratio(contrast.value - half90),
        high90: ratio(contrast.value + half90),
        coefficient: contrast.value,
        se: contrast.se,
        df: fit.df,
        scatter: fit.s,
        floored,
        influence: Vec::new(),
    }
}

/// Re-deals fans among flights of one day with one airframe.
fn permute(flights: &[FlightSpeed], seed: u64) -> Option<Permutation> {
    let cells = {
        let mut cells: Vec<(usize, usize)> = flights.iter().map(|f| (f.day, f.airframe)).collect();
        cells.sort_unstable();
        cells.dedup();
        cells
    };
    let values: Vec<f64> = flights.iter().map(|f| f.log_speed).collect();
    let treated: Vec<bool> = flights.iter().map(|f| f.candidate).collect();
    let blocks: Vec<usize> = flights
        .iter()
        .map(|f| cells.partition_point(|cell| *cell < (f.day, f.airframe)))
        .collect();
    within_blocks(&values, &treated, &blocks, seed)
}

fn diagnose(flights: &[FlightSpeed], within: &Design, between: &Design) -> NotEstimable {
    let because = |confounded, why: &str, cross_over: &str| NotEstimable {
        confounded,
        why: why.to_owned(),
        cross_over: cross_over.to_owned(),
    };
    let flew = |candidate: bool| flights.iter().any(|f| f.candidate == candidate);
    if !flew(true) || !flew(false) {
        let (missing, verb) = match (flew(false), flew(true)) {
            (false, false) => ("neither fan", "has"),
            (true, _) => ("the candidate", "has not"),
            (false, true) => ("the baseline", "has not"),
        };
        return because(
            Confounded::OneFanOnly,
            &format!("In the flights with a level speed {missing} {verb} flown."),
            "Fly both fans on one day, two flights each or more, in turn.",
        );
    }
    let one_day: Vec<FlightSpeed> = flights
        .iter()
        .map(|f| FlightSpeed { day: 0, ..*f })
        .collect();
    if Design::within_days(&one_day).fan().is_none() {
        return because(
            Confounded::FanAndAirframe,
            "Each fan has flown on airframes of its own: a difference between the fans and one \
             between the airframes look the same.",
            "Swap the fans between the airframes (or fly both fans in one of them) and fly each \
             combination at least twice, on one day if it can be done.",
        );
    }
    if within.fan().is_some() {
        return because(
            Confounded::NothingRepeated,
            "The flights give a gain but no repetition from which to tell its error.",
            "Fly each fan once more on a day on which both fly.",
        );
    }
    let one_airframe: Vec<FlightSpeed> = flights
        .iter()
        .map(|f| FlightSpeed { airframe: 0, ..*f })
        .collect();
    if Design::day_means(&one_airframe).effect().is_none() {
        return because(
            Confounded::FanAndDay,
            "Each fan has flown on one day only: a difference between the fans and one between the \
             days look the same.",
            "Fly both fans on one day, two flights each or more, in turn; or each fan on a further \
             day.",
        );
    }
    if between.fan().is_some() {
        return because(
            Confounded::NothingRepeated,
            "With fan and airframe told apart, no day is left from which to tell the error.",
            "Fly both fans on one day with the same airframe, two flights each or more.",
        );
    }
    because(
        Confounded::FanAndAirframeAndDay,
        "Fan, airframe and day change together: their differences cannot be told apart.",
        "Fly both fans on one day with the same airframe, two flights each or more.",
    )
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
