//! Keys and codes in words.

pub use crate::findings::evidence::capital;
use std::collections::BTreeSet;

/// Estimate keys that read better than with their underscores as blanks.
const NAMES: &[(&str, &str)] = &[
    ("static_thrust_gain", "Static thrust gain"),
    ("static_power_gain", "Static power gain"),
    ("static_current_gain", "Static current gain"),
    (
        "static_thrust_per_watt_gain",
        "Static gain in thrust per watt",
    ),
    (
        "static_figure_of_merit_gain",
        "Static gain in figure of merit",
    ),
    ("static_exhaust_speed_gain", "Static gain in exhaust speed"),
    ("reference_speed_gain_low", "Reference case, lower"),
    ("reference_speed_gain_high", "Reference case, upper"),
    (
        "reference_speed_gain_from_thrust",
        "Reference case from thrust",
    ),
    (
        "reference_speed_gain_from_power",
        "Reference case from power",
    ),
    (
        "observed_speed_gain_same_pack",
        "Gain in level top speed, same pack",
    ),
    (
        "observed_speed_gain_same_terminal_voltage",
        "Gain in level top speed, same terminal voltage",
    ),
    (
        "carry_over_fraction_from_thrust",
        "Carry-over fraction, of the reference case from thrust",
    ),
    (
        "carry_over_fraction_from_power",
        "Carry-over fraction, of the reference case from power",
    ),
    ("timer", "Timer setting"),
    ("mean_time_to_reserve", "Time to the reserve, mean"),
    (
        "shortest_time_to_reserve",
        "Time to the reserve, shortest seen",
    ),
    (
        "time_to_reserve_less_the_other",
        "Time to the reserve, less that of the system it is compared with",
    ),
    ("extrapolated_timer", "Timer setting, extrapolated"),
    (
        "extrapolated_time_to_reserve",
        "Time to the reserve, extrapolated",
    ),
    (
        "replayed_time_to_reserve",
        "Time to the reserve, replayed from the baseline's flights",
    ),
    (
        "replayed_time_at_the_same_throttle",
        "Time to the reserve, replayed at the same throttle",
    ),
    (
        "replayed_time_at_the_same_power",
        "Time to the reserve, replayed at the same power",
    ),
    ("replay_error", "Error of the replay against the flights"),
    ("energy_per_kilometre", "Energy for a kilometre"),
    (
        "dynamic_pressure_change_at_level_speed",
        "Change of dynamic pressure at level top speed",
    ),
    (
        "unloading_slope_with_airspeed",
        "Flight current ÷ bench current, change with airspeed",
    ),
    (
        "rotor_speed_in_flight_over_bench",
        "Rotor speed in flight ÷ on the bench",
    ),
    (
        "estimated_energy_error_bias",
        "Error of energy without a current sensor, mean",
    ),
    (
        "estimated_energy_error_spread",
        "Error of energy without a current sensor, from flight to flight",
    ),
    (
        "estimated_energy_error_median",
        "Error of energy without a current sensor, median size",
    ),
    (
        "unloading_at_highest_throttle",
        "Flight current ÷ bench current, highest throttle",
    ),
    ("unloading", "Flight current ÷ bench current"),
    (
        "unloading_at_level_speed",
        "Flight current ÷ bench current at level speed",
    ),
    ("damage_ratio", "Damage ratio, candidate ÷ baseline"),
    (
        "put_back_over_logged_charge",
        "Charge put back ÷ charge logged",
    ),
    ("resistance", "Pack resistance"),
    ("c_rate_held", "C rate held for 10 s"),
    (
        "excess_power_take_off_gain",
        "Gain in excess power, take-off run",
    ),
    ("excess_power_climb_gain", "Gain in excess power, climb"),
    (
        "excess_power_level_gain",
        "Gain in excess power, level flight",
    ),
    (
        "flights_needed_a_fan",
        "Further flights with each fan, to settle it in 8 of 10 seasons",
    ),
    (
        "flights_needed_a_fan_nine_in_ten",
        "Further flights with each fan, to settle it in 9 of 10 seasons",
    ),
    (
        "flights_needed_an_airframe",
        "Further flights, to settle it in 8 of 10 seasons",
    ),
    (
        "flights_needed_an_airframe_nine_in_ten",
        "Further flights, to settle it in 9 of 10 seasons",
    ),
    (
        "chance_settled_if_all",
        "Chance to settle it if all carried over",
    ),
    (
        "chance_settled_if_half",
        "Chance to settle it if half carried over",
    ),
    (
        "chance_settled_if_nothing",
        "Chance to settle it if nothing carried over",
    ),
    ("chance_settled_if_alike", "Chance to settle it if alike"),
    ("chance_settled_if_unlike", "Chance to settle it if unlike"),
    ("airborne", "Time in the air"),
    ("recorded", "Length of the record"),
    ("charge", "Charge drawn"),
    ("energy", "Energy drawn"),
    ("charge_put_back", "Charge put back"),
    ("level_speed", "Level top speed"),
    (
        "share_of_level_speed_reached",
        "Share of level top speed that the fastest pass reached",
    ),
    ("wind_to_north", "Wind, to the north"),
    ("wind_to_east", "Wind, to the east"),
    ("time_constant", "Time constant of the run-up"),
    (
        "damage_exponent_5",
        "Fatigue damage at exponent 5, relative",
    ),
    (
        "static_thrust_at_highest_throttle",
        "Static thrust, highest throttle",
    ),
    ("current_at_highest_throttle", "Current, highest throttle"),
    (
        "time_to_ninety_percent_of_a_step",
        "Time to nine tenths of a step of the current",
    ),
    ("motor_velocity_constant", "Motor speed a volt"),
    ("p_no_gain", "p of no gain, two-sided"),
    (
        "p_no_gain_holm",
        "p of no gain, corrected for several questions (Holm)",
    ),
    (
        "p_difference_that_matters",
        "p of a difference that matters (two one-sided tests)",
    ),
];

/// Endings that tell a condition, in words.
const CONDITIONS: &[(&str, &str)] = &[
    ("_same_pack", ", as on the same pack"),
    ("_as_measured", ", as measured"),
    ("_by_scatter_alone", ", from the scatter of flights alone"),
];

/// Words in a key or column name that make a unit of "1" read as a percentage.
const AS_PERCENT: &[&str] = &[
    "gain",
    "fraction",
    "share",
    "headroom",
    "reserve",
    "efficiency",
    "margin",
    "sag",
    "throttle",
    "difference",
    "change",
    "error",
    "utilisation",
    "saving",
    "scatter",
    "chance",
];

/// Endings that repeat the unit, with the UCUM code they stand for.
const UNIT_ENDINGS: &[(&str, &str)] = &[
    ("_m_s", "m/s"),
    ("_kg_m3", "kg/m3"),
    ("_mah", "mA.h"),
    ("_wh", "W.h"),
    ("_min", "min"),
    ("_kg", "kg"),
    ("_pa", "Pa"),
    ("_s", "s"),
    ("_a", "A"),
    ("_v", "V"),
    ("_w", "W"),
    ("_n", "N"),
    ("_m", "m"),
    ("_k", "K"),
];

/// UCUM codes as people write them.
const UNITS: &[(&str, &str)] = &[
    ("1", ""),
    ("mA.h", "mAh"),
    ("A.h", "Ah"),
    ("W.h", "Wh"),
    ("Cel", "°C"),
    ("K", "K"),
    ("Ohm", "Ω"),
    ("mOhm", "mΩ"),
    ("kg/m3", "kg/m³"),
    ("m2", "m²"),
    ("cm2", "cm²"),
    ("dm2", "dm²"),
    ("m3", "m³"),
    ("m/s2", "m/s²"),
    ("[g]", "g"),
    ("deg", "°"),
    ("/min", "rpm"),
    ("10*3/min", "krpm"),
    ("/min/V", "rpm/V"),
    ("/h", "1/h"),
    ("h-1", "1/h"),
    ("[mi_i]/h", "mph"),
    ("[kn_i]", "kn"),
    ("[ft_i]/s", "ft/s"),
    ("[ft_i]", "ft"),
    ("[yd_i]", "yd"),
    ("[in_i]", "in"),
    ("[sin_i]", "in²"),
    ("[lb_av]", "lb"),
    ("[oz_av]", "oz"),
    ("[lbf_av]", "lbf"),
    ("[oz_av].[g]", "ozf"),
    ("[degF]", "°F"),
    ("km/h", "km/h"),
    ("N/W", "N/W"),
    ("W.h/km", "Wh/km"),
    ("N2/m2", "N²/m²"),
];

pub fn estimate_name(key: &str, unit: &str) -> String {
    if let Some((_, name)) = NAMES.iter().find(|(k, _)| *k == key) {
        return (*name).to_owned();
    }
    let condition = CONDITIONS
        .iter()
        .find_map(|(ending, words)| Some((key.strip_suffix(ending)?, words)));
    if let Some((stem, words)) = condition {
        return estimate_name(stem, unit) + words;
    }
    let stem = UNIT_ENDINGS
        .iter()
        .find(|(_, code)| *code == unit)
        .and_then(|(ending, _)| key.strip_suffix(ending))
        .unwrap_or(key);
    capital(&stem.replace('_', " "))
}

/// A quantity name of a condition: underscores to blanks.
pub fn plain(name: &str) -> String {
    name.replace('_', " ")
}

pub fn is_percent(name: &str, unit: &str) -> bool {
    let name = name.to_lowercase();
    unit == "1"
        && !is_p_value(&name)
        && !name.contains("ratio")
        && !name.contains('÷')
        && AS_PERCENT.iter().any(|word| name.contains(word))
}

/// Whether a key names a p value: a fraction, never a percentage.
pub fn is_p_value(key: &str) -> bool {
    key.starts_with("p_") || key.starts_with("permutation_")
}

pub fn unit(code: &str) -> String {
    UNITS
        .iter()
        .find(|(ucum, _)| *ucum == code)
        .map_or_else(|| code.replace('.', "·"), |(_, words)| (*words).to_owned())
}

/// Units after a number, and what follows a number closely.
const GLUED: &[&str] = &[
    "%", "s", "min", "h", "m", "mm", "cm", "km", "m/s", "km/h", "V", "A", "W", "Wh", "kW", "mAh",
    "Ah", "N", "g", "kg", "hPa", "Pa", "K", "°C", "Ω", "mΩ", "rpm", "cm²", "kg/m³",
];

/// `text` with the blank between a number and its unit made one that no line breaks at.
pub fn glue(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for word in text.split_inclusive(' ') {
        let bare = word.trim_end_matches([' ', '.', ',', ';', ':', '?', '!', ')']);
        let after_number = out.ends_with(' ')
            && out
                .trim_end()
                .chars()
                .next_back()
                .is_some_and(|c| c.is_ascii_digit());
        if after_number && GLUED.contains(&bare) {
            out.pop();
            out.push('\u{a0}');
        }
        out.push_str(word);
    }
    out
}

/// `text` with a full stop unless it ends as a sentence does.
pub fn stop(text: &str) -> String {
    let text = text.trim_end();
    let ended = text.is_empty() || text.ends_with(['.', '!', '?', '…']);
    glue(text) + if ended { "" } else { "." }
}

/// `text` as a sentence of its own: with a capital, unless it begins with a word of a file, and a full
/// stop.
pub fn whole(text: &str) -> String {
    let first = text.split_whitespace().next().unwrap_or("");
    let plain = first.chars().all(|c| c.is_lowercase() || "-',".contains(c));
    if plain {
        stop(&capital(text))
    } else {
        stop(text)
    }
}

/// Names that are safe as file stems and in links, in the order given and all different.
pub fn stems<'a>(ids: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut taken = BTreeSet::new();
    ids.map(|id| {
        let mut stem: String = id
            .chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() || c == '-' || c == '_' {
                    c
                } else {
                    '-'
                }
            })
            .take(80)
            .collect::<String>()
            .trim_matches('-')
            .to_lowercase();
        if stem.is_empty() {
            stem = "unnamed".to_owned();
        }
        let base = stem.clone();
        let mut n = 2;
        while !taken.insert(stem.clone()) {
            stem = format!("{base}-{n}");
            n += 1;
        }
        stem
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_begin_with_a_capital_and_end_with_a_stop() {
        assert_eq!(whole("name the column"), "Name the column.");
        assert_eq!(whole("fan_diameter is missing"), "fan_diameter is missing.");
        assert_eq!(whole("`zone` is missing!"), "`zone` is missing!");
        assert_eq!(whole(""), "");
    }

    #[test]
    fn unknown_keys_are_prettified() {
        assert_eq!(estimate_name("level_speed_m_s", "m/s"), "Level speed");
        assert_eq!(estimate_name("peak_current", "A"), "Peak current");
        assert_eq!(
            estimate_name("static_thrust_gain", "1"),
            "Static thrust gain"
        );
    }

    #[test]
    fn gains_are_percentages_and_ratios_are_not() {
        assert!(is_percent("observed_speed_gain_same_pack", "1"));
        assert!(!is_percent("damage_ratio", "1"));
        assert!(!is_percent("p_no_gain", "1"));
        assert!(!is_percent("p_difference_that_matters", "1"));
        assert!(!is_percent("thrust_gain", "N"));
        assert!(!is_percent("load_factor", "1"));
    }

    #[test]
    fn numbers_stay_with_their_units() {
        assert_eq!(
            glue("has 1 % left, for 10 s; 3 fans"),
            "has 1\u{a0}% left, for 10\u{a0}s; 3 fans"
        );
    }

    #[test]
    fn stems_cannot_leave_the_folder_or_collide() {
        let stems = stems(["../../etc/x", "a b", "a-b", "", "Ä"].into_iter());
        assert_eq!(stems, ["etc-x", "a-b", "a-b-2", "unnamed", "unnamed-2"]);
    }
}
