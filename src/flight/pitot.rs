//! What a logged airspeed is worth: its scale, offset and lag against the ground velocity less the
//! wind.
//!
//! logged(t) = scale·|ground velocity − wind|(t − lag) + offset, the wind fitted along with it (in
//! turning flight the ground velocity alone tells it; passes of the same flight weigh in). A receiver
//! feels no gust and a pitot tube does: gusts are the noise here, they last seconds, and intervals
//! come from leaving out one stretch of time after the other. A tube set for sea level reads low by
//! half the air's lack of density, which the scale then holds. One wind is taken for the whole flight:
//! over an hour or two it changes, which scatters the speeds that the readings are held against and so
//! pulls the scale down (7 % on a two-hour soaring flight, within its interval).

use nalgebra::{Matrix4, Vector4};
use serde::{Deserialize, Serialize};

use crate::flight::air_path::climb_at;
use crate::flight::phases::Phases;
use crate::flight::run_up::WindPrior;
use crate::flight::track::{Track, at, tracks};
use crate::flight::velocity::Velocity;
use crate::ingest::{Channel, Log};
use crate::physics::wind::length;
use crate::season::Finding;
use crate::stats;

/// Readings closer than this tell nothing more, s.
const THIN_S: f64 = 0.2;
/// Gusts: their standard deviation and how long they last (common practice, no source).
const GUST_M_S: f64 = 0.8;
const GUST_S: f64 = 3.0;
/// Slower than this share of the fast speed a tube on a small model does not read well, and at rest
/// not at all; no less than this, m/s.
const SLOW_SHARE: f64 = 0.35;
const SLOW_M_S: f64 = 5.0;
/// Lags looked at, s.
const LAGS_S: (f64, f64) = (-0.6, 2.4);
const LAG_STEP_S: f64 = 0.1;
/// Least time in flight, and stretches that are left out in turn: about this long, within bounds.
const LEAST_S: f64 = 60.0;
const BLOCK_S: f64 = 15.0;
const BLOCKS: (usize, usize) = (5, 12);
/// Range of speeds over their median below which scale and offset cannot be told apart.
const NARROW: f64 = 0.25;
/// A scale known no better says nothing.
const SCALE_WANTED: f64 = 0.10;
/// Residuals beyond this many of their standard deviations weigh less (Huber 1964).
const HUBER: f64 = 1.345;
/// Wind before anything is known, m/s.
const WIND_UNKNOWN_M_S: f64 = 8.0;
const ITERATIONS: usize = 12;

/// A value with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Known {
    pub value: f64,
    pub se: f64,
}

/// A calibration of one flight's airspeed sensor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pitot {
    pub scale: Known,
    /// m/s; no error where it was taken as zero.
    pub offset_m_s: Known,
    /// False: speeds too alike to tell it from the scale, and it was taken as zero.
    pub offset_fitted: bool,
    /// Behind the motion, s.
    pub lag_s: Known,
    pub wind_north_m_s: f64,
    pub wind_east_m_s: f64,
    pub residual_m_s: f64,
    pub blocks: usize,
    pub readings: usize,
}

impl Pitot {
    /// 95 % interval, stretches of time as the unit.
    pub fn interval(&self, known: Known) -> (f64, f64) {
        let half = stats::t_quantile(0.975, self.blocks as f64 - 1.0) * known.se;
        (known.value - half, known.value + half)
    }

    /// The sensor reads off beyond doubt.
    pub fn is_off(&self) -> bool {
        let off = |known: Known, right: f64| {
            let (low, high) = self.interval(known);
            right < low || right > high
        };
        off(self.scale, 1.0) || (self.offset_fitted && off(self.offset_m_s, 0.0))
    }

    /// Airspeed behind a reading, m/s.
    pub fn corrected(&self, reading: f64) -> f64 {
        (reading - self.offset_m_s.value) / self.scale.value
    }
}

/// Ground velocity and climb by time.
struct Ground<'a> {
    time: Vec<f64>,
    velocity: &'a Velocity,
    height: Vec<Track>,
}

impl Ground<'_> {
    /// (north, east, climb) at `t`; none in a gap.
    fn at(&self, t: f64) -> Option<[f64; 3]> {
        let after = self.time.partition_point(|x| *x < t);
        let before = after.checked_sub(1)?;
        if after >= self.time.len() || self.velocity.breaks.contains(&after) {
            return None;
        }
        let (t0, t1) = (self.time[before], self.time[after]);
        let share = (t - t0) / (t1 - t0);
        let between = |v: &[f64]| v[before] + share * (v[after] - v[before]);
        Some([
            between(&self.velocity.north),
            between(&self.velocity.east),
            climb_at(&self.height, t),
        ])
    }
}

#[derive(Debug, Clone, Copy)]
struct Reading {
    block: usize,
    airspeed: f64,
    ground: [f64; 3],
}

/// What is fitted at one lag.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    scale: f64,
    offset: f64,
    north: f64,
    east: f64,
    cost: f64,
    /// Standard error of the scale if gusts are as usual.
    scale_open: f64,
    lag: f64,
}

/// Calibrates a flight's airspeed sensor, or says in words why it cannot; `None` where the log has
/// none. `lag_s`: the velocity's own lag, with its standard error.
pub fn calibrate(
    log: &Log,
    velocity: &Velocity,
    phases: Option<&Phases>,
    (lag_s, lag_se_s): (f64, f64),
    wind: Option<WindPrior>,
) -> Option<Result<Pitot, Finding>> {
    let airspeed = tracks(log, Channel::Airspeed);
    if airspeed.is_empty() {
        return None;
    }
    let refuse = |what: String| {
        Finding::note(
            "pitot-not-calibrated",
            format!("the logged airspeed could not be held against the ground velocity: {what}"),
            "fly a few full circles, or passes in opposite directions, at more than one speed",
        )
        .in_file(&log.file)
    };
    let ground = Ground {
        time: velocity.time.iter().map(|t| t - lag_s).collect(),
        velocity,
        height: tracks(log, Channel::Height),
    };
    let flies = |t: f64| phases.is_none_or(|p| p.is_airborne(t));
    let times: Vec<f64> = thinned(&airspeed)
        .into_iter()
        .filter(|t| flies(*t))
        .collect();
    let fast: Vec<f64> = times.iter().filter_map(|t| at(&airspeed, *t)).collect();
    if fast.is_empty() {
        return Some(Err(refuse("no airspeed is logged in flight".to_owned())));
    }
    let slow = (SLOW_SHARE * stats::quantile(&fast, 0.9)).max(SLOW_M_S);
    let times: Vec<f64> = times
        .into_iter()
        .filter(|t| at(&airspeed, *t).is_some_and(|v| v > slow))
        .collect();
    let flown = times.len() as f64 * THIN_S.max(step(&times));
    if flown < LEAST_S {
        return Some(Err(refuse(format!(
            "{flown:.0} s of flight above {slow:.0} m/s, and {LEAST_S:.0} s are the least"
        ))));
    }
    let count = ((flown / BLOCK_S) as usize).clamp(BLOCKS.0, BLOCKS.1);
    let weight = (THIN_S.max(step(&times)) / GUST_S).min(1.0) / (GUST_M_S * GUST_M_S);
    let speeds: Vec<f64> = times.iter().filter_map(|t| at(&airspeed, *t)).collect();
    let range = stats::quantile(&speeds, 0.95) - stats::quantile(&speeds, 0.05);
    let problem = Problem {
        airspeed: &airspeed,
        ground: &ground,
        times: &times,
        count,
        weight,
        wind: wind.unwrap_or(WindPrior {
            north_m_s: 0.0,
            east_m_s: 0.0,
            se_m_s: WIND_UNKNOWN_M_S,
        }),
        offset_fitted: range > NARROW * stats::median(&speeds),
    };
    Some(problem.solve(lag_se_s).map_err(refuse))
}

struct Problem<'a> {
    airspeed: &'a [Track],
    ground: &'a Ground<'a>,
    times: &'a [f64],
    /// Stretches of time.
    count: usize,
    /// Of one reading.
    weight: f64,
    wind: WindPrior,
    offset_fitted: bool,
}

impl Problem<'_> {
    fn solve(&self, lag_se_s: f64) -> Result<Pitot, String> {
        let lost = || "the ground velocity has too many gaps".to_owned();
        let best = self.best(None, None).ok_or_else(lost)?;
        if best.scale_open > SCALE_WANTED {
            return Err("it keeps to one course, so wind and airspeed cannot be told apart".into());
        }
        let left: Option<Vec<Fitted>> = (0..self.count)
            .map(|block| self.best(Some(block), Some(&best)))
            .collect();
        let left = left.ok_or_else(lost)?;
        let se = |pick: fn(&Fitted) -> f64| {
            let values: Vec<f64> = left.iter().map(pick).collect();
            let g = values.len() as f64;
            // Jackknife: Efron and Tibshirani (1993), chapter 11.
            (g - 1.0) / g.sqrt() * stats::sd(&values)
        };
        let scale = Known {
            value: best.scale,
            se: se(|f| f.scale),
        };
        if !(scale.value > 0.0 && scale.se < SCALE_WANTED) {
            return Err(format!(
                "its scale comes out as {:.2} ± {:.2}",
                scale.value, scale.se
            ));
        }
        let readings = self.readings(best.lag);
        let squares: Vec<f64> = readings
            .iter()
            .map(|r| r.airspeed - predicted(&best, r.ground).0)
            .collect();
        Ok(Pitot {
            scale,
            offset_m_s: Known {
                value: best.offset,
                se: if self.offset_fitted {
                    se(|f| f.offset)
                } else {
                    0.0
                },
            },
            offset_fitted: self.offset_fitted,
            lag_s: Known {
                value: best.lag,
                se: se(|f| f.lag).hypot(lag_se_s),
            },
            wind_north_m_s: best.north,
            wind_east_m_s: best.east,
            residual_m_s: stats::sd(&squares),
            blocks: self.count,
            readings: readings.len(),
        })
    }

    fn readings(&self, lag: f64) -> Vec<Reading> {
        let n = self.times.len();
        self.times
            .iter()
            .enumerate()
            .filter_map(|(i, t)| {
                Some(Reading {
                    block: i * self.count / n,
                    airspeed: at(self.airspeed, *t)?,
                    ground: self.ground.at(t - lag)?,
                })
            })
            .collect()
    }

    /// The best lag with its fit, one stretch left out; near `start` where one is known.
    fn best(&self, without: Option<usize>, start: Option<&Fitted>) -> Option<Fitted> {
        let (first, last) = start.map_or(LAGS_S, |s| {
            (s.lag - 4.0 * LAG_STEP_S, s.lag + 4.0 * LAG_STEP_S)
        });
        let count = ((last - first) / LAG_STEP_S).round() as usize;
        let at_lag = |lag: f64, from: Option<&Fitted>| {
            let readings: Vec<Reading> = self
                .readings(lag)
                .into_iter()
                .filter(|r| Some(r.block) != without)
                .collect();
            self.fit(&readings, lag, from)
        };
        let mut tried: Vec<Fitted> = Vec::with_capacity(count + 1);
        for k in 0..=count {
            let from = tried.last().copied().or(start.copied());
            tried.push(at_lag(first + LAG_STEP_S * k as f64, from.as_ref())?);
        }
        let least = (0..tried.len()).min_by(|a, b| tried[*a].cost.total_cmp(&tried[*b].cost))?;
        let (Some(before), Some(after)) = (
            least.checked_sub(1).and_then(|i| tried.get(i)),
            tried.get(least + 1),
        ) else {
            return Some(tried[least]);
        };
        // The least of the parabola through three costs.
        let bend = before.cost - 2.0 * tried[least].cost + after.cost;
        let shift = if bend > 0.0 {
            0.5 * (before.cost - after.cost) / bend
        } else {
            0.0
        };
        at_lag(
            tried[least].lag + shift.clamp(-1.0, 1.0) * LAG_STEP_S,
            Some(&tried[least]),
        )
    }

    /// Gauss-Newton with Huber's weights on scale, offset and wind.
    fn fit(&self, readings: &[Reading], lag: f64, start: Option<&Fitted>) -> Option<Fitted> {
        if readings.len() < 20 {
            return None;
        }
        let mut now = start.copied().unwrap_or(Fitted {
            scale: 1.0,
            offset: 0.0,
            north: self.wind.north_m_s,
            east: self.wind.east_m_s,
            cost: f64::INFINITY,
            scale_open: f64::INFINITY,
            lag,
        });
        now.lag = lag;
        let prior = 1.0 / (self.wind.se_m_s * self.wind.se_m_s);
        for _ in 0..ITERATIONS {
            let rest: Vec<f64> = readings
                .iter()
                .map(|r| r.airspeed - predicted(&now, r.ground).0)
                .collect();
            let off: Vec<f64> = rest.iter().map(|r| r.abs()).collect();
            let limit = HUBER * (1.4826 * stats::median(&off)).max(0.1);
            let mut normal = Matrix4::zeros();
            let mut right = Vector4::zeros();
            let mut cost = 0.0;
            for (r, rest) in readings.iter().zip(&rest) {
                let by = predicted(&now, r.ground).1;
                let weight = self.weight * (limit / rest.abs().max(1e-9)).min(1.0);
                normal += weight * by * by.transpose();
                right += weight * *rest * by;
                cost += weight * rest * rest;
            }
            for (k, off) in [
                (2, self.wind.north_m_s - now.north),
                (3, self.wind.east_m_s - now.east),
            ] {
                normal[(k, k)] += prior;
                right[k] += prior * off;
                cost += prior * off * off;
            }
            if !self.offset_fitted {
                // Held at zero.
                normal[(1, 1)] += 1e12;
            }
            let inverse = normal.try_inverse()?;
            let step = inverse * right;
            now.scale += step[0];
            now.offset += step[1];
            now.north += step[2];
            now.east += step[3];
            now.cost = cost;
            now.scale_open = inverse[(0, 0)].max(0.0).sqrt();
            if step.norm() < 1e-6 {
                break;
            }
        }
        [now.scale, now.offset, now.north, now.east, now.cost]
            .iter()
            .all(|v| v.is_finite())
            .then_some(now)
    }
}

/// The reading expected over a ground velocity, and its derivatives by scale, offset and wind.
fn predicted(at: &Fitted, [north, east, climb]: [f64; 3]) -> (f64, Vector4<f64>) {
    let (n, e) = (north - at.north, east - at.east);
    let v = length(length(n, e), climb).max(1e-6);
    (
        at.scale * v + at.offset,
        Vector4::new(v, 1.0, -at.scale * n / v, -at.scale * e / v),
    )
}

/// Sample times no closer than [`THIN_S`].
fn thinned(tracks: &[Track]) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::new();
    for t in tracks.iter().flat_map(|k| &k.time) {
        if out.last().is_none_or(|last| t - last >= THIN_S - 1e-6) {
            out.push(*t);
        }
    }
    out
}

fn step(times: &[f64]) -> f64 {
    let steps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    if steps.is_empty() {
        0.0
    } else {
        stats::median(&steps)
    }
}
