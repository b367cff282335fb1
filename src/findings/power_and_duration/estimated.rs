//! Flights without a current sensor, and how far such an estimate is off.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, counted};
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::FlightRow;

/// The error found by leaving each measured flight out, and the flights estimated.
pub(super) fn estimates(
    evidence: &Evidence,
    power: &str,
    flights: &[&FlightRow],
    answer: &mut Answer,
) {
    let errors: Vec<f64> = evidence
        .tables
        .estimate_errors
        .iter()
        .filter(|e| e.power == power)
        .map(|e| e.relative_error)
        .collect();
    error(&errors, answer);
    for flight in flights.iter().filter(|f| f.power_source == "estimated") {
        let Some(energy) = flight.energy_wh else {
            continue;
        };
        answer.estimates.insert(
            format!("estimated_energy_of_flight_{}", flight.flight),
            Estimate {
                low: flight.energy_low_wh,
                high: flight.energy_high_wh,
                ..Estimate::plus_minus(
                    energy,
                    0.0,
                    "W.h",
                    "no current sensor: bench curve x unloading of the same power system; error from \
                     leaving each measured flight out in turn and from what their sensors share",
                )
            }
            .count("flights", errors.len()),
        );
    }
}

fn error(errors: &[f64], answer: &mut Answer) {
    let n = errors.len();
    if n < 3 {
        return;
    }
    let (bias, sd) = (stats::mean(errors), stats::sd(errors));
    let absolute: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    let size = n as f64;
    let half = stats::t_quantile(0.975, size - 1.0) * sd / size.sqrt();
    let method = "energy by bench curve x unloading of the other flights over measured energy, less \
                  one, each measured flight left out in turn";
    let mut put = |key: &str, estimate: Estimate| {
        let estimate = estimate
            .count("flights", n)
            .input("table estimate_errors".to_owned());
        answer.estimates.insert(key.to_owned(), estimate);
    };
    put(
        "estimated_energy_error_bias",
        Estimate::plus_minus(bias, half, "1", method),
    );
    let without_interval = |value: f64, method: &str| Estimate {
        low: None,
        high: None,
        ..Estimate::plus_minus(value, 0.0, "1", method)
    };
    put(
        "estimated_energy_error_spread",
        without_interval(sd, "standard deviation of that error over flights"),
    );
    put(
        "estimated_energy_error_median",
        without_interval(
            stats::median(&absolute),
            "median of that error's size over flights",
        ),
    );
    answer.remarks.push(format!(
        "Without a current sensor the energy of a flight would have been estimated {} on average, with \
         a standard deviation of {:.1} % from flight to flight ({}, each estimated from the others).",
        if bias.abs() < 0.0005 {
            "neither too high nor too low".to_owned()
        } else {
            format!(
                "{:.1} % too {}",
                100.0 * bias.abs(),
                if bias > 0.0 { "high" } else { "low" }
            )
        },
        100.0 * sd,
        counted(n, "flight")
    ));
}
