//! Question 4: is the airframe loaded harder than before; should I reinforce it before going on?
//!
//! Comparative evidence only: it is no approval to fly.
//!
//! Method: cycles and level crossings counted after ASTM E1049-85; candidate against baseline by a linear
//! model of the logarithm on fan, day and airframe, flights as the unit.

use crate::findings::airframe_pictures as pictures;
use crate::findings::airframe_speed;
use crate::findings::airframe_static as still;
use crate::findings::answer::{Answer, DataTable, HowWeKnow, Step, Verdict};
use crate::findings::by_day::{self, FlightValue};
use crate::findings::evidence::{
    Evidence, capital, counted, over_flights, percent_interval, uncapital, with_interval,
};
use crate::findings::figure::Figure;
use crate::findings::observed::SEED;
use crate::season::QuestionKind;
use crate::stats::distributions::t_two_sided_p;
use crate::stats::estimate::Estimate;
use crate::stats::holm::holm;
use crate::stats::observed::{Confounded, Effect, FlightSpeed, Model, ObservedGain, observed_gain};
use crate::store::{FlightLoadRow, FlightRow};

/// Loads within ± this count as alike (a tenth; common practice, no source).
const ALIKE: f64 = 0.10;
/// Exponent whose damage ratio enters the verdict; the others are reported beside it.
const MIDDLE: i32 = 5;

/// What is compared, with its exponent of the load (an exponent m makes ± 10 % of a load ± 10 m % of
/// it).
struct Quantity {
    key: &'static str,
    unit: &'static str,
    word: &'static str,
    exponent: i32,
    decides: bool,
    from: From,
}

enum From {
    Flight(fn(&FlightRow) -> Option<f64>),
    Counted(fn(&FlightLoadRow) -> Option<f64>),
}

const QUANTITIES: [Quantity; 5] = [
    Quantity {
        key: "dynamic_pressure",
        unit: "Pa",
        word: "dynamic pressure",
        exponent: 1,
        decides: true,
        from: From::Flight(|f| f.max_dynamic_pressure_pa),
    },
    Quantity {
        key: "load_factor",
        unit: "1",
        word: "load factor",
        exponent: 1,
        decides: true,
        from: From::Flight(|f| f.load_factor_p99),
    },
    Quantity {
        key: "damage_ratio_exponent_3",
        unit: "/h",
        word: "damage at exponent 3",
        exponent: 3,
        decides: false,
        from: From::Counted(|l| l.damage_exponent_3),
    },
    Quantity {
        key: "damage_ratio_exponent_5",
        unit: "/h",
        word: "damage at exponent 5",
        exponent: MIDDLE,
        decides: true,
        from: From::Counted(|l| l.damage_exponent_5),
    },
    Quantity {
        key: "damage_ratio_exponent_8",
        unit: "/h",
        word: "damage at exponent 8",
        exponent: 8,
        decides: false,
        from: From::Counted(|l| l.damage_exponent_8),
    },
];

impl Quantity {
    fn is_damage(&self) -> bool {
        matches!(self.from, From::Counted(_))
    }

    /// One value a flight. Load factors by two different ways are not held against each other.
    fn values<'a>(
        &self,
        evidence: &Evidence<'a>,
        powers: &[&str],
        source: Option<&str>,
    ) -> Vec<(&'a FlightRow, f64)> {
        let of_load = self.key != "dynamic_pressure";
        evidence
            .tables
            .flights
            .iter()
            .filter(|f| f.power.as_deref().is_some_and(|p| powers.contains(&p)))
            .filter(|f| !of_load || source.is_none_or(|s| f.load_factor_source == s))
            .filter_map(|f| {
                let value = match &self.from {
                    From::Flight(pick) => pick(f),
                    From::Counted(pick) => evidence
                        .tables
                        .flight_loads
                        .iter()
                        .find(|l| l.flight == f.flight)
                        .and_then(pick),
                };
                Some((f, value.filter(|v| *v > 0.0)?))
            })
            .collect()
    }

    /// Whether a 90 % interval of candidate / baseline - 1 lies within what ± 10 % of the load makes.
    fn is_alike(&self, effect: &Effect) -> bool {
        effect.low90 > (1.0 - ALIKE).powi(self.exponent) - 1.0
            && effect.high90 < (1.0 + ALIKE).powi(self.exponent) - 1.0
    }
}

/// How load factors were told, where flights of both systems have it alike: the sensor before the
/// turn rate, unless its flights alone cannot tell fan from day and airframe and the others can.
/// `None`: they have not.
fn common_source(evidence: &Evidence, powers: [&str; 2]) -> Option<&'static str> {
    let sources = ["accelerometer", "turn rate"];
    let mut both = sources.into_iter().filter(|source| {
        powers.iter().all(|p| {
            evidence
                .flights_of(p)
                .iter()
                .any(|f| f.load_factor_source == *source)
        })
    });
    let settles = |source: &&str| {
        QUANTITIES
            .iter()
            .filter(|q| q.key == "load_factor")
            .map(|q| q.values(evidence, &powers, Some(source)))
            .any(|values| compare(&values, powers[1]).effect.is_some())
    };
    let first = both.clone().next();
    both.find(settles).or(first)
}

/// The candidate's effect on a quantity, told from day and airframe as the carry-over question does.
fn compare(flights: &[(&FlightRow, f64)], candidate: &str) -> ObservedGain {
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

/// A sensor's scale is the same in either mean and is not in their intervals.
const SCATTER_ONLY: &str = "mean over flights, t interval: scatter from flight to flight only, not the \
                            sensor's own scale";

/// The loads with the only power system there is: nothing to hold them against.
fn alone(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let name = evidence.power_name(power);
    answer.asks = format!("How hard is the airframe loaded with {name}?");
    answer.baseline = None;
    for quantity in QUANTITIES.iter().filter(|q| !q.is_damage()) {
        let values: Vec<f64> = quantity
            .values(evidence, &[power], None)
            .into_iter()
            .map(|(_, v)| v)
            .collect();
        if let Some(mean) = over_flights(&values, quantity.unit, SCATTER_ONLY) {
            answer.estimates.insert(quantity.key.to_owned(), mean);
            answer.headline.push(quantity.key.to_owned());
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
    answer.missing.push(Step::declare(
        "A second power system (the set-up before) with its flights.",
    ));
}

pub fn answer(
    evidence: &Evidence,
    baseline: &str,
    candidate: &str,
) -> (Answer, Vec<Figure>, Vec<DataTable>) {
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
    answer.how = how();
    answer.cautions.push(
        "Comparative evidence: it certifies nothing and is no approval to fly. Inspect the airframe, \
         stay inside the maker's limits, and take qualified advice before cutting or reinforcing."
            .to_owned(),
    );
    let powers: Vec<&str> = if baseline == candidate {
        vec![candidate]
    } else {
        vec![baseline, candidate]
    };
    if baseline == candidate {
        alone(evidence, candidate, &mut answer);
    } else {
        flown(evidence, [baseline, candidate], &mut answer);
        still::thrust(evidence, baseline, candidate, &mut answer);
        still::balance(evidence, baseline, candidate, &mut answer);
    }
    pictures::envelope_remarks(evidence, &powers, &mut answer);
    let mut figures = Vec::new();
    figures.extend(by_flight(evidence, &answer, &powers));
    let (more, tables) = pictures::all(evidence, &powers, &answer);
    figures.extend(more);
    answer.figures.extend(figures.iter().map(|f| f.id.clone()));
    answer.tables.extend(tables.iter().map(|t| t.id.clone()));
    (answer, figures, tables)
}

fn how() -> HowWeKnow {
    HowWeKnow {
        method: vec![
            "Greatest dynamic pressure of each flight (half of air density times speed squared), the \
             99th percentile of its load factor, and its damage an hour; candidate over baseline by a \
             linear model of the logarithm on fan, day and airframe, flights as the unit. Speed is \
             airspeed: logged, or ground velocity less the flight's wind. Load factor is from turn rate \
             where no accelerometer was logged: pulls in the vertical do not show there, and a level \
             turn is assumed."
                .to_owned(),
            "Damage: rainflow cycles of the load factor, their ranges to the power 3, 5 and 8 (nobody \
             knows the joint's own exponent), summed. Only the ratio means something: that of a typical \
             flight (geometric mean)."
                .to_owned(),
            "Static thrust on the mount: from the bench, at equal terminal voltage.".to_owned(),
            format!(
                "'Loads alike' means that the 90 % intervals of dynamic pressure, load factor and damage \
                 at exponent {MIDDLE} lie within ±{:.0} % of the load (default of ours) \
                 or below it; 'loaded harder' that one of them does not and is larger at 5 %, corrected for \
                 three looks (Holm).",
                ALIKE * 100.0
            ),
        ],
        sources: vec![
            "Load factor of a co-ordinated turn: sqrt(1 + (v·omega/g)²), flight mechanics.".to_owned(),
            "Rainflow counting: ASTM E1049-85, 5.4.4. Summing: Palmgren (1924), Miner (1945).".to_owned(),
            "Gust lines: 14 CFR 23.341(c) before amendment 23-64 (historic, for full-size aeroplanes), \
             as a reference only."
                .to_owned(),
        ],
        inputs: vec![
            "tables flights, flight_loads, load_samples, load_crossings, load_cycles, static_gains"
                .to_owned(),
        ],
        would_change: vec![
            "Flying style: a pilot who pulls harder with one fan loads the airframe harder with it."
                .to_owned(),
        ],
    }
}

/// Compares what the flights show and settles the verdict.
fn flown(evidence: &Evidence, [baseline, candidate]: [&str; 2], answer: &mut Answer) {
    let source = common_source(evidence, [baseline, candidate]);
    let mut deciding: Vec<(&Quantity, Effect)> = Vec::new();
    let mut why: Option<String> = None;
    for quantity in &QUANTITIES {
        let values = quantity.values(evidence, &[baseline, candidate], source);
        if !quantity.is_damage() {
            for (power, side) in [(baseline, "baseline"), (candidate, "candidate")] {
                let own: Vec<f64> = values
                    .iter()
                    .filter(|(f, _)| f.power.as_deref() == Some(power))
                    .map(|(_, v)| *v)
                    .collect();
                if let Some(mean) = over_flights(&own, quantity.unit, SCATTER_ONLY) {
                    answer
                        .estimates
                        .insert(format!("{}_{side}", quantity.key), mean);
                }
            }
        }
        let found = compare(&values, candidate);
        let Some(effect) = &found.effect else {
            if let Model::NotEstimable(n) = &found.model
                && !quantity.is_damage()
            {
                if n.confounded != Confounded::OneFanOnly {
                    why.get_or_insert_with(|| n.why.clone());
                }
                answer
                    .missing
                    .push(Step::fly(format!("{}: {}", capital(quantity.word), n.why)));
                answer.next.push(Step::separates(n));
            }
            continue;
        };
        let (key, offset) = if quantity.is_damage() {
            (quantity.key.to_owned(), 1.0)
        } else {
            (format!("{}_change", quantity.key), 0.0)
        };
        answer.estimates.insert(
            key,
            Estimate::interval(
                effect.gain + offset,
                effect.low + offset,
                effect.high + offset,
                0.95,
                "1",
                "linear model of the logarithm on fan, day and airframe, flights as the unit",
            )
            .count("baseline flights", found.flights_baseline)
            .count("candidate flights", found.flights_candidate)
            .count("days", found.days)
            .at("degrees_of_freedom", effect.df, "1"),
        );
        if quantity.decides {
            deciding.push((quantity, effect.clone()));
        }
    }
    answer.next.dedup();
    told_by(evidence, [baseline, candidate], source, answer);
    airframe_speed::beside_level_speed(evidence, [baseline, candidate], answer);
    settle(
        evidence,
        [baseline, candidate],
        &deciding,
        why.as_deref(),
        answer,
    );
}

/// What the speeds and loads rest on, where that is less than it could be.
fn told_by(evidence: &Evidence, powers: [&str; 2], source: Option<&str>, answer: &mut Answer) {
    let flights: Vec<&FlightRow> = powers.iter().flat_map(|p| evidence.flights_of(p)).collect();
    let count = |is: &dyn Fn(&&&FlightRow) -> bool| flights.iter().filter(is).count();
    let by_ground = count(&|f| f.dynamic_pressure_source == "ground speed");
    if by_ground > 0 {
        answer.remarks.push(format!(
            "In {} the wind is not known: dynamic pressure is from ground speed there, wrong by the \
             wind.",
            counted(by_ground, "flight")
        ));
    }
    let turning = count(&|f| f.load_factor_source == "turn rate");
    match source {
        Some("accelerometer") if turning > 0 => answer.remarks.push(format!(
            "Load factors are those of the accelerometer; {} with turn rate only {} left out of them.",
            counted(turning, "flight"),
            if turning == 1 { "is" } else { "are" }
        )),
        Some("turn rate") => answer.remarks.push(
            "Load factor is from turn rate and speed, for want of an accelerometer on both sides: \
             loops, pull-ups and bumps do not show."
                .to_owned(),
        ),
        _ => {}
    }
    let ended: Vec<f64> = evidence
        .tables
        .flight_loads
        .iter()
        .filter(|l| l.power.as_deref().is_some_and(|p| powers.contains(&p)))
        .filter_map(|l| l.saturated_at)
        .collect();
    if let Some(least) = ended.iter().copied().min_by(f64::total_cmp) {
        answer.remarks.push(format!(
            "In {} the accelerometer's scale ended (at a load factor of {least:.1}): loads and damage \
             are at least what is shown.",
            counted(ended.len(), "flight")
        ));
    }
}

/// The verdict over the deciding quantities.
fn settle(
    evidence: &Evidence,
    [baseline, candidate]: [&str; 2],
    deciding: &[(&Quantity, Effect)],
    why: Option<&str>,
    answer: &mut Answer,
) {
    let p: Vec<f64> = deciding
        .iter()
        .map(|(_, e)| t_two_sided_p(e.coefficient / e.se, e.df))
        .collect();
    let adjusted = holm(&p);
    let mut harder = Vec::new();
    let mut less = Vec::new();
    let mut alike = 0;
    for ((quantity, effect), p) in deciding.iter().zip(adjusted) {
        let significant = p < 0.05;
        if quantity.is_alike(effect) {
            alike += 1;
        } else if significant && effect.coefficient < 0.0 {
            alike += 1;
            less.push(quantity.word);
        } else if significant {
            harder.push(quantity.word);
        }
    }
    let (old, new) = (
        evidence.power_name(baseline),
        evidence.power_name(candidate),
    );
    let all = QUANTITIES.iter().filter(|q| q.decides).count();
    conclude(answer, (&harder, &less), alike == all, [&old, &new], why);
}

fn by_flight(evidence: &Evidence, answer: &Answer, powers: &[&str]) -> Option<Figure> {
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
    let caption = match (answer.estimates.get("dynamic_pressure_change"), powers) {
        (Some(change), [old, new]) => format!(
            "Greatest dynamic pressure of each flight: {} from {} to {}.",
            percent_interval(change),
            evidence.power_name(old),
            evidence.power_name(new)
        ),
        _ => "Greatest dynamic pressure of each flight.".to_owned(),
    };
    by_day::figure(
        evidence,
        &values,
        ("greatest dynamic pressure", "Pa"),
        format!("dynamic-pressure-{}", powers.join("-")),
        caption,
    )
}

fn conclude(
    answer: &mut Answer,
    (harder, less): (&[&str], &[&str]),
    alike: bool,
    [old, new]: [&str; 2],
    why: Option<&str>,
) {
    let changed = |key: &str| answer.estimates.get(key).map(percent_interval);
    let mut facts: Vec<String> = Vec::new();
    if let Some(q) = changed("dynamic_pressure_change") {
        facts.push(format!("dynamic pressure {q}"));
    }
    if let Some(n) = changed("load_factor_change") {
        facts.push(format!("load factor {n}"));
    }
    if let Some(d) = answer.estimates.get("damage_ratio_exponent_5") {
        facts.push(format!(
            "fatigue damage times {} at exponent {MIDDLE}",
            with_interval(d, 1.0, 2, "")
        ));
    }
    answer.headline = [
        "dynamic_pressure_change",
        "load_factor_change",
        "damage_ratio_exponent_5",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .map(str::to_owned)
    .collect();
    let facts = facts.join(", ");
    if facts.is_empty() {
        // Where both have flown, the flights' own reason.
        let why = why.map_or_else(
            || format!("no flights of both {old} and {new} from which loads could be compared"),
            |why| uncapital(why.trim_end_matches('.')),
        );
        answer.sentence = format!("Not settled: {why}.");
    } else if !harder.is_empty() {
        answer.verdict = Verdict::LoadedHarder;
        answer.sentence = format!(
            "Loaded harder with {new} ({}): {facts} against {old}.",
            harder.join(" and ")
        );
        answer.next.push(Step::inspect(
            "Inspect wing joint, fan mount and control surfaces before the next flight; no \
             full-throttle pass before that is done.",
        ));
    } else if alike {
        answer.verdict = Verdict::LoadsAlike;
        let lead = if less.is_empty() {
            "Loads alike".to_owned()
        } else {
            format!("No harder, and loaded less ({})", less.join(" and "))
        };
        answer.sentence = format!("{lead}: {facts} against {old}.");
    } else {
        answer.sentence =
            format!("Not settled: {facts} against {old}; the flights differ too much.");
        let n: u64 = answer
            .estimates
            .get("dynamic_pressure_change")
            .map_or(0, |e| {
                ["baseline flights", "candidate flights"]
                    .iter()
                    .filter_map(|k| e.basis.counts.get(*k))
                    .sum()
            });
        answer.missing.push(Step::fly(format!(
            "More flights flown alike; there are {}.",
            counted(n as usize, "flight")
        )));
    }
}
