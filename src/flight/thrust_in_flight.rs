//! Thrust in flight against airspeed: excess thrust at full throttle plus the drag of the idle
//! glides, counted from the idling fan (see [`super::glide`]).

use crate::flight::excess_power::{Excess, Where};
use crate::flight::glide::IdleDrag;
use crate::physics::drag::excess_thrust;
use crate::stats;

/// How well a declared flying mass is known, relative standard uncertainty (another pack, a heavier
/// receiver; common practice, no source).
pub const MASS_U: f64 = 0.01;
/// Width of a bin of airspeed, m/s.
const BIN_M_S: f64 = 4.0;
/// Drag this far beyond the fastest glide is an extrapolation of the polar that is still told.
const BEYOND: f64 = 1.25;

/// Thrust at one airspeed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thrust {
    pub airspeed_m_s: f64,
    pub thrust_n: f64,
    /// 95 %; flights (or glides) are the unit.
    pub low_n: f64,
    pub high_n: f64,
    pub drag_n: f64,
    pub voltage_v: Option<f64>,
    /// Full-throttle windows it rests on; 0 at level speed, where thrust is drag.
    pub windows: usize,
    /// At the level top speed.
    pub level: bool,
}

/// Thrust over a flight's speeds at full throttle, and at its level top speed
/// (`level`: airspeed, its standard error, voltage).
pub fn thrust_in_flight(
    windows: &[Excess],
    full_throttle: f64,
    drag: &IdleDrag,
    (mass_kg, density_kg_m3): (f64, f64),
    level: Option<(f64, f64, Option<f64>)>,
) -> Vec<Thrust> {
    let t = stats::t_quantile(0.975, drag.degrees_of_freedom());
    let within = |v: f64| v <= BEYOND * drag.fastest_m_s;
    let mut bins: std::collections::BTreeMap<i64, Vec<&Excess>> = std::collections::BTreeMap::new();
    for w in windows.iter().filter(|w| {
        w.place != Where::TakeOff
            && w.motion.throttle >= full_throttle
            && within(w.motion.airspeed_m_s)
    }) {
        bins.entry((w.motion.airspeed_m_s / BIN_M_S).floor() as i64)
            .or_default()
            .push(w);
    }
    let mut out: Vec<Thrust> = bins
        .values()
        .map(|bin| {
            let of = |f: &dyn Fn(&Excess) -> f64| {
                stats::mean(&bin.iter().map(|w| f(w)).collect::<Vec<f64>>())
            };
            let excess: Vec<f64> = bin
                .iter()
                .map(|w| excess_thrust(mass_kg, w.motion.excess_power_m_s, w.motion.airspeed_m_s))
                .collect();
            let airspeed_m_s = of(&|w| w.motion.airspeed_m_s);
            let drag_n = of(&|w| {
                drag.drag(density_kg_m3, w.motion.airspeed_m_s, w.motion.load_factor)
                    .0
            });
            let drag_se = drag.drag(density_kg_m3, airspeed_m_s, 1.0).1;
            let own = if excess.len() > 1 {
                stats::sd(&excess) / (excess.len() as f64).sqrt()
            } else {
                0.0
            };
            let thrust_n = stats::mean(&excess) + drag_n;
            let half = t * drag_se.hypot(own).hypot(MASS_U * thrust_n);
            let volts: Option<Vec<f64>> = bin.iter().map(|w| w.motion.voltage_v).collect();
            Thrust {
                airspeed_m_s,
                thrust_n,
                low_n: thrust_n - half,
                high_n: thrust_n + half,
                drag_n,
                voltage_v: volts.map(|v| stats::mean(&v)),
                windows: bin.len(),
                level: false,
            }
        })
        .collect();
    if let Some((v, se, voltage_v)) = level.filter(|l| within(l.0)) {
        let (drag_n, drag_se) = drag.drag(density_kg_m3, v, 1.0);
        let by_speed = (drag.drag(density_kg_m3, v + 0.5, 1.0).0
            - drag.drag(density_kg_m3, v - 0.5, 1.0).0)
            * se;
        let half = t * drag_se.hypot(by_speed).hypot(MASS_U * drag_n);
        out.push(Thrust {
            airspeed_m_s: v,
            thrust_n: drag_n,
            low_n: drag_n - half,
            high_n: drag_n + half,
            drag_n,
            voltage_v,
            windows: 0,
            level: true,
        });
    }
    out
}
