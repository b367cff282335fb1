//! What the record of a flight shows of its current sensor, as `run` finds it, for those who only look.

use crate::flight::record::{current_sensor_of, survey};
use crate::ingest::{Channel, Log};
use crate::season::{Accuracy, Finding};

/// Findings about the sensor itself.
const CODES: [&str; 4] = [
    "no-current",
    "saturated-current",
    "current-zero",
    "current-at-rest",
];

/// What tells ground from flight, and what the sensor is judged by.
const TELLING: [Channel; 7] = [
    Channel::Current,
    Channel::Throttle,
    Channel::GroundSpeed,
    Channel::VelocityNorth,
    Channel::VelocityEast,
    Channel::Airspeed,
    Channel::Height,
];

/// Of a log that was read alone; it is used up, since it may be large.
pub fn of_log(mut log: Log, current: Option<&Accuracy>) -> Vec<Finding> {
    if log.get(Channel::Current).is_none() {
        return Vec::new();
    }
    log.channels.retain(|channel, _| TELLING.contains(channel));
    of_sensor(current_sensor_of(log, current))
}

pub fn of_flight(
    logs: Vec<Log>,
    stall_speed_m_s: Option<f64>,
    current: Option<&Accuracy>,
) -> Vec<Finding> {
    of_sensor(survey(logs, stall_speed_m_s, current, None).findings)
}

fn of_sensor(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.retain(|f| CODES.contains(&f.code.as_str()));
    findings
}
