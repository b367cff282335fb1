//! Momentum theory. Formulas [V: encyclopedic pages and Georgia Tech AE3310 ch. 3]; numbers [D/C]
//! at rho = 1.225, outlet of 90 mm (or as said).

use benchborne::physics::momentum::*;

use super::close;

const RHO: f64 = 1.225;
const TOLERANCE: f64 = 1e-7;

fn disk(diameter: f64) -> f64 {
    std::f64::consts::PI * diameter * diameter / 4.0
}

#[test]
fn standing_still() {
    let a = disk(0.09);
    close(a, 6.361725124e-3, 1e-9);
    let t = static_thrust(2000.0, RHO, a);
    close(t, 49.95860740, TOLERANCE);
    close(static_jet_speed(t, RHO, a), 80.06628303, TOLERANCE);
    close(RHO * a * static_jet_speed(t, RHO, a), 0.6239656, TOLERANCE);
    close(static_jet_power(t, RHO, a), 2000.0, 1e-12);
    // The open rotor's wake contracts to half its disk.
    close(static_thrust(2000.0, RHO, 0.5 * a), 39.65217297, TOLERANCE);
    let small = static_thrust(1000.0, RHO, disk(0.07));
    close(small, 26.61709658, TOLERANCE);
    close(
        static_jet_speed(small, RHO, disk(0.07)),
        75.13967550,
        TOLERANCE,
    );
}

#[test]
fn figure_of_merit_by_wake_contraction() {
    let ideal = [
        (0.5, 1316.168188),
        (0.8, 1040.522315),
        (1.0, 930.671451),
        (1.2, 849.582912),
    ];
    for (contraction, power) in ideal {
        close(
            static_jet_power(30.0, RHO, contraction * disk(0.09)),
            power,
            TOLERANCE,
        );
    }
    close(
        figure_of_merit(30.0, 2000.0, RHO, disk(0.09)),
        0.46533573,
        TOLERANCE,
    );
    close(
        figure_of_merit(30.0, 2000.0, RHO, 0.5 * disk(0.09)),
        0.65808409,
        TOLERANCE,
    );
}

#[test]
fn in_flight() {
    let a = disk(0.09);
    close(thrust(RHO, a, 80.0, 40.0), 24.93796248, TOLERANCE);
    close(jet_power(RHO, a, 80.0, 40.0), 1496.277749, TOLERANCE);
    close(propulsive_efficiency(80.0, 40.0), 2.0 / 3.0, 1e-12);
    let at_2000_w = [
        (20.0, 81.73133481, 39.31925210),
        (40.0, 86.71333035, 31.56731805),
        (60.0, 94.91038983, 25.82137973),
    ];
    for (v, w, t) in at_2000_w {
        close(jet_speed_at_power(2000.0, RHO, a, v), w, TOLERANCE);
        close(thrust(RHO, a, w, v), t, TOLERANCE);
    }
    close(
        propulsive_efficiency(86.71333035, 40.0),
        0.63134636,
        TOLERANCE,
    );
    close(
        jet_speed_at_power(2000.0, RHO, a, 0.0),
        80.06628303,
        TOLERANCE,
    );
    close(jet_speed_at_power(0.0, RHO, a, 30.0), 30.0, 1e-12);
}

/// Drag area, r, speed at constant jet speed, speed at constant power.
#[test]
fn level_flight() {
    let a = disk(0.09);
    let t = static_thrust(2000.0, RHO, a);
    for (s, r, jet, power) in [
        (0.004, 1.251252377, 63.98891582, 89.84417136),
        (0.008, 1.437422138, 55.70130082, 69.44554436),
    ] {
        close(level_jet_ratio(s / a), r, TOLERANCE);
        close(level_speed_at_jet_speed(t, RHO, a, s), jet, TOLERANCE);
        close(level_speed_at_power(2000.0, RHO, a, s), power, TOLERANCE);
        close(
            drag_area_at_level_speed(power, 2000.0, RHO, a),
            s,
            TOLERANCE,
        );
        // In equilibrium thrust is drag.
        close(
            thrust(RHO, a, jet * r, jet),
            0.5 * RHO * jet * jet * s,
            TOLERANCE,
        );
        close(power / jet, (r * r / (r * r - 1.0)).cbrt(), TOLERANCE);
        // What leaves the loss of thrust with speed out (142.8 m/s) is far above both.
        assert!((2.0 * t / (RHO * s)).sqrt() > power);
    }
    close((2.0 * t / (RHO * 0.004)).sqrt(), 142.798, 1e-5);
}
