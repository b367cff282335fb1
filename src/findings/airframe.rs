//! Question 4: is the airframe loaded harder than before; should I reinforce it before going on?
//!
//! Comparative evidence only: it is no approval to fly.

use crate::findings::answer::{Answer, HowWeKnow, Verdict};
use crate::findings::by_day::{self, FlightValue};
use crate::findings::evidence::{Evidence, counted, over_flights, percent_interval, with_interval};
use crate::findings::figure::Figure;
use crate::findings::observed::SEED;
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;
use crate::stats::observed::{FlightSpeed, Model, ObservedGain, observed_gain};
use crate::store::FlightRow;

/// Loads within ± this count as alike (a tenth; common practice, no source).
const ALIKE: f64 = 0.10;

type Pick = fn(&FlightRow) -> Option<f64>;

/// Key, unit, words and column of what is compared.
const QUANTITIES: [(&str, &str, &str, Pick); 2] = [
    ("dynamic_pressure", "Pa", "dynamic pressure", |f| {
        f.max_dynamic_pressure_pa
    }),
    ("load_factor", "1", "load factor", |f| f.load_factor_p99),
];

fn of(evidence: &Evidence, power: &str, pick: Pick) -> Vec<f64> {
    evidence
        .flights_of(power)
        .into_iter()
        .filter_map(pick)
        .filter(|v| *v > 0.0)
        .collect()
}

/// The candidate's effect on a quantity, told from day and airframe as the carry-over question does.
fn compare(evidence: &Evidence, baseline: &str, candidate: &str, pick: Pick) -> ObservedGain {
    let flights: Vec<(&FlightRow, f64)> = evidence
        .tables
        .flights
        .iter()
        .filter(|f| {
            f.power
                .as_deref()
                .is_some_and(|p| p == baseline || p == candidate)
        })
        .filter_map(|f| Some((f, pick(f).filter(|v| *v > 0.0)?)))
        .collect();
    let index = |of: fn(&FlightRow) -> Option<&str>, own: &FlightRow| {
        let mut names: Vec<Option<&str>> = flights.iter().map(|(f, _)| of(f)).collect();
        names.sort_unstable();
        names.dedup();
        names.partition_point(|n| *n < of(own))
    };
    let rows: Vec<FlightSpeed> = flights
        .iter()
        .map(|(flight, value)| FlightSpeed {
            log_speed: value.ln(),
            se: None,
            day: index(|f| f.day.as_deref(), flight),
            candidate: flight.power.as_deref() == Some(candidate),
            airframe: index(|f| f.airframe.as_deref(), flight),
        })
        .collect();
    observed_gain(&rows, SEED)
}

fn sentence_case(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The loads with the only power system there is: nothing to hold them against.
fn alone(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let name = evidence.power_name(power);
    answer.asks = format!("How hard is the airframe loaded with {name}?");
    answer.baseline = None;
    for (key, unit, _, pick) in QUANTITIES {
        let values = of(evidence, power, pick);
        if let Some(mean) = over_flights(&values, unit, "mean over flights, t interval") {
            answer.estimates.insert(key.to_owned(), mean);
            answer.headline.push(key.to_owned());
        }
    }
    answer.sentence = match answer.estimates.get("dynamic_pressure") {
        Some(q) => format!(
            "Not settled whether that is more than before: only one power system is declared; its \
             greatest dynamic pressure is {}.",
            with_interval(q, 1.0, 0, " Pa")
        ),
        None => "Not settled: only one power system is declared, and no flight tells a speed."
            .to_owned(),
    };
    answer
        .missing
        .push("A second power system (the set-up before) with its flights.".to_owned());
}

pub fn answer(evidence: &Evidence, baseline: &str, candidate: &str) -> (Answer, Option<Figure>) {
    let (old, new) = (
        evidence.power_name(baseline),
        evidence.power_name(candidate),
    );
    let mut answer = Answer::new(
        QuestionKind::Airframe,
        &format!("airframe-{baseline}-{candidate}"),
        &format!("Is the airframe loaded harder with {new} than with {old}?"),
    );
    answer.baseline = Some(baseline.to_owned());
    answer.candidate = Some(candidate.to_owned());
    answer.how = HowWeKnow {
        method: vec![
            "Greatest dynamic pressure of each flight (half of air density times speed squared) and \
             the 99th percentile of its load factor; candidate over baseline by a linear model of \
             the logarithm on fan, day and airframe. Speed is airspeed: logged, or ground velocity \
             less the flight's wind. Load factor is from turn rate where no accelerometer was \
             logged: pulls in the vertical do not show there."
                .to_owned(),
            "Static thrust on the mount: from the bench, at equal terminal voltage.".to_owned(),
            format!(
                "'Loads alike' means that the 90 % intervals of both ratios lie within ±{:.0} % \
                 (default of ours); 'loaded harder' that a 95 % interval lies above zero.",
                ALIKE * 100.0
            ),
        ],
        sources: vec![
            "Load factor of a co-ordinated turn: sqrt(1 + (v·omega/g)²), flight mechanics.".to_owned(),
        ],
        inputs: vec!["tables flights, static_gains".to_owned()],
        would_change: vec![
            "Flying style: a pilot who pulls harder with one fan loads the airframe harder with it."
                .to_owned(),
        ],
    };
    answer.cautions.push(
        "Comparative evidence: it certifies nothing and is no approval to fly. Inspect the airframe, \
         stay inside the maker's limits, and take qualified advice before cutting or reinforcing."
            .to_owned(),
    );
    if baseline == candidate {
        alone(evidence, candidate, &mut answer);
        let figure = figure(evidence, &answer, [baseline, candidate]);
        answer.figures.extend(figure.iter().map(|f| f.id.clone()));
        return (answer, figure);
    }
    let mut alike = 0;
    let mut harder = Vec::new();
    for (key, unit, word, pick) in QUANTITIES {
        for (power, side) in [(baseline, "baseline"), (candidate, "candidate")] {
            let values = of(evidence, power, pick);
            if let Some(mean) = over_flights(&values, unit, "mean over flights, t interval") {
                answer.estimates.insert(format!("{key}_{side}"), mean);
            }
        }
        let found = compare(evidence, baseline, candidate, pick);
        let Some(effect) = &found.effect else {
            if let Model::NotEstimable(n) = &found.model {
                answer
                    .missing
                    .push(format!("{}: {}", sentence_case(word), n.why));
                answer.next.push(n.cross_over.clone());
            }
            continue;
        };
        answer.estimates.insert(
            format!("{key}_change"),
            Estimate::interval(
                effect.gain,
                effect.low,
                effect.high,
                0.95,
                "1",
                "linear model of the logarithm on fan, day and airframe, flights as the unit",
            )
            .count("baseline flights", found.flights_baseline)
            .count("candidate flights", found.flights_candidate)
            .count("days", found.days)
            .count("degrees of freedom", effect.df),
        );
        if effect.low > 0.0 {
            harder.push(word);
        }
        if effect.low90 > -ALIKE && effect.high90 < ALIKE {
            alike += 1;
        }
    }
    answer.next.dedup();
    let by_ground = [baseline, candidate]
        .iter()
        .flat_map(|p| evidence.flights_of(p))
        .filter(|f| f.dynamic_pressure_source == "ground speed")
        .count();
    if by_ground > 0 {
        answer.remarks.push(format!(
            "In {} the wind is not known: dynamic pressure is from ground speed there, wrong by the \
             wind.",
            counted(by_ground, "flight")
        ));
    }
    thrust(evidence, baseline, candidate, &mut answer);
    conclude(&mut answer, &harder, alike == QUANTITIES.len(), &old, &new);
    let figure = figure(evidence, &answer, [baseline, candidate]);
    answer.figures.extend(figure.iter().map(|f| f.id.clone()));
    (answer, figure)
}

fn figure(evidence: &Evidence, answer: &Answer, powers: [&str; 2]) -> Option<Figure> {
    let values: Vec<FlightValue> = evidence
        .tables
        .flights
        .iter()
        .filter_map(|f| {
            Some(FlightValue {
                day: f.day.as_deref().unwrap_or("unknown"),
                power: f.power.as_deref().filter(|p| powers.contains(p))?,
                value: f.max_dynamic_pressure_pa?,
                interval: None,
            })
        })
        .collect();
    let caption = match answer.estimates.get("dynamic_pressure_change") {
        Some(change) => format!(
            "Greatest dynamic pressure of each flight: {} from {} to {}.",
            percent_interval(change),
            evidence.power_name(powers[0]),
            evidence.power_name(powers[1])
        ),
        None => "Greatest dynamic pressure of each flight.".to_owned(),
    };
    by_day::figure(
        evidence,
        &values,
        ("greatest dynamic pressure", "Pa"),
        format!("dynamic-pressure-{}-{}", powers[0], powers[1]),
        caption,
    )
}

fn thrust(evidence: &Evidence, baseline: &str, candidate: &str, answer: &mut Answer) {
    let row = evidence.tables.static_gains.iter().find(|r| {
        r.baseline == baseline
            && r.candidate == candidate
            && r.quantity == "thrust"
            && r.condition == "same_terminal_voltage"
    });
    match row.and_then(|r| Some((r, r.gain?))) {
        Some((row, gain)) => {
            answer.estimates.insert(
                "static_thrust_gain".to_owned(),
                Estimate {
                    low: row.low,
                    high: row.high,
                    ..Estimate::plus_minus(gain, 0.0, "1", &row.method)
                },
            );
        }
        None => answer.missing.push(
            "Bench runs of both systems with thrust: the static load on the mount.".to_owned(),
        ),
    }
}

fn conclude(answer: &mut Answer, harder: &[&str], alike: bool, old: &str, new: &str) {
    let ratio = |key: &str| answer.estimates.get(key).map(percent_interval);
    let mut facts: Vec<String> = Vec::new();
    if let Some(q) = ratio("dynamic_pressure_change") {
        facts.push(format!("dynamic pressure {q}"));
    }
    if let Some(n) = ratio("load_factor_change") {
        facts.push(format!("load factor {n}"));
    }
    if let Some(t) = ratio("static_thrust_gain") {
        facts.push(format!("static thrust on the mount {t}"));
    }
    let facts = facts.join(", ");
    answer.headline = [
        "dynamic_pressure_change",
        "load_factor_change",
        "static_thrust_gain",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .map(str::to_owned)
    .collect();
    let flown = ["dynamic_pressure_change", "load_factor_change"]
        .iter()
        .any(|k| answer.estimates.contains_key(*k));
    if !flown {
        answer.sentence = if facts.is_empty() {
            "Not settled: no flight and no bench thrust of both systems to compare.".to_owned()
        } else {
            format!("Not settled in flight; on the bench: {facts} against {old}.")
        };
        return;
    }
    if !harder.is_empty() {
        answer.verdict = Verdict::LoadedHarder;
        answer.sentence = format!(
            "Loaded harder with {new} ({}): {facts} against {old}.",
            harder.join(" and ")
        );
        answer.next.push(
            "Inspect wing joint, fan mount and control surfaces before flying on; keep the speed \
             down until then."
                .to_owned(),
        );
    } else if alike {
        answer.verdict = Verdict::LoadsAlike;
        answer.sentence = format!("Loads alike: {facts} against {old}.");
    } else {
        answer.sentence =
            format!("Not settled: {facts} against {old}; the flights differ too much.");
        let n: u64 = answer
            .estimates
            .get("dynamic_pressure_change")
            .map_or(0, |e| e.basis.counts.values().sum());
        answer.missing.push(format!(
            "More flights flown alike; there are {}.",
            counted(n as usize, "flight")
        ));
    }
}
