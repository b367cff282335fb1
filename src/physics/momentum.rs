//! Momentum theory of a ducted jet: incompressible, uniform jet that leaves at ambient pressure
//! through the outlet area A and does not contract behind it. SI.
//!
//! Source: steady-flow momentum and energy balance of a jet engine, e.g. Hill and Peterson,
//! Mechanics and Thermodynamics of Propulsion, 2nd ed. (1992), section 5.2. A rotor whose wake
//! contracts to a share s of its disk is the same jet with A = s times the disk (open: s = ½).

/// Jet speed standing still, m/s, from thrust (N), density (kg/m³), outlet area (m²).
pub fn static_jet_speed(thrust_n: f64, density: f64, outlet_m2: f64) -> f64 {
    (thrust_n / (density * outlet_m2)).sqrt()
}

/// Power in the jet standing still, W: T^1.5 / sqrt(4·rho·A).
pub fn static_jet_power(thrust_n: f64, density: f64, outlet_m2: f64) -> f64 {
    thrust_n.powf(1.5) / (4.0 * density * outlet_m2).sqrt()
}

/// Thrust standing still, N, of a jet of power `jet_power_w` (W): (4·rho·A·P²)^⅓.
pub fn static_thrust(jet_power_w: f64, density: f64, outlet_m2: f64) -> f64 {
    (4.0 * density * outlet_m2 * jet_power_w * jet_power_w).cbrt()
}

/// Static figure of merit: power in the jet over power paid for (shaft or electrical: say which).
pub fn figure_of_merit(thrust_n: f64, power_w: f64, density: f64, outlet_m2: f64) -> f64 {
    static_jet_power(thrust_n, density, outlet_m2) / power_w
}

/// Thrust, N, of a jet of speed `w` in flight at `v` (m/s): rho·A·w·(w − v).
pub fn thrust(density: f64, outlet_m2: f64, w: f64, v: f64) -> f64 {
    density * outlet_m2 * w * (w - v)
}

/// Power, W, that the jet takes up in flight: ½·rho·A·w·(w² − v²).
pub fn jet_power(density: f64, outlet_m2: f64, w: f64, v: f64) -> f64 {
    0.5 * density * outlet_m2 * w * (w * w - v * v)
}

/// Propulsive (Froude) efficiency: 2·v/(v + w).
pub fn propulsive_efficiency(w: f64, v: f64) -> f64 {
    2.0 * v / (v + w)
}

/// Jet speed, m/s, in flight at `v` (m/s, ≥ 0) for a power in the jet (W, ≥ 0): the root above `v`
/// of w³ − v²·w = 2·P/(rho·A).
pub fn jet_speed_at_power(jet_power_w: f64, density: f64, outlet_m2: f64, v: f64) -> f64 {
    let cubed = 2.0 * jet_power_w / (density * outlet_m2);
    // The cubic is convex above v and not negative here, so Newton comes down without overshoot.
    let mut w = v + cubed.cbrt();
    for _ in 0..60 {
        let step = (w * w * w - v * v * w - cubed) / (3.0 * w * w - v * v);
        if step.is_nan() || step <= 1e-15 * w {
            break;
        }
        w -= step;
    }
    w
}

/// Jet speed over flight speed in level flight, from drag area over outlet area: the root of
/// r² − r − ½·S/A = 0. Density drops out.
pub fn level_jet_ratio(drag_over_outlet: f64) -> f64 {
    0.5 * (1.0 + (1.0 + 2.0 * drag_over_outlet).sqrt())
}

/// Level top speed, m/s, if the jet keeps the speed it has standing still (thrust in N).
pub fn level_speed_at_jet_speed(
    static_thrust_n: f64,
    density: f64,
    outlet_m2: f64,
    drag_area_m2: f64,
) -> f64 {
    static_jet_speed(static_thrust_n, density, outlet_m2)
        / level_jet_ratio(drag_area_m2 / outlet_m2)
}

/// Level top speed, m/s, for a power in the jet (W): (2·P/(rho·A·r·(r² − 1)))^⅓.
pub fn level_speed_at_power(
    jet_power_w: f64,
    density: f64,
    outlet_m2: f64,
    drag_area_m2: f64,
) -> f64 {
    let r = level_jet_ratio(drag_area_m2 / outlet_m2);
    (2.0 * jet_power_w / (density * outlet_m2 * r * (r * r - 1.0))).cbrt()
}

/// Drag area S = Cd·A, m², that makes `level_speed_m_s` the level top speed for a power in the jet
/// (W). The inverse of [`level_speed_at_power`].
pub fn drag_area_at_level_speed(
    level_speed_m_s: f64,
    jet_power_w: f64,
    density: f64,
    outlet_m2: f64,
) -> f64 {
    let r = jet_speed_at_power(jet_power_w, density, outlet_m2, level_speed_m_s) / level_speed_m_s;
    2.0 * outlet_m2 * r * (r - 1.0)
}
