//! The card to take to the field: what to measure and fly next, in which order, and what each line is
//! for. Made from the other answers; one page.

use serde::{Deserialize, Serialize};

use crate::findings::answer::{Answer, FlightPlan, PlannedFlight, StepKind, Verdict};
use crate::findings::controller::BURST_S;
use crate::findings::evidence::{Evidence, capital, counted};
use crate::season::QuestionKind;
use crate::stats::flying_order::order;

/// Flights that fit on the page; the rest go on another print of it.
const FLIGHTS_ON_A_PAGE: usize = 12;
/// Lines of things to measure or declare that fit beside them.
const MEASURES_ON_A_PAGE: usize = 5;
/// A timer setting takes that many flights of a system (design section 5).
const TIMER_FLIGHTS: usize = 5;
/// Passes a flight where no plan says.
const USUAL_PASSES: u64 = 8;
/// A landing circuit, s (common practice, no source).
const CIRCUIT_S: f64 = 30.0;
/// A sentence longer than this is cut where it can be.
const SHORT: usize = 170;

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Card {
    pub title: String,
    pub invented: bool,
    /// What the page asks for, in one sentence.
    pub sentence: String,
    pub open: Vec<OpenQuestion>,
    pub settled: Vec<SettledQuestion>,
    /// To measure or declare, before flying.
    pub measures: Vec<Measure>,
    pub flights: Vec<CardFlight>,
    /// What each system flown is held to: timer, charge, controller.
    #[serde(default)]
    pub limits: Vec<String>,
    /// How to fly each of them.
    pub how: Vec<String>,
    /// What to write down with each flight.
    pub note: Vec<String>,
    /// Flights of the plan that are not on the page.
    pub further_flights: u64,
    pub cautions: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OpenQuestion {
    /// Letter by which lines refer to it.
    pub letter: String,
    pub asks: String,
    /// What the lines of the card do for it.
    pub settled_by: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettledQuestion {
    /// Goes on from the open ones'.
    pub letter: String,
    pub asks: String,
    pub verdict: Verdict,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    pub line: u64,
    pub what: String,
    pub letters: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardFlight {
    pub line: u64,
    pub day: u64,
    pub power: String,
    pub airframe: Option<String>,
    pub pack: Option<String>,
    pub passes: u64,
    pub letters: Vec<String>,
}

/// The card of a season from the answers to its other questions.
pub fn card(evidence: &Evidence, answers: &[Answer]) -> Card {
    let (open, settled): (Vec<&Answer>, Vec<&Answer>) = answers
        .iter()
        .partition(|a| a.verdict == Verdict::NotSettled);
    let lettered = |some: &[&Answer], from: usize| -> Vec<String> {
        (from..from + some.len()).map(letter).collect()
    };
    let settled: Vec<(String, &Answer)> = lettered(&settled, open.len())
        .into_iter()
        .zip(settled)
        .collect();
    let open: Vec<(String, &Answer)> = lettered(&open, 0).into_iter().zip(open).collect();
    let plan = flights(evidence, &open);
    let measures = measures(&open, &settled);
    let served = |flight: &PlannedFlight, by: &[(String, &Answer)]| -> Vec<String> {
        by.iter()
            .filter(|(_, answer)| serves(flight, answer, &plan))
            .map(|(letter, _)| letter.clone())
            .collect()
    };
    let shown = &plan.flights[..plan.flights.len().min(FLIGHTS_ON_A_PAGE)];
    let flights: Vec<CardFlight> = shown
        .iter()
        .enumerate()
        .map(|(i, flight)| CardFlight {
            line: (measures.len() + i + 1) as u64,
            day: flight.day,
            power: evidence.power_name(&flight.power),
            airframe: flight
                .airframe
                .as_deref()
                .map(|a| evidence.airframe_name(a)),
            pack: flight.pack.as_deref().map(|p| pack_name(evidence, p)),
            passes: plan.passes_a_flight,
            letters: match served(flight, &open) {
                // It guards what is settled.
                letters if letters.is_empty() => served(flight, &settled),
                letters => letters,
            },
        })
        .collect();
    let further = plan.flights.len() - shown.len();
    Card {
        title: evidence.season.title.clone(),
        invented: evidence.season.invented,
        sentence: sentence(&open, &plan, measures.len()),
        settled: settled
            .iter()
            .map(|(letter, a)| SettledQuestion {
                letter: letter.clone(),
                asks: a.asks.clone(),
                verdict: a.verdict,
            })
            .collect(),
        limits: limits(evidence, answers, &plan),
        how: how(evidence, answers, &open, &plan),
        note: note(evidence, &open),
        further_flights: further as u64,
        cautions: cautions(evidence, &plan),
        open: open
            .iter()
            .map(|(letter, answer)| OpenQuestion {
                letter: letter.clone(),
                asks: answer.asks.clone(),
                settled_by: settled_by(answer, letter, &measures, &flights, &plan),
            })
            .collect(),
        measures,
        flights,
    }
}

/// A, B, … Z, then numbers.
fn letter(i: usize) -> String {
    u8::try_from(i)
        .ok()
        .filter(|i| *i < 26)
        .map_or_else(|| (i + 1).to_string(), |i| char::from(b'A' + i).to_string())
}

fn pack_name(evidence: &Evidence, id: &str) -> String {
    let pack = evidence.season.packs.get(id);
    pack.map_or_else(|| id.to_owned(), |p| p.name.clone())
}

/// The flights of the card: the plan that gives most questions what they ask for, of those the one
/// that takes most; without one, what the other open questions need; with none of that, a few to guard
/// the answers.
fn flights(evidence: &Evidence, open: &[(String, &Answer)]) -> FlightPlan {
    let plans: Vec<&FlightPlan> = open.iter().filter_map(|(_, a)| a.plan.as_ref()).collect();
    let worth = |plan: &FlightPlan| {
        let given = plans.iter().filter(|other| gives(plan, other)).count();
        (given, plan.flights.len())
    };
    // Of equal ones the first: the carry-over question comes before the sisters'.
    let best = plans.iter().rev().max_by_key(|plan| worth(plan));
    if let Some(plan) = best {
        return (*plan).clone();
    }
    let wanted: Vec<(&String, usize)> = evidence
        .season
        .powers
        .keys()
        .map(|power| {
            let asked = open.iter().filter_map(|(_, a)| needed(evidence, a, power));
            (power, asked.max().unwrap_or(0))
        })
        .collect();
    let mut flights: Vec<PlannedFlight> = in_turn(&wanted)
        .into_iter()
        .map(|power| flight(evidence, power, only_airframe(evidence)))
        .collect();
    if flights.is_empty() {
        flights = guard(evidence);
    }
    let a_day = evidence.season.rules.flights_a_day.value.max(1.0) as usize;
    for (i, flight) in flights.iter_mut().enumerate() {
        flight.day = (i / a_day + 1) as u64;
    }
    FlightPlan {
        flights,
        passes_a_flight: USUAL_PASSES,
    }
}

/// Each as often as wanted, in rounds, every other round turned about (A B, B A, …): a steady drift
/// over the day leans on none of them while all are wanted.
fn in_turn<'a>(wanted: &[(&'a String, usize)]) -> Vec<&'a str> {
    let rounds = wanted.iter().map(|(_, n)| *n).max().unwrap_or(0);
    let round = |i: usize| {
        let mut round: Vec<&str> = wanted
            .iter()
            .filter(|(_, n)| *n > i)
            .map(|(power, _)| power.as_str())
            .collect();
        if i % 2 == 1 {
            round.reverse();
        }
        round
    };
    (0..rounds).flat_map(round).collect()
}

fn flight(evidence: &Evidence, power: &str, airframe: Option<String>) -> PlannedFlight {
    let declared = evidence.season.powers.get(power);
    PlannedFlight {
        day: 1,
        power: power.to_owned(),
        airframe,
        pack: declared.and_then(|p| p.pack.clone()),
    }
}

/// Two flights with each of the systems compared, in the order that no drift disturbs; two of the
/// only one. Each in the airframe it flew in last.
fn guard(evidence: &Evidence) -> Vec<PlannedFlight> {
    let compared = evidence
        .season
        .questions
        .iter()
        .find(|q| q.kind == QuestionKind::CarryOver)
        .map(|q| [q.baseline.as_str(), q.candidate.as_str()]);
    let last_airframe = |power: &str| {
        let flown = evidence.flights_of(power);
        let last = flown.last().and_then(|f| f.airframe.clone());
        last.or_else(|| only_airframe(evidence))
    };
    match compared {
        Some(powers) => order(2, 2, false)
            .into_iter()
            .map(|candidate| powers[usize::from(candidate)])
            .map(|power| flight(evidence, power, last_airframe(power)))
            .collect(),
        None => {
            let first = evidence.season.powers.keys().next();
            let flights = first.map(|power| flight(evidence, power, last_airframe(power)));
            flights.into_iter().cycle().take(2).collect()
        }
    }
}

fn only_airframe(evidence: &Evidence) -> Option<String> {
    let mut ids = evidence.season.airframes.keys();
    let first = ids.next()?;
    ids.next().is_none().then(|| first.clone())
}

/// Whether a plan has at least the flights of another, by power system and airframe.
fn gives(plan: &FlightPlan, other: &FlightPlan) -> bool {
    let count = |of: &FlightPlan, like: &PlannedFlight| {
        let alike = |f: &&PlannedFlight| f.power == like.power && f.airframe == like.airframe;
        of.flights.iter().filter(alike).count()
    };
    other
        .flights
        .iter()
        .all(|f| count(plan, f) >= count(other, f))
}

/// Flights of a power system that an open question without a plan of its own needs.
fn needed(evidence: &Evidence, answer: &Answer, power: &str) -> Option<usize> {
    let flights = evidence.flights_of(power);
    let logged = flights.iter().filter(|f| f.has_current).count();
    let own = answer.candidate.as_deref() == Some(power);
    match answer.question {
        QuestionKind::PowerAndDuration if own => Some(TIMER_FLIGHTS.saturating_sub(logged).max(1)),
        QuestionKind::Controller if own => Some(usize::from(logged == 0)),
        QuestionKind::Airframe => {
            let side = own || answer.baseline.as_deref() == Some(power);
            side.then(|| 3_usize.saturating_sub(logged).max(1))
        }
        _ => None,
    }
}

/// Whether a flight of the plan adds to what a question is answered from.
fn serves(flight: &PlannedFlight, answer: &Answer, plan: &FlightPlan) -> bool {
    let is = |id: &Option<String>| id.as_deref() == Some(flight.power.as_str());
    match answer.question {
        QuestionKind::PowerAndDuration | QuestionKind::Controller => is(&answer.candidate),
        QuestionKind::CarryOver | QuestionKind::Airframe => {
            is(&answer.candidate) || is(&answer.baseline)
        }
        QuestionKind::Pack => answer.candidate.is_some() && answer.candidate == flight.pack,
        // One airframe alone says nothing of the other.
        QuestionKind::Sisters => {
            let both = [&answer.baseline, &answer.candidate];
            let flies = |id: &Option<String>| plan.flights.iter().any(|f| f.airframe == *id);
            both.iter().all(|id| id.is_some() && flies(id)) && both.contains(&&flight.airframe)
        }
        QuestionKind::WhatToChange | QuestionKind::Next => false,
    }
}

/// What to measure or declare: what each open question lacks that a flight by the card does not give;
/// then what settled ones advise.
fn measures(open: &[(String, &Answer)], settled: &[(String, &Answer)]) -> Vec<Measure> {
    let lacking = open
        .iter()
        .flat_map(|(letter, a)| a.next.iter().chain(&a.missing).map(move |s| (letter, s)));
    let advised = settled
        .iter()
        .flat_map(|(letter, a)| a.next.iter().map(move |s| (letter, s)));
    let mut out: Vec<Measure> = Vec::new();
    // The flights are the card's own lines.
    for (letter, step) in lacking.chain(advised) {
        if step.kind == StepKind::Fly {
            continue;
        }
        let what = short(&step.what);
        if let Some(known) = out.iter_mut().find(|m| m.what == what) {
            if !known.letters.contains(letter) {
                known.letters.push(letter.clone());
            }
        } else if out.len() < MEASURES_ON_A_PAGE {
            out.push(Measure {
                line: (out.len() + 1) as u64,
                what,
                letters: vec![letter.clone()],
            });
        }
    }
    out
}

/// The first sentence, cut at a colon or semicolon where it is long; no code marks.
fn short(text: &str) -> String {
    let text = text.replace('`', "");
    let end = |mark: &str| text.find(mark).map_or(text.len(), |i| i + 1);
    let mut cut = text[..end(". ")].to_owned();
    for mark in ["; ", ": "] {
        if cut.len() > SHORT
            && let Some(i) = cut.find(mark)
        {
            cut.truncate(i);
            cut.push('.');
        }
    }
    cut
}

/// Whether the plan's flights serve an open question at all.
fn serve_any(open: &[(String, &Answer)], plan: &FlightPlan) -> bool {
    open.iter()
        .any(|(_, a)| a.plan.is_some() || plan.flights.iter().any(|f| serves(f, a, plan)))
}

fn sentence(open: &[(String, &Answer)], plan: &FlightPlan, measures: usize) -> String {
    let days = plan.flights.last().map_or(0, |f| f.day) as usize;
    let flights = format!(
        "{} on {}",
        counted(plan.flights.len(), "flight"),
        counted(days, "day")
    );
    let things = match (open.is_empty(), measures) {
        (true, _) => "Nothing more is needed".to_owned(),
        (false, 0) => String::new(),
        (false, n) => format!("{} to measure or declare", counted(n, "thing")),
    };
    let flying = match (plan.flights.is_empty(), serve_any(open, plan)) {
        (true, _) => String::new(),
        (false, true) => flights,
        (false, false) => {
            format!("to guard the answers, {flights} after any change or once a season")
        }
    };
    let parts: Vec<String> = [things, flying]
        .into_iter()
        .filter(|p| !p.is_empty())
        .collect();
    match parts.as_slice() {
        [] => "Nothing that a card could order is open.".to_owned(),
        parts => capital(&parts.join("; ")) + ".",
    }
}

fn settled_by(
    answer: &Answer,
    letter: &String,
    measures: &[Measure],
    flights: &[CardFlight],
    plan: &FlightPlan,
) -> String {
    let mut lines: Vec<u64> = measures
        .iter()
        .filter(|m| m.letters.contains(letter))
        .map(|m| m.line)
        .collect();
    lines.extend(
        flights
            .iter()
            .filter(|f| f.letters.contains(letter))
            .map(|f| f.line),
    );
    let of = match lines.as_slice() {
        [] if answer.plan.is_some() => "No line here.".to_owned(),
        [] if answer.question == QuestionKind::Pack => {
            "No line here: a flight with this pack in place of another adds to it.".to_owned()
        }
        [] => "No line here; see the report.".to_owned(),
        [one] => format!("Line {one}."),
        lines => format!("Lines {}.", ranges(lines)),
    };
    let further = plan.flights.len() - flights.len();
    // The chance is that of the question's own flights.
    let own = answer.plan.as_ref().is_some_and(|own| gives(plan, own));
    let more = if further > 0 && own {
        format!(" And {}.", counted(further, "further flight"))
    } else {
        String::new()
    };
    let chance = |key: &str| answer.estimates.get(key).and_then(|e| e.value);
    let chances: Vec<String> = [
        ("chance_settled_if_all", "if all of it carried over"),
        ("chance_settled_if_half", "if half of it did"),
        ("chance_settled_if_nothing", "if nothing carried over"),
        ("chance_settled_if_alike", "if they are alike"),
        ("chance_settled_if_unlike", "if they differ by what matters"),
    ]
    .into_iter()
    .filter_map(|(key, words)| Some(format!("{:.0} % {words}", 100.0 * chance(key)?)))
    .collect();
    let chances = if chances.is_empty() {
        String::new()
    } else if !own {
        " It takes flights of its own: see the report.".to_owned()
    } else {
        format!(" Chance to settle it: {}.", chances.join(", "))
    };
    of + &more + &chances
}

/// "1, 3 to 6".
fn ranges(lines: &[u64]) -> String {
    let mut out: Vec<(u64, u64)> = Vec::new();
    for line in lines {
        match out.last_mut() {
            Some((_, end)) if *end + 1 == *line => *end = *line,
            _ => out.push((*line, *line)),
        }
    }
    let words: Vec<String> = out
        .into_iter()
        .map(|(a, b)| match b - a {
            0 => a.to_string(),
            1 => format!("{a}, {b}"),
            _ => format!("{a} to {b}"),
        })
        .collect();
    words.join(", ")
}

fn how(
    evidence: &Evidence,
    answers: &[Answer],
    open: &[(String, &Answer)],
    plan: &FlightPlan,
) -> Vec<String> {
    if plan.flights.is_empty() {
        return Vec::new();
    }
    let asked = |kind: QuestionKind| open.iter().any(|(_, a)| a.question == kind);
    let mut out = vec![format!(
        "{} a flight at full throttle, straight and level, 5 s and more where the field and the limits \
         above allow it, as many each way; no dive into a pass.",
        counted(plan.passes_a_flight as usize, "pass")
    )];
    if !evidence.tables.flights.is_empty()
        && !evidence.tables.flights.iter().any(|f| f.has_position)
    {
        out.push(
            "With a stopwatch: the same base for all, time each pass, note the run-up and the minutes \
             since take-off."
                .to_owned(),
        );
    }
    if asked(QuestionKind::PowerAndDuration) || asked(QuestionKind::Airframe) {
        out.push("Then steady throttle for 5 s each at 50, 60 and 70 %.".to_owned());
    }
    if asked(QuestionKind::Pack) {
        out.push(
            "For the pack: three steps from half to full throttle, 3 s each, early and late in the \
             flight."
                .to_owned(),
        );
    }
    let fans = |f: &PlannedFlight| f.power.clone();
    let mut powers: Vec<String> = plan.flights.iter().map(fans).collect();
    powers.dedup();
    if powers.len() > 2 {
        out.push(
            "Keep the order: it keeps rising wind, warming air and packs from looking like a fan's \
             doing."
                .to_owned(),
        );
    }
    out.extend(that_fit(evidence, answers, plan));
    let mut packs: Vec<(u64, &Option<String>)> =
        plan.flights.iter().map(|f| (f.day, &f.pack)).collect();
    let flights = packs.len();
    packs.sort();
    packs.dedup();
    let again = if packs.len() < flights {
        " One pack for several of them: let it cool, charge it and let it rest before each."
    } else {
        ""
    };
    out.push(format!(
        "Packs alike full and alike warm for every flight.{again}"
    ));
    out
}

/// How many passes the timer leaves time for, by the mean pace of the flights flown: a line for each
/// system with which not all that are asked for fit.
fn that_fit(evidence: &Evidence, answers: &[Answer], plan: &FlightPlan) -> Vec<String> {
    let mut powers: Vec<&String> = plan.flights.iter().map(|f| &f.power).collect();
    powers.sort();
    powers.dedup();
    let said = |power: &&String| {
        let timer = timer(answers, power)?.0;
        let paces: Vec<f64> = evidence
            .flights_of(power)
            .iter()
            .filter_map(|flight| {
                let rows = evidence.tables.passes.iter();
                let mut ends: Vec<f64> = rows
                    .filter(|p| p.flight == flight.flight)
                    .filter_map(|p| p.end_s)
                    .collect();
                ends.sort_by(f64::total_cmp);
                let (first, last) = (*ends.first()?, *ends.last()?);
                (ends.len() > 2).then(|| (last - first) / (ends.len() - 1) as f64)
            })
            .collect();
        if paces.is_empty() {
            return None;
        }
        let pace = crate::stats::mean(&paces);
        // The first pass ends about one and a half paces after take-off: a climb and a turn (ours).
        let room = (timer - CIRCUIT_S) / pace - 0.5;
        let fit = (room.floor().max(2.0) as u64) / 2 * 2;
        (fit < plan.passes_a_flight).then(|| {
            format!(
                "{}: the timer leaves time for about {fit} passes and a landing circuit ({CIRCUIT_S:.0} s); the \
                 other {} on a further flight.",
                evidence.power_name(power),
                plan.passes_a_flight - fit
            )
        })
    };
    powers.iter().filter_map(said).collect()
}

/// A system's timer and whether it is extrapolated.
fn timer(answers: &[Answer], power: &str) -> Option<(f64, bool)> {
    let is = |a: &&Answer| {
        a.question == QuestionKind::PowerAndDuration && a.candidate.as_deref() == Some(power)
    };
    let duration = answers.iter().find(is)?;
    ["timer", "extrapolated_timer"].into_iter().find_map(|key| {
        let value = duration.estimates.get(key)?.value?;
        Some((value, key != "timer"))
    })
}

fn note(evidence: &Evidence, open: &[(String, &Answer)]) -> Vec<String> {
    let mut out = vec![
        "date and time",
        "wind",
        "air °C",
        "pack V before",
        "put back mAh",
        "remarks",
    ];
    if evidence.tables.flights.iter().all(|f| f.files.is_empty()) {
        out.insert(5, "passes s");
    }
    // A pack's resistance goes with its temperature.
    if open.iter().any(|(_, a)| a.question == QuestionKind::Pack) {
        out.insert(4, "pack °C before");
    }
    out.into_iter().map(str::to_owned).collect()
}

/// Of each power system on the card, in its order: the timer, the charge at which its packs are at the
/// reserve, and what is known of its controller.
fn limits(evidence: &Evidence, answers: &[Answer], plan: &FlightPlan) -> Vec<String> {
    let mut powers: Vec<&str> = Vec::new();
    for flight in &plan.flights {
        if !powers.contains(&flight.power.as_str()) {
            powers.push(&flight.power);
        }
    }
    let about = |kind: QuestionKind, power: &str| {
        let is = |a: &&Answer| a.question == kind && a.candidate.as_deref() == Some(power);
        answers.iter().find(is)
    };
    let said = |power: &&str| {
        let timer = timer(answers, power).map(|(value, extrapolated)| {
            let how = if extrapolated { " (extrapolated)" } else { "" };
            format!("timer {value:.0} s{how}")
        });
        let controller = about(QuestionKind::Controller, power).map(|a| match a.verdict {
            Verdict::Enough => "controller: enough headroom".to_owned(),
            Verdict::NotEnough => format!(
                "controller: not enough headroom, so full throttle for {:.0} s at most",
                burst_s(evidence, power)
            ),
            _ => "controller: headroom not settled, so mind its temperature".to_owned(),
        });
        let parts: Vec<String> = [
            Some(timer.unwrap_or_else(|| "no timer known yet, so land early".to_owned())),
            charge_limit(evidence, answers, plan, power),
            controller,
        ]
        .into_iter()
        .flatten()
        .collect();
        format!("{}: {}.", evidence.power_name(power), parts.join("; "))
    };
    powers.iter().map(said).collect()
}

/// How long its controller allows a burst, s.
fn burst_s(evidence: &Evidence, power: &str) -> f64 {
    let season = evidence.season;
    let controller = season.powers.get(power).and_then(|p| p.controller.as_ref());
    controller
        .and_then(|id| season.controllers.get(id)?.burst_s)
        .unwrap_or(BURST_S)
}

/// Charge out of its smallest pack on the card when the reserve is left.
fn charge_limit(
    evidence: &Evidence,
    answers: &[Answer],
    plan: &FlightPlan,
    power: &str,
) -> Option<String> {
    let season = evidence.season;
    let of = plan.flights.iter().filter(|f| f.power == power);
    let smallest = of
        .filter_map(|f| Some(season.packs.get(f.pack.as_ref()?)?.capacity_c))
        .min_by(f64::total_cmp)?;
    let reserve = season.rules.reserve.value;
    // By its label; what an old pack still holds nobody measured.
    let ages = |id: &str| {
        let of_pack = answers
            .iter()
            .find(|a| a.question == QuestionKind::Pack && a.candidate.as_deref() == Some(id));
        of_pack
            .and_then(|a| a.estimates.get("resistance_change_per_flight")?.low)
            .is_some_and(|low| low > 0.0)
    };
    let mut packs = plan.flights.iter().filter(|f| f.power == power);
    let word = if packs.any(|f| f.pack.as_deref().is_some_and(ages)) {
        ", less with the ageing pack"
    } else {
        ""
    };
    Some(format!(
        "land by {:.0} mAh used ({:.0} % reserve){word}",
        smallest * (1.0 - reserve) / crate::units::MAH,
        100.0 * reserve
    ))
}

/// Design section 9, as short as a card must be; and what a single day cannot tell.
fn cautions(evidence: &Evidence, plan: &FlightPlan) -> Vec<String> {
    let mut days: Vec<&str> = evidence
        .tables
        .flights
        .iter()
        .filter_map(|f| f.day.as_deref())
        .collect();
    days.sort_unstable();
    days.dedup();
    let planned = plan.flights.last().map_or(0, |f| f.day);
    let single = (days.len() <= 1 && planned == 1).then(|| {
        "One flying day: what the day does to one fan alone (wind, air, packs, the pilot's form) looks \
         like the fan's doing. Keep the order; a further day tells whether the gain holds."
            .to_owned()
    });
    usual_cautions().into_iter().chain(single).collect()
}

fn usual_cautions() -> Vec<String> {
    [
        "Local aviation rules, field rules and the makers' limits come first; in doubt ask someone \
         qualified. A line that the day does not allow is left blank.",
        "Packs: no swollen, hot or damaged one flies or is charged; land with the reserve in it.",
        "Blades: check fan and mount before each flight; nobody in the plane of a running fan.",
        "Bench: the scale must hold the model safely; a restrained jet can break loose.",
        "Structure: after any hard landing or heavier load inspect wing joint and fan mount first. \
         This card is no approval to fly.",
    ]
    .map(str::to_owned)
    .to_vec()
}
