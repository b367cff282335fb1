//! Whether a pack's resistance rises over its flights, and until when (part of question 5).

use chrono::{Days, NaiveDate};

use crate::findings::answer::Answer;
use crate::findings::evidence::with_interval;
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

/// Slope over flights, ohm a flight.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trend {
    pub line: TheilSen,
    /// The slope with temperature as a second cause, where it is known and changed.
    pub at_equal_temperature: Option<(f64, f64)>,
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
    let trend = Trend {
        line,
        at_equal_temperature: at_equal_temperature(rows, places, mean, answer),
    };
    if trend.rises() {
        spent(rows, places, &line, answer);
    }
    Some(trend)
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

/// When the resistance will have risen by half, from a settled trend.
fn spent(rows: &[&PackFlightRow], places: &[f64], line: &TheilSen, answer: &mut Answer) {
    let flown = places.last().map_or(0.0, |last| last + 1.0);
    let first = line.intercept;
    let now = first + line.slope * (flown - 1.0);
    let left = |slope: f64| ((1.0 + SPENT) * first - now).max(0.0) / slope;
    let flights = Estimate::interval(
        left(line.slope),
        left(line.high),
        left(line.low),
        0.95,
        "1",
        "from the settled trend and its interval: flights until the resistance has risen by half since \
         the first flight (common practice, no source), if it goes on as it did",
    )
    .count("flights", rows.len());
    let days: Vec<NaiveDate> = rows
        .iter()
        .filter_map(|r| r.day.as_deref()?.parse().ok())
        .collect();
    if let (Some(begin), Some(end)) = (days.first(), days.last()) {
        let a_flight = (*end - *begin).num_days() as f64 / (flown - 1.0);
        let on = |flights: Option<f64>| -> Option<NaiveDate> {
            let ahead = flights? * a_flight;
            (a_flight > 0.0 && ahead < FARTHEST_DAYS)
                .then(|| end.checked_add_days(Days::new(ahead as u64)))
                .flatten()
        };
        if let Some(date) = on(flights.value) {
            let until = on(flights.high).map_or_else(
                || "or much later".to_owned(),
                |latest| format!("at the latest {latest}"),
            );
            let from = on(flights.low).map_or(date, |d| d);
            answer.remarks.push(format!(
                "If it goes on like this, its resistance will have risen by half after {} more flights: \
                 about {date} at the rate it was flown ({from} at the earliest, {until}).",
                with_interval(&flights, 1.0, 0, "")
            ));
        }
    }
    answer
        .estimates
        .insert("flights_until_risen_by_half".to_owned(), flights);
}
