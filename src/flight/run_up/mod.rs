//! Level top speed of a flight: one joint fit over its full-throttle straights (design 4.7).
//!
//! The entry speed is free for every pass and the heading throughout; level speed (scaled with the terminal voltage),
//! time constant and wind are common. A jet leaves a turn 20 to 30 % slow and most passes are too
//! short to reach level speed, so a mean over the pass is low and flatters the quicker fan.
//!
//! Residuals are gusts that last seconds: the standard error comes from leaving out one pass at a
//! time (jackknife: Efron and Tibshirani, An Introduction to the Bootstrap, 1993, ch. 11), never
//! from counting samples.

mod gusts;
pub mod model;
mod pool;
mod problem;

use nalgebra::Matrix3;
use serde::{Deserialize, Serialize};

pub use pool::{PooledTimeConstant, pool};
pub use problem::WindPrior;

use super::straights::Straight;
use crate::season::Finding;
use crate::stats;
use gusts::GUST_M_S;
use model::Shape;
use problem::{Globals, PRIOR_TIME_CONSTANT_S, Run, Setting, solve};

/// Speed goes with terminal voltage to this power (design 4.2: rpm with V^0.97 for a motor with
/// resistance and no-load current).
pub const VOLTAGE_EXPONENT: f64 = 0.97;
/// Below this share of level speed the answer extrapolates.
pub const SHARE_WANTED: f64 = 0.95;
/// A wind that no pass tells of is within this, m/s (standard deviation; common practice).
const WIND_UNKNOWN_M_S: f64 = 5.0;
/// A wind across that the headings tell no better than this is not told by them, m/s: what would then
/// be fitted is the curve of the run-ups, which a wind across can bend a little.
const ACROSS_NOT_TOLD_M_S: f64 = 2.0;
/// A level speed that the passes leave this open is refused, m/s.
const NOT_IDENTIFIED_M_S: f64 = 1.5;

/// How the time constant enters a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TimeConstant {
    /// Fitted from this flight's passes.
    Free,
    /// Pooled over the power system's flights. Its error is common to all of them: propagate it
    /// with [`Fit::level_by_time_constant`], not flight by flight.
    Pooled { value_s: f64, se_s: f64 },
}

/// Where a standard error comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ErrorSource {
    /// Jackknife over passes.
    Jackknife,
    /// Too few passes for a jackknife: gusts of usual strength, propagated.
    Gusts,
}

/// Wind over the ground, the way it blows to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Wind {
    pub north_m_s: f64,
    pub east_m_s: f64,
    /// Of the less certain of its two directions.
    pub se_m_s: f64,
}

/// One pass in the light of the fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PassFit {
    /// s on the log's clock.
    pub time: Vec<f64>,
    pub north: Vec<f64>,
    pub east: Vec<f64>,
    /// Ground velocity less the wind, m/s.
    pub airspeed: Vec<f64>,
    pub fitted: Vec<f64>,
    pub entry_airspeed_m_s: f64,
    pub exit_airspeed_m_s: f64,
    pub heading_rad: f64,
    pub residual_rms_m_s: f64,
    /// Level speed at this pass's own exit voltage over level speed at the flight's mean.
    pub exit_scale: f64,
}

/// A flight's level top speed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// Airspeed, at `voltage_v`.
    pub level_speed_m_s: f64,
    /// Within the flight, `model_error_m_s` included; the error of a pooled time constant is not in it.
    pub level_speed_se_m_s: f64,
    /// What the choice of the run-up's curve and the wind across the passes leave open. Much the same
    /// for either fan of a comparison, so no part of what a gain is weighed by.
    pub model_error_m_s: f64,
    pub error_source: ErrorSource,
    pub time_constant_s: f64,
    /// Free: of this flight; pooled: of the pool.
    pub time_constant_se_s: f64,
    pub time_constant_pooled: bool,
    /// d(level speed)/d(time constant), m/s per s, everything else refitted.
    pub level_by_time_constant: f64,
    pub wind: Wind,
    /// The passes differ enough in heading to tell wind from speed; false: it rests on the prior.
    pub wind_identified: bool,
    /// Some pass goes across the others; false: the wind across their line is the prior's, none or that
    /// of the day's other flights.
    pub wind_across_told: bool,
    /// Mean terminal voltage over the passes.
    pub voltage_v: Option<f64>,
    pub current_a: Option<f64>,
    pub passes: Vec<PassFit>,
    /// Greatest share of level speed that any pass reached.
    pub share_reached: f64,
    pub residual_rms_m_s: f64,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
    /// Information on ln(time constant) in the data, for pooling.
    ln_time_constant_information: f64,
}

impl Fit {
    /// The part of the level speed's error that all flights of the power system share, m/s.
    pub fn shared_error_m_s(&self) -> f64 {
        if self.time_constant_pooled {
            (self.level_by_time_constant * self.time_constant_se_s).abs()
        } else {
            0.0
        }
    }
}

/// Fits a flight's straights, or says why it cannot. `wind`: what other flights of the day know.
pub fn fit(
    straights: &[Straight],
    time_constant: TimeConstant,
    wind: Option<WindPrior>,
) -> Result<Fit, Finding> {
    fit_shaped(straights, time_constant, wind, Shape::Jet)
}

/// As [`fit`], with a choice of run-up curve (the study compares them).
pub fn fit_shaped(
    straights: &[Straight],
    time_constant: TimeConstant,
    wind: Option<WindPrior>,
    shape: Shape,
) -> Result<Fit, Finding> {
    if straights.is_empty() {
        return Err(Finding::warning(
            "no-straights",
            "no full-throttle straight to find a level speed from",
            "fly four or more level full-throttle passes of at least 5 s, two each way, and a pair across",
        ));
    }
    let prior = wind.unwrap_or(WindPrior {
        north_m_s: 0.0,
        east_m_s: 0.0,
        se_m_s: WIND_UNKNOWN_M_S,
    });
    let headings: Vec<f64> = straights.iter().map(|s| s.course_rad).collect();
    let open = level_left_open(&headings, prior.se_m_s);
    if open > NOT_IDENTIFIED_M_S && wind.is_none() {
        return Err(Finding::warning(
            "wind-not-identified",
            format!(
                "the {} full-throttle pass(es) all go much the same way: wind cannot be told from \
                 speed",
                straights.len()
            ),
            "fly passes in opposite directions, or more flights of the day that do",
        ));
    }
    let voltage_v = mean_of(straights, |s| s.mean_voltage_v);
    let runs: Vec<Run<'_>> = straights
        .iter()
        .map(|s| Run::new(s, voltage_v, VOLTAGE_EXPONENT))
        .collect();
    let exits: Vec<f64> = straights.iter().map(exit_ground_speed).collect();
    let fastest = exits.iter().fold(1.0_f64, |a, b| a.max(*b));
    let line = line_of(&headings);
    let setting = Setting {
        shape,
        fixed_time_constant: match time_constant {
            TimeConstant::Free => None,
            TimeConstant::Pooled { value_s, .. } => Some(value_s),
        },
        wind: prior,
        line,
        level_range: (0.5 * fastest, 1.8 * fastest),
    };
    let start = Globals {
        level: 1.03 * stats::mean(&exits),
        time_constant: setting.fixed_time_constant.unwrap_or(PRIOR_TIME_CONSTANT_S),
        wind_north: prior.north_m_s,
        wind_east: prior.east_m_s,
    };
    let failed = || {
        Finding::warning(
            "no-fit",
            "the run-ups do not follow a jet's approach to level speed",
            "look at the passes' picture: gusts, turns or throttle changes inside them",
        )
    };
    let (best, curvature) =
        solve(&runs.iter().collect::<Vec<_>>(), setting, &start).ok_or_else(failed)?;

    if let Some(unknown) = setting.at_bound(&best) {
        return Err(Finding::warning(
            "no-fit",
            format!(
                "the fit of the run-ups drives the {unknown} to the end of what is possible \
                 (wind {:.0} m/s): no level speed is given",
                best.wind_north.hypot(best.wind_east)
            ),
            "look at the passes' picture for a dive before or in a pass, a gust, or a clock that is \
             off; fly level passes, two each way, and a pair across: the wind across one line cannot \
             be told from passes along it",
        ));
    }

    let passes: Vec<PassFit> = runs.iter().map(|r| pass_fit(r, shape, &best)).collect();
    let samples: usize = passes.iter().map(|p| p.time.len()).sum();
    let residual_rms_m_s = (passes
        .iter()
        .map(|p| p.residual_rms_m_s.powi(2) * p.time.len() as f64)
        .sum::<f64>()
        / samples as f64)
        .sqrt();
    let errors = jackknife(&runs, setting, &best, &headings);
    let error_source = if errors.is_some() {
        ErrorSource::Jackknife
    } else {
        ErrorSource::Gusts
    };
    let Some(covariance) = curvature.try_inverse() else {
        return Err(failed());
    };
    // Across passes along one line nothing but the prior holds the wind, and leaving passes out does
    // not show it.
    let mut wind_open = covariance[(1, 1)].max(covariance[(2, 2)]).max(0.0).sqrt();
    if line.is_some() {
        wind_open = wind_open.max(prior.se_m_s);
    }
    let errors = errors.unwrap_or_else(|| Errors {
        level: covariance[(0, 0)].max(0.0).sqrt(),
        ln_time_constant: covariance[(3, 3)].max(0.0).sqrt(),
        wind: wind_open,
    });
    let (time_constant_se_s, time_constant_pooled) = match time_constant {
        TimeConstant::Free => (errors.ln_time_constant * best.time_constant, false),
        TimeConstant::Pooled { se_s, .. } => (se_s, true),
    };
    let share_reached = passes
        .iter()
        .map(|p| p.exit_airspeed_m_s / (best.level * p.exit_scale))
        .fold(0.0, f64::max);
    let model_error_m_s = curve_error(&runs, setting, &best)
        .unwrap_or(0.0)
        .hypot(across_error(errors.wind.max(wind_open), best.level));
    let mut out = Fit {
        level_speed_m_s: best.level,
        level_speed_se_m_s: errors.level.hypot(model_error_m_s),
        model_error_m_s,
        error_source,
        time_constant_s: best.time_constant,
        time_constant_se_s,
        time_constant_pooled,
        level_by_time_constant: level_by_time_constant(&runs, setting, &best),
        wind: Wind {
            north_m_s: best.wind_north,
            east_m_s: best.wind_east,
            se_m_s: errors.wind.max(wind_open),
        },
        wind_across_told: line.is_none(),
        wind_identified: level_left_open(&headings, WIND_UNKNOWN_M_S) <= NOT_IDENTIFIED_M_S,
        voltage_v,
        current_a: mean_of(straights, |s| s.mean_current_a),
        passes,
        share_reached,
        residual_rms_m_s,
        findings: Vec::new(),
        ln_time_constant_information: (1.0 / covariance[(3, 3)]
            - 1.0 / problem::PRIOR_LN_SD.powi(2))
        .max(0.0),
    };
    out.findings = remarks(&out);
    Ok(out)
}

/// What the reader of a fit must know.
fn remarks(fit: &Fit) -> Vec<Finding> {
    let mut out = Vec::new();
    if fit.share_reached < SHARE_WANTED {
        out.push(Finding::warning(
            "level-speed-extrapolated",
            format!(
                "the fastest pass reached {:.0} % of level speed: the level speed extrapolates",
                100.0 * fit.share_reached
            ),
            "fly longer straights",
        ));
    }
    if !fit.wind_identified {
        out.push(Finding::warning(
            "wind-not-identified",
            "the passes go much the same way: the wind is taken from the other flights of the day",
            "fly passes in opposite directions",
        ));
    }
    if !fit.wind_across_told {
        out.push(Finding::note(
            "wind-across-not-told",
            format!(
                "all passes go along one line: the wind across it cannot be told from them, and is taken \
                 as known to {:.0} m/s only; the level speed is widened by that",
                fit.wind.se_m_s
            ),
            "fly a pair of passes across",
        ));
    }
    let wind = fit.wind.north_m_s.hypot(fit.wind.east_m_s);
    if wind > fit.level_speed_m_s / 3.0 {
        out.push(Finding::warning(
            "strong-wind",
            format!(
                "the wind of {wind:.0} m/s is above a third of the airspeed: headings and speeds \
                 are poorly known",
            ),
            "repeat the passes on a calmer day",
        ));
    }
    if fit.voltage_v.is_none() {
        out.push(Finding::note(
            "no-voltage",
            "no voltage is logged: level speed holds at an unknown voltage, and passes on a full \
             pack are mixed with passes on an empty one",
            "log the voltage",
        ));
    }
    out
}

/// Mean over the straights, weighted by length; none unless every straight has it.
fn mean_of(straights: &[Straight], value: impl Fn(&Straight) -> Option<f64>) -> Option<f64> {
    let (mut sum, mut length) = (0.0, 0.0);
    for s in straights {
        let l = (s.end_s - s.start_s).max(1e-3);
        sum += value(s)? * l;
        length += l;
    }
    Some(sum / length)
}

fn exit_ground_speed(s: &Straight) -> f64 {
    let late: Vec<f64> = (0..s.time.len())
        .filter(|&k| s.time[k] >= s.end_s - 0.5)
        .map(|k| s.north[k].hypot(s.east[k]))
        .collect();
    stats::mean(&late)
}

/// The course of the line that the headings follow, either way, where they do not tell the wind across
/// it: with a gust error on each pass and level speed and wind free, the wind's less certain direction.
fn line_of(headings: &[f64]) -> Option<f64> {
    let mut m = Matrix3::zeros();
    for h in headings {
        let x = nalgebra::Vector3::new(1.0, h.cos(), h.sin());
        m += x * x.transpose() / (GUST_M_S * GUST_M_S);
    }
    // Doubled angles: a course and its opposite are one line.
    let (sin, cos) = headings.iter().fold((0.0, 0.0), |(s, c), h| {
        (s + (2.0 * h).sin(), c + (2.0 * h).cos())
    });
    let course = 0.5 * f64::atan2(sin, cos);
    let across = nalgebra::Vector3::new(0.0, -course.sin(), course.cos());
    let open = m
        .try_inverse()
        .map_or(f64::INFINITY, |c| across.dot(&(c * across)).max(0.0).sqrt());
    (open > ACROSS_NOT_TOLD_M_S).then_some(course)
}

/// Standard deviation of the level speed that the headings leave open when each pass has a gust
/// error and the wind is known to `wind_se` a component.
fn level_left_open(headings: &[f64], wind_se: f64) -> f64 {
    let mut m = Matrix3::zeros();
    for h in headings {
        let x = nalgebra::Vector3::new(1.0, h.cos(), h.sin());
        m += x * x.transpose() / (GUST_M_S * GUST_M_S);
    }
    m[(1, 1)] += 1.0 / (wind_se * wind_se);
    m[(2, 2)] += 1.0 / (wind_se * wind_se);
    m.try_inverse()
        .map_or(f64::INFINITY, |c| c[(0, 0)].max(0.0).sqrt())
}

fn pass_fit(run: &Run<'_>, shape: Shape, at: &Globals) -> PassFit {
    let s = run.straight;
    let airspeed = run.airspeed(at);
    let fitted = run.fitted(shape, at);
    let squares: f64 = airspeed
        .iter()
        .zip(&fitted)
        .map(|(a, f)| (a - f).powi(2))
        .sum();
    PassFit {
        time: s.time.clone(),
        north: s.north.clone(),
        east: s.east.clone(),
        entry_airspeed_m_s: fitted.first().copied().unwrap_or(f64::NAN),
        exit_airspeed_m_s: fitted.last().copied().unwrap_or(f64::NAN),
        heading_rad: (stats::mean(&s.east) - at.wind_east)
            .atan2(stats::mean(&s.north) - at.wind_north)
            .rem_euclid(std::f64::consts::TAU),
        residual_rms_m_s: (squares / airspeed.len() as f64).sqrt(),
        exit_scale: run.scale.last().copied().unwrap_or(1.0),
        airspeed,
        fitted,
    }
}

struct Errors {
    level: f64,
    ln_time_constant: f64,
    wind: f64,
}

/// Standard errors from leaving out each pass in turn; none below four passes, or when what is left
/// without one of them cannot tell wind from speed.
fn jackknife(
    runs: &[Run<'_>],
    setting: Setting,
    best: &Globals,
    headings: &[f64],
) -> Option<Errors> {
    let n = runs.len();
    if n < 4 {
        return None;
    }
    let mut left: Vec<Globals> = Vec::with_capacity(n);
    for out in 0..n {
        let others: Vec<&Run<'_>> = runs
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != out)
            .map(|(_, r)| r)
            .collect();
        let rest: Vec<f64> = headings
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != out)
            .map(|(_, h)| *h)
            .collect();
        if level_left_open(&rest, setting.wind.se_m_s) > NOT_IDENTIFIED_M_S {
            return None;
        }
        left.push(solve(&others, setting, best)?.0);
    }
    let se = |value: &dyn Fn(&Globals) -> f64| {
        let x: Vec<f64> = left.iter().map(value).collect();
        // Jackknife: (n − 1)/n times the sum of squares = (n − 1)²/n times the variance.
        (n as f64 - 1.0) / (n as f64).sqrt() * stats::sd(&x)
    };
    Some(Errors {
        level: se(&|g| g.level),
        ln_time_constant: se(&|g| g.time_constant.ln()),
        wind: se(&|g| g.wind_north).max(se(&|g| g.wind_east)),
    })
}

/// Half the difference between the two curves, each with the time constant that suits it best: at one
/// time constant for both they differ far less than the jet may differ from either.
fn curve_error(runs: &[Run<'_>], setting: Setting, best: &Globals) -> Option<f64> {
    let all: Vec<&Run<'_>> = runs.iter().collect();
    let level = |shape| {
        let free = Setting {
            shape,
            fixed_time_constant: None,
            ..setting
        };
        solve(&all, free, best).map(|(found, _)| found.level)
    };
    Some(0.5 * (level(Shape::Exponential)? - level(Shape::Jet)?).abs())
}

/// A wind across a pass turns the nose and adds Wc²/2V to the airspeed: with Wc known to `se` and
/// about 0, the standard deviation of that term.
fn across_error(se: f64, level: f64) -> f64 {
    se * se / (std::f64::consts::SQRT_2 * level)
}

fn level_by_time_constant(runs: &[Run<'_>], setting: Setting, best: &Globals) -> f64 {
    let at = |factor: f64| {
        let fixed = Setting {
            fixed_time_constant: Some(best.time_constant * factor),
            ..setting
        };
        let start = Globals {
            time_constant: best.time_constant * factor,
            ..*best
        };
        solve(&runs.iter().collect::<Vec<_>>(), fixed, &start).map(|(g, _)| g.level)
    };
    match (at(1.05), at(0.95)) {
        (Some(high), Some(low)) => (high - low) / (0.1 * best.time_constant),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Passes of 5 s at these headings (rad) in a wind of 2.7 m/s across the first; the run-ups have a
    /// slow tail that no time constant follows, and the headings wander by a degree or two.
    fn passes(headings: &[f64]) -> Vec<Straight> {
        let wander = |i: usize| 0.02 * [1.0, -1.0, 0.5, -0.5, 0.0][i % 5];
        headings
            .iter()
            .enumerate()
            .map(|(i, h)| {
                let h = h + wander(i);
                let time: Vec<f64> = (0..50).map(|k| 0.1 * f64::from(k)).collect();
                let air =
                    |t: &f64| 50.0 * (1.0 - 0.2 * (-t / 1.2).exp() - 0.015 * (-t / 9.0).exp());
                Straight {
                    end_s: 4.9,
                    north: time.iter().map(|t| air(t) * h.cos()).collect(),
                    east: time.iter().map(|t| air(t) * h.sin() + 2.7).collect(),
                    course_rad: h,
                    mean_ground_speed_m_s: 47.0,
                    time,
                    ..Straight::default()
                }
            })
            .collect()
    }

    /// Along one line a wind across could only be read out of the run-ups' curve.
    #[test]
    fn passes_along_one_line_do_not_tell_the_wind_across() {
        let along: Vec<f64> = (0..14)
            .map(|i| {
                if i % 2 == 0 {
                    0.0
                } else {
                    std::f64::consts::PI
                }
            })
            .collect();
        let found = fit(&passes(&along), TimeConstant::Free, None).unwrap();
        assert!(!found.wind_across_told);
        assert!(
            found
                .findings
                .iter()
                .any(|f| f.code == "wind-across-not-told" && f.to_do.contains("across"))
        );
        assert!(found.wind.north_m_s.abs() < 0.5, "{:?}", found.wind);
        assert!(found.wind.se_m_s >= WIND_UNKNOWN_M_S, "{:?}", found.wind);
        let off = found.level_speed_m_s - 50.0;
        assert!(
            off.abs() < 2.0 && off.abs() < 3.0 * found.level_speed_se_m_s,
            "{off} {}",
            found.level_speed_se_m_s
        );

        // Two passes across the line tell it.
        let quarter = 0.5 * std::f64::consts::PI;
        let across = [along, vec![quarter, -quarter]].concat();
        let told = fit(&passes(&across), TimeConstant::Free, None).unwrap();
        assert!(told.wind_across_told);
        assert!((told.wind.east_m_s - 2.7).abs() < 1.0, "{:?}", told.wind);
    }
}
