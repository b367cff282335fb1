//! Air: the standard atmosphere and the density of real air. SI throughout.

/// Standard acceleration of free fall, m/s² (ISO 2533:1975, exact).
pub const G0: f64 = 9.80665;
/// Specific gas constant of dry air, J/(kg·K) (ISO 2533:1975).
pub const R_AIR: f64 = 287.05287;
/// Ratio of specific heats of air (ISO 2533:1975).
pub const GAMMA: f64 = 1.4;

const T0: f64 = 288.15;
const P0: f64 = 101_325.0;
/// Temperature gradient of the troposphere, K per geopotential metre.
const LAPSE: f64 = -0.0065;
/// Geopotential height of the tropopause, m.
const TROPOPAUSE: f64 = 11_000.0;
/// Nominal radius of the Earth of the standard atmosphere, m.
const EARTH_RADIUS: f64 = 6_356_766.0;

/// State of still air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Atmosphere {
    pub temperature_k: f64,
    pub pressure_pa: f64,
    pub density_kg_m3: f64,
}

impl Atmosphere {
    /// Speed of sound in dry air, m/s: sqrt(gamma·R·T).
    pub fn sound_speed_m_s(&self) -> f64 {
        (GAMMA * R_AIR * self.temperature_k).sqrt()
    }
}

/// Standard atmosphere at geopotential height `h_m` (m), from -2 km to 20 km.
///
/// Source: ISO 2533:1975 (the same model as the U.S. Standard Atmosphere 1976).
pub fn standard(h_m: f64) -> Atmosphere {
    let below = h_m.min(TROPOPAUSE);
    let temperature_k = T0 + LAPSE * below;
    let mut pressure_pa = P0 * (temperature_k / T0).powf(G0 / (-LAPSE * R_AIR));
    if h_m > TROPOPAUSE {
        pressure_pa *= (-G0 * (h_m - TROPOPAUSE) / (R_AIR * temperature_k)).exp();
    }
    Atmosphere {
        temperature_k,
        pressure_pa,
        density_kg_m3: density(pressure_pa, temperature_k),
    }
}

/// Geopotential height of a height above sea level, both in m (ISO 2533:1975). The difference is
/// 1.4 m at 3 km.
pub fn geopotential(height_m: f64) -> f64 {
    EARTH_RADIUS * height_m / (EARTH_RADIUS + height_m)
}

/// Geopotential height (m) at which the standard troposphere has the pressure `p_pa` (Pa).
pub fn pressure_altitude(p_pa: f64) -> f64 {
    T0 / -LAPSE * (1.0 - (p_pa / P0).powf(-LAPSE * R_AIR / G0))
}

/// Density of dry air, kg/m³, from pressure (Pa) and temperature (K): p/(R·T).
pub fn density(p_pa: f64, t_k: f64) -> f64 {
    p_pa / (R_AIR * t_k)
}

/// Density of moist air, kg/m³, from pressure (Pa), temperature (K) and relative humidity (0..1).
///
/// Source: CIPM-2007 (Picard, Davis, Gläser, Fujii, Metrologia 45 (2008) 149-155, eq. 1 and
/// appendix A), at its reference CO2 content of 400 µmol/mol. Stated for 15..27 °C and
/// 600..1100 hPa; between 10 and 40 °C it stays within 1e-4 of published values.
pub fn density_moist(p_pa: f64, t_k: f64, relative_humidity: f64) -> f64 {
    const R: f64 = 8.314_472;
    const M_DRY: f64 = 28.965_46e-3;
    const M_WATER: f64 = 18.015_28e-3;
    let xv = vapour_fraction(p_pa, t_k, relative_humidity);
    let z = compressibility(p_pa, t_k, xv);
    p_pa * M_DRY / (z * R * t_k) * (1.0 - xv * (1.0 - M_WATER / M_DRY))
}

/// Mole fraction of water vapour (CIPM-2007, A1.1 and A1.2).
fn vapour_fraction(p_pa: f64, t_k: f64, relative_humidity: f64) -> f64 {
    let saturation = (1.237_884_7e-5 * t_k * t_k - 1.912_131_6e-2 * t_k + 33.937_110_47
        - 6.343_164_5e3 / t_k)
        .exp();
    let celsius = t_k - 273.15;
    let enhancement = 1.000_62 + 3.14e-8 * p_pa + 5.6e-7 * celsius * celsius;
    relative_humidity * enhancement * saturation / p_pa
}

/// Compressibility factor (CIPM-2007, A1.4).
fn compressibility(p_pa: f64, t_k: f64, xv: f64) -> f64 {
    let c = t_k - 273.15;
    let ratio = p_pa / t_k;
    let first = 1.581_23e-6 - 2.9331e-8 * c
        + 1.1043e-10 * c * c
        + (5.707e-6 - 2.051e-8 * c) * xv
        + (1.9898e-4 - 2.376e-6 * c) * xv * xv;
    1.0 - ratio * first + ratio * ratio * (1.83e-11 - 0.765e-8 * xv * xv)
}
