//! What is really so in a simulated season: for tests and studies, never an input of the analysis.

use super::physics::{PowerSystem, Supply};
use super::pilot::Straight;
use super::season::SeasonPlan;
use super::tune::{Tuned, pack};

/// A full-throttle straight as it really was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassTruth {
    pub start_s: f64,
    pub end_s: f64,
    /// Heading through the air, rad.
    pub heading: f64,
    pub entry_airspeed: f64,
    pub exit_airspeed: f64,
    /// Level top speed at this pass's own mean terminal voltage.
    pub level_speed: f64,
    pub mean_voltage: f64,
    /// Ground speed over the last `base_m` of the straight, m/s.
    pub base_speed: f64,
    pub base_m: f64,
    /// Ground covered at full throttle before the base, m.
    pub run_up_m: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct FlightTruth {
    /// At the mean terminal voltage of the passes, this flight's air, airframe and hidden effects.
    pub level_speed: f64,
    pub pass_voltage: f64,
    /// The same with the effects of the day and the flight taken out.
    pub level_speed_without_effects: f64,
    /// Log effects of the day and of the flight on level speed.
    pub day_effect: f64,
    pub flight_effect: f64,
    /// Mean wind at 50 m, m/s, direction it blows to.
    pub wind_north: f64,
    pub wind_east: f64,
    pub density: f64,
    pub energy_wh: f64,
    pub charge_mah: f64,
    /// Level-flight current ÷ static current, full throttle, equal terminal voltage and density.
    pub kappa_level: f64,
    /// At level top speed and `pass_voltage`: pack current, thrust; and the parasite drag area.
    pub level_current_a: f64,
    pub level_thrust_n: f64,
    pub drag_area_m2: f64,
    /// At level top speed with the throttle closed, the fan windmilling: negative.
    pub idle_thrust_n: f64,
    /// The position logger's clock minus the power logger's, s.
    pub clock_offset_s: f64,
    pub gps_lag_s: f64,
    /// Ohmic resistance of the pack at half charge, and with polarisation built up, ohm.
    pub pack_resistance: f64,
    pub pack_resistance_settled: f64,
    /// Wait for take-off and landing, s into the log.
    pub take_off_s: f64,
    pub landing_s: f64,
    /// When a fifth of the rated charge was left, s after take-off; `None`: landed before.
    pub reserve_s: Option<f64>,
    /// The same, carried on at the flight's mean current where it landed before.
    pub time_to_reserve_s: f64,
    pub passes: Vec<PassTruth>,
    /// Part-throttle straights.
    pub holds: Vec<Straight>,
}

/// Candidate (second fan) against baseline (first fan) in reference conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonTruth {
    pub speed_gain_same_pack: f64,
    pub speed_gain_same_terminal_voltage: f64,
    /// Second airframe against the first; 0 with one airframe.
    pub airframe_effect: f64,
    /// Static, at equal terminal voltage.
    pub static_thrust_gain: f64,
    pub static_current_gain: f64,
    pub static_power_gain: f64,
    /// Static, on the same pack.
    pub static_thrust_gain_same_pack: f64,
    pub static_current_gain_same_pack: f64,
    pub reference_voltage: f64,
    pub reference_density: f64,
    /// Level top speed of each fan, same pack, m/s.
    pub level_speed: Vec<f64>,
    /// Mean of `FlightTruth::time_to_reserve_s` by fan; NaN for a fan that never flew.
    pub reserve_s: Vec<f64>,
}

impl SeasonTruth {
    pub fn new(plan: &SeasonPlan, tuned: &Tuned, flights: &[FlightTruth]) -> Self {
        let at = &tuned.reference;
        let terminal = Supply::Terminal(at.terminal_v);
        let first = tuned.powers.first();
        let second = tuned.powers.get(1).or(first);
        let gain = |of: &dyn Fn(&PowerSystem) -> f64| match (first, second) {
            (Some(a), Some(b)) => of(b) / of(a) - 1.0,
            _ => f64::NAN,
        };
        let level = |supply: Supply| move |p: &PowerSystem| at.jet.level(p, supply, at.rho).0;
        let thrust =
            |supply: Supply| move |p: &PowerSystem| p.steady(supply, 1.0, 0.0, at.rho).thrust_n;
        let current = |supply: Supply| {
            move |p: &PowerSystem| p.steady(supply, 1.0, 0.0, at.rho).electric.pack_current_a
        };
        let airframe = |index: usize| {
            let power = first.copied().unwrap_or(PowerSystem::baseline());
            tuned
                .jets
                .get(index)
                .map(|jet| jet.level(&power, at.supply, at.rho).0)
        };
        let reserve_s = (0..plan.fans.len())
            .map(|fan| {
                let times: Vec<f64> = plan
                    .flights
                    .iter()
                    .zip(flights)
                    .filter(|(flight, _)| flight.fan == fan)
                    .map(|(_, truth)| truth.time_to_reserve_s)
                    .collect();
                times.iter().sum::<f64>() / times.len() as f64
            })
            .collect();
        Self {
            speed_gain_same_pack: gain(&level(at.supply)),
            speed_gain_same_terminal_voltage: gain(&level(terminal)),
            airframe_effect: match (airframe(0), airframe(1)) {
                (Some(a), Some(b)) => b / a - 1.0,
                _ => 0.0,
            },
            static_thrust_gain: gain(&thrust(terminal)),
            static_current_gain: gain(&current(terminal)),
            // Equal volts: power goes with current.
            static_power_gain: gain(&current(terminal)),
            static_thrust_gain_same_pack: gain(&thrust(at.supply)),
            static_current_gain_same_pack: gain(&current(at.supply)),
            reference_voltage: at.terminal_v,
            reference_density: at.rho,
            level_speed: tuned.powers.iter().map(level(at.supply)).collect(),
            reserve_s,
        }
    }
}

/// Which flight of its pack each flight is, from 0.
pub fn pack_ages(plan: &SeasonPlan) -> Vec<usize> {
    let mut flown = vec![0_usize; plan.packs.len()];
    plan.flights
        .iter()
        .map(|flight| {
            let age = flown.get(flight.pack).copied().unwrap_or(0);
            if let Some(count) = flown.get_mut(flight.pack) {
                *count += 1;
            }
            age
        })
        .collect()
}

/// Resistance of a pack of the plan after `age` flights: ohmic at half charge, and settled.
pub fn resistances(plan: &SeasonPlan, index: usize, age: usize) -> (f64, f64) {
    plan.packs
        .get(index)
        .map_or((f64::NAN, f64::NAN), |pack_plan| {
            let pack = pack(pack_plan, age);
            let ohmic = pack.ohmic(0.5);
            (ohmic, ohmic + pack.polarisation)
        })
}

/// Charge left, fraction of rated, that `FlightTruth::reserve_s` waits for.
pub const RESERVE: f64 = 0.2;
