//! The controller's temperature on a body of known constants.

use benchborne::flight::controller_heat::controller_heat;
use benchborne::ingest::{Channel, Log};

/// Warmed by the square of the motor's current, cooled with a time constant.
fn body(rise: f64, tau: f64, seconds: f64, with_throttle: bool) -> Log {
    let dt = 0.1;
    let mut log = Log {
        file: "logs/heat.csv".to_owned(),
        step_s: dt,
        ..Log::default()
    };
    let (mut amps, mut throttle, mut kelvin) = (Vec::new(), Vec::new(), Vec::new());
    let mut above = 3.0;
    for k in 0..(seconds / dt) as u32 {
        let t = dt * f64::from(k);
        let duty = if (t / 15.0) as i64 % 2 == 0 { 1.0 } else { 0.5 };
        let motor = if duty == 1.0 { 80.0 } else { 50.0 };
        log.time.push(t);
        log.lines.push(k + 2);
        amps.push(motor * duty);
        throttle.push(duty);
        kelvin.push((293.15_f64 + above).round());
        above += (rise * motor * motor - above) * dt / tau;
    }
    log.channels.insert(Channel::Current, amps);
    if with_throttle {
        log.channels.insert(Channel::Throttle, throttle);
    }
    log.channels.insert(Channel::ControllerTemperature, kelvin);
    log
}

#[test]
fn rise_and_time_constant_of_a_known_body_are_found() {
    let (rise, tau) = (0.0100, 45.0);
    let found = controller_heat(&body(rise, tau, 240.0, true)).unwrap();
    let fit = found.fit.unwrap();
    assert!(found.of_motor);
    assert!((fit.rise_k_per_a2 / rise - 1.0).abs() < 0.03, "{fit:?}");
    assert!((fit.time_constant_s / tau - 1.0).abs() < 0.1, "{fit:?}");
    // A sensor of whole degrees.
    assert!(fit.residual_rms_k < 0.4);
    assert!(found.greatest_k - found.start_k > 20.0);
}

/// Pack current at half throttle is half of the motor's: without the throttle the same body seems to
/// warm less by its current than it does, since the half-throttle heat goes unexplained.
#[test]
fn without_throttle_the_pack_current_is_taken_and_said() {
    let found = controller_heat(&body(0.01, 45.0, 240.0, false)).unwrap();
    assert!(!found.of_motor);
    assert!(found.fit.unwrap().rise_k_per_a2 < 0.008);
}

#[test]
fn a_cool_flight_or_no_sensor_tells_no_constants() {
    let cool = controller_heat(&body(0.0002, 45.0, 240.0, true)).unwrap();
    assert_eq!(cool.fit, None);
    let mut log = body(0.01, 45.0, 60.0, true);
    log.channels.remove(&Channel::ControllerTemperature);
    assert_eq!(controller_heat(&log), None);
}
