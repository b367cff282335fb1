//! A card's sentences: what it asks for, what its lines settle, how to fly them, what to note.

use super::flights::{gives, serves};
use super::limits::that_fit;
use super::{CardFlight, Measure};
use crate::findings::answer::{Answer, FlightPlan, PlannedFlight};
use crate::findings::evidence::{Evidence, capital, counted};
use crate::season::QuestionKind;

/// Whether the plan's flights serve an open question at all.
fn serve_any(open: &[(String, &Answer)], plan: &FlightPlan) -> bool {
    open.iter()
        .any(|(_, a)| a.plan.is_some() || plan.flights.iter().any(|f| serves(f, a, plan)))
}

pub(super) fn sentence(open: &[(String, &Answer)], plan: &FlightPlan, measures: usize) -> String {
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

pub(super) fn settled_by(
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

pub(super) fn how(
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

pub(super) fn note(evidence: &Evidence, open: &[(String, &Answer)]) -> Vec<String> {
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

/// Design section 9, as short as a card must be; and what a single day cannot tell.
pub(super) fn cautions(evidence: &Evidence, plan: &FlightPlan) -> Vec<String> {
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
