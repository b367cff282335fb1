//! What the supply and the meter do over a run: a current limit, stuck readings.

use crate::bench::model::{BenchPoint, Check};
use crate::ingest::Channel;
use crate::stats::theil_sen::theil_sen;

/// Voltage this much below what the pack's sag implies counts as a supply at its current limit.
const SAG_LIMIT: f64 = 0.05;
/// Currents within this fraction of the largest count as a plateau.
const PLATEAU: f64 = 0.03;

/// A supply at its current limit: the voltage falls off the sag line while the current stands.
pub(super) fn supply_limit(points: &[BenchPoint], checks: &mut Vec<Check>) {
    let pairs: Vec<(u32, f64, f64)> = points
        .iter()
        .filter_map(|p| {
            let (v, i) = (p.exact(Channel::Voltage)?, p.exact(Channel::Current)?);
            Some((p.line, i.value, v.value))
        })
        .collect();
    let largest = pairs.iter().map(|p| p.1).fold(0.0, f64::max);
    let (x, y): (Vec<f64>, Vec<f64>) = pairs
        .iter()
        .filter(|p| p.1 < (1.0 - PLATEAU) * largest)
        .map(|p| (p.1, p.2))
        .unzip();
    let Some(sag) = theil_sen(&x, &y, 0.95).filter(|_| x.len() >= 3) else {
        return;
    };
    for (lineno, current, voltage) in &pairs {
        let expected = sag.intercept + sag.slope * current;
        if *current < (1.0 - PLATEAU) * largest || *voltage >= (1.0 - SAG_LIMIT) * expected {
            continue;
        }
        checks.push(Check {
            code: "supply-limit".to_owned(),
            line: *lineno,
            passed: false,
            what: format!(
                "{voltage:.2} V where the sag of the other points implies {expected:.2} V, at \
                 {current:.2} A: the supply is at its current limit"
            ),
            action: "kept as a pair of volts and amps; brought to the reference by its own voltage"
                .to_owned(),
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
