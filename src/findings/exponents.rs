//! How thrust and current go with voltage, as fitted on the bench (part of question 1).

use crate::findings::answer::Answer;
use crate::findings::evidence::Evidence;
use crate::stats::estimate::Estimate;

/// Adds the voltage exponents of `power` that its own readings gave; defaults stand in the methods
/// of the gains that use them.
pub fn voltage_exponents(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let rows = evidence
        .tables
        .bench_exponents
        .iter()
        .filter(|r| r.power == power && r.with == "voltage" && r.origin != "default");
    for row in rows {
        let method = match row.origin.as_str() {
            "fitted" => {
                "regression of log readings on log voltage at equal throttle, 75 % and more; t interval"
            }
            _ => "from the motor's resistance and one full-throttle reading",
        };
        answer.estimates.insert(
            format!("static_{}_voltage_exponent_{power}", row.quantity),
            Estimate::interval(row.exponent, row.low, row.high, 0.95, "1", method)
                .count("bench points", row.points as usize)
                .input("table bench_exponents"),
        );
    }
}
