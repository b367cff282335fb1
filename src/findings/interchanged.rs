//! Whether the currents of the flights contradict the order that the bench found: a hint that the power
//! systems are interchanged in the logbook or on the bench.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::findings::level_speeds::CURRENT_EXPONENT;
use crate::stats::welch::welch;

/// Says so where the bench shows that one draws more at full throttle and the flights that it draws less,
/// both at one voltage and by 95 % intervals that leave no doubt of the sign.
pub fn remark(evidence: &Evidence, answer: &mut Answer, [baseline, candidate]: [&str; 2]) {
    let of = |power: &str| -> Vec<f64> {
        evidence
            .flights_of(power)
            .iter()
            .filter_map(|f| Some((f.pass_current_a?, f.pass_voltage_v?)))
            .filter(|(current, voltage)| *current > 0.0 && *voltage > 0.0)
            .map(|(current, voltage)| current.ln() - CURRENT_EXPONENT * voltage.ln())
            .collect()
    };
    let Some(bench) = answer.estimates.get("static_current_gain") else {
        return;
    };
    let (Some(low), Some(high)) = (bench.low, bench.high) else {
        return;
    };
    let Some(flown) = welch(&of(candidate), &of(baseline)) else {
        return;
    };
    let (least, most) = flown.interval(0.95);
    if !((low > 0.0 && most < 0.0) || (high < 0.0 && least > 0.0)) {
        return;
    }
    let words = format!(
        "Flight and bench contradict each other: from {} to {} full-throttle current changes by {} on the \
         bench and by {} ({} to {}) on the passes, at one voltage. Look whether the two are interchanged in \
         the logbook or among the bench tables; the answer holds only if they are not.",
        evidence.power_name(baseline),
        evidence.power_name(candidate),
        percent_interval(bench),
        percent(flown.value.exp_m1()),
        percent(least.exp_m1()),
        percent(most.exp_m1())
    );
    answer.cautions.push(words);
}
