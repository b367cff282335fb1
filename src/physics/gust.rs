//! Load factor from a vertical gust, after a rule for full-size aeroplanes.
//!
//! Source: 14 CFR 23.341(c) as it stood before amendment 23-64 (historic), in SI; the factor K_g is
//! of Pratt, NACA TN 2964 (1953), from memory. The rule's constant 498 (pounds, feet, knots) is
//! 498.535 rounded, so the rule as printed gives 0.1 % more than this.

use super::atmosphere::{G0, standard};

/// What the rule asks of a wing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wing {
    /// Weight over wing area, N/m².
    pub wing_loading_pa: f64,
    /// Wing area over span, m.
    pub mean_chord_m: f64,
    /// Slope of the lift coefficient, 1/rad.
    pub lift_slope: f64,
}

/// Derived gust speeds up to 20,000 ft, m/s: 50 ft/s at cruising speed and 25 ft/s at the greatest
/// one (14 CFR 23.333(c), historic).
pub const GUSTS_M_S: [f64; 2] = [15.24, 7.62];

impl Wing {
    /// Mass ratio 2(W/S)/(rho·c·a·g).
    pub fn mass_ratio(&self, density_kg_m3: f64) -> f64 {
        2.0 * self.wing_loading_pa / (density_kg_m3 * self.mean_chord_m * self.lift_slope * G0)
    }

    /// Gust alleviation factor 0.88 mu/(5.3 + mu).
    pub fn alleviation(&self, density_kg_m3: f64) -> f64 {
        let mu = self.mass_ratio(density_kg_m3);
        0.88 * mu / (5.3 + mu)
    }

    /// Change of load factor by a gust (m/s, derived equivalent) at an equivalent airspeed (m/s):
    /// Kg·rho0·U·V·a/(2·W/S).
    pub fn gust_increment(&self, gust_m_s: f64, equivalent_m_s: f64, density_kg_m3: f64) -> f64 {
        self.alleviation(density_kg_m3)
            * standard(0.0).density_kg_m3
            * gust_m_s
            * equivalent_m_s
            * self.lift_slope
            / (2.0 * self.wing_loading_pa)
    }
}

/// Slope of the lift coefficient of a wing by its aspect ratio, 1/rad: 2·pi·A/(A + 2).
///
/// Source: Prandtl's lifting line, elliptical lift, e.g. Anderson, Fundamentals of Aerodynamics,
/// section 5.3. Low sweep and Mach number.
pub fn lift_slope(span_m: f64, wing_area_m2: f64) -> f64 {
    let aspect = span_m * span_m / wing_area_m2;
    2.0 * std::f64::consts::PI * aspect / (aspect + 2.0)
}

/// Equivalent airspeed, m/s: true airspeed times the root of the density ratio.
pub fn equivalent_airspeed(true_m_s: f64, density_kg_m3: f64) -> f64 {
    true_m_s * (density_kg_m3 / standard(0.0).density_kg_m3).sqrt()
}
