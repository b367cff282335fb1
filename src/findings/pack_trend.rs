//! Whether a pack's resistance rises over its flights, and until when (part of question 5).

use chrono::{Days, NaiveDate};

use crate::findings::answer::Answer;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::stats::linear;
use crate::stats::t_quantile;
use crate::stats::theil_sen::{TheilSen, theil_sen};
use crate::store::PackFlightRow;

/// Temperatures that changed less than this (standard deviation, K) explain nothing.
const CHANGED_K: f64 = 2.0;
/// Flights with a temperature from which its part is told, at least.
const WITH_TEMPERATURE: usize = 6;
/// A pack is spent when its resistance has risen by this part (common practice, no source).
const SPENT: f64 = 0.5;
/// Beyond this nobody reckons, days.
const FARTHEST_DAYS: f64 = 3650.0;

/// What a kelvin may change, as a part of the resistance, and what a season's weather may bring where
/// nobody noted it, K (common practice, no source).
const A_KELVIN: f64 = 0.01;
const UNNOTED_K: f64 = 10.0;

/// Slope over flights, ohm a flight.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trend {
    pub line: TheilSen,
    /// The slope with temperature as a second cause, where it is known and changed; where it is not
    /// known, widened by what a season's weather may do.
    pub at_equal_temperature: Option<(f64, f64)>,
    /// The temperature is not known for flights enough.
    pub temperature_unknown: bool,
}

impl Trend {
    pub(super) fn rises(&self) -> bool {
        self.line.low > 0.0 && self.at_equal_temperature.is_none_or(|(low, _)| low > 0.0)
    }

    pub(super) fn falls(&self) -> bool {
        self.line.high < 0.0 && self.at_equal_temperature.is_none_or(|(_, high)| high < 0.0)
    }

    /// The plain slope would be settled, the one at equal temperature is not.
    pub(super) fn explained_by_temperature(&self) -> bool {
        (self.line.low > 0.0 && !self.rises()) || (self.line.high < 0.0 && !self.falls())
    }
}

/// The trend over `rows`, which have a resistance each and are in season order; `places` are theirs
/// among all flights of the pack.
pub(super) fn trend(rows: &[&PackFlightRow], places: &[f64], answer: &mut Answer) -> Option<Trend> {
    let values: Vec<f64> = rows.iter().filter_map(|r| r.resistance_ohm).collect();
    let line = theil_sen(places, &values, 0.95)?;
    let mean = stats::mean(&values);
    answer.estimates.insert(
        "resistance_change_per_flight".to_owned(),
        Estimate::interval(
            line.slope / mean,
            line.low / mean,
            line.high / mean,
            0.95,
            "1",
            "Theil-Sen slope over flights with this pack, as a fraction of the mean resistance (Sen 1968)",
        )
        .count("flights", values.len()),
    );
    let unknown = known_temperatures(rows) < WITH_TEMPERATURE.min(rows.len());
    let at_equal_temperature = if unknown {
        let flights = places
            .last()
            .zip(places.first())
            .map_or(1.0, |(b, a)| b - a);
        let weather = A_KELVIN * UNNOTED_K * mean / flights.max(1.0);
        Some((line.low - weather, line.high + weather))
    } else {
        at_equal_temperature(rows, places, mean, answer)
    };
    let trend = Trend {
        line,
        at_equal_temperature,
        temperature_unknown: unknown,
    };
    if trend.rises() {
        spent(rows, places, &line, answer);
    }
    Some(trend)
}

/// How many flights tell a temperature, the pack's own or the air's.
fn known_temperatures(rows: &[&PackFlightRow]) -> usize {
    let own = rows.iter().filter(|r| r.pack_temperature_k.is_some());
    let air = rows.iter().filter(|r| r.air_temperature_k.is_some());
    own.count().max(air.count())
}

/// Resistance by least squares on flight and temperature together: the pack's own where logged, else
/// the air's.
fn at_equal_temperature(
    rows: &[&PackFlightRow],
    places: &[f64],
    mean: f64,
    answer: &mut Answer,
) -> Option<(f64, f64)> {
    let known = |pick: fn(&PackFlightRow) -> Option<f64>| -> Vec<(f64, f64, f64)> {
        rows.iter()
            .zip(places)
            .filter_map(|(r, place)| Some((*place, pick(r)?, r.resistance_ohm?)))
            .collect()
    };
    let own = known(|r| r.pack_temperature_k);
    let (points, whose) = if own.len() >= WITH_TEMPERATURE {
        (own, "the pack's own temperature")
    } else {
        (
            known(|r| r.air_temperature_k),
            "the air's temperature, for want of the pack's",
        )
    };
    let column = |pick: fn(&(f64, f64, f64)) -> f64| points.iter().map(pick).collect::<Vec<f64>>();
    let kelvin = column(|p| p.1);
    if points.len() < WITH_TEMPERATURE || stats::sd(&kelvin) < CHANGED_K {
        return None;
    }
    let fit = linear::fit(&[column(|p| p.0), kelvin], &column(|p| p.2))?;
    let (by_flight, by_kelvin) = (fit.coefficient(1)?, fit.coefficient(2)?);
    let t = t_quantile(0.975, fit.df as f64);
    let ends = |c: &linear::Contrast| (c.value - t * c.se, c.value + t * c.se);
    let mut insert = |key: &str, c: &linear::Contrast| {
        let (low, high) = ends(c);
        answer.estimates.insert(
            key.to_owned(),
            Estimate::interval(
                c.value / mean,
                low / mean,
                high / mean,
                0.95,
                "1",
                &format!("least squares on flight and {whose}, t interval, of the mean resistance"),
            )
            .count("flights", points.len())
            .count("degrees of freedom", fit.df),
        );
    };
    insert(
        "resistance_change_per_flight_at_equal_temperature",
        &by_flight,
    );
    insert("resistance_change_per_kelvin", &by_kelvin);
    Some(ends(&by_flight))
}

/// When the resistance will have risen by half, from a settled trend: how long after a step one looks
/// is a matter of choice, so the interval spans what the three time scales make of it.
fn spent(rows: &[&PackFlightRow], places: &[f64], line: &TheilSen, answer: &mut Answer) {
    let flown = places.last().map_or(0.0, |last| last + 1.0);
    let left = |line: &TheilSen, slope: f64| {
        let first = line.intercept;
        let now = first + line.slope * (flown - 1.0);
        ((1.0 + SPENT) * first - now).max(0.0) / slope
    };
    let scales: [fn(&PackFlightRow) -> Option<f64>; 2] =
        [|r| r.resistance_sooner_ohm, |r| r.resistance_later_ohm];
    let others = scales.into_iter().filter_map(|pick| {
        let values: Vec<f64> = rows.iter().filter_map(|r| pick(r)).collect();
        (values.len() == places.len()).then(|| theil_sen(places, &values, 0.95))?
    });
    let (mut low, mut high) = (left(line, line.high), left(line, line.low));
    for other in others.filter(|l| l.low > 0.0) {
        low = low.min(left(&other, other.high));
        high = high.max(left(&other, other.low));
    }
    let flights = Estimate::interval(
        left(line, line.slope),
        low,
        high,
        0.95,
        "1",
        "from the settled trend and its interval, at the three time scales after a step: flights until \
         the resistance has risen by half since the first flight (common practice, no source), if it goes \
         on as it did",
    )
    .count("flights", rows.len());
    let days: Vec<NaiveDate> = rows
        .iter()
        .filter_map(|r| r.day.as_deref()?.parse().ok())
        .collect();
    let when = days.first().zip(days.last()).and_then(|(begin, end)| {
        let a_flight = (*end - *begin).num_days() as f64 / (flown - 1.0);
        let on = |flights: f64| -> Option<NaiveDate> {
            let ahead = flights * a_flight;
            (a_flight > 0.0 && ahead < FARTHEST_DAYS)
                .then(|| end.checked_add_days(Days::new(ahead as u64)))
                .flatten()
        };
        Some(match (on(low.floor())?, on(high.ceil())) {
            (from, Some(to)) => format!(", between {from} and {to} at the rate it was flown"),
            (from, None) => format!(", not before {from} at the rate it was flown"),
        })
    });
    answer.remarks.push(format!(
        "If it goes on like this, its resistance will have risen by half after {:.0} to {:.0} more \
         flights{}.",
        low.floor(),
        high.ceil(),
        when.unwrap_or_default()
    ));
    answer
        .estimates
        .insert("flights_until_risen_by_half".to_owned(), flights);
}
