//! What each system on a card is held to: its timer, its charge, its controller.

use crate::findings::answer::{Answer, FlightPlan, Verdict};
use crate::findings::controller::BURST_S;
use crate::findings::evidence::Evidence;
use crate::season::QuestionKind;

/// A landing circuit, s (common practice, no source).
const CIRCUIT_S: f64 = 30.0;

/// Of each power system on the card, in its order: the timer, the charge at which its packs are at the
/// reserve, and what is known of its controller.
pub(super) fn limits(evidence: &Evidence, answers: &[Answer], plan: &FlightPlan) -> Vec<String> {
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

/// How many passes the timer leaves time for, by the mean pace of the flights flown: a line for each
/// system with which not all that are asked for fit.
pub(super) fn that_fit(evidence: &Evidence, answers: &[Answer], plan: &FlightPlan) -> Vec<String> {
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
