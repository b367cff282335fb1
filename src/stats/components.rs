//! What a season's level speeds scatter by: from pass to pass, from flight to flight of a day, from
//! day to day.

use super::distributions::{chi_square_quantile, f_quantile};
use super::linear::fit;
use super::observed::FlightSpeed;

/// Residual degrees of freedom below which a season does not tell its own scatter.
pub const FEWEST_DF: usize = 3;
/// What stands in then: standard deviations of log level speed. A little more than simulated seasons
/// show from their logs (0.5 and 0.6 %, datasets/studies/coverage.csv), since real air is rougher.
pub const USUAL_FLIGHT_SD: f64 = 0.007;
pub const USUAL_DAY_SD: f64 = 0.010;

/// A standard deviation with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub sd: f64,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub df: usize,
    /// Too few flights: the usual value stands in.
    pub assumed: bool,
}

/// Variance components of log level speed, fans and airframes taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Components {
    /// From flight to flight of a day, all that differs between flights (their own measuring error
    /// included).
    pub flight: Spread,
    /// From day to day; 0 where days differ no more than flights do.
    pub day: Spread,
    /// Of one pass, from the flights' own standard errors; already part of `flight`.
    pub pass_sd: Option<f64>,
}

impl Components {
    /// Standard deviation between flights if each had `passes` passes where it had `usual` so far:
    /// only the part that comes from passes shrinks.
    pub fn flight_sd_with(&self, passes: f64, usual: f64) -> f64 {
        let Some(pass) = self.pass_sd.filter(|_| passes > 0.0 && usual > 0.0) else {
            return self.flight.sd;
        };
        let total = self.flight.sd.powi(2);
        let of_passes = (pass * pass / usual).min(total);
        (total - of_passes + of_passes * usual / passes).sqrt()
    }
}

/// Components of the flights' level speeds; `passes` a flight, in the same order (0: unknown).
///
/// Analysis of variance by differences of sums of squares (Henderson's method III), the day mean
/// square with its exact expectation for unbalanced days. Source: Searle, Casella, McCulloch,
/// Variance Components (1992), sections 5.5 and, for the interval, 3.6 (Williams and Tukey).
pub fn components(flights: &[FlightSpeed], passes: &[u32]) -> Components {
    let usual = |sd| Spread {
        sd,
        low: None,
        high: None,
        df: 0,
        assumed: true,
    };
    Components {
        flight: flight_spread(flights).unwrap_or(usual(USUAL_FLIGHT_SD)),
        day: day_spread(flights).unwrap_or(usual(USUAL_DAY_SD)),
        pass_sd: pass_sd(flights, passes),
    }
}

/// Days, then airframes and fan, as columns of 0 and 1 (one too many is no harm to the fit).
fn columns(flights: &[FlightSpeed]) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let levels = |of: fn(&FlightSpeed) -> usize| -> Vec<Vec<f64>> {
        let mut levels: Vec<usize> = flights.iter().map(of).collect();
        levels.sort_unstable();
        levels.dedup();
        let column = |level: usize| flights.iter().map(|f| f64::from(of(f) == level)).collect();
        levels.into_iter().map(column).collect()
    };
    let days = levels(|f| f.day);
    let mut fixed = levels(|f| f.airframe);
    fixed.extend(levels(|f| usize::from(f.candidate)));
    (days, fixed)
}

fn log_speeds(flights: &[FlightSpeed]) -> Vec<f64> {
    flights.iter().map(|f| f.log_speed).collect()
}

fn flight_spread(flights: &[FlightSpeed]) -> Option<Spread> {
    let (days, mut all) = columns(flights);
    all.extend(days);
    let fit = fit(&all, &log_speeds(flights))?;
    let df = fit.df as f64;
    let scaled = |p: f64| fit.s * (df / chi_square_quantile(p, df)).sqrt();
    (fit.df >= FEWEST_DF && fit.s > 0.0).then(|| Spread {
        sd: fit.s,
        low: Some(scaled(0.975)),
        high: Some(scaled(0.025)),
        df: fit.df,
        assumed: false,
    })
}

fn day_spread(flights: &[FlightSpeed]) -> Option<Spread> {
    let (days, fixed) = columns(flights);
    let y = log_speeds(flights);
    let squares = |columns: &[Vec<f64>], y: &[f64]| -> Option<(f64, usize)> {
        let fit = fit(columns, y)?;
        Some((fit.residuals.iter().map(|r| r * r).sum(), fit.df))
    };
    let (without, df_without) = squares(&fixed, &y)?;
    let mut all = fixed.clone();
    all.extend(days.iter().cloned());
    let (with, df) = squares(&all, &y)?;
    let df_days = df_without - df;
    if df_days < FEWEST_DF || df < FEWEST_DF {
        return None;
    }
    // E(mean square) = flight variance + size * day variance.
    let trace: f64 = days
        .iter()
        .filter_map(|day| squares(&fixed, day))
        .map(|(sum, _)| sum)
        .sum();
    let size = trace / df_days as f64;
    let (between, within) = ((without - with) / df_days as f64, with / df as f64);
    let (a, b) = (df_days as f64, df as f64);
    let limit = |p: f64| {
        let over = a * (between - within * f_quantile(p, a, b));
        (over / (size * chi_square_quantile(p, a))).max(0.0).sqrt()
    };
    Some(Spread {
        sd: ((between - within) / size).max(0.0).sqrt(),
        low: Some(limit(0.975)),
        high: Some(limit(0.025)),
        df: df_days,
        assumed: false,
    })
}

fn pass_sd(flights: &[FlightSpeed], passes: &[u32]) -> Option<f64> {
    let of_one: Vec<f64> = flights
        .iter()
        .zip(passes)
        .filter_map(|(f, n)| Some(f.se.filter(|_| *n > 1)?.powi(2) * f64::from(*n)))
        .collect();
    let mean = of_one.iter().sum::<f64>() / of_one.len() as f64;
    (!of_one.is_empty()).then(|| mean.sqrt())
}
