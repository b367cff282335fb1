//! Part of question 1: where did the static gain go? Excess power in the take-off run, in the climb
//! and in level flight; thrust and drag at level top speed; top speed against jet speed; energy for a
//! kilometre.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable};
use crate::findings::evidence::{Evidence, over_flights, percent, percent_interval};
use crate::findings::excess_comparison::{Comparison, compare, spot};
use crate::findings::figure::Figure;
use crate::findings::gain_pictures;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::{DistanceEnergyRow, ThrustRow};

/// Places of a flight where excess power is compared, in the order they are flown.
const PLACES: [&str; 3] = ["take-off", "climb", "level"];

/// Adds what the flights tell to the carry-over answer.
pub fn add(
    evidence: &Evidence,
    powers: [&str; 2],
    answer: &mut Answer,
) -> (Vec<Figure>, Vec<DataTable>) {
    how(answer);
    let flew = powers.iter().all(|p| {
        evidence
            .flights_of(p)
            .iter()
            .any(|f| f.level_speed_m_s.is_some())
    });
    if !flew {
        return (Vec::new(), Vec::new());
    }
    let mut refusals: Vec<String> = Vec::new();
    let mut compared: Vec<Comparison> = Vec::new();
    for place in PLACES {
        match compare(evidence, powers, place) {
            Ok(found) => {
                record(evidence, answer, powers, &found);
                compared.push(found);
            }
            Err(why) => refusals.push(format!("excess power {}: {why}", spot(place))),
        }
    }
    let mut figures = Vec::new();
    if let Some(told) = told(answer, &compared) {
        answer.remarks.insert(0, told);
    }
    figures.extend(gain_pictures::excess_power(evidence, powers, &compared));
    for power in powers {
        match thrust(evidence, answer, power) {
            Ok(()) => {}
            Err(why) => refusals.push(format!(
                "thrust in flight of {}: {why}",
                evidence.power_name(power)
            )),
        }
        if let Some(question) = jet_share(evidence, answer, power) {
            answer.remarks.push(question);
        }
    }
    figures.extend(gain_pictures::thrust(evidence, powers, answer));
    match energy(evidence, answer, powers) {
        Ok(remark) => answer.remarks.push(remark),
        Err(why) => refusals.push(format!("energy for a kilometre: {why}")),
    }
    figures.extend(gain_pictures::energy(evidence, powers, answer));
    if !refusals.is_empty() {
        answer.remarks.push(format!(
            "Not told about where the gain went: {}.",
            refusals.join("; ")
        ));
    }
    let tables = table(powers, &compared, evidence).into_iter().collect();
    (figures, tables)
}

fn how(answer: &mut Answer) {
    answer.how.method.extend([
        "Excess power per weight: v·(dv/dt)/g + dh/dt over windows of steady throttle, airspeed from \
         ground velocity less the wind; both systems at the same throttle, brought to the same \
         voltage and airspeed; log values on fan and airframe, flights as the unit."
            .to_owned(),
        "Drag: what a glide with the throttle closed loses of its energy height, D = q·S + K·n²/q. \
         The fan windmills meanwhile, and no flight can tell its drag from the airframe's: thrust \
         in flight is counted from the idling fan, excess thrust plus that drag."
            .to_owned(),
        "Energy for a kilometre: power in nearly level, nearly steady flight at no excess power, \
         over airspeed; the wind is out of it."
            .to_owned(),
    ]);
    answer.how.sources.extend([
        "Energy height and excess power: Rutowski, J. Aeronaut. Sci. 21 (1954) 187.".to_owned(),
        "Steady throttle by change points: Killick, Fearnhead and Eckley, J. Am. Stat. Assoc. 107 \
         (2012) 1590."
            .to_owned(),
    ]);
    answer
        .how
        .inputs
        .push("tables excess_power, idle_drag, thrust_in_flight, energy_per_distance".to_owned());
}

/// The key that a place has in names of estimates.
fn key(place: &str) -> String {
    format!("excess_power_{}", place.replace('-', "_"))
}

fn record(evidence: &Evidence, answer: &mut Answer, powers: [&str; 2], found: &Comparison) {
    let at = |estimate: Estimate| {
        let estimate =
            estimate
                .at("throttle", found.throttle, "1")
                .at("airspeed", found.airspeed_m_s, "m/s");
        match found.voltage_v {
            Some(v) => estimate.at("voltage", v, "V"),
            None => estimate,
        }
    };
    for (candidate, power) in [(false, powers[0]), (true, powers[1])] {
        let method = format!("excess power {}, mean over flights", spot(found.place));
        if let Some(estimate) = over_flights(&found.of_side(candidate), "m/s", &method) {
            answer
                .estimates
                .insert(format!("{}_{power}", key(found.place)), at(estimate));
        }
    }
    if let Some((gain, low, high)) = found.gain {
        let method = format!(
            "excess power {} of {} over {} less one, log values on fan and airframe",
            spot(found.place),
            evidence.power_name(powers[1]),
            evidence.power_name(powers[0])
        );
        let estimate = Estimate::interval(gain, low, high, 0.95, "1", &method)
            .count("baseline flights", found.of_side(false).len())
            .count("candidate flights", found.of_side(true).len());
        answer
            .estimates
            .insert(format!("{}_gain", key(found.place)), at(estimate));
    }
}

/// Where the gain shows, in words.
fn told(answer: &Answer, compared: &[Comparison]) -> Option<String> {
    let gain = |key: &str| answer.estimates.get(key).cloned();
    let parts: Vec<String> = compared
        .iter()
        .filter_map(|c| {
            let e = gain(&format!("{}_gain", key(c.place)))?;
            let speed = if c.place == "level" {
                format!(" at {:.0} m/s", c.airspeed_m_s)
            } else {
                String::new()
            };
            Some(format!(
                "{}{speed} by {}",
                spot(c.place),
                percent_interval(&e)
            ))
        })
        .collect();
    if parts.is_empty() {
        return None;
    }
    // What the bench foretells is looked for: a loss where it found one.
    let lost = gain("static_thrust_gain").is_some_and(|e| e.high.is_some_and(|high| high < 0.0));
    let what = if lost { "static loss" } else { "static gain" };
    let above = |e: &Option<Estimate>| {
        e.as_ref().is_some_and(|e| match lost {
            true => e.high.is_some_and(|h| h < 0.0),
            false => e.low.is_some_and(|l| l > 0.0),
        })
    };
    let shows: Vec<&str> = compared
        .iter()
        .filter(|c| c.place != "level")
        .filter(|c| above(&gain(&format!("{}_gain", key(c.place)))))
        .map(|c| spot(c.place))
        .collect();
    let speed = gain("observed_speed_gain_same_pack")
        .or_else(|| gain("observed_speed_gain_same_terminal_voltage"));
    let verdict = match (shows.is_empty(), above(&speed)) {
        (false, true) => format!(
            "The {what} shows {} and in level top speed",
            shows.join(", ")
        ),
        (false, false) => format!(
            "The {what} shows {}, not in level top speed as far as these flights tell",
            shows.join(" and ")
        ),
        (true, true) => format!(
            "The {what} shows in level top speed, not in take-off run or climb as far as these flights \
             tell"
        ),
        (true, false) => format!("These flights show the {what} in no part of the flight"),
    };
    Some(format!(
        "{verdict}. At the same throttle, voltage and airspeed the power left to climb or \
         accelerate changes {}. At top speed itself none is left.",
        parts.join(", ")
    ))
}

fn thrust(evidence: &Evidence, answer: &mut Answer, power: &str) -> Result<(), String> {
    let rows: Vec<&ThrustRow> = evidence
        .tables
        .thrust_in_flight
        .iter()
        .filter(|r| r.power == power && r.level)
        .collect();
    if rows.is_empty() {
        return Err(why_no_thrust(evidence, power));
    }
    let values: Vec<f64> = rows.iter().map(|r| r.thrust_n).collect();
    let own = over_flights(
        &values,
        "N",
        "drag of the idle glides at each flight's level top speed: thrust counted from the idling fan",
    );
    let Some(mut estimate) = own else {
        return Ok(());
    };
    // What the flights share: the polar and the mass.
    let shared = stats::mean(
        &rows
            .iter()
            .map(|r| 0.5 * (r.thrust_high_n - r.thrust_low_n))
            .collect::<Vec<_>>(),
    );
    let value = stats::mean(&values);
    let half = estimate.high.map_or(0.0, |h| h - value).hypot(shared);
    (estimate.low, estimate.high) = (Some(value - half), Some(value + half));
    let speed = stats::mean(&rows.iter().map(|r| r.airspeed_m_s).collect::<Vec<_>>());
    let estimate = estimate.at("airspeed", speed, "m/s");
    answer.estimates.insert(
        format!("thrust_over_idling_fan_at_level_speed_{power}"),
        estimate,
    );
    Ok(())
}

/// What is missing for a thrust in flight.
fn why_no_thrust(evidence: &Evidence, power: &str) -> String {
    let flights: Vec<_> = evidence
        .flights_of(power)
        .into_iter()
        .filter(|f| f.level_speed_m_s.is_some())
        .collect();
    let mass = flights.iter().any(|f| {
        f.airframe
            .as_ref()
            .and_then(|a| evidence.season.airframes.get(a))
            .is_some_and(|a| a.mass_kg.is_some())
    });
    if !mass {
        return "the mass of its airframe is not declared".to_owned();
    }
    if flights.iter().all(|f| f.max_height_m.is_none()) {
        return "no flight logged a height".to_owned();
    }
    if flights.iter().all(|f| !f.has_throttle) {
        return "no flight logged a throttle, so a glide cannot be told".to_owned();
    }
    if evidence.tables.idle_drag.iter().all(|d| d.power != power) {
        return "fewer than three usable glides with the throttle closed; coast level for four \
                seconds at the end of some passes"
            .to_owned();
    }
    "its glides are much slower than its level top speed; coast from the end of a pass".to_owned()
}

/// Level top speed as a share of the jet speed; a question where it is above one.
fn jet_share(evidence: &Evidence, answer: &mut Answer, power: &str) -> Option<String> {
    let rows: Vec<(f64, f64)> = evidence
        .flights_of(power)
        .into_iter()
        .filter_map(|f| {
            let speed = f.level_speed_m_s?;
            let jet = f.static_jet_speed_m_s?;
            Some((speed / jet, f.static_jet_speed_u_m_s.unwrap_or(0.0) / jet))
        })
        .collect();
    let shares: Vec<f64> = rows.iter().map(|r| r.0).collect();
    let mut estimate = over_flights(
        &shares,
        "1",
        "level top speed over the jet speed that the bench's thrust means in the outlet area",
    )?;
    let value = stats::mean(&shares);
    let shared =
        stats::NORMAL_95 * value * stats::mean(&rows.iter().map(|r| r.1).collect::<Vec<_>>());
    let half = estimate.high.map_or(0.0, |h| h - value).hypot(shared);
    (estimate.low, estimate.high) = (Some(value - half), Some(value + half));
    answer
        .estimates
        .insert(format!("top_speed_share_of_jet_speed_{power}"), estimate);
    (value - half > 1.0).then(|| {
        format!(
            "{} would fly faster than its own jet ({} of the jet speed), which level flight does \
             not allow: look at the outlet area, at the thrust scale and at the logged speed.",
            evidence.power_name(power),
            percent(value)
        )
    })
}

/// Energy for a kilometre at a matched airspeed, as a sentence.
fn energy(evidence: &Evidence, answer: &mut Answer, powers: [&str; 2]) -> Result<String, String> {
    let rows = &evidence.tables.energy_per_distance;
    for power in powers {
        if !rows.iter().any(|r| r.power == power) {
            return Err(format!(
                "{} has too few flights with a current sensor, a height and steady level stretches \
                 at several throttles",
                evidence.power_name(power)
            ));
        }
    }
    let Some((a, b)) = evidence.matched_distance(powers) else {
        return Err(
            "the two have no airspeed in common, or flew on different airframes".to_owned(),
        );
    };
    for (power, row) in powers.iter().zip([a, b]) {
        answer.estimates.insert(
            format!("energy_per_kilometre_{power}"),
            Estimate::interval(
                row.energy_wh_km,
                row.low_wh_km,
                row.high_wh_km,
                0.95,
                "W.h/km",
                "power at no excess power over airspeed; leaving out each flight in turn",
            )
            .at("airspeed", row.airspeed_m_s, "m/s")
            .count("flights", row.flights as usize),
        );
    }
    let relative = |r: &DistanceEnergyRow| 0.5 * (r.high_wh_km - r.low_wh_km) / r.energy_wh_km;
    let ratio = b.energy_wh_km / a.energy_wh_km;
    let half = relative(a).hypot(relative(b));
    let estimate = Estimate::interval(
        ratio - 1.0,
        ratio * (-half).exp() - 1.0,
        ratio * half.exp() - 1.0,
        0.95,
        "1",
        "energy for a kilometre, candidate over baseline less one",
    )
    .at("airspeed", a.airspeed_m_s, "m/s");
    let words = format!(
        "At {:.0} m/s a kilometre through the air takes {:.2} Wh with {} and {:.2} Wh with {}, a \
         change of {}.",
        a.airspeed_m_s,
        a.energy_wh_km,
        evidence.power_name(powers[0]),
        b.energy_wh_km,
        evidence.power_name(powers[1]),
        percent_interval(&estimate)
    );
    answer
        .estimates
        .insert("energy_per_kilometre_change".to_owned(), estimate);
    Ok(words)
}

fn table(powers: [&str; 2], compared: &[Comparison], evidence: &Evidence) -> Option<DataTable> {
    let side = |c: &Comparison, candidate: bool| {
        over_flights(&c.of_side(candidate), "m/s", "").map_or(DataCell::Blank(()), |e| {
            DataCell::interval(e.value, e.low, e.high)
        })
    };
    let rows: Vec<Vec<DataCell>> = compared
        .iter()
        .map(|c| {
            vec![
                DataCell::text(Some(c.place)),
                DataCell::Number(c.throttle),
                DataCell::number(c.voltage_v),
                DataCell::Number(c.airspeed_m_s),
                side(c, false),
                side(c, true),
                DataCell::interval(
                    c.gain.map(|g| g.0),
                    c.gain.map(|g| g.1),
                    c.gain.map(|g| g.2),
                ),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("excess-power-{}", powers.join("-")),
        title: "Excess power at matched throttle, voltage and airspeed".to_owned(),
        columns: vec![
            DataColumn::new("where", "", 0),
            DataColumn::new("throttle", "1", 2),
            DataColumn::new("voltage", "V", 2),
            DataColumn::new("airspeed", "m/s", 1),
            DataColumn::new(&evidence.power_name(powers[0]), "m/s", 1),
            DataColumn::new(&evidence.power_name(powers[1]), "m/s", 1),
            DataColumn::new("gain", "1", 3),
        ],
        rows,
    })
}
