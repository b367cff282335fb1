//! What the flights ask of a controller: how many held more than its rating, what the next one may
//! draw, which rating would do, how warm it gets (part of question 3).

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Step};
use crate::findings::controller::{BURST_S, held};
use crate::findings::evidence::{Evidence, counted, over_flights, widened};
use crate::season::Controller;
use crate::stats;
use crate::stats::clopper_pearson::share;
use crate::stats::estimate::Estimate;
use crate::stats::prediction::{prediction_interval, upper_prediction_bound};
use crate::store::ControllerHeatRow;
use crate::units::ZERO_CELSIUS;

/// Ratings that controllers are sold with, A (common practice, no source).
const STANDARD_A: [f64; 24] = [
    10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 120.0, 130.0, 150.0,
    160.0, 180.0, 200.0, 220.0, 250.0, 300.0, 350.0, 400.0, 500.0,
];
/// Times that the season's curves are tabulated at, s.
const TIMES_S: [f64; 4] = [1.0, 10.0, 30.0, 60.0];
/// Throttle below which heating by chopping is looked at.
const PART_THROTTLE: f64 = 0.9;

/// By the time held: the current over the flights, what a further one stays below, and how many
/// flights exceeded the continuous rating. `None` without a current in flight.
pub(super) fn by_time(
    evidence: &Evidence,
    power: &str,
    controller: &Controller,
    accuracy: f64,
) -> Option<DataTable> {
    let mut times = TIMES_S.to_vec();
    times.extend(controller.burst_s);
    times.sort_by(f64::total_cmp);
    times.dedup();
    let rows: Vec<Vec<DataCell>> = times
        .into_iter()
        .filter_map(|t| row(evidence, power, controller, accuracy, t))
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("held-current-{power}"),
        title: format!(
            "Current held in flight with {}, by time",
            evidence.power_name(power)
        ),
        columns: vec![
            DataColumn::new("held for", "s", 0),
            DataColumn::new("flights", "1", 0),
            DataColumn::new("mean over flights", "A", 1),
            DataColumn::new("most", "A", 1),
            DataColumn::new("a further flight stays below (95 %)", "A", 1),
            DataColumn::new("flights above continuous rating", "1", 0),
            DataColumn::new("share of flights above it (exact 95 % interval)", "1", 2),
        ],
        rows,
    })
}

fn row(
    evidence: &Evidence,
    power: &str,
    controller: &Controller,
    accuracy: f64,
    seconds: f64,
) -> Option<Vec<DataCell>> {
    let currents = exactly(evidence, power, seconds);
    let mean = widened(over_flights(&currents, "A", "")?, accuracy);
    let above = controller
        .continuous_a
        .and_then(|rating| above(&currents, rating));
    Some(vec![
        DataCell::Number(seconds),
        DataCell::Number(currents.len() as f64),
        DataCell::interval(mean.value, mean.low, mean.high),
        DataCell::number(currents.iter().copied().max_by(f64::total_cmp)),
        DataCell::number(next_at_most(&currents, accuracy)),
        DataCell::number(above.map(|s| s.events as f64)),
        above.map_or(DataCell::Blank(()), |s| {
            DataCell::interval(
                Some(s.events as f64 / s.trials as f64),
                Some(s.low),
                Some(s.high),
            )
        }),
    ])
}

fn above(currents: &[f64], rating: f64) -> Option<stats::clopper_pearson::Share> {
    let events = currents.iter().filter(|c| **c > rating).count();
    share(events, currents.len(), 0.95)
}

/// Currents held for exactly this time; flights shorter than it say nothing.
fn exactly(evidence: &Evidence, power: &str, seconds: f64) -> Vec<f64> {
    evidence
        .tables
        .current_duration
        .iter()
        .filter(|r| r.source == "flight" && r.power.as_deref() == Some(power))
        .filter(|r| (r.duration_s - seconds).abs() < 1e-9)
        .map(|r| r.current_a)
        .collect()
}

/// What one further flight stays below with 95 %, the sensor's own error included.
pub(super) fn next_at_most(currents: &[f64], accuracy: f64) -> Option<f64> {
    let bound = upper_prediction_bound(currents, 0.95)?;
    let mean = stats::mean(currents);
    Some(mean + (bound - mean).hypot(accuracy * mean))
}

/// Bound for the next flight, share of flights above the rating, ratings that would do.
pub(super) fn ask(
    evidence: &Evidence,
    power: &str,
    controller: &Controller,
    accuracy: f64,
    answer: &mut Answer,
) {
    let burst_s = controller.burst_s.unwrap_or(BURST_S);
    let currents: Vec<f64> = held(evidence, power, "flight", burst_s)
        .into_iter()
        .map(|(_, c)| c)
        .collect();
    if let Some(high) = next_at_most(&currents, accuracy) {
        let bound = at_most(
            high,
            "A",
            "one-sided 95 % prediction bound over flights (normal), current sensor's accuracy included",
        )
        .at("duration", burst_s, "s")
        .count("flights", currents.len());
        if let Some(rating) = controller.continuous_a {
            answer.estimates.insert(
                "headroom_next_flight".to_owned(),
                Estimate {
                    value: None,
                    low: Some(rating / high - 1.0),
                    high: None,
                    unit: "1".to_owned(),
                    ..bound.clone()
                }
                .at("rating", rating, "A"),
            );
        }
        answer
            .estimates
            .insert("held_current_of_a_further_flight".to_owned(), bound);
    }
    if let Some(found) = controller
        .continuous_a
        .and_then(|rating| above(&currents, rating))
    {
        answer.estimates.insert(
            "share_of_flights_above_continuous_rating".to_owned(),
            Estimate::interval(
                found.events as f64 / found.trials as f64,
                found.low,
                found.high,
                0.95,
                "1",
                "flights that held more than the continuous rating, exact binomial interval (Clopper \
                 and Pearson 1934); none at all is an upper bound",
            )
            .at("duration", burst_s, "s")
            .count("flights above", found.events)
            .count("flights", found.trials),
        );
    }
    ratings(evidence, answer);
    part_throttle(evidence, power, answer);
    heat(evidence, power, controller, answer);
}

fn at_most(high: f64, unit: &str, method: &str) -> Estimate {
    Estimate {
        value: None,
        low: None,
        ..Estimate::interval(high, high, high, 0.95, unit, method)
    }
}

/// The rating that gives the headroom wanted, and the smallest that is sold, for the bench's and for
/// the flights' current.
fn ratings(evidence: &Evidence, answer: &mut Answer) {
    let factor = 1.0 + evidence.season.rules.headroom.value;
    let mut needed = |current: &str, place: &str| -> Option<Estimate> {
        let drawn = answer.estimates.get(current)?.clone();
        let scaled = |v: Option<f64>| v.map(|v| v * factor);
        let need = Estimate {
            value: scaled(drawn.value),
            low: scaled(drawn.low),
            high: scaled(drawn.high),
            ..drawn.clone()
        };
        // The upper end must still have the headroom.
        let least = need.high.or(need.value)?;
        if let Some(rating) = STANDARD_A.iter().find(|r| **r >= least) {
            answer.estimates.insert(
                format!("smallest_standard_rating_for_{place}_current"),
                Estimate {
                    low: None,
                    high: None,
                    ..Estimate::plus_minus(
                        *rating,
                        0.0,
                        "A",
                        "smallest of the ratings that controllers are sold with (common practice, no \
                         source) that gives the headroom wanted at the upper end of the interval",
                    )
                },
            );
        }
        answer
            .estimates
            .insert(format!("rating_needed_for_{place}_current"), need.clone());
        Some(need)
    };
    let bench = needed("largest_bench_current", "bench");
    let flight = needed("largest_held_current_in_flight", "flight");
    if let (Some(bench), Some(flight)) = (bench, flight)
        && let (Some(b), Some(f)) = (bench.value, flight.value)
    {
        let relative = |e: &Estimate, value: f64| {
            e.low
                .zip(e.high)
                .map_or(0.0, |(low, high)| 0.5 * (high - low) / value)
        };
        let half = f / b * relative(&bench, b).hypot(relative(&flight, f));
        answer.estimates.insert(
            "rating_saving_by_unloading".to_owned(),
            Estimate::plus_minus(
                1.0 - f / b,
                half,
                "1",
                "1 - rating for the current held in flight / rating for the current on the bench, both \
                 sensors' accuracies",
            ),
        );
    }
}

/// The motor's current where part throttle lets it exceed what the pack gives.
fn part_throttle(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let motor = evidence
        .tables
        .holds
        .iter()
        .filter(|h| h.power.as_deref() == Some(power) && h.airborne)
        .filter(|h| (0.2..PART_THROTTLE).contains(&h.throttle))
        .filter_map(|h| Some((h.current_a? / h.throttle, h.throttle)))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((amps, throttle)) = motor {
        answer.estimates.insert(
            "largest_motor_current_at_part_throttle".to_owned(),
            Estimate {
                low: None,
                high: None,
                ..Estimate::plus_minus(
                    amps,
                    0.0,
                    "A",
                    "pack current of a steady hold over its throttle (duty), switching losses left out",
                )
            }
            .at("throttle", throttle, "1"),
        );
    }
}

/// Rise over the air in flight, and what that makes on the declared hot day.
fn heat(evidence: &Evidence, power: &str, controller: &Controller, answer: &mut Answer) {
    let rows: Vec<&ControllerHeatRow> = evidence
        .tables
        .controller_heat
        .iter()
        .filter(|r| r.power.as_deref() == Some(power))
        .collect();
    if rows.is_empty() {
        answer.remarks.push(
            "No controller temperature is logged with it: current alone is held against its ratings."
                .to_owned(),
        );
        return;
    }
    settled_rise(&rows, controller, answer);
    let rises: Vec<f64> = rows
        .iter()
        .filter_map(|r| Some(r.greatest_k - r.air_k?))
        .collect();
    let Some(mean) = over_flights(
        &rises,
        "K",
        "greatest controller temperature less the air's, mean over flights, t interval",
    ) else {
        answer.missing.push(Step::declare(
            "The air's temperature in the logbook: the controller's is logged, its rise is not \
             known.",
        ));
        return;
    };
    answer
        .estimates
        .insert("controller_temperature_rise".to_owned(), mean);
    let Some(hot) = evidence.season.rules.hot_day_k else {
        answer.missing.push(Step::declare(
            "The hottest day you would fly on (hot_day under rules): the controller's temperature \
             on it.",
        ));
        return;
    };
    let Some((low, high)) = prediction_interval(&rises, 0.95) else {
        return;
    };
    let celsius = hot - ZERO_CELSIUS;
    let mut on_hot_day = Estimate::interval(
        celsius + stats::mean(&rises),
        celsius + low,
        celsius + high,
        0.95,
        "Cel",
        "hot day's air and the rise of one further flight (95 % prediction over flights): the rise \
         is taken not to depend on the air; thinner and hotter air cools a little less",
    )
    .at("air_temperature", celsius, "Cel")
    .count("flights", rises.len());
    if let Some(limit) = controller.temperature_limit_k {
        on_hot_day = on_hot_day.at("limit", limit - ZERO_CELSIUS, "Cel");
    }
    answer
        .estimates
        .insert("controller_temperature_on_hot_day".to_owned(), on_hot_day);
    if let Some(limit) = controller.temperature_limit_k {
        let limit = limit - ZERO_CELSIUS;
        let (low, high) = (celsius + low, celsius + high);
        answer.remarks.push(match () {
            () if high < limit => format!(
                "On a day of {celsius:.0} °C a further flight leaves it below its limit of {limit:.0} °C \
                 (at most {high:.0} °C)."
            ),
            () if low > limit => format!(
                "On a day of {celsius:.0} °C it would exceed its limit of {limit:.0} °C (at least \
                 {low:.0} °C)."
            ),
            () => format!(
                "Whether it stays below its limit of {limit:.0} °C on a day of {celsius:.0} °C is not \
                 settled ({low:.0} to {high:.0} °C)."
            ),
        });
    }
}

/// Where its temperature would settle if the continuous rating were held for good.
fn settled_rise(rows: &[&ControllerHeatRow], controller: &Controller, answer: &mut Answer) {
    let Some(rating) = controller.continuous_a else {
        return;
    };
    let rises: Vec<f64> = rows
        .iter()
        .filter_map(|r| Some(r.rise_k_per_a2? * rating * rating))
        .collect();
    let constants: Vec<f64> = rows.iter().filter_map(|r| r.time_constant_s).collect();
    let of_motor = rows.iter().any(|r| r.of_motor);
    if let Some(rise) = over_flights(
        &rises,
        "K",
        if of_motor {
            "first-order fit of temperature on the square of motor current (pack current over throttle) \
             in each flight, carried on to the continuous rating held for good; mean over flights, t \
             interval; cooling as in these flights"
        } else {
            "first-order fit of temperature on the square of pack current in each flight, carried on to \
             the continuous rating held for good; mean over flights, t interval; cooling as in these \
             flights"
        },
    ) {
        answer.estimates.insert(
            "settled_rise_at_continuous_rating".to_owned(),
            rise.at("current", rating, "A")
                .at("time_constant", stats::mean(&constants), "s"),
        );
        answer.remarks.push(format!(
            "Its temperature was logged in {}: one body warmed by the square of the motor's current.",
            counted(rows.len(), "flight")
        ));
    }
}
