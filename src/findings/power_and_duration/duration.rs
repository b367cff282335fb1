//! How long can I fly: the time to the reserve, the timer, and what was left at the landings.

use super::distance::compared_with;
use super::is_loose;
use crate::findings::answer::{Answer, Step};
use crate::findings::evidence::{Evidence, counted, widened, with_interval};
use crate::findings::figure::{Across, AxisRange, Figure, FigureData, Plot, Plots, Points};
use crate::findings::pictures::axis;
use crate::flight::duration::ToReserve;
use crate::flight::timer::{Timer, TimerBasis, timer};
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::stats::welch::welch;
use crate::store::FlightRow;
use crate::units::MAH;

/// Time to the reserve and timer; without a timer what is missing for one.
pub(super) fn estimates(
    evidence: &Evidence,
    power: &str,
    flights: &[&FlightRow],
    answer: &mut Answer,
) {
    let times: Vec<ToReserve> = flights
        .iter()
        .filter_map(|f| {
            let flown_s = f.airborne_s?;
            Some(ToReserve {
                airborne_s: f.to_reserve_s?,
                reached: f.reserve_reached,
                flown_s,
                mean_current_a: f.charge_mah? * MAH / flown_s,
            })
        })
        .collect();
    if times.is_empty() {
        // Without a measured charge the answer asks for a sensor already.
        if flights.iter().any(|f| f.charge_mah.is_some()) {
            answer.missing.push(Step::declare(
                "How long it can fly: the pack's rated capacity, as a [pack.…] entry named in the \
                 logbook (or in the power system's section), and then five flights.",
            ));
        }
        return;
    }
    // The flights share the charge's scale: a standard uncertainty is half of a 95 % half-width.
    let scale_u = evidence
        .charge_half_width(power)
        .map_or(0.0, |half| half / 2.0);
    let (found, findings) = timer(&times, scale_u);
    match &found {
        Some(timer) => set(timer, evidence.season.rules.reserve.value, answer),
        None => answer.missing.extend(
            findings
                .iter()
                .map(|f| Step::fly(format!("Timer: {}. {}", f.what, f.to_do))),
        ),
    }
    let seen = found.is_some_and(|t| t.basis == TimerBasis::Seen);
    if !seen {
        carried_on(
            &times,
            2.0 * scale_u,
            evidence.season.rules.reserve.value,
            answer,
        );
    }
    if let Some(shortest) = times
        .iter()
        .filter(|t| t.reached)
        .map(|t| t.airborne_s)
        .min_by(f64::total_cmp)
    {
        let seen = Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                shortest,
                0.0,
                "s",
                "shortest airborne time to the reserve that was seen",
            )
        };
        answer
            .estimates
            .insert("shortest_time_to_reserve".to_owned(), seen);
    }
    beside(evidence, power, flights, answer);
    let landed = times.iter().filter(|t| !t.reached).count();
    if landed > 0 {
        let what = if seen {
            "counts as lasting longer than it flew, and nothing more is read into it"
        } else {
            "is carried on at its own mean draw, which is an extrapolation: too few flights reached \
             the reserve for a time that was seen"
        };
        answer.remarks.push(format!(
            "{} landed before the reserve was reached; such a flight {what}.",
            counted(landed, "flight"),
        ));
    }
}

fn set(timer: &Timer, reserve: f64, answer: &mut Answer) {
    let key = match timer.basis {
        TimerBasis::Seen => "timer",
        TimerBasis::Extrapolated => "extrapolated_timer",
    };
    let limit = Estimate {
        low: None,
        high: None,
        ..Estimate::plus_minus(timer.limit_s, 0.0, "s", &timer.method)
    };
    let counts = |estimate: Estimate| {
        estimate
            .at("reserve", reserve, "1")
            .count("flights", timer.flights)
            .count("landed before the reserve", timer.landed_before)
    };
    answer.estimates.insert(key.to_owned(), counts(limit));
    if timer.basis == TimerBasis::Seen {
        let (low, high) = timer.mean_interval_s;
        let method = "airborne time to the reserve, mean over flights by maximum likelihood of a normal \
                      distribution; a flight landed before its reserve counts as lasting longer than it \
                      flew; t interval with the shared error of the charge scale";
        answer.estimates.insert(
            "mean_time_to_reserve".to_owned(),
            counts(Estimate::interval(
                timer.mean_s,
                low,
                high,
                0.95,
                "s",
                method,
            ))
            .count("reached in flight", timer.flights - timer.landed_before),
        );
    }
}

/// Mean of times of which some are carried on, under a name that says so.
fn carried_on(times: &[ToReserve], shared: f64, reserve: f64, answer: &mut Answer) {
    let reached = times.iter().filter(|t| t.reached).count();
    let (key, method) = if reached == times.len() {
        (
            "mean_time_to_reserve",
            "airborne time to the reserve, mean over flights, t interval with the shared error of the \
             charge scale",
        )
    } else {
        (
            "extrapolated_time_to_reserve",
            "airborne time to the reserve, mean over flights, t interval with the shared error of the \
             charge scale; a flight landed before its \
             reserve is carried on at its own mean draw",
        )
    };
    let values: Vec<f64> = times.iter().map(|t| t.airborne_s).collect();
    if let Some(mean) = crate::findings::evidence::over_flights(&values, "s", method) {
        answer.estimates.insert(
            key.to_owned(),
            widened(mean, shared)
                .at("reserve", reserve, "1")
                .count("reached in flight", reached),
        );
    }
}

/// Time and timer as the sentence says them, or why neither is settled; `reserve` in percent.
pub(super) fn words(reserve: f64, answer: &mut Answer) -> Result<String, String> {
    let value = |key: &str| answer.estimates.get(key);
    let time = value("mean_time_to_reserve")
        .map(|t| (t, "the reserve is reached"))
        .or_else(|| {
            let carried = value("extrapolated_time_to_reserve")?;
            Some((
                carried,
                "carried on at its mean draw it would reach the reserve",
            ))
        });
    let timer = value("timer")
        .map(|t| (t, ""))
        .or_else(|| value("extrapolated_timer").map(|t| (t, "by that extrapolation ")));
    let Some((time, reaches)) = time else {
        return Err(
            "no flight tells a time to the reserve of a pack with a rated charge".to_owned(),
        );
    };
    let flights = time.basis.counts.get("flights").copied().unwrap_or(0);
    if flights < 2 {
        return Err(format!(
            "one flight alone, in which {} after {:.0} s in the air",
            reaches.replace("the reserve", &format!("the {reserve:.0} % reserve")),
            time.value.unwrap_or_default()
        ));
    }
    if timer.is_none() && is_loose(time) {
        return Err(format!(
            "about {:.0} s to the {reserve:.0} % reserve, from too few flights to tell how far that is off",
            time.value.unwrap_or_default()
        ));
    }
    let mut words = format!(
        "; {} after {} in the air",
        reaches.replace("the reserve", &format!("the {reserve:.0} % reserve")),
        with_interval(time, 1.0, 0, " s")
    );
    if let Some((limit, by)) = timer.and_then(|(t, by)| Some((t.value?, by))) {
        let shortest = value("shortest_time_to_reserve")
            .and_then(|s| s.value)
            .map_or_else(String::new, |s| format!("; the shortest seen was {s:.0} s"));
        words += &format!(
            "; {by}a timer of {limit:.0} s from take-off to touchdown, the landing in it, keeps it on 95 % \
             of flights, with 95 % confidence{shortest}"
        );
    }
    Ok(words)
}

/// How much sooner (negative) or later than with the system it is compared with the reserve is reached.
fn beside(evidence: &Evidence, power: &str, own: &[&FlightRow], answer: &mut Answer) {
    let seconds = |flights: &[&FlightRow]| {
        flights
            .iter()
            .filter_map(|f| f.to_reserve_s)
            .collect::<Vec<f64>>()
    };
    for other in compared_with(evidence, power) {
        let (new, old) = (seconds(own), seconds(&evidence.flights_of(&other)));
        let Some(difference) = welch(&new, &old) else {
            continue;
        };
        let scale = |power: &str| evidence.charge_half_width(power).unwrap_or(0.0);
        let shared = (scale(power) * stats::mean(&new)).hypot(scale(&other) * stats::mean(&old));
        let (low, high) = difference.interval(0.95);
        let half = (0.5 * (high - low)).hypot(shared);
        let carried = own
            .iter()
            .chain(&evidence.flights_of(&other))
            .filter(|f| f.to_reserve_s.is_some() && !f.reserve_reached)
            .count();
        let estimate = Estimate::plus_minus(
            difference.value,
            half,
            "s",
            "mean time to the reserve less that of the system it is compared with, Welch interval with the \
             error of either charge scale; a flight landed before its reserve is carried on at its own \
             mean draw",
        )
        .count("flights", new.len() + old.len())
        .count("carried on", carried);
        answer.remarks.push(format!(
            "The time to the reserve beside that of {}: {} ({} of {} carried on at their mean draw).",
            evidence.power_name(&other),
            with_interval(&estimate, 1.0, 0, " s"),
            carried,
            counted(new.len() + old.len(), "flight"),
        ));
        answer
            .estimates
            .insert("time_to_reserve_less_the_other".to_owned(), estimate);
        return;
    }
}

/// Charge left at the landing against the time flown, with the reserve and the timer.
pub(super) fn landings(
    evidence: &Evidence,
    power: &str,
    flights: &[&FlightRow],
    answer: &Answer,
) -> Option<Figure> {
    let name = evidence.power_name(power);
    let mut points = Points::new(&name, evidence.colour(power));
    let mut least = f64::INFINITY;
    for flight in flights {
        let capacity_c = flight
            .pack
            .as_ref()
            .and_then(|p| evidence.season.packs.get(p))
            .map(|p| p.capacity_c);
        let (Some(capacity_c), Some(charge), Some(airborne)) =
            (capacity_c, flight.charge_mah, flight.airborne_s)
        else {
            continue;
        };
        let left = |charge: f64| 100.0 * (1.0 - charge * MAH / capacity_c);
        points.push(
            airborne,
            left(charge),
            flight.charge_high_mah.map(left),
            flight.charge_low_mah.map(left),
        );
        least = least.min(left(charge));
    }
    if points.x.is_empty() {
        return None;
    }
    let reserve = 100.0 * evidence.season.rules.reserve.value;
    let below = points.y.iter().filter(|y| **y < reserve).count();
    let count = points.y.len();
    let middle = stats::median(&points.y);
    let mut plot = Plot::new(
        &name,
        (axis("airborne time", "s"), AxisRange::FromZero),
        (axis("charge left at the landing", "%"), AxisRange::FromZero),
    );
    plot.points.push(points);
    plot.mark(&format!("reserve {reserve:.0} %"), reserve, Across::Y);
    let mut timer_words = String::new();
    for (key, label) in [
        ("timer", "timer"),
        ("extrapolated_timer", "timer, extrapolated"),
    ] {
        if let Some(limit) = answer.estimates.get(key).and_then(|t| t.value) {
            plot.mark(&format!("{label} {limit:.0} s"), limit, Across::X);
            timer_words = format!(" The {label}, stands at {limit:.0} s.")
                .replace("timer, stands", "timer stands");
        }
    }
    Some(Figure {
        id: format!("landings-{power}"),
        caption: format!(
            "{} of {} with {name} landed below the reserve; half of them had more than {middle:.0} % \
             left, the emptiest {least:.0} %.{timer_words}",
            below,
            counted(count, "flight"),
        ),
        alt: format!(
            "Charge left at the landing as a share of the rated charge, against the time in the air, a \
             point a flight of {name} with its interval; a level line at the reserve{}.",
            if timer_words.is_empty() {
                ""
            } else {
                " and an upright one at the timer"
            }
        ),
        data: FigureData::Plots(Plots { panels: vec![plot] }),
    })
}
