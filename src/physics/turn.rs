//! Load factor, dynamic pressure and stall: what a turn asks of the airframe.

use super::atmosphere::G0;

/// Dynamic pressure, Pa, from density (kg/m³) and airspeed (m/s): ½·rho·v².
pub fn dynamic_pressure(density_kg_m3: f64, airspeed_m_s: f64) -> f64 {
    0.5 * density_kg_m3 * airspeed_m_s * airspeed_m_s
}

/// Load factor of a steady level turn at airspeed (m/s) and turn rate (rad/s): sqrt(1 + (v·ω/g)²).
///
/// Source: equilibrium of a coordinated turn, e.g. Anderson, Aircraft Performance and Design
/// (1999), section 6.2. Wind drops out when both are taken through the air.
pub fn load_factor(airspeed_m_s: f64, turn_rate_rad_s: f64) -> f64 {
    1.0_f64.hypot(airspeed_m_s * turn_rate_rad_s / G0)
}

/// Load factor of a steady level turn at a bank (rad, below 90°): 1/cos.
pub fn load_factor_of_bank(bank_rad: f64) -> f64 {
    1.0 / bank_rad.cos()
}

/// Bank (rad) of a steady level turn at load factor `n` ≥ 1.
pub fn bank_of_load_factor(n: f64) -> f64 {
    (1.0 / n).acos()
}

/// Stall speed at load factor `n`: stall speed in level flight times sqrt(n).
///
/// With `n` the limit load factor this is the manoeuvring speed.
pub fn stall_speed_at(level_stall_speed_m_s: f64, n: f64) -> f64 {
    level_stall_speed_m_s * n.abs().sqrt()
}

/// Greatest load factor that the wing can make at an airspeed: (v / stall speed)².
pub fn stall_load_factor(airspeed_m_s: f64, level_stall_speed_m_s: f64) -> f64 {
    (airspeed_m_s / level_stall_speed_m_s).powi(2)
}

/// Level stall speed, m/s, from mass (kg), density (kg/m³), wing area (m²) and greatest lift
/// coefficient: sqrt(2·m·g/(rho·S·CL)).
pub fn stall_speed(mass_kg: f64, density_kg_m3: f64, wing_area_m2: f64, lift_max: f64) -> f64 {
    (2.0 * mass_kg * G0 / (density_kg_m3 * wing_area_m2 * lift_max)).sqrt()
}
