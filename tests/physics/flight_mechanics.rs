use benchborne::physics::energy::{energy_height, specific_excess_power, speed_after_climb};
use benchborne::physics::turn::*;

use super::close;

/// Load factors of level turns [D].
#[test]
fn load_factors() {
    for (bank, n) in [
        (30.0_f64, 1.154700538),
        (45.0, std::f64::consts::SQRT_2),
        (60.0, 2.0),
    ] {
        close(load_factor_of_bank(bank.to_radians()), n, 1e-9);
        close(bank_of_load_factor(n).to_degrees(), bank, 1e-8);
    }
    close(load_factor(40.0, 1.0), 4.199659329, 1e-9);
    close(
        bank_of_load_factor(load_factor(40.0, 1.0)).to_degrees(),
        76.22471362,
        1e-9,
    );
    close(load_factor(50.0, 0.35), 2.045593383, 1e-9);
    close(load_factor(50.0, 0.0), 1.0, 1e-15);
}

/// [D]
#[test]
fn dynamic_pressure_and_stall() {
    close(dynamic_pressure(1.225, 40.0), 980.0, 1e-12);
    close(dynamic_pressure(1.225, 100.0 / 3.6), 472.6080247, 1e-9);
    let vs = stall_speed(5.5, 1.225, 0.55, 1.2);
    close(vs, 11.55092245, 1e-9);
    close(stall_speed_at(vs, 6.0), 28.29386606, 1e-9);
    close(stall_load_factor(28.29386606, vs), 6.0, 1e-9);
}

/// A free fall of 10 m from rest: sqrt(2·g·10) = 14.0047... [D]; energy height stays.
#[test]
fn energy_is_kept() {
    let v = speed_after_climb(0.0, -10.0).unwrap();
    close(v, 196.133_f64.sqrt(), 1e-12);
    close(energy_height(0.0, v), energy_height(10.0, 0.0), 1e-12);
    assert!(speed_after_climb(10.0, 10.0).is_none());
    // Steady climb at 5 m/s, and one g of acceleration at 12 m/s.
    close(specific_excess_power(30.0, 0.0, 5.0), 5.0, 1e-12);
    close(specific_excess_power(12.0, 9.80665, 0.0), 12.0, 1e-12);
}
