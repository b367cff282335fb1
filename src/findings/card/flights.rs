//! The flights of a card, and what each of them serves.

use crate::findings::answer::{Answer, FlightPlan, PlannedFlight};
use crate::findings::evidence::Evidence;
use crate::season::QuestionKind;
use crate::stats::flying_order::order;

/// A timer setting takes that many flights of a system (design section 5).
const TIMER_FLIGHTS: usize = 5;
/// Passes a flight where no plan says.
const USUAL_PASSES: u64 = 8;

/// The flights of the card: the plan that gives most questions what they ask for, of those the one
/// that takes most; without one, what the other open questions need; with none of that, a few to guard
/// the answers.
pub(super) fn flights(evidence: &Evidence, open: &[(String, &Answer)]) -> FlightPlan {
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
pub(super) fn gives(plan: &FlightPlan, other: &FlightPlan) -> bool {
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
pub(super) fn serves(flight: &PlannedFlight, answer: &Answer, plan: &FlightPlan) -> bool {
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
