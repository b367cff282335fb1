//! Resistance on circuits with known values.

use benchborne::flight::step_resistance::{StepResistance, step_resistance};
use benchborne::ingest::{Channel, Log};

/// A pack of an open-circuit voltage that falls with the charge, an ohmic part, and a part that builds
/// up with a time constant; `wave` gives the current.
fn circuit(ohmic: f64, slow: f64, tau: f64, wave: impl Fn(f64) -> f64) -> Log {
    let dt = 0.05;
    let (mut lost, mut charge) = (0.0, 0.0);
    let mut log = Log {
        file: "logs/circuit.csv".to_owned(),
        step_s: dt,
        ..Log::default()
    };
    let (mut volts, mut amps) = (Vec::new(), Vec::new());
    for k in 0..6000 {
        let t = dt * f64::from(k);
        let current = wave(t);
        log.time.push(t);
        log.lines.push(k as u32 + 2);
        amps.push(current);
        volts.push(16.6 - 0.6 * charge / 3600.0 - ohmic * current - lost);
        let next = wave(t + dt);
        charge += 0.5 * (current + next) * dt;
        lost += (slow * 0.5 * (current + next) - lost) * (1.0 - (-dt / tau).exp());
    }
    log.channels.insert(Channel::Voltage, volts);
    log.channels.insert(Channel::Current, amps);
    log
}

/// Full throttle and idle in turn, ten seconds each.
fn square(t: f64) -> f64 {
    if (t / 10.0) as i64 % 2 == 1 {
        80.0
    } else {
        8.0
    }
}

fn of(log: &Log) -> StepResistance {
    step_resistance(log).unwrap().unwrap()
}

#[test]
fn a_plain_resistance_is_found_at_every_time_scale() {
    let found = of(&circuit(0.014, 0.0, 1.0, square));
    for ohm in [found.resistance_ohm, found.sooner_ohm, found.later_ohm] {
        assert!((ohm - 0.014).abs() < 1e-6, "{ohm}");
    }
    assert!(found.steps >= 25);
}

/// What builds up slowly shows the more the later one looks: 1 - exp(-t/tau) of it, and as much again
/// is still missing of the step before.
#[test]
fn resistance_grows_with_the_time_after_the_step() {
    let (ohmic, slow, tau) = (0.012, 0.004, 3.0);
    let found = of(&circuit(ohmic, slow, tau, square));
    let (sooner, later) = (found.sooner_ohm, found.later_ohm);
    assert!(ohmic < sooner && sooner < found.resistance_ohm && found.resistance_ohm < later);
    assert!(later < ohmic + slow);
    // Ten seconds are three time constants: the step before has all but gone.
    let share = |a: f64, b: f64| 1.0 - tau / (b - a) * ((-a / tau).exp() - (-b / tau).exp());
    let expected = ohmic + slow * share(1.0, 3.0);
    let off = found.resistance_ohm - expected;
    assert!(off.abs() < 2e-5, "{found:?} {expected}");
}

#[test]
fn a_steady_current_tells_no_resistance_and_says_so() {
    let finding = step_resistance(&circuit(0.014, 0.0, 1.0, |_| 40.0)).unwrap_err();
    assert_eq!(finding.code, "pack-steps-too-few");
}

#[test]
fn without_volts_or_amps_nothing_is_said() {
    let mut log = circuit(0.014, 0.0, 1.0, square);
    log.channels.remove(&Channel::Voltage);
    assert_eq!(step_resistance(&log).unwrap(), None);
}
