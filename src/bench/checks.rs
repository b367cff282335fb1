//! Checks on a bench run (design 4.3). A failed check widens an uncertainty or sets a reading
//! aside, and says so; none passes in silence.

use crate::bench::air::density;
use crate::bench::columns::is_usual;
use crate::bench::model::{BenchPoint, BenchRun, Censor, Check, Measured};
use crate::bench::supply::{SUPPLY_LIMIT, supply_limit};
use crate::bench::uncertainty::{Source, Uncertain};
use crate::ingest::Channel;
use crate::physics::momentum::{static_jet_power, static_jet_speed};
use crate::season::{Declared, Finding};
use crate::stats::gum::{rectangular, resolution};

/// Overall efficiency, jet power over electrical power, that motor, controller and fan together do
/// not pass: about 0.9 x 0.97 x 0.85 (common practice, no source).
pub const EFFICIENCY_LIMIT: f64 = 0.75;
/// Watts that a meter forms from its own volts and amps may differ from their product by so much,
/// since it averages the product (common practice, no source).
const AVERAGING_ALLOWANCE: f64 = 0.01;
/// Volts and amps of one row that were not read at one moment differ by at most this fraction.
const DRIFT_LIMIT: f64 = 0.05;
/// A vane reads one spot of a jet whose speed varies across the outlet (common practice, no source).
const PROFILE_LIMIT: f64 = 0.05;
/// Coverage factor of a comparison (about 95 %).
const COVERAGE: f64 = 2.0;

/// Outlet area with its uncertainty: a declared one within 3 %, the default (swept area less the
/// hub) within 15 % of the true outlet (common practice, no source).
pub fn outlet_area(area: Declared, of: &str) -> Uncertain {
    let limit = if area.is_default { 0.15 } else { 0.03 };
    // Two systems that declare the same area blow through the same outlet: the error is shared.
    let of = if area.is_default {
        of.to_owned()
    } else {
        format!("{:.9} m2", area.value)
    };
    Uncertain::exact(area.value).with(
        Source::OutletArea { of },
        rectangular(limit * area.value),
        f64::INFINITY,
    )
}

/// Runs every check on every point of `run` and tells the pilot once a run what failed.
/// The jet of an unknown outlet (`area` is none) is not checked.
pub fn check_run(run: &mut BenchRun, area: Option<Declared>, peak_hold: bool) -> Vec<Finding> {
    let rho = density(run.density, &run.id);
    let area = area.map(|area| outlet_area(area, &run.power));
    let mut checks = Vec::new();
    let mut held = 0.0;
    for point in &mut run.points {
        range_end(point, &mut checks);
        shown_power(point, peak_hold, &mut held, &mut checks);
        if let Some(area) = &area {
            exhaust_against_thrust(point, &run.id, &rho, area, &mut checks);
            efficiency(point, &run.id, &rho, area, &mut checks);
        }
    }
    supply_limit(&mut run.points, &mut checks);
    let findings = tell(run, &checks);
    run.checks.extend(checks);
    findings
}

fn range_end(point: &BenchPoint, checks: &mut Vec<Check>) {
    for (channel, reading) in &point.readings {
        let (side, bound) = match reading.censor {
            Censor::Exact => continue,
            Censor::Above => ("lower", "at or above"),
            Censor::Below => ("upper", "at or below"),
        };
        checks.push(Check {
            code: "range-end".to_owned(),
            line: point.line,
            passed: false,
            what: format!(
                "{} reads {bound} {:.2} {}: the instrument's end",
                channel.word().replace('_', " "),
                reading.value,
                channel.unit()
            ),
            action: format!("used as a {side} bound, never averaged"),
        });
    }
}

/// Shown watts against volts times amps. `held` is the largest shown so far in the run: a meter that
/// shows it again has held it.
fn shown_power(point: &mut BenchPoint, peak_hold: bool, held: &mut f64, checks: &mut Vec<Check>) {
    let (Some(v), Some(i), Some(p)) = (
        point.exact(Channel::Voltage).cloned(),
        point.exact(Channel::Current).cloned(),
        point.exact(Channel::Power).cloned(),
    ) else {
        return;
    };
    let product = v.value * i.value;
    if product <= 0.0 {
        return;
    }
    let gap = p.value - product;
    let is_held = p.value == *held;
    *held = held.max(p.value);
    let usual = |m: &Measured| m.instrument.as_deref().is_none_or(is_usual);
    // Undeclared ones are taken for a watt meter.
    let one_meter = (p.instrument == v.instrument && p.instrument == i.instrument)
        || (usual(&p) && usual(&v) && usual(&i));
    // One meter forms its watts from its own volts and amps: their errors are in both sides.
    let tolerance = if one_meter {
        let u = p
            .u_independent
            .hypot(v.value * i.u_independent)
            .hypot(i.value * v.u_independent);
        COVERAGE * u + AVERAGING_ALLOWANCE * product
    } else {
        COVERAGE * p.u().hypot(v.value * i.u()).hypot(i.value * v.u())
    };
    let passed = gap.abs() <= tolerance;
    let what = format!(
        "shown {:.1} W against {:.2} V x {:.2} A = {product:.1} W: {:+.1} %, tolerance {:.1} %",
        p.value,
        v.value,
        i.value,
        100.0 * gap / product,
        100.0 * tolerance / product
    );
    let action = if passed {
        "volts times amps used".to_owned()
    } else {
        point.set_aside.insert(
            Channel::Power,
            "shown watts differ from volts times amps".to_owned(),
        );
        let set_aside = "shown watts set aside, volts times amps used";
        if is_held {
            format!("{set_aside}: the watts are held from an earlier row")
        } else if peak_hold {
            format!("{set_aside}: the meter holds its peak, its volts and amps are live")
        } else {
            // Volts and amps of an unknown kind need not belong to one moment; how far apart they
            // can be is bounded by the drift within a run, not by the height of a peak.
            let widened = resolution((gap / product).abs().min(DRIFT_LIMIT));
            widen(point, Channel::Current, widened);
            widen(point, Channel::Voltage, widened);
            format!(
                "{set_aside}; their uncertainty widened by {:.2} %",
                100.0 * widened
            )
        }
    };
    checks.push(Check {
        code: "shown-power".to_owned(),
        line: point.line,
        passed,
        what,
        action,
    });
}

/// Adds a relative standard uncertainty to a reading's independent part.
fn widen(point: &mut BenchPoint, channel: Channel, relative: f64) {
    if let Some(reading) = point.readings.get_mut(&channel) {
        reading.u_independent = reading.u_independent.hypot(relative * reading.value);
    }
}

fn uncertain(reading: &Measured, run: &str, point: &BenchPoint, channel: Channel) -> Uncertain {
    Uncertain::reading(reading, run, point.line, channel)
}

/// Exhaust speed against the jet speed that the thrust implies.
fn exhaust_against_thrust(
    point: &mut BenchPoint,
    run: &str,
    rho: &Uncertain,
    area: &Uncertain,
    checks: &mut Vec<Check>,
) {
    let (Some(thrust), Some(exhaust)) = (
        point.exact(Channel::Thrust),
        point.get(Channel::ExhaustSpeed).cloned(),
    ) else {
        return;
    };
    let thrust = uncertain(thrust, run, point, Channel::Thrust);
    let Some(jet) = Uncertain::apply(&[&thrust, rho, area], |x| {
        static_jet_speed(x[0], x[1], x[2])
    }) else {
        return;
    };
    let gap = exhaust.value - jet.value;
    let tolerance = COVERAGE
        * exhaust
            .u()
            .hypot(jet.u())
            .hypot(rectangular(PROFILE_LIMIT * jet.value));
    let passed = match exhaust.censor {
        Censor::Exact => gap.abs() <= tolerance,
        Censor::Above => gap <= tolerance,
        Censor::Below => -gap <= tolerance,
    };
    let action = if passed {
        "none needed".to_owned()
    } else if exhaust.is_exact() {
        // A vane reads its own spot in the jet: wrong as a level, still fair in a ratio.
        "exhaust speed kept for comparing two runs only; as jet speed the thrust is used".to_owned()
    } else {
        point.set_aside.insert(
            Channel::ExhaustSpeed,
            "the bound contradicts the thrust".to_owned(),
        );
        "exhaust bound set aside; thrust is used".to_owned()
    };
    checks.push(Check {
        code: "exhaust-against-thrust".to_owned(),
        line: point.line,
        passed,
        what: format!(
            "exhaust {}{:.1} m/s; the thrust implies {:.1} m/s, tolerance {tolerance:.1} m/s",
            match exhaust.censor {
                Censor::Exact => "",
                Censor::Above => "above ",
                Censor::Below => "below ",
            },
            exhaust.value,
            jet.value
        ),
        action,
    });
}

/// Electrical power of a point: volts times amps, else what the meter shows.
pub fn electrical_power(point: &BenchPoint, run: &str) -> Option<Uncertain> {
    match (point.exact(Channel::Voltage), point.exact(Channel::Current)) {
        (Some(v), Some(i)) => Uncertain::apply(
            &[
                &uncertain(v, run, point, Channel::Voltage),
                &uncertain(i, run, point, Channel::Current),
            ],
            |x| x[0] * x[1],
        ),
        _ => point
            .exact(Channel::Power)
            .map(|p| uncertain(p, run, point, Channel::Power)),
    }
}

/// Jet power against electrical power, once from the thrust and once from the exhaust speed.
fn efficiency(
    point: &mut BenchPoint,
    run: &str,
    rho: &Uncertain,
    area: &Uncertain,
    checks: &mut Vec<Check>,
) {
    let Some(power) = electrical_power(point, run).filter(|p| p.value > 0.0) else {
        return;
    };
    let from_thrust = point.exact(Channel::Thrust).and_then(|t| {
        let thrust = uncertain(t, run, point, Channel::Thrust);
        Uncertain::apply(&[&thrust, rho, area, &power], |x| {
            static_jet_power(x[0], x[1], x[2]) / x[3]
        })
    });
    // A bound at the range end bounds the efficiency from below: it can fail, too.
    let from_exhaust = point
        .get(Channel::ExhaustSpeed)
        .filter(|w| w.censor != Censor::Below)
        .and_then(|w| {
            let mut local = w.clone();
            local.u_independent = w.u_independent.hypot(rectangular(PROFILE_LIMIT * w.value));
            let exhaust = uncertain(&local, run, point, Channel::ExhaustSpeed);
            Uncertain::apply(&[&exhaust, rho, area, &power], |x| {
                0.5 * x[1] * x[2] * x[0].powi(3) / x[3]
            })
        });
    for (channel, overall) in [
        (Channel::Thrust, from_thrust),
        (Channel::ExhaustSpeed, from_exhaust),
    ] {
        let Some(overall) = overall else { continue };
        let word = channel.word();
        let least = overall.value - COVERAGE * overall.u();
        let passed = least <= EFFICIENCY_LIMIT;
        if !passed {
            point.set_aside.insert(
                channel,
                "jet power exceeds what the electrical power can give".to_owned(),
            );
        }
        checks.push(Check {
            code: "efficiency".to_owned(),
            line: point.line,
            passed,
            what: format!(
                "jet power from {word} is {:.0} % of the electrical power; above {:.0} % a reading \
                 is wrong",
                100.0 * overall.value,
                100.0 * EFFICIENCY_LIMIT
            ),
            action: if passed {
                "none needed".to_owned()
            } else {
                format!("{word} set aside: {word}, volts, amps or outlet area is wrong")
            },
        });
    }
}

/// Exhaust ratio of two systems against the root of their thrust ratio: w ~ sqrt(T/(rho·A)).
/// `None` where either reading is missing. `exhaust` and `thrust` are (baseline, candidate).
pub fn check_pair(
    line: u32,
    exhaust: (&Uncertain, Censor, &Uncertain, Censor),
    thrust: (&Uncertain, &Uncertain),
    flow: (&Uncertain, &Uncertain),
) -> Option<Check> {
    let (base, base_censor, candidate, candidate_censor) = exhaust;
    let ratio = Uncertain::apply(&[base, candidate], |x| x[1] / x[0])?;
    let root = Uncertain::apply(&[thrust.0, thrust.1, flow.0, flow.1], |x| {
        ((x[1] / x[3]) / (x[0] / x[2])).sqrt()
    })?;
    // Errors that both sides share drop out of the difference.
    let gap = Uncertain::apply(
        &[base, candidate, thrust.0, thrust.1, flow.0, flow.1],
        |x| x[1] / x[0] - ((x[3] / x[5]) / (x[2] / x[4])).sqrt(),
    )?;
    let tolerance = COVERAGE * gap.u();
    let (at_least, at_most) = (
        candidate_censor != Censor::Below && base_censor != Censor::Above,
        candidate_censor != Censor::Above && base_censor != Censor::Below,
    );
    let too_high = at_least && gap.value > tolerance;
    let too_low = at_most && -gap.value > tolerance;
    let passed = !too_high && !too_low;
    let bound = match (at_least, at_most) {
        (true, false) => "at least ",
        (false, true) => "at most ",
        _ => "",
    };
    Some(Check {
        code: "exhaust-pair".to_owned(),
        line,
        passed,
        what: format!(
            "exhaust ratio {bound}{:.2}, root of the thrust ratio {:.2}, tolerance {tolerance:.2}",
            ratio.value, root.value
        ),
        action: if passed {
            "none needed".to_owned()
        } else {
            "one of the two exhaust figures cannot stand: exhaust is left out of the comparison at \
             equal voltage and pack"
                .to_owned()
        },
    })
}

/// One finding a kind of failed check.
fn tell(run: &BenchRun, checks: &[Check]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (code, to_do) in [
        (
            "shown-power",
            "Volts times amps is used. A meter that holds peaks, or that averages, shows watts \
             that do not belong to its volts and amps: note live values at one moment.",
        ),
        (
            "exhaust-against-thrust",
            "The thrust is used. Traverse the anemometer across the outlet, or declare \
             outlet_area.",
        ),
        (
            "efficiency",
            "Check the scale, the meter and the outlet area; the reading was set aside.",
        ),
        (
            "range-end",
            "It is used as a bound. An instrument with a longer range would give a value.",
        ),
        (
            SUPPLY_LIMIT,
            "The readings are kept at their own voltage with a wider uncertainty. Use a supply or pack that holds its \
             voltage at full throttle.",
        ),
    ] {
        let failed: Vec<&Check> = checks
            .iter()
            .filter(|c| c.code == code && !c.passed)
            .collect();
        let Some(first) = failed.first() else {
            continue;
        };
        let more = match failed.len() {
            1 => String::new(),
            n => format!(" ({} more readings)", n - 1),
        };
        let what = format!("{}{more}", first.what);
        let finding = if matches!(code, "range-end" | SUPPLY_LIMIT) {
            Finding::note(code, what, to_do)
        } else {
            Finding::warning(code, what, to_do)
        };
        findings.push(finding.at(run.file.clone(), first.line, None));
    }
    findings
}
