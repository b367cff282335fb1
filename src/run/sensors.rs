//! What the record of a flight shows of its current sensor, as `run` finds it, for those who only look.

use crate::flight::record::survey;
use crate::ingest::Log;
use crate::season::{Accuracy, Finding};

/// Findings about the sensor itself.
const CODES: [&str; 4] = [
    "no-current",
    "saturated-current",
    "current-zero",
    "current-at-rest",
];

pub fn of_flight(
    logs: Vec<Log>,
    stall_speed_m_s: Option<f64>,
    current: Option<&Accuracy>,
) -> Vec<Finding> {
    let mut findings = survey(logs, stall_speed_m_s, current, None).findings;
    findings.retain(|f| CODES.contains(&f.code.as_str()));
    findings
}
