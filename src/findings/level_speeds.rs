//! Level top speeds of flights, brought to one condition so that fans can be compared.
//!
//! Two conditions (design 4.6): the *same terminal voltage*, which compares with the reference
//! cases, and the *same pack* (equal open-circuit voltage, charge used and resistance), which is
//! what the pilot feels: the hungrier fan pulls its own voltage down.

use crate::findings::evidence::Evidence;
use crate::stats;
use crate::store::FlightRow;

/// Level top speed goes with terminal voltage to this power (rpm of a motor with resistance;
/// design 4.2), and how far a real set-up may be off.
const SPEED_EXPONENT: f64 = 0.97;
const SPEED_EXPONENT_SPREAD: f64 = 0.03;
/// Full-throttle current goes with terminal voltage to this power (design 4.2).
const CURRENT_EXPONENT: f64 = 1.88;

/// Relative standard deviation of a voltage that nothing tells: covers a pack's fall over its usable
/// charge (common practice, no source).
const ASSUMED_SPREAD: f64 = 0.03;

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
}

/// Voltage and current on the passes of one flight.
#[derive(Debug, Clone, Copy)]
struct PassState {
    voltage_v: f64,
    current_a: f64,
    /// Relative standard deviation of the voltage where it stands in for a missing one.
    spread: f64,
}

/// Reference conditions from the flights compared: means over flights, each system with the same
/// weight. `None` without any voltage on any pass.
pub fn conditions(
    evidence: &Evidence,
    powers: [&str; 2],
) -> Option<(Condition, Option<Condition>)> {
    let mean_of = |pick: fn(&FlightRow) -> Option<f64>| -> Option<f64> {
        let means: Vec<f64> = powers
            .iter()
            .map(|p| {
                evidence
                    .flights_of(p)
                    .into_iter()
                    .filter_map(pick)
                    .collect::<Vec<_>>()
            })
            .filter(|v| !v.is_empty())
            .map(|v| stats::mean(&v))
            .collect();
        (!means.is_empty()).then(|| stats::mean(&means))
    };
    let terminal = Condition::SameTerminalVoltage {
        voltage_v: mean_of(|f| f.pass_voltage_v)?,
    };
    let pack = mean_of(|f| f.pass_open_circuit_v)
        .zip(mean_of(|f| f.pack_resistance_ohm))
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
    let states: Vec<Option<PassState>> = powers.iter().map(|p| mean_state(evidence, p)).collect();
    let mut out = Vec::new();
    for flight in &evidence.tables.flights {
        let (Some(power), Some(speed)) = (flight.power.as_deref(), flight.level_speed_m_s) else {
            continue;
        };
        let Some(system) = powers.iter().position(|p| *p == power) else {
            continue;
        };
        let own = own_state(flight, states[system]);
        let state = own.or(states[system]);
        let mut relative_se = flight.level_speed_se_m_s.unwrap_or(0.0) / speed;
        let mut at = speed;
        if let (Some(condition), Some(state)) = (condition, state) {
            let step = (terminal_voltage(condition, state) / state.voltage_v).ln();
            at *= (SPEED_EXPONENT * step).exp();
            relative_se = relative_se
                .hypot(SPEED_EXPONENT_SPREAD * step)
                .hypot(SPEED_EXPONENT * state.spread);
        }
        out.push(LevelSpeed {
            flight,
            power,
            airframe: flight.airframe.as_deref().unwrap_or("unknown"),
            day: flight.day.as_deref().unwrap_or("unknown"),
            speed_m_s: at,
            relative_se,
            voltage_assumed: own.is_none(),
        });
    }
    out
}

/// The flight's own state; a current that it did not log is its power system's mean, brought to its
/// voltage. `None` without a voltage.
fn own_state(flight: &FlightRow, mean: Option<PassState>) -> Option<PassState> {
    let voltage_v = flight.pass_voltage_v?;
    let current_a = flight
        .pass_current_a
        .or_else(|| mean.map(|m| m.current_a * (voltage_v / m.voltage_v).powf(CURRENT_EXPONENT)))?;
    Some(PassState {
        voltage_v,
        current_a,
        spread: 0.0,
    })
}

/// Means over a system's flights with both voltage and current on their passes.
fn mean_state(evidence: &Evidence, power: &str) -> Option<PassState> {
    let states: Vec<PassState> = evidence
        .flights_of(power)
        .into_iter()
        .filter_map(|f| own_state(f, None))
        .collect();
    if states.is_empty() {
        return None;
    }
    let voltages: Vec<f64> = states.iter().map(|s| s.voltage_v).collect();
    let currents: Vec<f64> = states.iter().map(|s| s.current_a).collect();
    Some(PassState {
        voltage_v: stats::mean(&voltages),
        current_a: stats::mean(&currents),
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
            let current = |v: f64| state.current_a * (v / state.voltage_v).powf(CURRENT_EXPONENT);
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
