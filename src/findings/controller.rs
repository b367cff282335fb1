//! Question 3: does the controller have enough headroom, or do I change it?
//!
//! Current held for t seconds, bench and flight, against the continuous and the burst rating.
//! Headroom is rating / current - 1; flights are the unit: the worst one must have it, and the next
//! one must be expected to.
//!
//! Method: prediction bound for one further flight (Hahn and Meeker 1991); share of flights above the
//! rating by the exact binomial interval (Clopper and Pearson 1934).

use crate::findings::answer::{Answer, DataTable, HowWeKnow, Step, Verdict};
use crate::findings::controller_need;
use crate::findings::evidence::{
    Evidence, counted, over_flights, percent, percent_interval, widened, with_interval,
};
use crate::findings::figure::Figure;
use crate::findings::pictures;
use crate::season::{Controller, QuestionKind};
use crate::stats::NORMAL_95;
use crate::stats::estimate::Estimate;

/// Burst time taken when the controller's is not declared, s (common practice, no source).
pub(super) const BURST_S: f64 = 10.0;
/// Relative half-width of a current reading whose sensor's accuracy is unknown (common practice,
/// no source).
const SENSOR: f64 = 0.03;

pub fn answer(evidence: &Evidence, power: &str) -> (Answer, Option<Figure>, Option<DataTable>) {
    let name = evidence.power_name(power);
    let mut answer = Answer::new(
        QuestionKind::Controller,
        &format!("controller-{power}"),
        &format!("Does the controller of {name} have enough headroom?"),
    );
    answer.candidate = Some(power.to_owned());
    answer.how = how();
    answer.cautions.push(
        "A controller chops: motor current is pack current divided by duty, so part throttle heats \
         it more than pack current shows. Voltage ripple, cooling air, wire and connector limits are \
         not covered. The maker's limits come first."
            .to_owned(),
    );
    let declared = evidence
        .season
        .powers
        .get(power)
        .and_then(|p| p.controller.as_ref())
        .and_then(|id| evidence.season.controllers.get(id));
    let Some(controller) = declared else {
        // What it draws is worth knowing before a rating is.
        held_currents(evidence, power, &Controller::default(), &mut answer);
        let drawn = [
            ("largest_held_current_in_flight", "in flight"),
            ("largest_bench_current", "on the bench"),
        ]
        .into_iter()
        .find_map(|(key, place)| Some((answer.estimates.get(key)?, key, place)));
        let (words, headline) = match drawn {
            Some((current, key, place)) => (
                format!(
                    "; the most it drew {place} is {}{}",
                    with_interval(current, 1.0, 1, " A"),
                    current
                        .at
                        .get("duration")
                        .map_or_else(String::new, |d| format!(" over {:.0} s", d.value))
                ),
                vec![key.to_owned()],
            ),
            None => (String::new(), Vec::new()),
        };
        answer.headline = headline;
        answer.sentence = format!("Not settled: no controller is declared for it{words}.");
        answer.missing.push(Step::declare(format!(
            "A [controller.…] entry with continuous and burst rating, and `controller = \"…\"` in \
             [power.{power}]."
        )));
        let figure = pictures::current_duration(evidence, power, String::new()).map(captioned);
        answer.figures.extend(figure.iter().map(|f| f.id.clone()));
        return (answer, figure, None);
    };
    held_currents(evidence, power, controller, &mut answer);
    let accuracy = accuracy(evidence, power);
    controller_need::ask(evidence, power, controller, accuracy, &mut answer);
    judge(evidence, controller, &mut answer);
    let figure = pictures::current_duration(evidence, power, caption(evidence, power, &answer));
    answer.figures.extend(figure.iter().map(|f| f.id.clone()));
    let table = controller_need::by_time(evidence, power, controller, accuracy);
    answer.tables.extend(table.iter().map(|t| t.id.clone()));
    (answer, figure, table)
}

/// Relative half-width of the current sensor, 95 %.
const HELD_MEAN: &str = "mean over flights, t interval with the shared error of the current sensor";

fn accuracy(evidence: &Evidence, power: &str) -> f64 {
    evidence.charge_half_width(power).unwrap_or(SENSOR)
}

/// What the picture shows: where the held current lies against the ratings.
fn caption(evidence: &Evidence, power: &str, answer: &Answer) -> String {
    let name = evidence.power_name(power);
    let room = answer
        .estimates
        .get("headroom_in_flight")
        .or(answer.estimates.get("headroom_on_bench"))
        .and_then(|e| e.value);
    let burst = answer
        .estimates
        .get("burst_headroom_in_flight")
        .and_then(|e| e.value);
    let side = |room: f64| if room >= 0.0 { "above" } else { "below" };
    match (room, burst) {
        (Some(room), Some(burst)) => format!(
            "The continuous rating lies {} {} the current that {name} held for the burst time; the burst \
             rating {} {} its largest second.",
            percent(room.abs()),
            side(room),
            percent(burst.abs()),
            side(burst)
        ),
        (Some(room), None) => format!(
            "The continuous rating lies {} {} the current of {name}.",
            percent(room.abs()),
            side(room)
        ),
        _ => format!("Current of {name} held for a given time, against the controller's ratings."),
    }
}

fn captioned(mut figure: Figure) -> Figure {
    figure.caption =
        "Current held for a given time; no rating is declared to hold it against.".to_owned();
    figure
}

fn how() -> HowWeKnow {
    HowWeKnow {
        method: vec![
            "For every time t, the largest mean current held for t seconds (exact sliding means of \
             the logged current; gaps are never bridged)."
                .to_owned(),
            "Headroom = rating / current - 1, for the time the burst rating allows. 'Enough' asks that \
             the worst flight had it, the current sensor's accuracy taken off, and that one further \
             flight will have it (95 % prediction over flights, from two flights on); 'not enough' that \
             the worst flight lacked it, or exceeded the burst rating for a second."
                .to_owned(),
            "Temperature, where logged: a body of one temperature, warmed by the square of the current \
             and cooled by Newton's law."
                .to_owned(),
        ],
        sources: vec![
            "20 to 25 % headroom (25 % as the default) and the list of ratings sold: common practice, no \
             source."
                .to_owned(),
            "Clopper and Pearson, Biometrika 26 (1934) 404; Hahn and Meeker, Statistical Intervals \
             (1991), section 4.7."
                .to_owned(),
        ],
        inputs: vec!["table current_duration".to_owned(), "ratings in season.toml".to_owned()],
        would_change: vec![
            "A hotter day, a longer full-throttle run, a fresh pack with less sag.".to_owned(),
        ],
    }
}

/// Current that each flight held for `duration_s`: the curve's value at the longest tabulated time
/// that does not exceed it (the curve falls with time, so this never understates).
pub(super) fn held(
    evidence: &Evidence,
    power: &str,
    source: &str,
    duration_s: f64,
) -> Vec<(String, f64)> {
    let mut out: Vec<(String, f64, f64)> = Vec::new();
    for row in &evidence.tables.current_duration {
        let fits = row.duration_s <= duration_s * (1.0 + 1e-9);
        if row.source != source || row.power.as_deref() != Some(power) || !fits {
            continue;
        }
        match out.iter_mut().find(|(id, ..)| *id == row.id) {
            Some(best) if row.duration_s > best.1 => {
                (best.1, best.2) = (row.duration_s, row.current_a)
            }
            Some(_) => {}
            None => out.push((row.id.clone(), row.duration_s, row.current_a)),
        }
    }
    out.into_iter()
        .map(|(id, _, current)| (id, current))
        .collect()
}

fn held_currents(evidence: &Evidence, power: &str, controller: &Controller, answer: &mut Answer) {
    let burst_s = controller.burst_s.unwrap_or(BURST_S);
    if controller.burst_s.is_none() {
        answer.remarks.push(format!(
            "The burst time is not declared; {BURST_S} s was taken (common practice, no source)."
        ));
    }
    let accuracy = accuracy(evidence, power);
    let flights = held(evidence, power, "flight", burst_s);
    let currents: Vec<f64> = flights.iter().map(|(_, c)| *c).collect();
    if let Some((id, worst)) = flights.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        answer.estimates.insert(
            "largest_held_current_in_flight".to_owned(),
            Estimate::plus_minus(
                *worst,
                worst * accuracy,
                "A",
                "largest mean current held for the burst time in the worst flight; interval: current \
                 sensor's accuracy",
            )
            .at("duration", burst_s, "s")
            .count("flights", flights.len())
            .input(format!("flight {id}")),
        );
    }
    if let Some(mean) = over_flights(&currents, "A", HELD_MEAN) {
        answer.estimates.insert(
            "mean_held_current_in_flight".to_owned(),
            widened(mean, accuracy).at("duration", burst_s, "s"),
        );
    }
    let bench = held(evidence, power, "bench", burst_s);
    if let Some((id, worst)) = bench.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        let u = evidence
            .tables
            .bench_points
            .iter()
            .filter(|p| p.power == power && p.current_a.is_some())
            .filter_map(|p| Some((p.current_a?, p.current_u_a?)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(worst * accuracy / NORMAL_95, |(_, u)| u);
        answer.estimates.insert(
            "largest_bench_current".to_owned(),
            Estimate::plus_minus(
                *worst,
                NORMAL_95 * u,
                "A",
                "largest steady current on the bench",
            )
            .input(format!("bench run {id}")),
        );
    }
    let headrooms = [
        (
            "largest_held_current_in_flight",
            controller.continuous_a,
            "headroom_in_flight",
        ),
        (
            "largest_bench_current",
            controller.continuous_a,
            "headroom_on_bench",
        ),
    ];
    for (current, rating, key) in headrooms {
        if let (Some(current), Some(rating)) = (answer.estimates.get(current).cloned(), rating) {
            answer
                .estimates
                .insert(key.to_owned(), headroom(&current, rating));
        }
    }
    let peaks = held(evidence, power, "flight", 1.0);
    if let (Some((id, peak)), Some(burst)) = (
        peaks.iter().max_by(|a, b| a.1.total_cmp(&b.1)),
        controller.burst_a,
    ) {
        let peak = Estimate::plus_minus(*peak, peak * accuracy, "A", "largest mean over 1 s")
            .count("flights", peaks.len())
            .input(format!("flight {id}"));
        answer.estimates.insert(
            "burst_headroom_in_flight".to_owned(),
            headroom(&peak, burst),
        );
        answer
            .estimates
            .insert("largest_current_for_a_second".to_owned(), peak);
    }
}

/// rating / current - 1, ends swapped since a larger current leaves less.
fn headroom(current: &Estimate, rating: f64) -> Estimate {
    let of = |c: f64| rating / c - 1.0;
    Estimate {
        value: current.value.map(of),
        low: current.high.map(of),
        // A current that may be none leaves the headroom open above.
        high: current.low.filter(|c| *c > 0.0).map(of),
        unit: "1".to_owned(),
        ..current.clone()
    }
    .at("rating", rating, "A")
}

fn judge(evidence: &Evidence, controller: &Controller, answer: &mut Answer) {
    let wanted = evidence.season.rules.headroom;
    answer.estimates.insert(
        "headroom_wanted".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                wanted.value,
                0.0,
                "1",
                if wanted.is_default {
                    "default rule"
                } else {
                    "declared in [rules]"
                },
            )
        },
    );
    let Some(continuous) = controller.continuous_a else {
        answer.sentence = format!(
            "Not settled: the continuous rating of {} is not declared.",
            controller.name
        );
        answer
            .missing
            .push(Step::declare("The controller's continuous rating."));
        return;
    };
    let (key, where_) = if answer.estimates.contains_key("headroom_in_flight") {
        ("headroom_in_flight", "in flight")
    } else {
        answer
            .missing
            .push(Step::equip("A log with voltage and current."));
        answer.remarks.push(
            "Without a current sensor in the air only the bench is known, which draws more than \
             flight does."
                .to_owned(),
        );
        ("headroom_on_bench", "on the bench")
    };
    let Some(room) = answer.estimates.get(key).cloned() else {
        answer.sentence =
            "Not settled: no current was measured, on the bench or in flight.".to_owned();
        answer
            .missing
            .push(Step::measure("A bench run with its current."));
        return;
    };
    let (low, high) = (room.low.unwrap_or(f64::MIN), room.high.unwrap_or(f64::MAX));
    let next = answer
        .estimates
        .get("headroom_next_flight")
        .and_then(|e| e.low)
        .filter(|_| key == "headroom_in_flight");
    let burst_exceeded = answer
        .estimates
        .get("burst_headroom_in_flight")
        .and_then(|e| e.high)
        .is_some_and(|h| h < 0.0);
    answer.verdict = if high < wanted.value || burst_exceeded {
        Verdict::NotEnough
    } else if low >= wanted.value && next.is_none_or(|n| n >= wanted.value) {
        Verdict::Enough
    } else {
        Verdict::NotSettled
    };
    let current = match key {
        "headroom_in_flight" => &answer.estimates["largest_held_current_in_flight"],
        _ => &answer.estimates["largest_bench_current"],
    };
    let flights = current.basis.counts.get("flights").copied().unwrap_or(0) as usize;
    let held = match current.at.get("duration") {
        Some(duration) => format!("held for {:.0} s ", duration.value),
        None => String::new(),
    };
    let of = if flights > 0 {
        format!(", the most of {}", counted(flights, "flight"))
    } else {
        String::new()
    };
    let verdict = match answer.verdict {
        Verdict::Enough => "Yes",
        Verdict::NotEnough => "No",
        _ => "Not settled",
    };
    answer.sentence = format!(
        "{verdict}: {} {held}{where_}{of}; the {continuous:.0} A continuous rating leaves a headroom of \
         {}, and {:.0} % is wanted{}.",
        with_interval(current, 1.0, 1, " A"),
        percent_interval(&room),
        wanted.value * 100.0,
        if burst_exceeded {
            ", and the burst rating was exceeded"
        } else {
            ""
        }
    );
    answer.sentence += &would_do(answer);
    answer.sentence += &burst_and_heat(answer);
    if answer.verdict == Verdict::NotSettled {
        let put_back = evidence
            .flights_of(answer.candidate.as_deref().unwrap_or_default())
            .iter()
            .any(|f| f.has_current && f.put_back_mah.is_some());
        let step = if low >= wanted.value {
            Some(Step::fly(
                "More flights: the worst one had the headroom, but they scatter so much that the \
                 next may not.",
            ))
        } else if let Some(next) = next.filter(|n| *n < wanted.value) {
            answer.remarks.push(format!(
                "More flights like these cannot show enough: by their scatter and the sensor's error one \
                 further may leave {} only. Count on that.",
                percent(next)
            ));
            None
        } else if put_back {
            Some(Step::measure(
                "More charges noted as put back: the headroom wanted lies inside the error of the \
                 current, which they calibrate. Until then count on the lower end.",
            ))
        } else {
            Some(Step::measure(
                "The charge put back after flights, which calibrates the current sensor, or a better \
                 sensor: the headroom wanted lies inside its error.",
            ))
        };
        answer.missing.extend(step);
    }
    if flights == 1 {
        answer
            .remarks
            .push("One flight only: the next may draw more.".to_owned());
    }
    answer.headline = vec![key.to_owned(), "largest_held_current_in_flight".to_owned()];
    answer.headline.retain(|k| answer.estimates.contains_key(k));
}

/// The smallest ratings that would give the headroom, in words.
fn would_do(answer: &Answer) -> String {
    let rating = |place: &str| {
        answer
            .estimates
            .get(&format!("smallest_standard_rating_for_{place}_current"))
            .and_then(|e| e.value)
    };
    match (rating("flight"), rating("bench")) {
        (Some(flight), Some(bench)) if flight != bench => format!(
            " By the flights the smallest usual rating with that headroom is {flight:.0} A; the bench \
             alone would ask for {bench:.0} A."
        ),
        (Some(rating), _) | (None, Some(rating)) => {
            format!(" The smallest usual rating with that headroom is {rating:.0} A.")
        }
        (None, None) => String::new(),
    }
}

/// What the largest second leaves of the burst rating, and a hot day of the temperature limit.
fn burst_and_heat(answer: &Answer) -> String {
    let of = |key: &str| answer.estimates.get(key);
    let mut out = String::new();
    if let Some(room) = of("burst_headroom_in_flight") {
        out += &format!(
            " Its largest second leaves {} to the burst rating.",
            percent_interval(room)
        );
    }
    if let Some(hot) = of("controller_temperature_on_hot_day") {
        out += &format!(
            " On a day of {:.0} °C it would reach {}{}.",
            hot.at.get("air_temperature").map_or(f64::NAN, |a| a.value),
            with_interval(hot, 1.0, 0, " °C"),
            hot.at
                .get("limit")
                .map_or_else(String::new, |l| format!("; its limit is {:.0} °C", l.value))
        );
    }
    out
}
