//! The linear models behind the observed gain.

use super::{Effect, FlightSpeed, Slope, after_first, distinct};
use crate::stats::distributions::{normal_quantile, t_quantile};
use crate::stats::huber::huber;
use crate::stats::linear::{Contrast, Fit, fit};
use crate::stats::unequal::{Forms, Freedom};

/// A least-squares problem whose last column is the fan.
pub(super) struct Design {
    fit: Option<Fit>,
    columns: Vec<Vec<f64>>,
    y: Vec<f64>,
    /// Covariates that have a column each, right before the airframes.
    covariates: usize,
    /// Airframes that have a column each, right before the fan.
    pub airframes: Vec<usize>,
    /// Standard error of each row from within flights; `None` where one is missing.
    se: Option<Vec<f64>>,
    /// The row that each flight is in, and its weight there.
    rows: Vec<(usize, f64)>,
    /// Flights tell how unequal the fans scatter; days scatter mostly by what both fans have alike.
    freedom: Freedom,
}

impl Design {
    pub fn within_days(flights: &[FlightSpeed], covariates: &[Vec<f64>]) -> Self {
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
        columns.extend(covariates.iter().map(|c| centred(c)));
        columns.extend(others.iter().map(|a| indicator(&|f| f.airframe == *a)));
        columns.push(indicator(&|f| f.candidate));
        let y: Vec<f64> = flights.iter().map(|f| f.log_speed).collect();
        Self {
            fit: fit(&columns, &y),
            covariates: covariates.len(),
            airframes: others.to_vec(),
            se: flights.iter().map(|f| f.se).collect(),
            rows: (0..flights.len()).map(|i| (i, 1.0)).collect(),
            freedom: Freedom::Scatter,
            columns,
            y,
        }
    }

    /// The same linear model averaged over each day: a day has the share of its flights that the
    /// candidate, or an airframe, flew.
    pub fn day_means(flights: &[FlightSpeed], covariates: &[Vec<f64>]) -> Self {
        let days = distinct(flights.iter().map(|f| f.day));
        let airframes = distinct(flights.iter().map(|f| f.airframe));
        let others = after_first(&airframes);
        let means_of_days = |values: &[f64]| -> Vec<f64> {
            days.iter()
                .map(|day| {
                    let of_day: Vec<f64> = flights
                        .iter()
                        .zip(values)
                        .filter(|(f, _)| f.day == *day)
                        .map(|(_, value)| *value)
                        .collect();
                    of_day.iter().sum::<f64>() / of_day.len() as f64
                })
                .collect()
        };
        let mean_of_day = |value: &dyn Fn(&FlightSpeed) -> f64| -> Vec<f64> {
            means_of_days(&flights.iter().map(value).collect::<Vec<_>>())
        };
        let mut columns: Vec<Vec<f64>> = covariates
            .iter()
            .map(|c| means_of_days(&centred(c)))
            .collect();
        columns.extend(
            others
                .iter()
                .map(|a| mean_of_day(&|f| f64::from(f.airframe == *a))),
        );
        columns.push(mean_of_day(&|f| f64::from(f.candidate)));
        let y = mean_of_day(&|f| f.log_speed);
        let sizes: Vec<f64> = days
            .iter()
            .map(|d| flights.iter().filter(|f| f.day == *d).count() as f64)
            .collect();
        let known = flights.iter().all(|f| f.se.is_some());
        let mean_squares = mean_of_day(&|f| f.se.unwrap_or(0.0).powi(2));
        Self {
            fit: fit(&columns, &y),
            covariates: covariates.len(),
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
            freedom: Freedom::Design,
            columns,
            y,
        }
    }

    pub fn fan(&self) -> Option<Contrast> {
        self.fit.as_ref()?.coefficient(self.columns.len())
    }

    pub fn effect(&self) -> Option<Effect> {
        self.effect_of(self.columns.len())
    }

    pub fn airframe_effects(&self) -> Vec<(usize, Effect)> {
        let first = self.columns.len() - self.airframes.len();
        self.airframes
            .iter()
            .enumerate()
            .filter_map(|(i, airframe)| Some((*airframe, self.effect_of(first + i)?)))
            .collect()
    }

    /// Change of log speed for one unit of each covariate; `None` where the rest of the model leaves
    /// nothing of it.
    pub fn covariate_slopes(&self) -> Vec<Option<Slope>> {
        let first = self.columns.len() - self.airframes.len() - self.covariates;
        (0..self.covariates)
            .map(|i| {
                let fit = self.fit.as_ref().filter(|fit| fit.df > 0)?;
                let contrast = fit.coefficient(first + i)?;
                Some(Slope {
                    value: contrast.value,
                    se: contrast.se,
                    df: fit.df,
                })
            })
            .collect()
    }

    /// The fan's coefficient by Huber's fit of the same model.
    pub fn robust(&self) -> Option<f64> {
        let fit = huber(&self.columns, &self.y)?;
        Some(fit.coefficient(self.columns.len())?.value)
    }

    /// The fan can be told, and there are rows to spare from which to tell its error.
    pub fn is_estimable(&self) -> bool {
        self.fan().is_some() && self.fit.as_ref().is_some_and(|fit| fit.df > 0)
    }

    /// The fan can be told, and there are rows to spare, but they agree to the last digit and no
    /// flight has an error of its own: nothing tells how far the gain can be trusted.
    pub fn is_without_scatter(&self) -> bool {
        self.is_estimable()
            && self.fit.as_ref().is_some_and(agrees)
            && self
                .se
                .as_deref()
                .is_none_or(|se| se.iter().all(|s| *s == 0.0))
    }

    fn effect_of(&self, coefficient: usize) -> Option<Effect> {
        let fit = self.fit.as_ref()?;
        let contrast = fit.coefficient(coefficient)?;
        let of_flights = |of_rows: &[f64]| -> Vec<f64> {
            let rows = self.rows.iter();
            rows.map(|(row, weight)| weight * of_rows[*row]).collect()
        };
        let influence = of_flights(&contrast.influence);
        (fit.df > 0 && !self.is_without_scatter()).then(|| Effect {
            influence,
            without_each: of_flights(&fit.without_each(&contrast)),
            ..effect(
                fit,
                &contrast,
                self.error(fit, &contrast),
                self.se.as_deref(),
            )
        })
    }

    /// Standard error of a contrast with each fan's own scatter; pooled where the flights of one do
    /// not tell theirs.
    fn error(&self, fit: &Fit, contrast: &Contrast) -> Error {
        let by_fan = self
            .columns
            .last()
            .filter(|_| !agrees(fit))
            .and_then(|fan| Forms::new(fit, contrast, fan)?.estimate(&fit.residuals, self.freedom));
        let (se, df) = by_fan.unwrap_or((contrast.se, fit.df as f64));
        Error {
            se,
            df,
            pooled: by_fan.is_none(),
        }
    }
}

/// Standard error of a contrast, and what it rests on.
#[derive(Clone, Copy)]
struct Error {
    se: f64,
    df: f64,
    pooled: bool,
}

/// Residuals no larger than the arithmetic leaves, of log speeds.
fn agrees(fit: &Fit) -> bool {
    fit.s <= 1e-12
}

/// Values about their mean: what they are measured from must not cost digits.
fn centred(values: &[f64]) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter().map(|v| v - mean).collect()
}

/// Residual degrees of freedom up to which within-flight errors bound the interval from below.
const FEW: usize = 2;

/// Intervals of a contrast. With one or two degrees of freedom (or from speeds written down alike)
/// residuals can agree far
/// better than the flights themselves were measured; the interval is then kept as wide as those
/// standard errors alone make it. They enter nowhere else: what scatters from flight to flight is
/// mostly not in them.
fn effect(fit: &Fit, contrast: &Contrast, error: Error, se: Option<&[f64]>) -> Effect {
    let within: f64 = se
        .filter(|_| fit.df <= FEW || agrees(fit))
        .map_or(0.0, |se| {
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
        let half = t_quantile(p, error.df) * error.se;
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
        se: error.se,
        df: error.df,
        pooled: error.pooled,
        scatter: fit.s,
        floored,
        influence: Vec::new(),
        without_each: Vec::new(),
    }
}
