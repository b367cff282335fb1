//! Bench results as rows of the season's tables.

use crate::bench::reference_conditions::{Origin, Step};
use crate::bench::{BenchRun, Censor, PowerSystemCurve, StaticGain, budget, correlation};
use crate::ingest::Channel;
use crate::stats::NORMAL_95;
use crate::stats::t_quantile;
use crate::store::tables::{
    BenchCheckRow, BenchCurveRow, BenchExponentRow, BenchPointRow, GainBudgetRow, StaticGainRow,
};

/// Half-width factor of a 95 % interval from a standard uncertainty that many readings share.
/// Points of a drawn bench curve.
const GRID: usize = 61;

/// The readings of a run; with the system's curve, brought to its reference conditions too.
pub fn bench_points(run: &BenchRun, curve: Option<&PowerSystemCurve>) -> Vec<BenchPointRow> {
    run.points
        .iter()
        .map(|point| {
            let value = |channel| point.exact(channel).map(|m| m.value);
            let u = |channel| point.exact(channel).map(|m| m.u());
            let exhaust = point.get(Channel::ExhaustSpeed);
            let reference = curve.and_then(|c| {
                c.points
                    .iter()
                    .find(|p| p.run == run.id && p.line == point.line)
            });
            let (voltage, current) = (value(Channel::Voltage), value(Channel::Current));
            let failed: Vec<&str> = run
                .checks
                .iter()
                .filter(|c| !c.passed && c.line == point.line)
                .map(|c| c.code.as_str())
                .collect();
            BenchPointRow {
                run: run.id.clone(),
                power: run.power.clone(),
                file: point.file.clone(),
                line: i64::from(point.line),
                throttle: point.throttle,
                voltage_v: voltage,
                current_a: current,
                power_w: voltage.zip(current).map(|(v, i)| v * i),
                shown_power_w: point.readings.get(&Channel::Power).map(|m| m.value),
                thrust_n: value(Channel::Thrust),
                exhaust_speed_m_s: exhaust.map(|m| m.value),
                exhaust_censor: exhaust.map_or_else(String::new, |m| {
                    match m.censor {
                        Censor::Exact => "exact",
                        Censor::Above => "above",
                        Censor::Below => "below",
                    }
                    .to_owned()
                }),
                angular_speed_rad_s: value(Channel::AngularSpeed),
                current_u_a: u(Channel::Current),
                thrust_u_n: u(Channel::Thrust),
                reference_current_a: reference.and_then(|r| r.current.as_ref()).map(|c| c.value),
                reference_thrust_n: reference.and_then(|r| r.thrust.as_ref()).map(|t| t.value),
                checks_failed: failed.join(" "),
            }
        })
        .collect()
}

pub fn bench_checks(run: &BenchRun) -> Vec<BenchCheckRow> {
    run.checks
        .iter()
        .map(|check| BenchCheckRow {
            run: run.id.clone(),
            power: run.power.clone(),
            file: run.file.clone(),
            line: i64::from(check.line),
            code: check.code.clone(),
            passed: check.passed,
            what: check.what.clone(),
            action: check.action.clone(),
        })
        .collect()
}

/// The curve on an even grid of throttle over the bench's own range.
pub fn bench_curve(curve: &PowerSystemCurve) -> Vec<BenchCurveRow> {
    let Some(current) = &curve.current else {
        return Vec::new();
    };
    let (Some(&first), Some(&last)) = (current.throttle.first(), current.throttle.last()) else {
        return Vec::new();
    };
    let (voltage, density) = (current.reference_voltage_v, current.reference_density_kg_m3);
    (0..GRID)
        .filter_map(|i| {
            let throttle = first + (last - first) * i as f64 / (GRID - 1) as f64;
            let (amps, u) = current.current(throttle, voltage, density)?;
            let thrust = curve
                .thrust
                .as_ref()
                .and_then(|t| t.thrust(throttle, voltage, density));
            Some(BenchCurveRow {
                power: curve.power.clone(),
                throttle,
                reference_voltage_v: voltage,
                reference_density_kg_m3: density,
                current_a: amps,
                current_low_a: amps - NORMAL_95 * u,
                current_high_a: amps + NORMAL_95 * u,
                thrust_n: thrust.map(|t| t.0),
                thrust_low_n: thrust.map(|(t, u)| t - NORMAL_95 * u),
                thrust_high_n: thrust.map(|(t, u)| t + NORMAL_95 * u),
            })
        })
        .collect()
}

/// The exponents that bring a system's readings to reference conditions.
pub fn bench_exponents(curve: &PowerSystemCurve) -> Vec<BenchExponentRow> {
    let e = &curve.exponents;
    let row = |quantity: &str, with: &str, step: &Step| {
        let half = t_quantile(0.975, step.degrees_of_freedom) * step.exponent.spread;
        BenchExponentRow {
            power: curve.power.clone(),
            quantity: quantity.to_owned(),
            with: with.to_owned(),
            exponent: step.exponent.value,
            low: step.exponent.value - half,
            high: step.exponent.value + half,
            u: step.exponent.spread,
            origin: match step.origin {
                Origin::Default => "default",
                Origin::MotorConstants => "motor-constants",
                Origin::Fitted => "fitted",
            }
            .to_owned(),
            points: step.points as i64,
        }
    };
    vec![
        row("thrust", "voltage", &e.thrust_by_voltage),
        row("current", "voltage", &e.current_by_voltage),
        row("thrust", "density", &e.thrust_by_density),
        row("current", "density", &e.current_by_density),
    ]
}

pub fn static_gains(gains: &[StaticGain]) -> Vec<StaticGainRow> {
    gains
        .iter()
        .map(|gain| {
            let thrust = gains
                .iter()
                .find(|g| g.quantity == "thrust" && g.condition == gain.condition)
                .and_then(|g| g.ratio.as_ref());
            StaticGainRow {
                baseline: gain.baseline.clone(),
                candidate: gain.candidate.clone(),
                quantity: gain.quantity.to_owned(),
                condition: gain.condition.to_owned(),
                gain: gain.gain,
                low: gain.low,
                high: gain.high,
                u: gain.u,
                degrees_of_freedom: gain.degrees_of_freedom,
                reference_voltage_v: gain.reference_voltage_v,
                reference_density_kg_m3: gain.reference_density_kg_m3,
                baseline_value: gain.baseline_value,
                candidate_value: gain.candidate_value,
                correlation_with_thrust: gain
                    .ratio
                    .as_ref()
                    .zip(thrust)
                    .map(|(own, thrust)| correlation(own, thrust))
                    .filter(|c| c.is_finite()),
                method: gain.method.clone(),
                points: gain.points as i64,
            }
        })
        .collect()
}

/// What limits each gain that has a value, not a bound.
pub fn gain_budgets(gains: &[StaticGain]) -> Vec<GainBudgetRow> {
    gains
        .iter()
        .filter(|gain| gain.gain.is_some())
        .filter_map(|gain| Some((gain, gain.ratio.as_ref()?)))
        .flat_map(|(gain, ratio)| {
            budget(ratio).into_iter().map(|c| GainBudgetRow {
                baseline: gain.baseline.clone(),
                candidate: gain.candidate.clone(),
                quantity: gain.quantity.to_owned(),
                condition: gain.condition.to_owned(),
                kind: c.kind.to_owned(),
                instruments: c.of,
                reading: c.quantity.to_owned(),
                share: c.share,
                u: c.u,
                half_width: c.half_width,
                half_width_if_halved: c.half_width_if_halved,
            })
        })
        .collect()
}
