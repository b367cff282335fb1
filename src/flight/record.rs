//! What one flight shows, put together. The first part needs nothing but the flight's own logs
//! ([`Survey`]); the rest needs what the season's flights know together (sensor scale, time
//! constant, wind of the day) and is asked for by the caller.

use std::borrow::Cow;
use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::flight::clock::{self, ClockOffset, Shift};
use crate::flight::controller_heat::{Heat, controller_heat};
use crate::flight::cross_checks::{CrossChecks, cross_checks};
use crate::flight::energy::{Draw, draw};
use crate::flight::holds::{Hold, HoldRules, holds};
use crate::flight::loads::{Loads, loads};
use crate::flight::pack::{PackFit, pack_fit, rest_voltage};
use crate::flight::phases::{Phase, Phases, phases};
use crate::flight::pitot::Pitot;
use crate::flight::run_up::{Fit, TimeConstant, WindPrior, fit};
use crate::flight::sensor::{CurrentSensor, current_sensor};
use crate::flight::shared_clock::shared_clock;
use crate::flight::spool_up::{SpoolUp, reversed_throttle, spool_up};
use crate::flight::step_resistance::{StepResistance, step_resistance};
use crate::flight::straights::{self, Straights};
use crate::flight::track::{ground_velocity, mean, tracks};
use crate::flight::velocity::{self, Velocity};
use crate::ingest::sense::zero_current;
use crate::ingest::{Channel, Log};
use crate::physics::wind::length;
use crate::season::{Accuracy, Finding, Rules};

/// Time to 90 % of a throttle step where the spool-up could not be measured, s (common practice, no
/// source).
pub const NINETY_S: f64 = 0.5;
/// A receiver's lag and the lead of the current lie between the stamps and what is seen, s (common
/// practice, no source).
const CLOCK_SLACK_S: f64 = 1.0;

/// The logs of one flight as one, with what it drew.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Survey {
    /// Both loggers on the power logger's clock.
    pub log: Option<Log>,
    /// Ground velocity on that clock.
    pub velocity: Option<Velocity>,
    /// Of a separate position logger.
    pub clock: Option<ClockOffset>,
    /// Delay of the velocity behind the current, where both are in one log.
    pub gps_lag: Option<Shift>,
    pub phases: Option<Phases>,
    pub draw: Option<Draw>,
    /// Of a logged airspeed; known only after the flight's level speed and wind are.
    pub pitot: Option<Pitot>,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
    /// Logs of which nothing went into `log`.
    pub unused: Vec<Unused>,
}

/// A log that was named for a flight and is not used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unused {
    pub file: String,
    /// 1-based line of its first row.
    pub first_line: u32,
    /// Code of the finding that tells why.
    pub code: String,
}

/// Merges a flight's logs and counts what it drew, with the sensor as it is.
pub fn survey(
    mut logs: Vec<Log>,
    stall_speed_m_s: Option<f64>,
    current: Option<&Accuracy>,
    voltage: Option<&Accuracy>,
) -> Survey {
    let mut out = Survey::default();
    out.findings
        .extend(logs.iter_mut().filter_map(velocity::rescue_scale));
    let (mut powers, positions): (Vec<Log>, Vec<Log>) = logs.into_iter().partition(tells_power);
    // A sensor input that nothing is wired to must not stand in for the flight's power.
    powers.sort_by_key(|log| !is_alive(log));
    let mut logs = powers.into_iter().chain(positions);
    let Some(mut log) = logs.next() else {
        return out;
    };
    let logs: Vec<Log> = logs.collect();
    match velocity::of(&log) {
        Ok(velocity) => out.velocity = Some(velocity),
        // A second logger may have what this one lacks; its own refusal is told instead.
        Err(_) if logs.iter().any(|l| !tells_power(l)) => {}
        Err(finding) => out.findings.push(finding.in_file(&log.file)),
    }
    for other in logs {
        if let Err(finding) = add(&mut log, &other, &mut out) {
            out.unused.push(Unused {
                first_line: other.lines.first().copied().unwrap_or(1),
                code: finding.code.clone(),
                file: other.file.clone(),
            });
            out.findings.push(finding.in_file(other.file));
        }
    }
    if let Some(finding) = reversed_throttle(&log) {
        log.channels.remove(&Channel::Throttle);
        out.findings.push(finding);
    }
    if out.clock.is_none()
        && let Some(velocity) = &out.velocity
    {
        out.gps_lag = clock::gps_lag(&log, velocity);
    }
    if let Some(velocity) = &mut out.velocity {
        let file = log.file.clone();
        let told = velocity.findings.drain(..);
        out.findings.extend(told.map(|f| f.in_file(&file)));
    }
    let found = settle(&mut log, stall_speed_m_s, &mut out.findings);
    let (mut drawn, mut findings) = draw(&log, None, current, voltage);
    out.findings.append(&mut findings);
    // Charge and energy are the whole record's: the pack gave them. Power is that of the flight.
    if let (Some(drawn), Some(phases)) = (&mut drawn, &found) {
        let (flown, _) = draw(&log, Some(&phases.airborne), current, voltage);
        drawn.mean_power_w = flown.and_then(|f| f.mean_power_w).or(drawn.mean_power_w);
    }
    (out.phases, out.draw, out.log) = (found, drawn, Some(log));
    out
}

/// What one log alone shows of its current sensor, as a survey of it finds it.
pub fn current_sensor_of(mut log: Log, current: Option<&Accuracy>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if reversed_throttle(&log).is_some() {
        log.channels.remove(&Channel::Throttle);
    }
    settle(&mut log, None, &mut findings);
    let (_, finding) = current_sensor(&log, current.and_then(|a| a.range_end));
    findings.extend(finding);
    findings
}

/// Finds the phases, and takes the current sensor's offset off, found on the ground.
fn settle(
    log: &mut Log,
    stall_speed_m_s: Option<f64>,
    findings: &mut Vec<Finding>,
) -> Option<Phases> {
    let (found, mut told) = phases(log, stall_speed_m_s);
    findings.append(&mut told);
    // Without a throttle a motor that runs on the ground cannot be told from an offset.
    if log.get(Channel::Throttle).is_some() {
        let ground = ground_rows(log, found.as_ref());
        zero_current(log, &ground, findings);
    }
    found
}

/// Rows while the model stands on the ground.
fn ground_rows(log: &Log, phases: Option<&Phases>) -> Vec<Range<usize>> {
    let row = |t: f64| log.time.partition_point(|time| *time < t);
    phases
        .iter()
        .flat_map(|p| &p.spans)
        .filter(|span| span.phase == Phase::Ground)
        .map(|span| row(span.start_s)..row(span.end_s))
        .collect()
}

fn tells_power(log: &Log) -> bool {
    [Channel::Current, Channel::Voltage, Channel::Throttle]
        .iter()
        .any(|c| log.get(*c).is_some_and(|s| s.iter().any(|v| v.is_finite())))
}

/// The current or the stick moves.
fn is_alive(log: &Log) -> bool {
    [(Channel::Current, 1.0), (Channel::Throttle, 0.05)]
        .iter()
        .any(|(channel, least)| {
            let values = || log.get(*channel).into_iter().flatten().copied();
            let (low, high) = values()
                .filter(|x| x.is_finite())
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
                    (l.min(x), h.max(x))
                });
            high - low > *least
        })
}

/// Brings another log of the flight onto the clock of the first; the reason where it is not used.
fn add(log: &mut Log, other: &Log, out: &mut Survey) -> Result<(), Finding> {
    let of_power = tells_power(other);
    let velocity = velocity::of(other);
    let found = match &velocity {
        Ok(velocity) if !of_power => Some(clock::offset(log, other, velocity)),
        _ => None,
    };
    // What the two show outweighs what their stamps suggest.
    let contradicts = |shared: &ClockOffset| match &found {
        Some(Ok(found)) => {
            let apart = (found.offset.value_s - shared.offset.value_s).abs();
            apart > CLOCK_SLACK_S + 3.0 * found.offset.se_s
        }
        _ => false,
    };
    if let Some(offset) = shared_clock(log, other).filter(|shared| !contradicts(shared)) {
        let merged = clock::merge(log, other, &offset);
        let more = merged.channels.len() > log.channels.len();
        let velocity = velocity.ok().filter(|_| out.velocity.is_none());
        if !more && velocity.is_none() {
            return Err(second(of_power));
        }
        *log = merged;
        if let Some(velocity) = velocity {
            out.velocity = Some(velocity.on_clock(|t| offset.to_power(t)));
        }
        out.findings.push(
            Finding::note(
                "shared-clock",
                format!(
                    "its stamps are those of {}'s clock; the two were merged by them",
                    log.file
                ),
                "Nothing, if one logger wrote both.",
            )
            .in_file(&other.file),
        );
        return Ok(());
    }
    if of_power || out.velocity.is_some() {
        return Err(second(of_power));
    }
    let velocity = velocity?;
    let offset = match found {
        Some(found) => found?,
        None => clock::offset(log, other, &velocity)?,
    };
    *log = clock::merge(log, other, &offset);
    out.velocity = Some(velocity.on_clock(|t| offset.to_power(t)));
    out.findings
        .extend(offset.drift.iter().map(|drift| drift.finding(&other.file)));
    out.clock = Some(offset);
    Ok(())
}

fn second(of_power: bool) -> Finding {
    if of_power {
        Finding::warning(
            "second-power-log",
            "this flight already has a log with volts, amps or throttle; this one is not used",
            "Name one power log a flight in the logbook.",
        )
    } else {
        Finding::note(
            "second-position-log",
            "the flight's position is already known; this log is not used",
            "Name one position log a flight in the logbook.",
        )
    }
}

impl Survey {
    /// Multiplies the logged current (and what was drawn) by what put-back says of its sensor.
    pub fn calibrate(&mut self, scale: &crate::flight::energy::ScaleEstimate) {
        if let Some(series) = self
            .log
            .as_mut()
            .and_then(|l| l.channels.get_mut(&Channel::Current))
        {
            series.iter_mut().for_each(|i| *i *= scale.scale);
        }
        self.draw = self.draw.as_ref().map(|d| d.calibrated(scale));
    }

    /// How far the velocity lags behind the throttle, s.
    pub fn velocity_lag_s(&self) -> f64 {
        // A second logger's offset was found from the thrust: its lag is already off.
        let usual = if self.clock.is_some() {
            0.0
        } else {
            clock::USUAL_LAG.0
        };
        self.gps_lag.map_or(usual, |l| l.value_s)
    }

    /// The current sensor can be believed.
    pub fn has_current(&self) -> bool {
        self.draw.as_ref().is_some_and(|d| d.sensor.usable())
    }

    /// It can be believed, and never reached its end: what it counted is no lower bound.
    pub fn has_sound_current(&self) -> bool {
        let sound = |d: &Draw| d.sensor == CurrentSensor::Sound;
        self.draw.as_ref().is_some_and(sound)
    }
}

/// What the power side of a flight shows beyond its draw.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct PowerSide {
    pub spool_up: Option<SpoolUp>,
    pub pack: Option<PackFit>,
    pub steps: Option<StepResistance>,
    pub heat: Option<Heat>,
    pub rest_voltage_v: Option<f64>,
    pub straights: Straights,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

/// Spool-up, pack and full-throttle straights of a flight.
pub fn power_side(survey: &Survey, rules: &Rules) -> PowerSide {
    let mut out = PowerSide::default();
    let Some(log) = &survey.log else { return out };
    let (found, mut findings) = spool_up(log);
    out.findings.append(&mut findings);
    out.spool_up = found;
    if survey.has_current() {
        let (found, mut findings) = pack_fit(log);
        out.findings.append(&mut findings);
        out.pack = found;
        match step_resistance(log) {
            Ok(found) => out.steps = found,
            Err(finding) => out.findings.push(finding),
        }
        out.heat = controller_heat(log);
    }
    out.rest_voltage_v = rest_voltage(log);
    out.straights = full_throttle_straights(survey, rules);
    out.findings.append(&mut out.straights.findings);
    out
}

/// Full-throttle straights of a flight; none without a log and a velocity.
pub fn full_throttle_straights(survey: &Survey, rules: &Rules) -> Straights {
    match (&survey.log, &survey.velocity) {
        (Some(log), Some(velocity)) => {
            straights::find(log, velocity, rules, survey.velocity_lag_s())
        }
        _ => Straights::default(),
    }
}

/// Level top speed with its cross-checks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LevelSpeed {
    pub fit: Fit,
    pub checks: CrossChecks,
}

impl LevelSpeed {
    /// Without the samples of its passes.
    #[must_use]
    pub fn without_samples(mut self) -> Self {
        self.fit.passes = Vec::new();
        self
    }

    /// Widens the level speed's error by what independent methods differ by beyond theirs, and says so.
    pub fn charge_method_error(&mut self) -> Option<Finding> {
        let error = self.checks.method_error_m_s;
        if error <= 0.0 {
            return None;
        }
        // Not into the fit's own model error, which either fan of a comparison has alike.
        self.fit.level_speed_se_m_s = self.fit.level_speed_se_m_s.hypot(error);
        Some(Finding::note(
            "methods-disagree",
            format!(
                "the ways to the level speed differ by up to {:.1} m/s, more than their errors explain: \
                 {error:.1} m/s is added to its standard error as a model error",
                self.checks.largest_difference_m_s.unwrap_or(0.0)
            ),
            "Look at the passes' picture and at the airspeed sensor, if there is one.",
        ))
    }
}

/// The joint fit of a flight's straights.
pub fn level_speed(
    power: &PowerSide,
    time_constant: TimeConstant,
    wind: Option<WindPrior>,
) -> Result<LevelSpeed, Finding> {
    let fit = fit(&power.straights.used, time_constant, wind)?;
    let checks = cross_checks(&power.straights.used, &fit);
    Ok(LevelSpeed { fit, checks })
}

/// Holds and loads from the flight's log [`in_air`]; `wind` towards (north, east), m/s, turns ground into
/// airspeed.
pub fn holds_and_loads(
    survey: &Survey,
    log: &Log,
    power: &PowerSide,
    wind: Option<(f64, f64)>,
    density_kg_m3: f64,
) -> (Vec<Hold>, Loads) {
    let ninety = power.spool_up.as_ref().map_or(NINETY_S, |s| s.ninety_s);
    let found = holds(
        log,
        ninety,
        survey.phases.as_ref(),
        wind,
        &HoldRules::default(),
    );
    let moving = with_velocity(survey, log);
    let log = moving.as_ref().unwrap_or(log);
    (
        found.holds,
        loads(log, density_kg_m3, survey.phases.as_ref()),
    )
}

/// A flight's log with its best airspeed: its own, corrected where it reads off, else that from ground
/// velocity and wind. `None` without a log.
pub fn in_air(survey: &Survey, wind: Option<(f64, f64)>) -> Option<Cow<'_, Log>> {
    let log = survey.log.as_ref()?;
    let told = corrected_airspeed(survey, log)
        .or_else(|| wind.and_then(|wind| with_airspeed(survey, log, wind)));
    Some(told.map_or(Cow::Borrowed(log), Cow::Owned))
}

/// A velocity older or younger than this says nothing about a row, s.
const VELOCITY_WITHIN_S: f64 = 1.5;

/// The log with its airspeed corrected; `None` where nothing says that it reads off.
fn corrected_airspeed(survey: &Survey, log: &Log) -> Option<Log> {
    let pitot = survey.pitot.filter(Pitot::is_off)?;
    let mut out = log.clone();
    for v in out.channels.get_mut(&Channel::Airspeed)? {
        *v = pitot.corrected(*v).max(0.0);
    }
    Some(out)
}

/// The log with an airspeed from ground velocity less the wind; `None` where it has its own.
fn with_airspeed(survey: &Survey, log: &Log, wind: (f64, f64)) -> Option<Log> {
    let velocity = survey.velocity.as_ref()?;
    if log.get(Channel::Airspeed).is_some() || velocity.time.is_empty() {
        return None;
    }
    let at = |i: usize| length(velocity.north[i] - wind.0, velocity.east[i] - wind.1);
    let mut out = log.clone();
    out.channels
        .insert(Channel::Airspeed, on_rows(velocity, log, at));
    Some(out)
}

/// The log with the ground velocity made from another logger's positions; `None` where it has its own.
fn with_velocity(survey: &Survey, log: &Log) -> Option<Log> {
    let velocity = survey.velocity.as_ref()?;
    if ground_velocity(log).is_some() || velocity.time.is_empty() {
        return None;
    }
    let mut out = log.clone();
    let north = on_rows(velocity, log, |i| velocity.north[i]);
    let east = on_rows(velocity, log, |i| velocity.east[i]);
    out.channels.insert(Channel::VelocityNorth, north);
    out.channels.insert(Channel::VelocityEast, east);
    Some(out)
}

/// A value known at the times of a velocity, on the rows of a log.
fn on_rows(velocity: &Velocity, log: &Log, at: impl Fn(usize) -> f64) -> Vec<f64> {
    log.time
        .iter()
        .map(|&t| {
            let after = velocity.time.partition_point(|v| *v < t);
            let (Some(before), true) = (after.checked_sub(1), after < velocity.time.len()) else {
                return f64::NAN;
            };
            let (t0, t1) = (velocity.time[before], velocity.time[after]);
            if t1 - t0 > VELOCITY_WITHIN_S || velocity.breaks.contains(&after) {
                return f64::NAN;
            }
            at(before) + (at(after) - at(before)) * (t - t0) / (t1 - t0)
        })
        .collect()
}

/// Voltage, current, open-circuit voltage and charge on the passes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PassState {
    pub voltage_v: f64,
    pub current_a: Option<f64>,
    pub open_circuit_v: Option<f64>,
    /// C drawn before the mean moment of the passes.
    pub charge_c: Option<f64>,
}

/// The electrical state on a flight's used passes; `None` without a voltage there.
pub fn pass_state(
    survey: &Survey,
    power: &PowerSide,
    resistance_ohm: Option<f64>,
) -> Option<PassState> {
    let log = survey.log.as_ref()?;
    let over = |channel: Channel| {
        let tracks = tracks(log, channel);
        let means: Vec<f64> = power
            .straights
            .used
            .iter()
            .filter_map(|s| mean(&tracks, s.start_s, s.end_s))
            .collect();
        (!means.is_empty()).then(|| crate::stats::mean(&means))
    };
    let voltage_v = over(Channel::Voltage)?;
    let current_a = over(Channel::Current).filter(|_| survey.has_current());
    let moments: Vec<f64> = power
        .straights
        .used
        .iter()
        .map(|s| 0.5 * (s.start_s + s.end_s))
        .collect();
    let charge_c = current_a.map(|_| {
        let until = crate::stats::mean(&moments);
        tracks(log, Channel::Current)
            .iter()
            .map(|t| t.integral(f64::NEG_INFINITY, until).0)
            .sum()
    });
    Some(PassState {
        voltage_v,
        current_a,
        open_circuit_v: current_a
            .zip(resistance_ohm)
            .map(|(i, r)| voltage_v + i * r),
        charge_c,
    })
}
