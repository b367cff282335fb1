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

/// Fall of kappa beyond a straight line over the square of airspeed / level speed, where the holds
/// cannot tell it: 0.10 to 0.14 in trial on simulated fans, whose torque falls with the square of the
/// advance ratio; common practice, no source.
const CURVATURE: f64 = 0.12;
/// Holds tell the curvature where squares of airspeed / level speed lie off their straight line by
/// this much (root mean square): a climb at half the level speed beside the passes does.
const BENT: f64 = 0.01;

/// Sums of the holds, each flight about its own mean: what differs between flights (a sensor, the
/// day's air) is not speed. Columns of [`Self::about`]: airspeed, its square, kappa.
struct Within {
    /// Σ of products of columns about the flights' means.
    products: [[f64; 3]; 3],
    /// Mean over flights of the flights' means.
    centre: [f64; 3],
}

/// The same a flight, so that any of them can be left out.
pub(super) struct Clusters {
    flights: Vec<Cluster>,
}

struct Cluster {
    flight: usize,
    holds: usize,
    /// About its mean.
    products: [[f64; 3]; 3],
    mean: [f64; 3],
}

impl Clusters {
    /// `airspeed` tells the speed at which a hold counts.
    pub fn of(points: &[&Point], airspeed: &dyn Fn(&Point) -> Option<f64>) -> Self {
        let mut by_flight: BTreeMap<usize, Vec<[f64; 3]>> = BTreeMap::new();
        for p in points {
            if let Some(v) = airspeed(p) {
                by_flight
                    .entry(p.flight)
                    .or_default()
                    .push([v, v * v, p.bench.kappa]);
            }
        }
        let of = |(flight, of): (usize, Vec<[f64; 3]>)| {
            let n = of.len() as f64;
            let m = [0, 1, 2].map(|k| of.iter().map(|c| c[k]).sum::<f64>() / n);
            let product =
                |i: usize, j: usize| of.iter().map(|c| (c[i] - m[i]) * (c[j] - m[j])).sum();
            Cluster {
                flight,
                holds: of.len(),
                products: [0, 1, 2].map(|i| [0, 1, 2].map(|j| product(i, j))),
                mean: m,
            }
        };
        Self {
            flights: by_flight.into_iter().map(of).collect(),
        }
    }

    /// All but one of them.
    fn within(&self, without: Option<usize>) -> Option<Within> {
        self.over(&|flight| Some(flight) != without)
    }

    /// Those that `with` names.
    fn over(&self, with: &dyn Fn(usize) -> bool) -> Option<Within> {
        let mut out = Within {
            products: [[0.0; 3]; 3],
            centre: [0.0; 3],
        };
        let mut count = 0.0;
        for cluster in self.flights.iter().filter(|f| with(f.flight)) {
            for (sums, row) in out.products.iter_mut().zip(&cluster.products) {
                sums.iter_mut().zip(row).for_each(|(sum, x)| *sum += x);
            }
            let means = out.centre.iter_mut().zip(&cluster.mean);
            means.for_each(|(sum, x)| *sum += x);
            count += 1.0;
        }
        out.centre.iter_mut().for_each(|sum| *sum /= count);
        (count > 0.0).then_some(out)
    }

    /// (slope, airspeed, kappa) of the line that [`speed_slope`] finds over those that `with` names.
    pub fn line(&self, with: &dyn Fn(usize) -> bool) -> Option<(f64, f64, f64)> {
        let named = self.flights.iter().filter(|f| with(f.flight));
        let holds = named.map(|f| f.holds).sum();
        (holds >= FEWEST).then(|| self.over(with)?.line(holds))?
    }
}

impl Within {
    /// (slope, airspeed, kappa): kappa = level of the flight + slope · airspeed.
    fn line(&self, holds: usize) -> Option<(f64, f64, f64)> {
        let [[xx, _, xy], ..] = self.products;
        // Two m/s of scatter over the holds, or the speed hardly moved and the slope is noise.
        (xx >= 4.0 * holds as f64).then(|| (xy / xx, self.centre[0], self.centre[2]))
    }

    /// Square of the level speed beyond what a straight line through the holds makes of the squares.
    fn beyond_line(&self, level: f64) -> f64 {
        let [[xx, xw, _], ..] = self.products;
        level * level - self.centre[1] - xw / xx * (level - self.centre[0])
    }

    /// Root mean square by which the holds' squares of airspeed lie off their line in airspeed.
    fn bend(&self, holds: usize) -> f64 {
        let [[xx, xw, _], [_, ww, _], _] = self.products;
        ((ww - xw * xw / xx).max(0.0) / holds as f64).sqrt()
    }

    /// kappa at `level`: a parabola where `bent`, else the line.
    fn at(&self, level: f64, bent: bool) -> f64 {
        let [[xx, xw, xy], [_, ww, wy], _] = self.products;
        let line = self.centre[2] + xy / xx * (level - self.centre[0]);
        if !bent {
            return line;
        }
        let curvature = (wy - xw * xy / xx) / (ww - xw * xw / xx);
        line + curvature * self.beyond_line(level)
    }
}

/// Airspeed of a hold at which the fan, fed with `volts`, would work at the same advance ratio: rotor
/// speed goes very nearly with the voltage.
fn at_voltage(p: &Point, volts: f64) -> Option<f64> {
    p.airspeed.map(|v| v * volts / p.voltage)
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

/// Holds at full throttle from which a slope in airspeed can be told, at least.
const FEWEST: usize = 6;

pub(super) fn with_speed<'a>(full: &[&'a Point]) -> Vec<&'a Point> {
    let told = full.iter().filter(|p| p.airspeed.is_some());
    told.copied().collect()
}

/// The slope of kappa in airspeed over the holds at full throttle, with kappa at level speed.
pub(super) fn speed_slope(
    full: &[&Point],
    flights: &[FlightHolds<'_>],
    shared_u: f64,
    findings: &mut Vec<Finding>,
) -> Option<SpeedSlope> {
    let with_speed = with_speed(full);
    if with_speed.len() < FEWEST {
        return None;
    }
    let as_flown = Clusters::of(&with_speed, &|p| p.airspeed);
    let line = |without| as_flown.within(without)?.line(with_speed.len());
    let (slope, v, k) = line(None)?;
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
    // Standard error, flights as clusters.
    let spread = |f: &dyn Fn(Option<usize>) -> Option<f64>| -> Option<f64> {
        jackknife(ids.len(), |out| f(out.map(|n| ids[n]))).map(|out| out.se)
    };
    let df = slope_df(&with_speed);
    let half_slope = spread(&|out| line(out).map(|l| l.0))
        .filter(|_| df >= LEAST_DF)
        .map(|se| stats::t_quantile(0.975, df) * se);
    let relative_u = stats::mean(
        &with_speed
            .iter()
            .map(|p| p.bench.bench_current_u_a / p.bench.bench_current_a)
            .collect::<Vec<_>>(),
    );
    let volts = stats::mean(&with_speed.iter().map(|p| p.voltage).collect::<Vec<_>>());
    let at_volts = Clusters::of(&with_speed, &|p| at_voltage(p, volts));
    let curve = |out| at_volts.within(out);
    let at_level = reached.and_then(|level| {
        let all = curve(None)?;
        let bent = all.bend(with_speed.len()) >= BENT * level * level;
        let value = all.at(level, bent);
        let straight = if bent {
            0.0
        } else {
            CURVATURE * all.beyond_line(level).abs() / (level * level)
        };
        let half = spread(&|out| Some(curve(out)?.at(level, bent))).map(|se| {
            (stats::t_quantile(0.975, ids.len() as f64 - 1.0) * se)
                .hypot(shared_half(value, shared_u.hypot(relative_u)))
                .hypot(straight)
        });
        Some((value, half))
    });
    Some(SpeedSlope {
        slope_s_m: slope,
        slope_interval_s_m: half_slope.map(|h| (slope - h, slope + h)),
        centre: (v, k),
        fastest_m_s: fastest,
        level_speed_m_s: level,
        kappa_at_level_speed: at_level.map(|(value, _)| value),
        kappa_at_level_speed_interval: at_level
            .and_then(|(value, half)| half.map(|h| (value - h, value + h))),
        holds: with_speed.len(),
        flights: ids.len(),
        df,
    })
}
