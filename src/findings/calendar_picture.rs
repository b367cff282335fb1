//! The season at a glance: which fan flew on which day.

use crate::findings::evidence::{Evidence, counted};
use crate::findings::figure::{Calendar, CalendarFlight, CalendarRow, Figure, FigureData};
use crate::store::FlightRow;

/// Id of the picture.
pub const CALENDAR: &str = "calendar";

/// Flights by day and power system; `None` where no flight has a date.
///
/// Whether a comparison can be made within days is seen here: a day with marks in both rows.
pub fn calendar(evidence: &Evidence) -> Option<Figure> {
    let mut days: Vec<String> = evidence
        .tables
        .flights
        .iter()
        .filter_map(|f| f.day.clone())
        .collect();
    days.sort();
    days.dedup();
    let dated = |f: &FlightRow| -> Option<CalendarFlight> {
        let day = days.iter().position(|d| f.day.as_ref() == Some(d))?;
        Some(CalendarFlight {
            flight: f.flight.clone(),
            day: u32::try_from(day).unwrap_or(u32::MAX),
            order: u32::try_from(f.order_in_day).unwrap_or(1),
        })
    };
    let rows: Vec<CalendarRow> = evidence
        .season
        .powers
        .keys()
        .map(|power| CalendarRow {
            label: evidence.power_name(power),
            colour: evidence.colour(power),
            flights: evidence
                .flights_of(power)
                .into_iter()
                .filter_map(dated)
                .collect(),
        })
        .filter(|row| !row.flights.is_empty())
        .collect();
    let flights: usize = rows.iter().map(|r| r.flights.len()).sum();
    if flights == 0 {
        return None;
    }
    let on = |row: &CalendarRow, day: usize| row.flights.iter().any(|f| f.day as usize == day);
    let shared = (0..days.len())
        .filter(|day| rows.iter().filter(|row| on(row, *day)).count() > 1)
        .count();
    let compared = match (rows.len(), shared) {
        (1, _) => "one power system flew".to_owned(),
        (_, 0) => "no day saw two power systems, so what a day does and what a fan does cannot be \
                   told apart within days"
            .to_owned(),
        (_, n) => format!(
            "on {n} of them more than one power system flew, so that they can be compared within \
             the day"
        ),
    };
    Some(Figure {
        id: CALENDAR.to_owned(),
        caption: format!(
            "{} on {}: {compared}.",
            counted(flights, "flight"),
            counted(days.len(), "flying day")
        ),
        alt: format!(
            "One mark a flight, by flying day across and power system down, in the order flown: {}.",
            rows.iter()
                .map(|r| format!("{} {}", r.label, counted(r.flights.len(), "flight")))
                .collect::<Vec<_>>()
                .join(", ")
        ),
        data: FigureData::Calendar(Calendar { days, rows }),
    })
}
