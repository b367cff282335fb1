//! What the flights ask of a pack: sag, charge, C rate (part of question 5).

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Step};
use crate::findings::evidence::{Evidence, counted, over_flights, widened};
use crate::stats;
use crate::stats::clopper_pearson::share;
use crate::stats::estimate::Estimate;
use crate::store::{FlightRow, PackFlightRow};
use crate::units::MAH;

/// Times that the season's current curves are tabulated at, s.
const TIMES_S: [f64; 4] = [1.0, 10.0, 30.0, 60.0];
/// A cell of a lithium-polymer pack under load should stay above this, V (common practice, no source).
const LOADED_CELL_V: f64 = 3.3;

pub(super) const INTO_RESERVE: &str = "share_of_flights_into_reserve";
const BEYOND: &str = "flights into the reserve";

/// "all 8 flights", "5 of 9 flights", "none of 9 flights", from the share's counts.
pub(super) fn into_reserve(share: &Estimate) -> String {
    let count = |key: &str| share.basis.counts.get(key).copied().unwrap_or(0) as usize;
    let (beyond, flights) = (count(BEYOND), count("flights"));
    match (beyond, flights) {
        (1, 1) => "the only flight".to_owned(),
        (2, 2) => "both flights".to_owned(),
        (0, n) => format!("none of {}", counted(n, "flight")),
        (b, n) if b == n => format!("all {}", counted(n, "flight")),
        (b, n) => format!("{b} of {}", counted(n, "flight")),
    }
}

pub(super) fn draw(
    evidence: &Evidence,
    pack: &str,
    flights: &[&FlightRow],
    rows: &[&PackFlightRow],
    answer: &mut Answer,
) -> Option<DataTable> {
    let cells = f64::from(evidence.season.packs[pack].cells);
    sag(cells, flights, rows, answer);
    put_back(flights, answer);
    charge(evidence, pack, flights, answer);
    c_rate(evidence, pack, flights, answer)
}

fn sag(cells: f64, flights: &[&FlightRow], rows: &[&PackFlightRow], answer: &mut Answer) {
    let rested: Vec<f64> = flights
        .iter()
        .filter_map(|f| Some(f.rest_voltage_v? - f.min_voltage_v?))
        .map(|sag| sag / cells)
        .collect();
    if let Some(sag) = over_flights(
        &rested,
        "V",
        "rest voltage before take-off less the least voltage, per cell",
    ) {
        answer.estimates.insert("sag_per_cell".to_owned(), sag);
    }
    let at_peak: Vec<f64> = rows
        .iter()
        .filter_map(|r| Some(r.sag_at_peak_v? / cells))
        .collect();
    if let Some(sag) = over_flights(
        &at_peak,
        "V",
        "open-circuit voltage at the charge drawn less terminal voltage, at the peak current, per cell",
    ) {
        answer
            .estimates
            .insert("sag_at_peak_current_per_cell".to_owned(), sag);
    }
    let least: Vec<f64> = flights
        .iter()
        .filter_map(|f| Some(f.min_voltage_v? / cells))
        .collect();
    let below = least.iter().filter(|v| **v < LOADED_CELL_V).count();
    if below > 0 {
        answer.remarks.push(format!(
            "In {} of {} a cell fell below {LOADED_CELL_V:.1} V under load (common practice, no source): \
             less throttle or a shorter flight spares it.",
            below,
            counted(least.len(), "flight")
        ));
    }
}

fn put_back(flights: &[&FlightRow], answer: &mut Answer) {
    let ratios: Vec<f64> = flights
        .iter()
        .filter(|f| f.has_current)
        .filter_map(|f| Some((f.put_back_mah? / f.charge_mah?).ln()))
        .filter(|r| r.is_finite())
        .collect();
    if let Some(log) = over_flights(&ratios, "1", "mean log ratio over flights, t interval") {
        let back = |v: Option<f64>| v.map(f64::exp);
        answer.estimates.insert(
            "put_back_over_logged_charge".to_owned(),
            Estimate {
                value: back(log.value),
                low: back(log.low),
                high: back(log.high),
                ..log
            },
        );
    }
}

/// Charge that the reserve leaves to use, and how many flights used more.
fn charge(evidence: &Evidence, pack: &str, flights: &[&FlightRow], answer: &mut Answer) {
    let reserve = evidence.season.rules.reserve;
    let usable = evidence.season.packs[pack].capacity_c / MAH * (1.0 - reserve.value);
    answer.estimates.insert(
        "usable_charge".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                usable,
                0.0,
                "mA.h",
                "declared capacity less the reserve (20 % left at landing where not declared: common \
                 practice, no source); an old pack holds less",
            )
        }
        .at("reserve", reserve.value, "1"),
    );
    // As in the question of duration: what was drawn. A charger puts back a little more.
    let more = answer
        .estimates
        .get("put_back_over_logged_charge")
        .and_then(|e| e.value)
        .unwrap_or(1.0);
    let used: Vec<f64> = flights
        .iter()
        .filter_map(|f| f.charge_mah.or(f.put_back_mah.map(|back| back / more)))
        .collect();
    if let Some(mean) = over_flights(
        &used,
        "mA.h",
        "logged or estimated, else put back less what the charger puts back beyond it; mean over \
         flights, t interval with the shared error of the sensor",
    ) {
        let own = |f: &&FlightRow| (f.charge_low_mah, f.charge_mah, f.charge_high_mah);
        let mean = widened(
            mean,
            stats::median_relative_half_width(flights.iter().map(own)),
        );
        answer.estimates.insert("charge_used".to_owned(), mean);
    }
    let beyond = used.iter().filter(|c| **c > usable).count();
    if let Some(found) = share(beyond, used.len(), 0.95) {
        answer.estimates.insert(
            INTO_RESERVE.to_owned(),
            Estimate::interval(
                beyond as f64 / used.len() as f64,
                found.low,
                found.high,
                0.95,
                "1",
                "flights that used more than the usable charge, exact binomial interval; none at all is \
                 an upper bound",
            )
            .count(BEYOND, beyond)
            .count("flights", used.len()),
        );
    }
}

/// C rate held against the rating, by time.
fn c_rate(
    evidence: &Evidence,
    pack: &str,
    flights: &[&FlightRow],
    answer: &mut Answer,
) -> Option<DataTable> {
    let declared = &evidence.season.packs[pack];
    let capacity_ah = declared.capacity_c / MAH / 1000.0;
    let rates = |seconds: f64| -> Vec<f64> {
        evidence
            .tables
            .current_duration
            .iter()
            .filter(|r| r.source == "flight" && (r.duration_s - seconds).abs() < 1e-9)
            .filter(|r| flights.iter().any(|f| f.flight == r.id))
            .map(|r| r.current_a / capacity_ah)
            .collect()
    };
    let most = |seconds: f64| rates(seconds).into_iter().max_by(f64::total_cmp);
    if let Some(rate) = most(10.0) {
        answer.estimates.insert(
            "c_rate_held".to_owned(),
            Estimate {
                low: None,
                high: None,
                ..Estimate::plus_minus(
                    rate,
                    0.0,
                    "h-1",
                    "largest mean current held for 10 s over rated capacity, worst flight",
                )
            }
            .count("flights", flights.len()),
        );
        match declared.c_rating {
            Some(rating) => answer.remarks.push(format!(
                "Its label allows {rating:.0} C; the most held for 10 s was {rate:.1} C. Labels are \
                 generous: sag and resistance say more."
            )),
            None => answer.missing.push(Step::declare(format!(
                "The C rating of pack {pack} (c_rating)."
            ))),
        }
    }
    let rows: Vec<Vec<DataCell>> = TIMES_S
        .into_iter()
        .filter_map(|seconds| {
            let mean = over_flights(&rates(seconds), "h-1", "")?;
            Some(vec![
                DataCell::Number(seconds),
                DataCell::interval(mean.value, mean.low, mean.high),
                DataCell::number(most(seconds)),
                DataCell::number(declared.c_rating),
            ])
        })
        .collect();
    (!rows.is_empty()).then(|| DataTable {
        id: format!("c-rate-{pack}"),
        title: format!("C rate of '{}' held in flight, by time", declared.name),
        columns: vec![
            DataColumn::new("held for", "s", 0),
            DataColumn::new("mean over flights, C", "h-1", 1),
            DataColumn::new("most, C", "h-1", 1),
            DataColumn::new("label, continuous, C", "h-1", 0),
        ],
        rows,
    })
}
