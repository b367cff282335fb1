//! Unloading at full throttle against airspeed: its slope and its value at level speed, with the
//! flights as clusters.

use std::collections::BTreeMap;

use crate::flight::unloading::{FlightHolds, Point, shared_half};
use crate::season::Finding;
use crate::stats;
use crate::stats::jackknife::jackknife;

/// kappa against airspeed at full throttle.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeedSlope {
    /// Change of kappa per m/s.
    pub slope_s_m: f64,
    pub slope_interval_s_m: Option<(f64, f64)>,
    /// (airspeed, kappa) through which the line goes.
    pub centre: (f64, f64),
    /// Greatest airspeed held, m/s.
    pub fastest_m_s: f64,
    /// Mean of the flights' level speeds, and kappa there.
    pub level_speed_m_s: Option<f64>,
    pub kappa_at_level_speed: Option<f64>,
    pub kappa_at_level_speed_interval: Option<(f64, f64)>,
    pub holds: usize,
    pub flights: usize,
    /// Degrees of freedom of the slope: flights that hardly changed speed count for little.
    pub df: f64,
}

/// Level speed this far beyond the fastest hold is still interpolation of the run-up's end.
const BEYOND_FASTEST: f64 = 1.10;

/// kappa = level of the flight + slope · airspeed: the slope from within flights (what differs
/// between flights, such as a sensor or the day's air, is not speed), the flight's level free.
fn line(points: &[&Point], without: Option<usize>) -> Option<(f64, f64, f64)> {
    let mut by_flight: BTreeMap<usize, Vec<(f64, f64)>> = BTreeMap::new();
    for p in points.iter().filter(|p| Some(p.flight) != without) {
        if let Some(v) = p.airspeed {
            by_flight
                .entry(p.flight)
                .or_default()
                .push((v, p.bench.kappa));
        }
    }
    let (mut sxx, mut sxy) = (0.0, 0.0);
    let mut centres = Vec::new();
    for of in by_flight.values() {
        let (v, k): (Vec<f64>, Vec<f64>) = of.iter().copied().unzip();
        let (mv, mk) = (stats::mean(&v), stats::mean(&k));
        sxx += v.iter().map(|v| (v - mv).powi(2)).sum::<f64>();
        sxy += v
            .iter()
            .zip(&k)
            .map(|(v, k)| (v - mv) * (k - mk))
            .sum::<f64>();
        centres.push((mv, mk));
    }
    let (v, k): (Vec<f64>, Vec<f64>) = centres.into_iter().unzip();
    // Two m/s of scatter over the holds, or the speed hardly moved and the slope is noise.
    let enough = sxx >= 4.0 * points.len() as f64;
    (!v.is_empty() && enough).then(|| (sxy / sxx, stats::mean(&v), stats::mean(&k)))
}

/// Below it a jackknife's interval is no interval.
const LEAST_DF: f64 = 0.9;

/// Degrees of freedom of the slope: the number of flights that would carry it evenly, less one.
/// A flight's share is its spread in airspeed; the number is (Σ share)²/Σ share² (Kish, Survey
/// Sampling (1965), for unequal weights).
fn slope_df(points: &[&Point]) -> f64 {
    let mut by_flight: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for p in points {
        if let Some(v) = p.airspeed {
            by_flight.entry(p.flight).or_default().push(v);
        }
    }
    let shares: Vec<f64> = by_flight
        .values()
        .map(|v| {
            let mean = stats::mean(v);
            v.iter().map(|v| (v - mean).powi(2)).sum()
        })
        .collect();
    let squares: f64 = shares.iter().map(|s| s * s).sum();
    shares.iter().sum::<f64>().powi(2) / squares - 1.0
}

/// The slope of kappa in airspeed over the holds at full throttle, with kappa at level speed.
pub(super) fn speed_slope(
    full: &[&Point],
    flights: &[FlightHolds<'_>],
    shared_u: f64,
    findings: &mut Vec<Finding>,
) -> Option<SpeedSlope> {
    let with_speed: Vec<&Point> = full
        .iter()
        .filter(|p| p.airspeed.is_some())
        .copied()
        .collect();
    if with_speed.len() < 6 {
        return None;
    }
    let (slope, v, k) = line(&with_speed, None)?;
    let fastest = with_speed
        .iter()
        .filter_map(|p| p.airspeed)
        .fold(0.0, f64::max);
    let mut ids: Vec<usize> = with_speed.iter().map(|p| p.flight).collect();
    ids.dedup();
    let levels: Vec<f64> = ids
        .iter()
        .filter_map(|&n| flights.get(n).and_then(|f| f.level_speed_m_s))
        .collect();
    let level = (!levels.is_empty()).then(|| stats::mean(&levels));
    let reached = level.filter(|l| *l <= BEYOND_FASTEST * fastest);
    if let (Some(level), None) = (level, reached) {
        findings.push(Finding::note(
            "level-speed-not-held",
            format!("unloading at the level speed of {level:.1} m/s is not given: the fastest hold is at {fastest:.1} m/s"),
            "Fly longer full-throttle straights.",
        ));
    }
    // Half-width at 95 %, flights as clusters.
    let half = |df: f64, f: &dyn Fn((f64, f64, f64)) -> f64| -> Option<f64> {
        let out = jackknife(ids.len(), |out| {
            line(&with_speed, out.map(|n| ids[n])).map(f)
        })?;
        (df >= LEAST_DF).then(|| stats::t_quantile(0.975, df) * out.se)
    };
    let df = slope_df(&with_speed);
    let flights_df = ids.len() as f64 - 1.0;
    let relative_u = stats::mean(
        &with_speed
            .iter()
            .map(|p| p.bench.bench_current_u_a / p.bench.bench_current_a)
            .collect::<Vec<_>>(),
    );
    let at_level = reached.map(|l| k + slope * (l - v));
    Some(SpeedSlope {
        slope_s_m: slope,
        slope_interval_s_m: half(df, &|l| l.0).map(|h| (slope - h, slope + h)),
        centre: (v, k),
        fastest_m_s: fastest,
        level_speed_m_s: level,
        kappa_at_level_speed: at_level,
        kappa_at_level_speed_interval: reached.zip(at_level).and_then(|(level, value)| {
            let half = half(flights_df, &|(b, v, k)| k + b * (level - v))?
                .hypot(shared_half(value, shared_u.hypot(relative_u)));
            Some((value - half, value + half))
        }),
        holds: with_speed.len(),
        flights: ids.len(),
        df,
    })
}
