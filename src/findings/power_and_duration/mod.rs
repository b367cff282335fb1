//! Question 2: what power does it really draw in the air, and how long can I fly?
//!
//! Method: charge counted and calibrated by what was put back; current over the bench's at equal throttle,
//! voltage and density, the bench curve a monotone cubic (Fritsch and Carlson 1980); the timer a one-sided
//! tolerance limit over flights (ISO 16269-6), flights landed before their reserve counted as such.

mod distance;
mod duration;
mod estimated;
mod replay;
mod rotor;
mod unloading;

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, HowWeKnow, Step, Verdict};
use crate::findings::evidence::{Evidence, counted, over_flights, watts, widened, with_interval};
use crate::findings::figure::Figure;
use crate::findings::flight_pictures::flight_strip;
use crate::findings::pictured::Pictured;
use crate::findings::{pictures, rotor_alignment};
use crate::season::QuestionKind;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::FlightRow;

/// The answer, its pictures and its table of flights.
pub fn answer(evidence: &Evidence, power: &str) -> (Answer, Vec<Figure>, Vec<DataTable>) {
    let name = evidence.power_name(power);
    let mut answer = Answer::new(
        QuestionKind::PowerAndDuration,
        &format!("power-and-duration-{power}"),
        &format!("What power does {name} really draw in the air, and how long can I fly?"),
    );
    answer.candidate = Some(power.to_owned());
    answer.how = how();
    let flights = evidence.flights_of(power);
    power_in_flight(&flights, &mut answer);
    estimated::estimates(evidence, power, &flights, &mut answer);
    unloading::estimates(evidence, power, &mut answer);
    rotor::estimate(evidence, power, &mut answer);
    duration::estimates(evidence, power, &flights, &mut answer);
    distance::estimates(evidence, power, &mut answer);
    let replayed = replay::estimates(evidence, power, &mut answer);
    let mut figures = figures(evidence, power, &answer);
    let landings = duration::landings(evidence, power, &flights, &answer);
    figures.splice(figures.len().min(1)..figures.len().min(1), landings);
    figures.extend(unloading::map(evidence, power));
    figures.extend(replay::picture(evidence, power, &answer));
    let mut tables: Vec<DataTable> = table(evidence, power, &flights).into_iter().collect();
    tables.extend(unloading::table(evidence, power));
    tables.extend(replay::table(evidence, power));
    let mut beside_tunnel = String::new();
    if let Some((words, figure, table)) = rotor_alignment::align(evidence, power, &mut answer) {
        beside_tunnel = words;
        figures.insert(0, figure);
        tables.insert(0, table);
    }
    answer.figures = figures.iter().map(|f| f.id.clone()).collect();
    answer.tables = tables.iter().map(|t| t.id.clone()).collect();
    let words = Words {
        beside_tunnel: &beside_tunnel,
        replayed: &replayed,
    };
    conclude(evidence, power, &flights, words, &mut answer);
    (answer, figures, tables)
}

fn how() -> HowWeKnow {
    HowWeKnow {
        method: vec![
            "Power and charge: integrals of V·I and I over the record (trapezoid), gaps never \
             bridged; their intervals are the sensor's accuracy, calibrated by put-back where the \
             logbook has it."
                .to_owned(),
            "Unloading: flight current over bench current at equal throttle, voltage and air \
             density, from steady-throttle holds after the spool-up lag; flights are the unit. Where \
             the bench does not reach, nothing is drawn."
                .to_owned(),
            "A flight without a current sensor: bench curve x unloading of the same power system; \
             its error comes from leaving each measured flight out in turn."
                .to_owned(),
            "Timer: one-sided 95/95 tolerance limit over flights of the time at which the reserve is \
             reached; refused below five flights. A flight landed before its reserve lasted longer \
             than it flew, and no more is read into it; that it landed when it did is taken to have \
             nothing to do with what it had left."
                .to_owned(),
            "Replay: a flight of the baseline flown again with this system's bench curve: the current in \
             the ratio of the two benches at the terminal voltages that either leaves of the pack, \
             halfway between the same throttle and, below full throttle, the same power (a pilot who asks \
             for the same speed). It rests on the baseline's flights and the two benches alone."
                .to_owned(),
        ],
        sources: vec![
            "Tolerance factor: ISO 16269-6 (exact, noncentral t).".to_owned(),
            "Monotone cubic between bench points: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) \
             238."
                .to_owned(),
            "Land with 20 % left: common practice, no source.".to_owned(),
        ],
        inputs: vec![
            "tables flights, holds, unloading, unloading_map, estimate_errors, replays, \
             energy_per_distance".to_owned(),
            "bench curve (table bench_curves)".to_owned(),
        ],
        would_change: vec![
            "How you fly: the figures hold for flights like these.".to_owned(),
            "Throttle end points or timing changed between bench and flight.".to_owned(),
        ],
    }
}

fn power_in_flight(flights: &[&FlightRow], answer: &mut Answer) {
    // A sensor that reached its end counted a lower bound, which is never averaged as if exact.
    let (measured, bounds): (Vec<&&FlightRow>, Vec<&&FlightRow>) = flights
        .iter()
        .filter(|f| f.power_source == "measured")
        .partition(|f| f.charge_high_mah.is_some());
    for flight in bounds {
        answer.remarks.push(lower_bound(flight));
    }
    let of = |pick: fn(&FlightRow) -> Option<f64>| -> Vec<f64> {
        measured.iter().filter_map(|f| pick(f)).collect()
    };
    type Own = fn(&FlightRow) -> (Option<f64>, Option<f64>, Option<f64>);
    let pairs: [(&str, &str, Own); 3] = [
        ("mean_power_in_flight", "W", |f| {
            (f.mean_power_low_w, f.mean_power_w, f.mean_power_high_w)
        }),
        ("energy_per_flight", "W.h", |f| {
            (f.energy_low_wh, f.energy_wh, f.energy_high_wh)
        }),
        ("charge_per_flight", "mA.h", |f| {
            (f.charge_low_mah, f.charge_mah, f.charge_high_mah)
        }),
    ];
    for (key, unit, own) in pairs {
        let intervals: Vec<_> = measured.iter().map(|f| own(f)).collect();
        let values: Vec<f64> = intervals.iter().filter_map(|i| i.1).collect();
        let method = "mean over flights with a current sensor, t interval with the error that the \
                      flights share through their sensors";
        if let Some(estimate) = over_flights(&values, unit, method) {
            let estimate = widened(estimate, stats::median_relative_half_width(intervals));
            answer.estimates.insert(key.to_owned(), estimate);
        }
    }
    if let Some(lag) = over_flights(
        &of(|f| f.spool_up_lag_s),
        "s",
        "mean over flights with a current sensor, t interval",
    ) {
        answer.estimates.insert("spool_up_lag".to_owned(), lag);
    }
    if let [only] = measured[..] {
        sensor_intervals(only, answer);
    }
    let peak = of(|f| f.peak_power_w).into_iter().fold(f64::NAN, f64::max);
    if peak.is_finite() {
        answer.estimates.insert(
            "peak_power".to_owned(),
            Estimate {
                low: None,
                high: None,
                ..Estimate::plus_minus(peak, 0.0, "W", "largest sample of V·I in any flight")
            }
            .count("flights", measured.len()),
        );
    }
}

/// What is said of a flight whose current reached the sensor's end.
fn lower_bound(flight: &FlightRow) -> String {
    let energy = flight
        .energy_low_wh
        .map_or_else(String::new, |e| format!(", its energy at least {e:.1} Wh"));
    format!(
        "In flight {} the current reached the sensor's end{}: a lower bound{energy}. It is left out of \
         the means, of the unloading and of the timer.",
        flight.flight,
        flight
            .peak_current_a
            .map_or_else(String::new, |a| format!(" of {a:.0} A")),
    )
}

/// One flight has no scatter between flights: what is known of its figures is the sensor's accuracy.
fn sensor_intervals(flight: &FlightRow, answer: &mut Answer) {
    for (key, low, high) in [
        (
            "mean_power_in_flight",
            flight.mean_power_low_w,
            flight.mean_power_high_w,
        ),
        (
            "energy_per_flight",
            flight.energy_low_wh,
            flight.energy_high_wh,
        ),
        (
            "charge_per_flight",
            flight.charge_low_mah,
            flight.charge_high_mah,
        ),
    ] {
        if let Some(estimate) = answer.estimates.get_mut(key) {
            (estimate.low, estimate.high) = (low, high);
            estimate.basis.method =
                "one flight only: the interval is its sensors' accuracy".to_owned();
        }
    }
}

fn figures(evidence: &Evidence, power: &str, answer: &Answer) -> Vec<Figure> {
    let name = evidence.power_name(power);
    let caption = match answer.estimates.get("unloading_at_highest_throttle") {
        Some(kappa) => format!(
            "At the highest throttle flown, {name} draws {} of its bench current in flight.",
            with_interval(kappa, 100.0, 0, " %")
        ),
        None => format!("Bench and flight current of {name} by throttle."),
    };
    let mut figures: Vec<Figure> = pictures::bench_against_flight(evidence, &[power], caption)
        .into_iter()
        .collect();
    // The flight that shows most: longest record with current and position.
    let best = evidence
        .flights_of(power)
        .into_iter()
        .filter(|f| f.recorded_s > 0.0)
        .max_by(|a, b| {
            let rank = |f: &FlightRow| (f.has_current, f.has_position, f.has_throttle);
            rank(a)
                .cmp(&rank(b))
                .then(a.recorded_s.total_cmp(&b.recorded_s))
        });
    if let Some(flight) = best {
        let flown = Pictured::of(evidence, &flight.flight);
        figures.extend(flown.and_then(|flown| flight_strip(&flown)));
    }
    figures
}

fn table(evidence: &Evidence, power: &str, flights: &[&FlightRow]) -> Option<DataTable> {
    if flights.is_empty() {
        return None;
    }
    Some(DataTable {
        id: format!("flights-{power}"),
        title: format!("Flights with {}", evidence.power_name(power)),
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("day", "", 0),
            DataColumn::new("airframe", "", 0),
            DataColumn::new("pack", "", 0),
            DataColumn::new("current", "", 0),
            DataColumn::new("airborne", "s", 0),
            DataColumn::new("mean power", "W", 0),
            DataColumn::new("energy", "W.h", 1),
            DataColumn::new("charge", "mA.h", 0),
            DataColumn::new("put back", "mA.h", 0),
            DataColumn::new("time to reserve", "s", 0),
            DataColumn::new("remarks", "", 0),
        ],
        rows: flights
            .iter()
            .map(|f| {
                vec![
                    DataCell::Text(f.flight.clone()),
                    DataCell::text(f.day.as_deref()),
                    DataCell::text(
                        f.airframe
                            .as_ref()
                            .map(|a| evidence.airframe_name(a))
                            .as_deref(),
                    ),
                    DataCell::text(f.pack.as_deref()),
                    DataCell::Text(f.power_source.clone()),
                    DataCell::number(f.airborne_s),
                    DataCell::interval(f.mean_power_w, f.mean_power_low_w, f.mean_power_high_w),
                    DataCell::interval(f.energy_wh, f.energy_low_wh, f.energy_high_wh),
                    DataCell::interval(f.charge_mah, f.charge_low_mah, f.charge_high_mah),
                    DataCell::number(f.put_back_mah),
                    DataCell::number(f.to_reserve_s),
                    DataCell::Text(f.remarks.clone()),
                ]
            })
            .collect(),
    })
}

/// The most it drew on the bench, in words; the air usually asks for less.
fn bench_power(evidence: &Evidence, power: &str, answer: &mut Answer) -> String {
    let largest = evidence
        .tables
        .bench_points
        .iter()
        .filter(|p| p.power == power)
        .filter_map(|p| Some((p.power_w?, &p.run)))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((watts, run)) = largest else {
        return String::new();
    };
    let key = "largest_bench_power";
    answer.estimates.insert(
        key.to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                watts,
                0.0,
                "W",
                "largest product of volts and amps on the bench",
            )
        }
        .input(format!("bench run {run}")),
    );
    answer.headline.push(key.to_owned());
    format!("; on the bench it drew {watts:.0} W at most")
}

/// An interval of more than half the value to either side settles nothing (share ours, no source).
fn is_loose(estimate: &Estimate) -> bool {
    match (estimate.low, estimate.value, estimate.high) {
        (Some(low), Some(value), Some(high)) => high - low > value,
        _ => false,
    }
}

fn uncapital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// Parts of the sentence that come from elsewhere; empty where there is nothing to say.
struct Words<'a> {
    beside_tunnel: &'a str,
    replayed: &'a str,
}

fn conclude(
    evidence: &Evidence,
    power: &str,
    flights: &[&FlightRow],
    words: Words<'_>,
    answer: &mut Answer,
) {
    let Some(mean) = answer.estimates.get("mean_power_in_flight") else {
        answer.sentence = if flights.is_empty() {
            let drawn = bench_power(evidence, power, answer);
            format!(
                "Not settled: it has not flown in this season{drawn}{}.",
                words.replayed
            )
        } else {
            format!(
                "Not settled: {}, none with both voltage and current logged.",
                counted(flights.len(), "flight")
            )
        };
        answer
            .missing
            .push(Step::equip("A log with voltage and current."));
        answer.next.push(Step::fly(
            "Fly once with a logger that records voltage and current.",
        ));
        return;
    };
    let drawn_is_settled = !is_loose(mean);
    let mut sentence = if drawn_is_settled {
        format!("It draws {} on average in the air", watts(mean))
    } else {
        format!(
            "Power: not settled, about {:.0} W on average in the air, from too few flights to tell how far \
             that is off",
            mean.value.unwrap_or_default()
        )
    };
    let measured = mean.basis.counts.get("flights").copied().unwrap_or(0);
    if let (1, Some(energy)) = (
        measured,
        answer
            .estimates
            .get("energy_per_flight")
            .and_then(|e| e.value),
    ) {
        sentence += &format!(" ({energy:.2} Wh in the one flight with a current sensor)");
    }
    sentence += words.beside_tunnel;
    if let Some(kappa) = answer.estimates.get("unloading_at_highest_throttle") {
        sentence += &format!(
            "; at the highest throttle flown its current is {} of the bench's",
            with_interval(kappa, 100.0, 0, " %")
        );
    } else {
        answer.missing.push(Step::fly(
            "Steady-throttle holds inside the bench's throttle range, with throttle and current \
             logged: they tie bench and flight together.",
        ));
        answer.next.push(Step::fly(
            "Fly with throttle and current logged, holding three or four throttle settings for 5 s \
             or more each.",
        ));
    }
    let reserve = evidence.season.rules.reserve.value * 100.0;
    let how_long = duration::words(reserve, answer);
    let time_is_settled = how_long.is_ok();
    match how_long {
        Ok(words) => sentence += &words,
        Err(why) => {
            if drawn_is_settled {
                sentence = format!(
                    "Power answered, how long not settled: {}",
                    uncapital(&sentence)
                );
            }
            sentence += &format!("; how long: not settled, {why}");
        }
    }
    answer.verdict = if drawn_is_settled && time_is_settled {
        Verdict::Answered
    } else {
        Verdict::NotSettled
    };
    if answer.verdict == Verdict::NotSettled {
        if answer.missing.is_empty() {
            answer.missing.push(Step::fly(
                "More flights with current and voltage logged, flown down to the reserve.",
            ));
        }
        if answer.next.is_empty() {
            answer.next.push(Step::fly(
                "Fly it as you usually do, with current and voltage logged, down to the reserve and not \
                 below it; five such flights give a timer.",
            ));
        }
    }
    answer.sentence = sentence + ".";
    answer.headline = [
        "mean_power_in_flight",
        "unloading_at_highest_throttle",
        "flight_power_over_tunnel_power",
        "timer",
        "extrapolated_timer",
        "mean_time_to_reserve",
        "extrapolated_time_to_reserve",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .take(3)
    .map(str::to_owned)
    .collect();
    if !evidence
        .tables
        .bench_curves
        .iter()
        .any(|r| r.power == power)
    {
        answer.missing.push(Step::measure(format!(
            "A bench run of {} over throttle, for the comparison with flight at equal throttle.",
            evidence.power_name(power)
        )));
    }
}
