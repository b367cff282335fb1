//! Two clocks: a position logger's against the power logger's, and the lag of the receiver's
//! velocity behind the current.
//!
//! Both come from cross-correlation of what the two sides share. A jet's thrust shows in the
//! current at once and in the velocity as acceleration plus what drag takes, dv/dt + v/tau; logged
//! heights or speeds on both sides help to find the right peak. Long logs show how fast the clocks
//! drift apart ([`super::drift`]).

pub use super::correlation::Shift;

use serde::{Deserialize, Serialize};

use super::correlation::{Grid, refine, sums, total};
use super::drift::{self, Drift};
use super::straights::local_line;
use super::track::{self, Track};
use super::velocity::Velocity;
use crate::ingest::{Channel, Log, Series};
use crate::physics::wind::circle_fit;
use crate::physics::wind::length;
use crate::season::Finding;
use crate::stats;

/// Step of the first search and of the refinement, s.
const COARSE_S: f64 = 0.4;
const FINE_S: f64 = 0.1;
/// Nothing within this of the best peak counts as another, s.
const LOBE_S: f64 = 4.0;
/// Least overlap of the two logs, s.
const OVERLAP_S: f64 = 30.0;
/// A weaker correlation is none.
const LEAST_CORRELATION: f64 = 0.45;
/// Two records of one height or speed agree at least this well (a receiver's height wanders).
const LEAST_DIRECT: f64 = 0.5;
/// An offset less certain than this is refused, s: it would mix a pass with its turn and its spool-up.
const MOST_SE_S: f64 = 0.25;
/// Products that a search may take (two logs of about two hours).
const MOST_WORK: usize = 700_000_000;
const THRUST: &str = "thrust";
/// Time constant of the drag in the thrust signal, s (a jet's run-up; the peak hardly depends on it).
const DRAG_S: f64 = 4.0;
/// Lag of a receiver's velocity where the log does not show it, s, and its standard uncertainty
/// (common practice, no source).
pub const USUAL_LAG: (f64, f64) = (0.3, 0.15);
/// The receiver's lag is looked for in this range, s.
const LAG_RANGE_S: (f64, f64) = (-0.6, 2.0);

/// How the position logger's clock goes with the power logger's.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClockOffset {
    /// Added to the position log's time it gives the power log's. Found from the thrust, the
    /// receiver's lag is already taken off. Where a drift was taken off, it holds at that drift's
    /// `at_s`.
    pub offset: Shift,
    /// What the two logs share.
    pub by: Vec<String>,
    /// Of logs long enough to show it.
    pub drift: Option<Drift>,
}

impl ClockOffset {
    /// What to add to the position log's time at a time of the power log.
    pub fn at(&self, power_s: f64) -> f64 {
        let (rate, at_s) = self.rate();
        self.offset.value_s + rate * (power_s - at_s)
    }

    /// The power log's time at a time of the position log.
    pub fn to_power(&self, position_s: f64) -> f64 {
        let (rate, at_s) = self.rate();
        (position_s + self.offset.value_s - rate * at_s) / (1.0 - rate)
    }

    fn rate(&self) -> (f64, f64) {
        match &self.drift {
            Some(drift) if drift.is_distinct() => (drift.rate, drift.at_s),
            _ => (0.0, 0.0),
        }
    }
}

/// Thrust as the velocity shows it: dv/dt + v/tau of the speed through the air. In wind the ground
/// speed of a turn changes without any thrust, so a rough wind is taken off: the circle through all
/// fast ground velocities is metres a second off, which is enough here.
fn thrust(velocity: &Velocity) -> Vec<Track> {
    let ground = velocity.speed();
    let fast = 0.5 * stats::quantile(&ground, 0.95);
    let legs: Vec<(f64, f64)> = (0..ground.len())
        .filter(|&i| ground[i] > fast)
        .map(|i| (velocity.east[i], velocity.north[i]))
        .collect();
    let (east, north) = circle_fit(&legs)
        .filter(|c| c.wind_east.hypot(c.wind_north) < 0.5 * c.airspeed)
        .map_or((0.0, 0.0), |c| (c.wind_east, c.wind_north));
    let speed: Vec<f64> = (0..ground.len())
        .map(|i| {
            // On the ground the wind blows past a jet at rest.
            let still = (ground[i] / fast).min(1.0);
            length(
                velocity.east[i] - still * east,
                velocity.north[i] - still * north,
            )
        })
        .collect();
    let half = (1.05 * velocity.update_s).max(0.25);
    velocity
        .stretches()
        .into_iter()
        .map(|range| {
            let (time, v) = (&velocity.time[range.clone()], &speed[range]);
            let value = time
                .iter()
                .map(|&t| {
                    let from = time.partition_point(|&x| x < t - half);
                    let to = time.partition_point(|&x| x <= t + half);
                    let (value, slope) = local_line(&time[from..to], &v[from..to], t);
                    slope + value / DRAG_S
                })
                .collect();
            Track {
                time: time.to_vec(),
                value,
            }
        })
        .filter(|t| t.time.len() > 3)
        .collect()
}

/// What drives the jet in the power log, and how long before the thrust it rises, with the standard
/// uncertainty of that. Rotor speed squared is the thrust; the current rises first and the rotor
/// follows; the throttle comes first of all (the two leads are common practice, no source).
struct Drive {
    tracks: Vec<Track>,
    lead_s: f64,
    lead_se_s: f64,
}

fn drive(power: &Log) -> Drive {
    let with = |tracks, lead_s, lead_se_s| Drive {
        tracks,
        lead_s,
        lead_se_s,
    };
    let mut rotor = track::tracks(power, Channel::AngularSpeed);
    if !rotor.is_empty() {
        rotor
            .iter_mut()
            .flat_map(|t| &mut t.value)
            .for_each(|v| *v *= *v);
        return with(rotor, 0.05, 0.05);
    }
    let current = track::tracks(power, Channel::Current);
    if !current.is_empty() {
        return with(current, 0.2, 0.1);
    }
    with(track::tracks(power, Channel::Throttle), 0.4, 0.15)
}

/// How far the receiver's velocity lags behind the thrust of the same log; `None` where the two do
/// not show the same events.
pub fn gps_lag(log: &Log, velocity: &Velocity) -> Option<Shift> {
    let drive = drive(log);
    let a = Grid::new(&drive.tracks, FINE_S)?.events();
    let b = Grid::new(&thrust(velocity), FINE_S)?.events();
    let shift = refine(&a, &b, -LAG_RANGE_S.1, -LAG_RANGE_S.0)?;
    let lag = -shift.value_s - drive.lead_s;
    (shift.correlation >= LEAST_CORRELATION).then_some(Shift {
        value_s: lag,
        se_s: shift.se_s.hypot(drive.lead_se_s),
        ..shift
    })
}

/// Pairs of signals that both logs have: (name, power log's, position log's).
fn shared(
    power: &Log,
    position: &Log,
    velocity: &Velocity,
) -> Vec<(&'static str, Vec<Track>, Vec<Track>)> {
    let mut out = Vec::new();
    let mut add = |name, a: Vec<Track>, b: Vec<Track>| {
        if !a.is_empty() && !b.is_empty() {
            out.push((name, a, b));
        }
    };
    add(THRUST, drive(power).tracks, thrust(velocity));
    let height = |log| track::tracks(log, Channel::Height);
    add("height", height(power), height(position));
    let speed = |log: &Log| {
        let ground = track::tracks(log, Channel::GroundSpeed);
        if ground.is_empty() {
            track::tracks(log, Channel::Airspeed)
        } else {
            ground
        }
    };
    let over_ground = Track {
        time: velocity.time.clone(),
        value: velocity.speed(),
    };
    add("speed", speed(power), vec![over_ground]);
    out
}

/// Offset of the position logger's clock against the power logger's, from what they share.
/// `velocity`: of the position log, on its own clock.
pub fn offset(power: &Log, position: &Log, velocity: &Velocity) -> Result<ClockOffset, Finding> {
    let refuse = |code: &str, what: String| {
        Finding::warning(
            code,
            what,
            "check that both files are of this flight, or name the right one in the logbook",
        )
        .in_file(&position.file)
    };
    let shared = shared(power, position, velocity);
    let by: Vec<String> = shared.iter().map(|s| s.0.to_owned()).collect();
    let grids: Vec<(&str, Grid, Grid)> = shared
        .iter()
        .filter_map(|(name, a, b)| {
            let on_grid = |tracks| Some(Grid::new(tracks, COARSE_S)?.events());
            Some((*name, on_grid(a)?, on_grid(b)?))
        })
        .collect();
    if grids.is_empty() {
        return Err(refuse(
            "nothing-shared",
            format!(
                "{} and {} share neither throttle or current, height nor speed: their clocks \
                 cannot be set to one another",
                power.file, position.file
            ),
        ));
    }
    // All shared signals vote over all shifts that leave enough overlap.
    let low = power.time.first().unwrap_or(&0.0) - position.time.last().unwrap_or(&0.0);
    let high = power.time.last().unwrap_or(&0.0) - position.time.first().unwrap_or(&0.0);
    let steps = ((high - low) / COARSE_S) as usize;
    let longest = grids.iter().map(|g| g.1.value.len()).max().unwrap_or(0);
    if steps.saturating_mul(longest) > MOST_WORK {
        return Err(refuse(
            "log-too-long",
            format!(
                "{} or {} is hours long: too much to look for one flight in the other",
                power.file, position.file
            ),
        ));
    }
    let scores: Vec<(f64, f64, f64)> = (0..=steps)
        .filter_map(|k| {
            let shift = low + k as f64 * COARSE_S;
            let mut sum = 0.0;
            let mut direct = 1.0_f64;
            for (name, a, b) in &grids {
                let place = ((shift - (a.start - b.start)) / COARSE_S).round() as i64;
                let t = total(&sums(a, b, place));
                if t.n * COARSE_S
                    < OVERLAP_S.max(0.5 * (a.value.len().min(b.value.len())) as f64 * COARSE_S)
                {
                    return None;
                }
                sum += t.correlation();
                if *name != THRUST {
                    direct = direct.min(t.correlation());
                }
            }
            Some((shift, sum / grids.len() as f64, direct))
        })
        .collect();
    let Some(&(best, score, direct)) = scores.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Err(refuse(
            "no-overlap",
            format!(
                "{} and {} are too short to be laid over one another",
                power.file, position.file
            ),
        ));
    };
    let second = scores
        .iter()
        .filter(|(s, _, _)| (s - best).abs() > LOBE_S)
        .fold(0.0_f64, |a, s| a.max(s.1));
    let overlap = power
        .time
        .last()
        .unwrap_or(&0.0)
        .min(*position.time.last().unwrap_or(&0.0));
    // Two correlations from about overlap/4 s independent values each.
    let doubt = 2.0 * (1.0 - score * score) / (overlap / 4.0).max(4.0).sqrt();
    if direct < LEAST_DIRECT {
        return Err(refuse(
            "clock-not-distinct",
            format!(
                "{} and {} do not show the same flight: at the best offset ({best:.1} s) their {} \
                 agree only to a correlation of {direct:.2}",
                power.file,
                position.file,
                by.iter()
                    .map(String::as_str)
                    .filter(|n| *n != THRUST)
                    .collect::<Vec<_>>()
                    .join(" and "),
            ),
        ));
    }
    if score < LEAST_CORRELATION || score - second < doubt {
        return Err(refuse(
            "clock-not-distinct",
            format!(
                "the clocks of {} and {} cannot be set to one another: the best offset \
                 ({best:.1} s, correlation {score:.2}) does not stand out from the next ({second:.2})",
                power.file, position.file
            ),
        ));
    }
    // Thrust has the sharp edges; height and speed only where it is missing.
    let drive = drive(power);
    for (name, a, b) in &shared {
        let (Some(fixed), Some(moved)) = (Grid::new(a, FINE_S), Grid::new(b, FINE_S)) else {
            continue;
        };
        let (fixed, mut moved) = (fixed.events(), moved.events());
        let found = drift::drift(&fixed, &moved, best).map_err(|spread_s| {
            refuse(
                "clock-windows-disagree",
                format!(
                    "the clocks of {} and {} cannot be set to one another: stretches of the two logs \
                     give offsets that scatter by {spread_s:.2} s around any steady drift",
                    power.file, position.file
                ),
            )
        })?;
        if let Some(distinct) = found.as_ref().filter(|d| d.is_distinct()) {
            let Some(straight) = Grid::new(&distinct.taken_off(b, best), FINE_S) else {
                continue;
            };
            moved = straight.events();
        }
        let Some(mut shift) = refine(&fixed, &moved, best - 2.5, best + 2.5) else {
            continue;
        };
        if *name == THRUST {
            shift.value_s += drive.lead_s;
            shift.se_s = shift.se_s.hypot(drive.lead_se_s);
        }
        if shift.correlation >= LEAST_CORRELATION && shift.se_s < MOST_SE_S {
            return Ok(ClockOffset {
                offset: shift,
                by,
                drift: found,
            });
        }
    }
    Err(refuse(
        "clock-not-distinct",
        format!(
            "the clocks of {} and {} cannot be set to one another more closely than seconds",
            power.file, position.file
        ),
    ))
}

/// The power log with the position log's channels brought to its rows. Values are interpolated
/// between neighbouring updates and never across a gap; the power log's own channels stay.
pub fn merge(power: &Log, position: &Log, offset: &ClockOffset) -> Log {
    let mut out = power.clone();
    let step = position.step_s.max(1e-3);
    for (channel, series) in &position.channels {
        if power.channels.contains_key(channel) || *channel == Channel::Time {
            continue;
        }
        let merged = onto(power, position, series, *channel, offset, step);
        if merged.iter().any(|v| v.is_finite()) {
            out.channels.insert(*channel, merged);
        }
    }
    out
}

fn onto(
    power: &Log,
    position: &Log,
    series: &Series,
    channel: Channel,
    offset: &ClockOffset,
    step: f64,
) -> Series {
    let rows: Vec<usize> = (0..position.len())
        .filter(|&i| series[i].is_finite())
        .collect();
    let longest = (2.5 * step).max(1.5);
    power
        .time
        .iter()
        .map(|t| {
            let t = t - offset.at(*t);
            let after = rows.partition_point(|&i| position.time[i] < t);
            let (Some(&b), Some(&a)) = (
                rows.get(after),
                after.checked_sub(1).and_then(|k| rows.get(k)),
            ) else {
                return f64::NAN;
            };
            let gap = position.time[b] - position.time[a];
            if gap > longest || position.breaks.iter().any(|&k| a < k && k <= b) {
                return f64::NAN;
            }
            let share = (t - position.time[a]) / gap;
            let mut change = series[b] - series[a];
            // The short way round.
            let turn = match channel {
                Channel::Course => std::f64::consts::TAU,
                Channel::Longitude => 360.0,
                _ => return series[a] + share * change,
            };
            change -= turn * (change / turn).round();
            let value = series[a] + share * change;
            if channel == Channel::Course {
                value.rem_euclid(turn)
            } else {
                value
            }
        })
        .collect()
}
