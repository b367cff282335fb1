//! Level top speeds of flights, brought to one condition so that fans can be compared.
//!
//! Two conditions (design 4.6): the *same terminal voltage*, which compares with the reference
//! cases, and the *same pack* (equal open-circuit voltage, charge used and resistance), which is
//! what the pilot feels: the hungrier fan pulls its own voltage down.

use crate::findings::evidence::Evidence;
use crate::flight::energy::relative_u;
use crate::season::{Accuracy, Season};
use crate::stats;
use crate::store::FlightRow;

/// Level top speed goes with terminal voltage to this power (rpm of a motor with resistance;
/// design 4.2), and how far a real set-up may be off.
const SPEED_EXPONENT: f64 = 0.97;
const SPEED_EXPONENT_SPREAD: f64 = 0.03;
/// Full-throttle current goes with terminal voltage to this power (design 4.2).
pub(super) const CURRENT_EXPONENT: f64 = 1.88;

/// Relative standard deviation of a voltage that nothing tells: covers a pack's fall over its usable
/// charge (common practice, no source).
const ASSUMED_SPREAD: f64 = 0.03;
/// Relative standard uncertainty of the pack's resistance as it acts on a pass: the steps that it is
/// told by are shorter than a pass, so polarisation is partly missing (common practice, no source).
const RESISTANCE_SPREAD: f64 = 0.1;

/// What the speeds are brought to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Condition {
    SameTerminalVoltage {
        voltage_v: f64,
    },
    SamePack {
        open_circuit_v: f64,
        resistance_ohm: f64,
    },
}

/// What several flights may have wrong together, so that flying more does not average it out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause<'a> {
    /// Pooled time constant of a power system's run-ups.
    TimeConstant(&'a str),
    /// Scale of a logger's voltage (place among the declared log sources).
    VoltageScale(Option<usize>),
    /// The same of its current.
    CurrentScale(Option<usize>),
    /// No flight of this power system logged a voltage: the other's stands in.
    AssumedVoltage(&'a str),
    SpeedExponent,
    PackResistance,
}

/// One flight's level top speed at a condition.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelSpeed<'a> {
    pub flight: &'a FlightRow,
    pub power: &'a str,
    pub airframe: &'a str,
    pub day: &'a str,
    /// m/s.
    pub speed_m_s: f64,
    /// Relative standard error within the flight, the step to the condition included.
    pub relative_se: f64,
    /// No voltage was logged: the power system's mean on the passes stands in.
    pub voltage_assumed: bool,
    /// Relative error of the speed for one standard deviation of each cause, with its sign.
    pub common: Vec<(Cause<'a>, f64)>,
}

/// Voltage and current on the passes of one flight.
#[derive(Debug, Clone, Copy)]
struct PassState {
    voltage_v: f64,
    /// Needed only to bring it to the same pack.
    current_a: Option<f64>,
    /// Relative standard deviation of the voltage where it stands in for a missing one.
    spread: f64,
}

/// Reference conditions from the flights compared: means over flights, each system with the same
/// weight. `None` without any voltage on any pass; no pack where one of the systems flew without a
/// current on its passes or nothing tells the pack's resistance.
pub fn conditions(
    evidence: &Evidence,
    powers: [&str; 2],
) -> Option<(Condition, Option<Condition>)> {
    let means_of = |pick: fn(&FlightRow) -> Option<f64>| -> Vec<f64> {
        powers
            .iter()
            .filter_map(|p| {
                let flights = evidence.flights_of(p);
                let values: Vec<f64> = flights.into_iter().filter_map(pick).collect();
                (!values.is_empty()).then(|| stats::mean(&values))
            })
            .collect()
    };
    let mean_of = |pick: fn(&FlightRow) -> Option<f64>| {
        let means = means_of(pick);
        (!means.is_empty()).then(|| stats::mean(&means))
    };
    let terminal = Condition::SameTerminalVoltage {
        voltage_v: mean_of(|f| f.pass_voltage_v)?,
    };
    // What lies between open-circuit and terminal voltage: fitted, declared or default.
    let resistance = |f: &FlightRow| {
        let sag = f.pass_open_circuit_v? - f.pass_voltage_v?;
        f.pass_current_a.filter(|i| *i > 0.0).map(|i| sag / i)
    };
    let pack = mean_of(|f| f.pass_open_circuit_v)
        .zip(mean_of(resistance))
        .filter(|_| means_of(|f| f.pass_voltage_v.and(f.pass_current_a)).len() == 2)
        .map(|(open_circuit_v, resistance_ohm)| Condition::SamePack {
            open_circuit_v,
            resistance_ohm,
        });
    Some((terminal, pack))
}

/// Level speeds of the two systems' flights at `condition`; without one, as flown.
pub fn level_speeds<'a>(
    evidence: &Evidence<'a>,
    powers: [&str; 2],
    condition: Option<Condition>,
) -> Vec<LevelSpeed<'a>> {
    let means = powers.map(|p| mean_state(evidence, p));
    let mut out = Vec::new();
    for flight in &evidence.tables.flights {
        let (Some(power), Some(speed)) = (flight.power.as_deref(), flight.level_speed_m_s) else {
            continue;
        };
        let Some(system) = powers.iter().position(|p| *p == power) else {
            continue;
        };
        let own = own_state(flight, means[system]);
        // What the model leaves open is alike on both sides of a comparison.
        let (se, model) = (
            flight.level_speed_se_m_s.unwrap_or(0.0),
            flight.level_speed_model_error_m_s.unwrap_or(0.0),
        );
        let mut relative_se = (se * se - model * model).max(0.0).sqrt() / speed;
        let shared = flight.level_speed_shared_error_m_s.unwrap_or(0.0) / speed;
        let mut common = vec![(Cause::TimeConstant(power), shared)];
        let mut at = speed;
        let state = own.or(means[system]).or(means[1 - system]);
        if let (Some(condition), Some(state)) = (condition, state) {
            let step = step(condition, state);
            at *= (SPEED_EXPONENT * step).exp();
            common.push((Cause::SpeedExponent, SPEED_EXPONENT_SPREAD * step));
            relative_se = relative_se.hypot(SPEED_EXPONENT_SPREAD * step);
            if own.is_some() {
                common.extend(sensor_causes(evidence.season, flight, condition, state));
            } else if means[system].is_some() {
                relative_se = relative_se.hypot(SPEED_EXPONENT * state.spread);
            } else {
                let error = SPEED_EXPONENT * ASSUMED_SPREAD;
                common.push((Cause::AssumedVoltage(power), error));
            }
            common.extend(resistance_cause(condition, state));
        }
        out.push(LevelSpeed {
            flight,
            power,
            airframe: flight.airframe.as_deref().unwrap_or("unknown"),
            day: flight.day.as_deref().unwrap_or("unknown"),
            speed_m_s: at,
            relative_se,
            voltage_assumed: own.is_none(),
            common,
        });
    }
    out
}

/// ln(terminal voltage at `condition` / terminal voltage of the state).
fn step(condition: Condition, state: PassState) -> f64 {
    (terminal_voltage(condition, state) / state.voltage_v).ln()
}

/// What a wrong scale of the flight's voltage and current sensors does to its speed.
fn sensor_causes<'a>(
    season: &Season,
    flight: &FlightRow,
    condition: Condition,
    state: PassState,
) -> [(Cause<'a>, f64); 2] {
    let logger = logger(season, flight);
    let u = |channel: &str, undeclared: f64, typical: f64| {
        relative_u(accuracy(season, logger, channel), undeclared, typical)
    };
    // Undeclared accuracies as in flight::energy.
    let (u_voltage, u_current) = (
        u("voltage", 0.02, state.voltage_v),
        u("current", 0.05, state.current_a.unwrap_or(0.0)),
    );
    let shift = |voltage: f64, current: f64| {
        let off = PassState {
            voltage_v: state.voltage_v * (1.0 + voltage),
            current_a: state.current_a.map(|i| i * (1.0 + current)),
            ..state
        };
        SPEED_EXPONENT * (step(condition, off) - step(condition, state))
    };
    [
        (Cause::VoltageScale(logger), shift(u_voltage, 0.0)),
        (Cause::CurrentScale(logger), shift(0.0, u_current)),
    ]
}

fn resistance_cause<'a>(condition: Condition, state: PassState) -> Option<(Cause<'a>, f64)> {
    let Condition::SamePack {
        open_circuit_v,
        resistance_ohm,
    } = condition
    else {
        return None;
    };
    let off = Condition::SamePack {
        open_circuit_v,
        resistance_ohm: resistance_ohm * (1.0 + RESISTANCE_SPREAD),
    };
    let shift = SPEED_EXPONENT * (step(off, state) - step(condition, state));
    Some((Cause::PackResistance, shift))
}

/// The declared log source whose sensors gave the flight's voltage: of the sources of its files the
/// one that declares a voltage, else the first.
fn logger(season: &Season, flight: &FlightRow) -> Option<usize> {
    let of_flight = |files: &str| {
        glob::Pattern::new(files)
            .is_ok_and(|pattern| flight.files.split(' ').any(|f| pattern.matches(f)))
    };
    let sources: Vec<usize> = (0..season.logs.len())
        .filter(|i| of_flight(&season.logs[*i].files))
        .collect();
    sources
        .iter()
        .copied()
        .find(|i| accuracy(season, Some(*i), "voltage").is_some())
        .or(sources.first().copied())
}

fn accuracy<'a>(season: &'a Season, logger: Option<usize>, channel: &str) -> Option<&'a Accuracy> {
    season
        .logs
        .get(logger?)?
        .instruments
        .iter()
        .find_map(|id| season.instruments.get(id)?.measures.get(channel))
}

/// The flight's own state; a current that it did not log is its power system's mean, brought to its
/// voltage. `None` without a voltage.
fn own_state(flight: &FlightRow, mean: Option<PassState>) -> Option<PassState> {
    let voltage_v = flight.pass_voltage_v?;
    let current_a = flight.pass_current_a.or_else(|| {
        let mean = mean?;
        Some(mean.current_a? * (voltage_v / mean.voltage_v).powf(CURRENT_EXPONENT))
    });
    Some(PassState {
        voltage_v,
        current_a,
        spread: 0.0,
    })
}

/// Means over a system's flights with a voltage on their passes, those that tell the current too
/// where there are any.
fn mean_state(evidence: &Evidence, power: &str) -> Option<PassState> {
    let all: Vec<PassState> = evidence
        .flights_of(power)
        .into_iter()
        .filter_map(|f| own_state(f, None))
        .collect();
    let full: Vec<PassState> = all
        .iter()
        .copied()
        .filter(|s| s.current_a.is_some())
        .collect();
    let states = if full.is_empty() { all } else { full };
    if states.is_empty() {
        return None;
    }
    let voltages: Vec<f64> = states.iter().map(|s| s.voltage_v).collect();
    let currents: Vec<f64> = states.iter().filter_map(|s| s.current_a).collect();
    Some(PassState {
        voltage_v: stats::mean(&voltages),
        current_a: (!currents.is_empty()).then(|| stats::mean(&currents)),
        spread: if voltages.len() > 1 {
            stats::sd(&voltages) / stats::mean(&voltages)
        } else {
            ASSUMED_SPREAD
        },
    })
}

/// Terminal voltage this fan would have at `condition`: on the same pack, V = V_oc - R·I(V) with
/// I going as V^1.88; solved by bisection, the left side rises and the right side falls with V.
fn terminal_voltage(condition: Condition, state: PassState) -> f64 {
    match condition {
        Condition::SameTerminalVoltage { voltage_v } => voltage_v,
        Condition::SamePack {
            open_circuit_v,
            resistance_ohm,
        } => {
            // Conditions hold a pack only where both systems have a current.
            let own = state.current_a.unwrap_or(0.0);
            let current = |v: f64| own * (v / state.voltage_v).powf(CURRENT_EXPONENT);
            let (mut low, mut high) = (0.0, open_circuit_v);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if middle < open_circuit_v - resistance_ohm * current(middle) {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            0.5 * (low + high)
        }
    }
}
