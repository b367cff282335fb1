//! What the supply and the meter do over a run: a current limit, stuck readings.

use crate::bench::model::{BenchPoint, Check};
use crate::ingest::Channel;
use crate::stats::gum::resolution;
use crate::stats::theil_sen::theil_sen;

/// Voltage this much below what the pack's sag implies counts as a supply at its current limit.
const SAG_LIMIT: f64 = 0.05;
/// Currents within this fraction of the largest count as a plateau.
const PLATEAU: f64 = 0.03;

/// Code of the check that finds one.
pub(super) const SUPPLY_LIMIT: &str = "supply-limit";

/// A supply at its current limit: the voltage falls off the sag line while the current stands.
pub(super) fn supply_limit(points: &mut [BenchPoint], checks: &mut Vec<Check>) {
    let pairs: Vec<(f64, f64)> = points
        .iter()
        .filter_map(|p| {
            let (i, v) = (p.exact(Channel::Current)?, p.exact(Channel::Voltage)?);
            Some((i.value, v.value))
        })
        .collect();
    let largest = pairs.iter().map(|p| p.0).fold(0.0, f64::max);
    let (x, y): (Vec<f64>, Vec<f64>) = pairs
        .iter()
        .filter(|p| p.0 < (1.0 - PLATEAU) * largest)
        .copied()
        .unzip();
    let Some(sag) = theil_sen(&x, &y, 0.95).filter(|_| x.len() >= 3) else {
        return;
    };
    for point in points {
        let (Some(current), Some(voltage)) = (
            point.exact(Channel::Current).map(|i| i.value),
            point.exact(Channel::Voltage).map(|v| v.value),
        ) else {
            continue;
        };
        let expected = sag.intercept + sag.slope * current;
        if current < (1.0 - PLATEAU) * largest || voltage >= (1.0 - SAG_LIMIT) * expected {
            continue;
        }
        // A limiting supply may pulse between the two: which voltage the fan saw is open.
        let widened = resolution(expected - voltage);
        if let Some(reading) = point.readings.get_mut(&Channel::Voltage) {
            reading.u_independent = reading.u_independent.hypot(widened);
        }
        checks.push(Check {
            code: SUPPLY_LIMIT.to_owned(),
            line: point.line,
            passed: false,
            what: format!(
                "{voltage:.2} V where the sag of the other points implies {expected:.2} V, at \
                 {current:.2} A: the supply is at its current limit"
            ),
            action: format!(
                "kept at its own voltage, whose uncertainty is widened by {widened:.2} V; not used \
                 to fit exponents"
            ),
        });
    }
}

/// Sets aside points whose volts, amps and thrust repeat the point before to the last digit while
/// the throttle rises: a stuck reading. Returns their lines.
pub fn take_out_stuck(points: &mut Vec<BenchPoint>) -> Vec<u32> {
    let same = |a: &BenchPoint, b: &BenchPoint| {
        let pair = |channel| match (a.readings.get(&channel), b.readings.get(&channel)) {
            (Some(x), Some(y)) => Some(x.value == y.value),
            (None, None) => None,
            _ => Some(false),
        };
        let compared: Vec<bool> = [Channel::Voltage, Channel::Current, Channel::Thrust]
            .into_iter()
            .filter_map(pair)
            .collect();
        let risen = match (a.throttle, b.throttle) {
            (Some(a), Some(b)) => b > a + 0.005,
            _ => false,
        };
        risen && compared.len() >= 2 && compared.iter().all(|c| *c)
    };
    let stuck: Vec<u32> = points
        .windows(2)
        .filter(|w| same(&w[0], &w[1]))
        .map(|w| w[1].line)
        .collect();
    points.retain(|p| !stuck.contains(&p.line));
    stuck
}
