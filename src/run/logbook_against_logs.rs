//! The logbook held against the dates and times of the logs: a row under the wrong date, a pack that
//! was in two jets at once.

use chrono::{NaiveDateTime, NaiveTime, TimeDelta};

use super::logs::{FlightLogs, local_start};
use super::reading::ReadLog;
use crate::season::{Finding, LogbookRow, Season};

const FILE: &str = "logbook.csv";
/// Local time is at most that far from UTC, h.
const ZONES_H: i64 = 14;

/// All that contradicts, in logbook order.
pub fn check(season: &Season, flights: &[FlightLogs]) -> Vec<Finding> {
    let mut findings: Vec<Finding> = flights
        .iter()
        .filter_map(|flight| date_differs(season, &flight.planned.row, &flight.logs))
        .collect();
    let spans: Vec<Option<Span>> = flights.iter().map(|f| span(season, f)).collect();
    for (i, (later, span)) in flights.iter().zip(&spans).enumerate() {
        let earlier = flights.iter().zip(&spans).take(i);
        findings.extend(earlier.filter_map(|(earlier, other)| {
            let (span, other) = (span.as_ref()?, other.as_ref()?);
            in_two_places((&earlier.planned.row, other), (&later.planned.row, span))
        }));
    }
    findings
}

/// A log of positions has its date from the satellites.
fn date_differs(season: &Season, row: &LogbookRow, logs: &[ReadLog]) -> Option<Finding> {
    let date = row.date?;
    let (log, start) = logs
        .iter()
        .filter(|log| log.has_position)
        .find_map(|log| Some((&log.stub, local_start(&log.stub, season)?)))?;
    // Without a zone the local date may be the day before or after that in UTC.
    let slack = match season.site.zone {
        Some(_) => TimeDelta::zero(),
        None => TimeDelta::hours(ZONES_H),
    };
    let alike = (start - slack).date() <= date && date <= (start + slack).date();
    (!alike).then(|| {
        Finding::warning(
            "logbook-date-differs",
            format!(
                "flight '{}' stands under {date}, but the positions in '{}' were recorded on {}",
                row.flight,
                log.file,
                start.date()
            ),
            "Correct the date, or name the log that belongs to this flight: days are compared by the \
             logbook's dates.",
        )
        .at(FILE, row.line, None)
    })
}

/// When a flight's logs run; an instant where only the logbook tells a start.
type Span = (NaiveDateTime, NaiveDateTime);

fn span(season: &Season, flight: &FlightLogs) -> Option<Span> {
    let logged = flight.logs.iter().find_map(|log| {
        let start = local_start(&log.stub, season)?;
        let length = TimeDelta::try_milliseconds((1000.0 * log.length_s?) as i64)?;
        Some((start, start.checked_add_signed(length)?))
    });
    logged.or_else(|| {
        // A start without a time of day says nothing.
        let start = flight.planned.row.start?;
        (start.time() != NaiveTime::MIN).then_some((start, start))
    })
}

fn in_two_places(
    (earlier, one): (&LogbookRow, &Span),
    (later, other): (&LogbookRow, &Span),
) -> Option<Finding> {
    let pack = earlier.pack.as_ref()?;
    let differ = |a: &Option<String>, b: &Option<String>| a.is_some() && b.is_some() && a != b;
    let elsewhere =
        differ(&earlier.airframe, &later.airframe) || differ(&earlier.power, &later.power);
    let overlap = one.0 <= other.1 && other.0 <= one.1;
    (later.pack.as_ref() == Some(pack) && elsewhere && overlap).then(|| {
        let shown = |span: &Span| span.0.format("%Y-%m-%d %H:%M").to_string();
        Finding::warning(
            "pack-in-two-places",
            format!(
                "pack '{pack}' is in flight '{}' (line {}, from {}) and in flight '{}' (from {}) at \
                 the same time, in another jet",
                earlier.flight,
                earlier.line,
                shown(one),
                later.flight,
                shown(other)
            ),
            "Correct the pack or the time of one of them: the pack's resistance and ageing are told \
             from its flights.",
        )
        .at(FILE, later.line, None)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(flight: &str, airframe: &str, pack: &str) -> LogbookRow {
        LogbookRow {
            flight: flight.to_owned(),
            airframe: Some(airframe.to_owned()),
            pack: Some(pack.to_owned()),
            ..LogbookRow::default()
        }
    }

    fn minutes(from: i64, to: i64) -> Span {
        let at = |m| NaiveDateTime::default() + TimeDelta::minutes(m);
        (at(from), at(to))
    }

    #[test]
    fn one_pack_flies_in_one_jet_at_a_time() {
        let said = |a: &LogbookRow, one: Span, b: &LogbookRow, other: Span| {
            in_two_places((a, &one), (b, &other)).map(|f| f.code)
        };
        let (a, b) = (row("f1", "alder", "blue"), row("f2", "birch", "blue"));
        let two = Some("pack-in-two-places".to_owned());
        assert_eq!(said(&a, minutes(0, 4), &b, minutes(3, 8)), two);
        assert_eq!(said(&a, minutes(0, 4), &b, minutes(2, 2)), two);
        assert_eq!(said(&a, minutes(0, 4), &b, minutes(5, 9)), None);
        let red = row("f3", "birch", "red");
        assert_eq!(said(&a, minutes(0, 4), &red, minutes(3, 8)), None);
        let again = row("f4", "alder", "blue");
        assert_eq!(said(&a, minutes(0, 4), &again, minutes(3, 8)), None);
    }
}
