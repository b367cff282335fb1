//! Drag of an airframe as a parabolic polar, and what excess power tells of it.
//!
//! D = q·S + K·n²/q with q = ½·rho·v², S the parasite drag area (m²) and
//! K = (m·g)²/(pi·b²·e), b the span and e the span efficiency: D = a·v² + b/v² in level flight.
//! Source: parabolic drag polar, e.g. Anderson, Aircraft Performance and Design (1999), sections
//! 2.9 and 5.3 (from memory).

use super::atmosphere::G0;

/// Drag, N, at dynamic pressure `q_pa` and load factor `n`; `induced` is K, N²/m².
pub fn polar_drag(drag_area_m2: f64, induced: f64, q_pa: f64, n: f64) -> f64 {
    q_pa * drag_area_m2 + induced * n * n / q_pa
}

/// K = (m·g)²/(pi·b²·e): the induced drag in level flight times the dynamic pressure, N²/m².
pub fn induced_constant(mass_kg: f64, span_m: f64, efficiency: f64) -> f64 {
    (mass_kg * G0).powi(2) / (std::f64::consts::PI * span_m * span_m * efficiency)
}

/// Thrust less drag, N, from specific excess power (m/s) at an airspeed (m/s):
/// P_s = (T − D)·v/(m·g).
pub fn excess_thrust(mass_kg: f64, excess_power_m_s: f64, airspeed_m_s: f64) -> f64 {
    mass_kg * G0 * excess_power_m_s / airspeed_m_s
}
