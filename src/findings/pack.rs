//! Question 5: is the pack up to it, and is it ageing?

use crate::findings::answer::{Answer, HowWeKnow, Verdict};
use crate::findings::by_day::{self, FlightValue};
use crate::findings::evidence::{Evidence, counted, over_flights, percent_interval, with_interval};
use crate::findings::figure::Figure;
use crate::season::QuestionKind;
use crate::stats;
use crate::stats::estimate::Estimate;
use crate::store::FlightRow;
use crate::units::MAH;

/// Resistances a trend is judged from, at least.
const TREND_FLIGHTS: usize = 5;

pub fn answer(evidence: &Evidence, pack: &str) -> (Answer, Option<Figure>) {
    let declared = &evidence.season.packs[pack];
    let mut answer = Answer::new(
        QuestionKind::Pack,
        &format!("pack-{pack}"),
        &format!(
            "Is the pack '{}' up to it, and is it ageing?",
            declared.name
        ),
    );
    answer.candidate = Some(pack.to_owned());
    answer.how = HowWeKnow {
        method: vec![
            "Resistance and open-circuit voltage by regression of voltage on current within each \
             flight, open-circuit voltage falling smoothly with the charge drawn; interval from \
             blocks of the flight."
                .to_owned(),
            "Trend over the season: Theil-Sen slope over flights with its interval; ageing is \
             called settled only if the interval excludes zero."
                .to_owned(),
        ],
        sources: vec!["Sen, J. Am. Stat. Assoc. 63 (1968) 1379.".to_owned()],
        inputs: vec![
            "table flights".to_owned(),
            "logbook.csv (put-back)".to_owned(),
        ],
        would_change: vec!["Pack temperature: resistance falls as a pack warms.".to_owned()],
    };
    answer.cautions.push(
        "A worn or puffed pack can burn. Charge, store and retire packs by the maker's rules and \
         local ones; this is no clearance."
            .to_owned(),
    );
    let flights: Vec<&FlightRow> = evidence
        .tables
        .flights
        .iter()
        .filter(|f| f.pack.as_deref() == Some(pack))
        .collect();
    resistance(&flights, &mut answer);
    draw(evidence, pack, &flights, &mut answer);
    put_back(&flights, &mut answer);
    conclude(&flights, &mut answer);
    let figure = figure(evidence, &answer, pack, &flights);
    answer.figures.extend(figure.iter().map(|f| f.id.clone()));
    (answer, figure)
}

fn figure(
    evidence: &Evidence,
    answer: &Answer,
    pack: &str,
    flights: &[&FlightRow],
) -> Option<Figure> {
    let values: Vec<FlightValue> = flights
        .iter()
        .filter_map(|f| {
            Some(FlightValue {
                day: f.day.as_deref().unwrap_or("unknown"),
                power: f.power.as_deref().unwrap_or("unknown"),
                value: f.pack_resistance_ohm? * 1000.0,
                interval: f
                    .pack_resistance_low_ohm
                    .zip(f.pack_resistance_high_ohm)
                    .map(|(low, high)| (low * 1000.0, high * 1000.0)),
            })
        })
        .collect();
    let caption = match answer.estimates.get("resistance_change_per_flight") {
        Some(change) => format!(
            "Resistance of the pack in each flight; it changes by {} a flight.",
            percent_interval(change)
        ),
        None => "Resistance of the pack in each flight; too few flights for a trend.".to_owned(),
    };
    by_day::figure(
        evidence,
        &values,
        ("pack resistance", "mΩ"),
        format!("resistance-{pack}"),
        caption,
    )
}

fn resistance(flights: &[&FlightRow], answer: &mut Answer) {
    let measured: Vec<&FlightRow> = flights
        .iter()
        .copied()
        .filter(|f| f.pack_resistance_ohm.is_some())
        .collect();
    let values: Vec<f64> = measured
        .iter()
        .filter_map(|f| f.pack_resistance_ohm)
        .collect();
    let milliohm: Vec<f64> = values.iter().map(|r| r * 1000.0).collect();
    if let Some(mean) = over_flights(&milliohm, "mOhm", "mean over flights, t interval") {
        answer.estimates.insert("resistance".to_owned(), mean);
    }
    if let Some(last) = measured.last() {
        answer.estimates.insert(
            "resistance_last_flight".to_owned(),
            Estimate {
                low: last.pack_resistance_low_ohm.map(|r| r * 1000.0),
                high: last.pack_resistance_high_ohm.map(|r| r * 1000.0),
                ..Estimate::plus_minus(
                    last.pack_resistance_ohm.unwrap_or_default() * 1000.0,
                    0.0,
                    "mOhm",
                    "regression of voltage on current, open-circuit voltage smooth in charge drawn",
                )
            }
            .input(format!("flight {}", last.flight)),
        );
    }
    if values.len() >= TREND_FLIGHTS {
        let order: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
        if let Some(trend) = stats::theil_sen::theil_sen(&order, &values, 0.95) {
            let mean = stats::mean(&values);
            answer.estimates.insert(
                "resistance_change_per_flight".to_owned(),
                Estimate::interval(
                    trend.slope / mean,
                    trend.low / mean,
                    trend.high / mean,
                    0.95,
                    "1",
                    "Theil-Sen slope over flights with this pack, as a fraction of the mean \
                     resistance (Sen 1968)",
                )
                .count("flights", values.len()),
            );
        }
    } else {
        answer.missing.push(format!(
            "Resistance from at least {TREND_FLIGHTS} flights with a current sensor, for a trend; \
             there {} {}.",
            if values.len() == 1 { "is" } else { "are" },
            values.len()
        ));
    }
}

fn draw(evidence: &Evidence, pack: &str, flights: &[&FlightRow], answer: &mut Answer) {
    let declared = &evidence.season.packs[pack];
    let sags: Vec<f64> = flights
        .iter()
        .filter_map(|f| Some(f.rest_voltage_v? - f.min_voltage_v?))
        .map(|sag| sag / f64::from(declared.cells))
        .collect();
    if let Some(sag) = over_flights(
        &sags,
        "V",
        "rest voltage before take-off less the least voltage, per cell",
    ) {
        answer.estimates.insert("sag_per_cell".to_owned(), sag);
    }
    // The C rate held for ten seconds against the continuous rating, 1/h.
    let capacity_ah = declared.capacity_c / MAH / 1000.0;
    let held = evidence
        .tables
        .current_duration
        .iter()
        .filter(|r| r.source == "flight" && (r.duration_s - 10.0).abs() < 1e-9)
        .filter(|r| flights.iter().any(|f| f.flight == r.id))
        .map(|r| r.current_a)
        .fold(f64::NAN, f64::max);
    if held.is_finite() {
        let rate = held / capacity_ah;
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
            Some(rating) => {
                answer.remarks.push(format!(
                    "Its label allows {rating:.0} C; the most held for 10 s was {rate:.1} C. Labels \
                     are generous: sag and resistance say more."
                ));
            }
            None => answer.missing.push(format!("`c_rating` in [pack.{pack}].")),
        }
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

fn conclude(flights: &[&FlightRow], answer: &mut Answer) {
    let resistance = answer.estimates.get("resistance");
    let Some(resistance) = resistance else {
        answer.sentence = format!(
            "Not settled: {} with it, none with both voltage and current logged.",
            counted(flights.len(), "flight")
        );
        answer
            .missing
            .push("A log with voltage and current from flights with this pack.".to_owned());
        return;
    };
    let shown = with_interval(resistance, 1.0, 1, " mΩ");
    let trend = answer.estimates.get("resistance_change_per_flight");
    let (verdict, ageing) = match trend {
        Some(t) if t.low.is_some_and(|l| l > 0.0) => (
            Verdict::Answered,
            format!(
                "it is ageing: resistance rises {} a flight",
                with_interval(t, 100.0, 1, " %")
            ),
        ),
        Some(t) if t.high.is_some_and(|h| h < 0.0) => (
            Verdict::Answered,
            format!(
                "resistance falls {} a flight (warming weather or a pack running in)",
                with_interval(t, 100.0, 1, " %")
            ),
        ),
        Some(t) => (
            Verdict::NotSettled,
            format!(
                "whether it ages is not settled ({} a flight)",
                with_interval(t, 100.0, 1, " %")
            ),
        ),
        None => (
            Verdict::NotSettled,
            "too few flights to tell whether it ages".to_owned(),
        ),
    };
    answer.verdict = verdict;
    answer.sentence = format!("Its resistance is {shown}; {ageing}.");
    answer.headline = ["resistance", "resistance_change_per_flight", "sag_per_cell"]
        .into_iter()
        .filter(|k| answer.estimates.contains_key(*k))
        .map(str::to_owned)
        .collect();
    if verdict == Verdict::NotSettled {
        answer.next.push(
            "Fly this pack on, with current and voltage logged; note its temperature.".to_owned(),
        );
    }
}
