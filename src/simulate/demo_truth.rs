//! The demo season's `truth.json`.

use serde_json::{Value, json};

use super::demo::flight_id;
use super::demo_plan::SEED;
use super::fly::{SimulatedFlight, SimulatedSeason};
use super::season::SeasonPlan;

/// To six places behind the point: the file is for people and tests.
fn rounded(value: f64) -> Value {
    json!((value * 1e6).round() / 1e6)
}

/// 99 % quantile of the load factor from take-off to landing; `None` where nothing logged.
fn load_factor_99(flight: &SimulatedFlight) -> Option<f64> {
    let flying = flight.truth.take_off_s..flight.truth.landing_s;
    let rows = flight.log.time.iter().zip(&flight.log.load_factor_true);
    let mut loads: Vec<f64> = rows
        .filter(|(time, _)| flying.contains(time))
        .map(|(_, load)| *load)
        .collect();
    loads.sort_by(f64::total_cmp);
    loads.get(loads.len() * 99 / 100).copied()
}

pub(super) fn truth(plan: &SeasonPlan, season: &SimulatedSeason) -> String {
    let flights: Vec<Value> = season
        .flights
        .iter()
        .enumerate()
        .map(|(index, flight)| {
            let truth = &flight.truth;
            json!({
                "flight": flight_id(index),
                "level_speed_m_s": rounded(truth.level_speed),
                "level_speed_without_hidden_effects_m_s": rounded(truth.level_speed_without_effects),
                "mean_pass_terminal_voltage_v": rounded(truth.pass_voltage),
                "day_effect": rounded(truth.day_effect),
                "flight_effect": rounded(truth.flight_effect),
                "wind_north_m_s": rounded(truth.wind_north),
                "wind_east_m_s": rounded(truth.wind_east),
                "density_kg_m3": rounded(truth.density),
                "energy_wh": rounded(truth.energy_wh),
                "charge_mah": rounded(truth.charge_mah),
                "kappa_at_level_speed": rounded(truth.kappa_level),
                "position_clock_ahead_s": rounded(truth.clock_offset_s),
                "gps_lag_s": rounded(truth.gps_lag_s),
                "pack_resistance_ohm": rounded(truth.pack_resistance),
                "pack_resistance_settled_ohm": rounded(truth.pack_resistance_settled),
                "take_off_s": rounded(truth.take_off_s),
                "landing_s": rounded(truth.landing_s),
                "time_to_reserve_s": rounded(truth.time_to_reserve_s),
                "passes": truth.passes.len(),
                "load_factor_exceeded_1_percent_of_the_time": load_factor_99(flight).map(rounded),
            })
        })
        .collect();
    let truth = &season.truth;
    let ids: Vec<&str> = plan.fans.iter().map(|fan| fan.id.as_str()).collect();
    let value = json!({
        "_about": "What is really so in this invented season, from the simulator that made it. \
    Never an input: for checking what the analysis says. Gains are fractions, eleven-blade over \
    six-blade. same_pack: equal open-circuit voltage and charge used (a new red pack, 40 % used); \
    same_terminal_voltage: at reference_voltage_v. Wind: the direction it blows to, at 50 m. \
    day_effect and flight_effect: log of what nobody sees, on level speed. kappa: current in level \
    flight over static current at equal throttle, voltage and density. position_clock_ahead_s: what \
    the GPX clock shows too much. time_to_reserve_s: from take-off until a fifth of the rated charge \
    is left, carried on at the flight's mean current where it landed before.",
        "seed": SEED,
        "fans": ids,
        "speed_gain_same_pack": rounded(truth.speed_gain_same_pack),
        "speed_gain_same_terminal_voltage": rounded(truth.speed_gain_same_terminal_voltage),
        "airframe_effect_birch_over_alder": rounded(truth.airframe_effect),
        "static_thrust_gain": rounded(truth.static_thrust_gain),
        "static_current_gain": rounded(truth.static_current_gain),
        "static_power_gain": rounded(truth.static_power_gain),
        "static_thrust_gain_same_pack": rounded(truth.static_thrust_gain_same_pack),
        "static_current_gain_same_pack": rounded(truth.static_current_gain_same_pack),
        "reference_voltage_v": rounded(truth.reference_voltage),
        "reference_density_kg_m3": rounded(truth.reference_density),
        "level_speed_m_s": truth.level_speed.iter().map(|&v| rounded(v)).collect::<Vec<_>>(),
        "mean_time_to_reserve_s": truth.reserve_s.iter().map(|&v| rounded(v)).collect::<Vec<_>>(),
        "flights": flights,
    });
    // A Value always serialises; an empty file would be caught by the tests.
    serde_json::to_string_pretty(&value)
        .map(|text| text + "\n")
        .unwrap_or_default()
}
