//! Unloading checked by rotor speed, where bench and flight both logged it: a fan that the air
//! relieves draws less and turns faster, and a throttle that meant another duty on the bench shows.

use std::collections::BTreeMap;

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, over_flights, with_interval};
use crate::stats;

/// Rotor speed goes with terminal voltage to about this power at equal throttle (a motor with
/// resistance and no-load current, solved numerically; the square root of the thrust's exponent).
const VOLTAGE_EXPONENT: f64 = 0.97;
/// Faster or slower than this and it is no unloading: end points, timing or pole count differ
/// between bench and flight (by momentum theory and in trial a fan gains 1 to 4 %).
const POSSIBLE: (f64, f64) = (0.97, 1.10);

/// Rotor speed in flight over the bench's at equal throttle and voltage.
pub(super) fn estimate(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let Some(bench) = bench(evidence, power) else {
        return;
    };
    let mut by_flight: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let mut holds = 0;
    for hold in &evidence.tables.holds {
        let of_power = hold.airborne && hold.power.as_deref() == Some(power);
        let (true, Some(rotor), Some(volts)) = (of_power, hold.angular_speed_rad_s, hold.voltage_v)
        else {
            continue;
        };
        if let Some(still) = at(&bench, hold.throttle) {
            holds += 1;
            by_flight
                .entry(&hold.flight)
                .or_default()
                .push(rotor / (still * volts.powf(VOLTAGE_EXPONENT)));
        }
    }
    let ratios: Vec<f64> = by_flight.values().map(|r| stats::median(r)).collect();
    let method = "rotor speed in flight over the bench's at equal throttle and voltage (rotor speed goes \
                  with voltage to the power 0.97), median over each flight's holds, mean over flights, \
                  t interval";
    let Some(ratio) = over_flights(&ratios, "1", method) else {
        return;
    };
    let faster = ratio.value.unwrap_or(1.0);
    let shown = with_interval(&ratio, 100.0, 1, " %");
    answer.remarks.push(if faster < POSSIBLE.0 || faster > POSSIBLE.1 {
        format!(
            "At equal throttle and voltage the rotor turns at {shown} of its bench speed in the air: no \
             unloading does that. Throttle end points, timing or pole count differ between bench and \
             flight, and the ratio of the currents is not to be trusted."
        )
    } else {
        format!(
            "Rotor speed bears the unloading out: at equal throttle and voltage the rotor turns at \
             {shown} of its bench speed in the air, so the throttle meant the same duty in both."
        )
    });
    answer.estimates.insert(
        "rotor_speed_in_flight_over_bench".to_owned(),
        ratio
            .count("holds", holds)
            .input("tables holds, bench_points".to_owned()),
    );
}

/// Rotor speed over voltage^0.97 by throttle, ascending; `None` below two throttles.
fn bench(evidence: &Evidence, power: &str) -> Option<Vec<(f64, f64)>> {
    let mut by_throttle: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for point in &evidence.tables.bench_points {
        if let (true, Some(u), Some(rotor), Some(volts)) = (
            point.power == power,
            point.throttle,
            point.angular_speed_rad_s,
            point.voltage_v,
        ) {
            by_throttle
                .entry((1000.0 * u).round() as u32)
                .or_default()
                .push(rotor / volts.powf(VOLTAGE_EXPONENT));
        }
    }
    let knots: Vec<(f64, f64)> = by_throttle
        .into_iter()
        .map(|(u, speeds)| (f64::from(u) / 1000.0, stats::mean(&speeds)))
        .collect();
    (knots.len() >= 2).then_some(knots)
}

/// Straight between the throttles of the bench, nothing outside.
fn at(knots: &[(f64, f64)], throttle: f64) -> Option<f64> {
    knots.windows(2).find_map(|w| {
        let ((u0, s0), (u1, s1)) = (w[0], w[1]);
        // A stick at its stop jitters.
        let inside = throttle >= u0 - 0.005 && throttle <= u1 + 0.005;
        inside.then(|| s0 + (s1 - s0) * ((throttle - u0) / (u1 - u0)).clamp(0.0, 1.0))
    })
}
