use benchborne::physics::drag::*;
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

/// The light single-engined example aeroplane of Anderson, Introduction to Flight, chapter 6: 2950 lb,
/// wing 174 ft², aspect ratio 7.37, CD0 0.025, e 0.8, 230 hp at an efficiency of 0.80. At 200 ft/s at
/// sea level the text has CL 0.357, CD 0.0319, L/D 11.2 and 263 lb of drag (numbers of the text from
/// memory, the steps worked by hand here).
#[test]
fn drag_and_excess_power_of_a_textbook_aeroplane() {
    let (ft, lb) = (0.3048, 4.4482216152605);
    let (weight, wing) = (2950.0 * lb, 174.0 * ft * ft);
    let mass = weight / 9.80665;
    let span = f64::sqrt(7.37 * wing);
    let v = 200.0 * ft;
    // q = ½·0.002377 slug/ft³·(200 ft/s)² = 47.54 lb/ft²; CL = 2950/(47.54·174) = 0.3566;
    // CD = 0.025 + 0.3566²/(pi·0.8·7.37) = 0.03187; D = 0.03187·47.54·174 = 263.6 lb.
    let rho = 0.002377 * 515.3788184;
    let induced = induced_constant(mass, span, 0.8);
    let level = |v: f64| polar_drag(0.025 * wing, induced, dynamic_pressure(rho, v), 1.0);
    let drag = level(v);
    close(drag / lb, 263.6, 1e-3);
    close(weight / drag, 11.19, 1e-3);
    // 230 hp·0.8 = 101,200 ft·lb/s less 263.6·200 = 52,720: 48,480/2950 = 16.43 ft/s of climb.
    let power = 0.8 * 230.0 * 745.6998716;
    let climb = (power - drag * v) / weight;
    close(climb / ft, 16.43, 1e-3);
    // The same as excess thrust, and back.
    close(excess_thrust(mass, climb, v), power / v - drag, 1e-12);
    // Least drag where the parasite part, 0.025·q·S, equals the induced one.
    let best = (2.0 * (induced / (0.025 * wing)).sqrt() / rho).sqrt();
    let q = dynamic_pressure(rho, best);
    close(q * 0.025 * wing, induced / q, 1e-9);
    assert!(level(0.99 * best) > level(best) && level(1.01 * best) > level(best));
    close(level(best), 2.0 * (0.025 * wing * induced).sqrt(), 1e-9);
    // A turn at n costs n² of the induced drag: n = 2 at 60° of bank, turn rate g·sqrt(n² − 1)/V.
    let rate = 9.80665 * 3.0_f64.sqrt() / v;
    close(load_factor(v, rate), 2.0, 1e-9);
    let q = dynamic_pressure(rho, v);
    close(
        polar_drag(0.025 * wing, induced, q, 2.0) - drag,
        3.0 * induced / q,
        1e-9,
    );
}
