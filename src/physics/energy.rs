//! Energy height: speed traded for height and back.

use super::atmosphere::G0;

/// Energy height, m: height (m) plus v²/(2·g) of the airspeed (m/s).
///
/// Source: Rutowski, J. Aeronaut. Sci. 21 (1954) 187.
pub fn energy_height(height_m: f64, airspeed_m_s: f64) -> f64 {
    height_m + airspeed_m_s * airspeed_m_s / (2.0 * G0)
}

/// Specific excess power, m/s: v·(dv/dt)/g + dh/dt, which equals (T − D)·v/W.
pub fn specific_excess_power(airspeed_m_s: f64, acceleration_m_s2: f64, climb_m_s: f64) -> f64 {
    airspeed_m_s * acceleration_m_s2 / G0 + climb_m_s
}

/// Speed (m/s) that `airspeed_m_s` becomes if `height_gained_m` (m) is paid from speed alone;
/// `None` where the energy does not reach.
pub fn speed_after_climb(airspeed_m_s: f64, height_gained_m: f64) -> Option<f64> {
    let squared = airspeed_m_s * airspeed_m_s - 2.0 * G0 * height_gained_m;
    (squared >= 0.0).then(|| squared.sqrt())
}
