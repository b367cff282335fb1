//! Question 5: is the pack up to it, and is it ageing?
//!
//! Method: resistance of each flight by regression of voltage on current steps (`flight::step_resistance`);
//! its trend over the flights by the median of slopes (Theil 1950, Sen 1968).

use crate::findings::answer::{Answer, DataTable, HowWeKnow, Step, Verdict};
use crate::findings::evidence::{Evidence, counted, over_flights, widened, with_interval};
use crate::findings::figure::Figure;
use crate::findings::pack_trend::{self, Trend};
use crate::findings::{pack_draw, pack_pictures};
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;
use crate::store::{FlightRow, PackFlightRow};

/// Resistances a trend is judged from, at least.
const TREND_FLIGHTS: usize = 5;

pub fn answer(evidence: &Evidence, pack: &str) -> (Answer, Option<Figure>, Vec<DataTable>) {
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
    answer.how = how();
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
    let rows: Vec<&PackFlightRow> = evidence
        .tables
        .pack_flights
        .iter()
        .filter(|r| r.pack == pack)
        .collect();
    let accuracy = accuracy(evidence, &flights);
    let places = places(&flights, &rows);
    let trend = resistance(&rows, &places, accuracy, &mut answer);
    let c_rates = pack_draw::draw(evidence, pack, &flights, &rows, &mut answer);
    unnamed(evidence, &mut answer);
    conclude(&declared.name, &flights, trend.as_ref(), &mut answer);
    let figure = pack_pictures::resistance_trend(evidence, pack, &rows, &places, trend.as_ref());
    answer.figures.extend(figure.iter().map(|f| f.id.clone()));
    let mut tables = Vec::new();
    tables.extend(pack_pictures::by_flight(evidence, pack, &rows));
    tables.extend(c_rates);
    answer.tables.extend(tables.iter().map(|t| t.id.clone()));
    (answer, figure, tables)
}

fn how() -> HowWeKnow {
    HowWeKnow {
        method: vec![
            "Resistance: what a clean step of the current shows one to three seconds after it, half-way \
             through the flight's charge; by regression of the voltage around every step on the current, \
             the current smoothed with a time constant, and the charge drawn; interval from leaving out \
             one step at a time. A pack's resistance depends on how long after a step one looks: sooner \
             and later values stand beside it. A flight's own interval leaves the sensors' scales out \
             (they cancel in a trend); the mean and the last one have the current sensor's accuracy in it."
                .to_owned(),
            "Trend over the season: Theil-Sen slope over flights with its interval; ageing is \
             called settled only if the interval excludes zero, and still does with the temperature \
             taken into account where it is known and changed."
                .to_owned(),
            "A date is reckoned only from a settled trend, at the rate at which the pack was flown."
                .to_owned(),
        ],
        sources: vec![
            "Sen, J. Am. Stat. Assoc. 63 (1968) 1379.".to_owned(),
            "Cell voltages, 20 % left at landing, and retiring a pack whose resistance has risen by \
             half: common practice, no source."
                .to_owned(),
        ],
        inputs: vec![
            "tables flights, pack_flights, current_duration".to_owned(),
            "logbook.csv (put-back, temperature)".to_owned(),
        ],
        would_change: vec!["Pack temperature: resistance falls as a pack warms.".to_owned()],
    }
}

/// Flights that belong to no pack's trend.
fn unnamed(evidence: &Evidence, answer: &mut Answer) {
    let without = evidence
        .tables
        .flights
        .iter()
        .filter(|f| f.pack.is_none() && f.has_current)
        .count();
    if without > 0 {
        answer.remarks.push(format!(
            "{} with a current sensor {} no pack in the logbook and {} of no pack's answer.",
            counted(without, "flight"),
            if without == 1 { "names" } else { "name" },
            if without == 1 { "is part" } else { "are part" },
        ));
    }
}

/// Relative half-width (95 %) of the current sensors that flew with it.
fn accuracy(evidence: &Evidence, flights: &[&FlightRow]) -> f64 {
    flights
        .iter()
        .filter_map(|f| evidence.charge_half_width(f.power.as_deref()?))
        .fold(0.0, f64::max)
}

/// Place of each flight with a resistance among all that flew the pack, logged or not, from 0: a pack
/// ages in a flight that nobody logged too.
fn places(flights: &[&FlightRow], rows: &[&PackFlightRow]) -> Vec<f64> {
    rows.iter()
        .filter(|r| r.resistance_ohm.is_some())
        .filter_map(|r| flights.iter().position(|f| f.flight == r.flight))
        .map(|place| place as f64)
        .collect()
}

type Pick = fn(&PackFlightRow) -> Option<f64>;

/// Mean, last, sooner and later resistance; the trend where there are flights enough.
fn resistance(
    rows: &[&PackFlightRow],
    places: &[f64],
    accuracy: f64,
    answer: &mut Answer,
) -> Option<Trend> {
    let measured: Vec<&PackFlightRow> = rows
        .iter()
        .copied()
        .filter(|r| r.resistance_ohm.is_some())
        .collect();
    let milliohm = |pick: Pick| -> Vec<f64> {
        measured
            .iter()
            .filter_map(|r| Some(pick(r)? * 1000.0))
            .collect()
    };
    let scales: [(&str, &str, Pick); 3] = [
        (
            "resistance",
            "one to three seconds after a step; mean over flights, t interval",
            |r| r.resistance_ohm,
        ),
        (
            "resistance_sooner",
            "half to one and a half seconds after a step; mean over flights, t interval",
            |r| r.resistance_sooner_ohm,
        ),
        (
            "resistance_later",
            "two to five seconds after a step; mean over flights, t interval",
            |r| r.resistance_later_ohm,
        ),
    ];
    for (key, method, pick) in scales {
        if let Some(mean) = over_flights(&milliohm(pick), "mOhm", method) {
            answer
                .estimates
                .insert(key.to_owned(), widened(mean, accuracy));
        }
    }
    if let Some(last) = measured.last() {
        answer.estimates.insert(
            "resistance_last_flight".to_owned(),
            widened(
                Estimate {
                    low: last.resistance_low_ohm.map(|r| r * 1000.0),
                    high: last.resistance_high_ohm.map(|r| r * 1000.0),
                    ..Estimate::plus_minus(
                        last.resistance_ohm.unwrap_or_default() * 1000.0,
                        0.0,
                        "mOhm",
                        "one to three seconds after a step; leaving out one step at a time",
                    )
                },
                accuracy,
            )
            .count("steps", last.steps.max(0) as usize)
            .input(format!("flight {}", last.flight)),
        );
    }
    if measured.len() < TREND_FLIGHTS {
        answer.missing.push(Step::fly(format!(
            "Resistance from at least {TREND_FLIGHTS} flights with a current sensor and clear steps of \
             the throttle, for a trend; there {} {}.",
            if measured.len() == 1 { "is" } else { "are" },
            measured.len()
        )));
        return None;
    }
    pack_trend::trend(&measured, places, answer)
}

/// Whether its charge is enough for the flights flown, as a sentence before the others.
fn charge_used(answer: &Answer) -> String {
    let of = |key: &str| answer.estimates.get(key);
    let (Some(into), Some(used), Some(usable)) = (
        of(pack_draw::INTO_RESERVE),
        of("charge_used"),
        of("usable_charge").and_then(|e| e.value),
    ) else {
        return String::new();
    };
    let lead = match into.value {
        Some(0.0) => "Its charge was enough",
        Some(share) if share >= 0.5 => "Its charge is not enough for the flights flown",
        _ => "Its charge was not always enough",
    };
    format!(
        "{lead}: {} went into the reserve ({} used on average, {usable:.0} mAh usable). ",
        pack_draw::into_reserve(into),
        with_interval(used, 1.0, 0, " mAh")
    )
}

/// An interval of more than half the value to either side tells the order of it only.
fn is_loose(estimate: &Estimate) -> bool {
    match (estimate.low, estimate.value, estimate.high) {
        (Some(low), Some(value), Some(high)) => high - low > value,
        _ => false,
    }
}

fn conclude(name: &str, flights: &[&FlightRow], trend: Option<&Trend>, answer: &mut Answer) {
    let Some(resistance) = answer.estimates.get("resistance") else {
        answer.sentence = format!(
            "Not settled: {} with it, none with voltage, current and clear steps of the throttle logged.",
            counted(flights.len(), "flight")
        );
        answer.missing.push(Step::equip(
            "A log with voltage and current from flights with this pack.",
        ));
        return;
    };
    // A mean over flights is no pack's resistance while it changes.
    let changing = trend.is_some_and(|t| t.rises() || t.falls());
    let last = answer
        .estimates
        .get("resistance_last_flight")
        .filter(|_| changing);
    let shown = match last {
        Some(last) => format!("{} in the last flight", with_interval(last, 1.0, 1, " mΩ")),
        None if is_loose(resistance) => format!(
            "about {:.0} mΩ, from too few flights to tell how far that is off",
            resistance.value.unwrap_or_default()
        ),
        None => with_interval(resistance, 1.0, 1, " mΩ"),
    };
    let key = if last.is_some() {
        "resistance_last_flight"
    } else {
        "resistance"
    };
    let rate = answer
        .estimates
        .get("resistance_change_per_flight")
        .map(|t| with_interval(t, 100.0, 1, " %"));
    let (verdict, ageing) = match (trend, rate) {
        (Some(t), Some(rate)) if t.rises() => (
            Verdict::Answered,
            format!("it is ageing: resistance rises {rate} a flight"),
        ),
        (Some(t), Some(rate)) if t.falls() => (
            Verdict::Answered,
            format!("resistance falls {rate} a flight (warming weather or a pack running in)"),
        ),
        (Some(t), Some(rate)) if t.explained_by_temperature() => (
            Verdict::NotSettled,
            format!(
                "whether it ages is not settled: it changes {rate} a flight, and the temperature{} may be \
                 why",
                if t.temperature_unknown {
                    ", which was not noted,"
                } else {
                    ""
                }
            ),
        ),
        (Some(_), Some(rate)) => (
            Verdict::NotSettled,
            format!("whether it ages is not settled ({rate} a flight)"),
        ),
        _ => (
            Verdict::NotSettled,
            "too few flights to tell whether it ages".to_owned(),
        ),
    };
    answer.verdict = verdict;
    answer.sentence = format!(
        "{}Its resistance is {shown}; {ageing}.",
        charge_used(answer)
    );
    answer.headline = [
        "charge_used",
        key,
        "resistance_change_per_flight",
        "sag_at_peak_current_per_cell",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .map(str::to_owned)
    .collect();
    if verdict == Verdict::NotSettled {
        answer.next.push(Step::fly(format!(
            "Fly '{name}' on, with current and voltage logged; note its temperature."
        )));
    }
}
