//! The card to take to the field: what to measure and fly next, in which order, and what each line is
//! for. Made from the other answers; one page.

mod flights;
mod limits;
mod measures;
mod words;

use serde::{Deserialize, Serialize};

use crate::findings::answer::{Answer, PlannedFlight, Verdict};
use crate::findings::evidence::Evidence;
use flights::{flights, serves};
use limits::limits;
use measures::measures;
use words::{cautions, how, note, sentence, settled_by};

/// Flights that fit on the page; the rest go on another print of it.
const FLIGHTS_ON_A_PAGE: usize = 12;

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
