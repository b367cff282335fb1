//! The carry-over answer in words: sentence, remarks, what is missing.

use crate::findings::answer::{Answer, Verdict};
use crate::findings::evidence::{Evidence, counted, percent, percent_interval};
use crate::findings::observed::{Observed, logger_remark};
use crate::stats::estimate::Estimate;
use crate::stats::observed::Model;
use crate::stats::t_quantile;
use crate::stats::verdict::{self, NotSettled};

/// Verdict, sentence, headline and the remarks that belong to the verdict.
pub fn conclude(
    evidence: &Evidence,
    answer: &mut Answer,
    verdict: verdict::Verdict,
    pack: &Observed,
    old: &str,
    new: &str,
) {
    let show = |answer: &Answer, key: &str| {
        answer
            .estimates
            .get(key)
            .map_or_else(|| "unknown".to_owned(), percent_interval)
    };
    let flown = format!(
        "{} with {old} and {} with {new} on {}",
        counted(pack.gain.flights_baseline, "flight"),
        counted(pack.gain.flights_candidate, "flight"),
        counted(pack.gain.days, "day")
    );
    let at_terminal = answer
        .estimates
        .get("observed_speed_gain_same_terminal_voltage");
    let on_pack = answer.estimates.get("observed_speed_gain_same_pack");
    let suffix = if at_terminal.is_none() && on_pack.is_some() {
        "_same_pack"
    } else {
        ""
    };
    let end = |end: &str| {
        let key = format!("reference_speed_gain_{end}{suffix}");
        answer.estimates.get(&key).and_then(|e| e.value)
    };
    let band = match (end("low"), end("high")) {
        (Some(low), Some(high)) => format!("{} to {}", percent(low), percent(high)),
        _ => "no reference band".to_owned(),
    };
    let static_thrust = show(answer, "static_thrust_gain");
    let gain = match (on_pack, at_terminal) {
        (Some(on_pack), Some(at_terminal)) => format!(
            "level top speed changed by {} as on the same pack ({flown}); at the same terminal \
             voltage {}",
            percent_interval(on_pack),
            percent_interval(at_terminal)
        ),
        (Some(on_pack), None) => format!(
            "level top speed changed by {} as flown ({flown})",
            percent_interval(on_pack)
        ),
        (None, Some(at_terminal)) => format!(
            "level top speed changed by {} at the same terminal voltage ({flown})",
            percent_interval(at_terminal)
        ),
        (None, None) => format!("no gain in level top speed can be given ({flown})"),
    };
    let (mapped, sentence) = match verdict {
        verdict::Verdict::NotSettled(NotSettled::NotEstimable) => {
            let why = match &pack.gain.model {
                Model::NotEstimable(_) if pack.speeds.is_empty() => {
                    no_level_speed(evidence, answer)
                }
                Model::NotEstimable(n) => n.why.clone(),
                _ => "the flights cannot tell the gain.".to_owned(),
            };
            let statically = if answer.estimates.contains_key("static_thrust_gain") {
                format!(
                    "; statically thrust rose {static_thrust}, which could mean {band} in level top \
                     speed"
                )
            } else {
                String::new()
            };
            (
                Verdict::NotSettled,
                format!("Not settled: {}{statically}.", why.trim_end_matches('.')),
            )
        }
        verdict::Verdict::NotSettled(NotSettled::TooWide) => (
            Verdict::NotSettled,
            format!("Not settled: {gain}; the interval is too wide for a verdict."),
        ),
        verdict::Verdict::NotSettled(NotSettled::NoReference) => (
            Verdict::NotSettled,
            format!("Not settled: {gain}; no static gain to hold it against."),
        ),
        verdict::Verdict::NotSettled(NotSettled::HowMuchIsOpen) => (
            Verdict::NotSettled,
            format!(
                "A gain is real, but whether all of it carried over is not settled: {gain}; the \
                 bench's gains would make {band} of it."
            ),
        ),
        verdict::Verdict::NoDifferenceThatMatters { real } => (
            Verdict::NoDifferenceThatMatters,
            format!(
                "No difference that matters{}: {gain}.",
                if real { " (small but real)" } else { "" }
            ),
        ),
        verdict::Verdict::Worse => (Verdict::Worse, format!("Worse: {gain}.")),
        verdict::Verdict::MoreThanTheReferenceCases => (
            Verdict::MoreThanTheReferenceCases,
            format!(
                "More than the reference cases: {gain}; the bench's gains would make {band} of it."
            ),
        ),
        verdict::Verdict::PartlyCarriedOver => (
            Verdict::PartlyCarriedOver,
            format!("Partly: {gain}; the bench's gains would make {band} of it."),
        ),
        verdict::Verdict::CarriedOver => (
            Verdict::CarriedOver,
            format!("Yes: {gain}, and the bench's gains would make {band} of it."),
        ),
        verdict::Verdict::NothingToCarry { .. } => (
            Verdict::NothingToCarry,
            format!(
                "The static gain {static_thrust} may be nothing, so there is nothing to carry; {gain}."
            ),
        ),
    };
    answer.verdict = mapped;
    answer.sentence = sentence;
    answer.headline = [
        "observed_speed_gain_same_pack",
        "observed_speed_gain_same_terminal_voltage",
        "static_thrust_gain",
        "reference_speed_gain_low",
        "reference_speed_gain_high",
        "reference_speed_gain_low_same_pack",
        "reference_speed_gain_high_same_pack",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .take(4)
    .map(str::to_owned)
    .collect();
    if matches!(
        mapped,
        Verdict::MoreThanTheReferenceCases | Verdict::PartlyCarriedOver
    ) {
        answer.remarks.push(
            "A true gain lies outside the reference band for honest reasons: static blade stall or a \
             bellmouth that helps only standing still, different unloading, ram at the inlet, added \
             mass or cooling drag, another outlet area, bench volts far from flight volts."
                .to_owned(),
        );
    }
    let extrapolated = pack
        .speeds
        .iter()
        .filter(|s| s.flight.share_reached.is_some_and(|share| share < 0.95))
        .count();
    if extrapolated > 0 {
        answer.remarks.push(format!(
            "In {} no pass came within 5 % of level top speed: there the figure extrapolates the \
             run-up.",
            counted(extrapolated, "flight")
        ));
    }
    let assumed = pack.speeds.iter().filter(|s| s.voltage_assumed).count();
    // Where nobody logged a voltage nothing stands in.
    if assumed > 0 && assumed < pack.speeds.len() {
        answer.remarks.push(format!(
            "{} without a voltage on the passes: the power system's mean (or the other's) stands in, \
             its spread is in the interval.",
            counted(assumed, "flight")
        ));
    }
    let unequal = evidence
        .season
        .benches
        .iter()
        .filter(|b| {
            [&answer.baseline, &answer.candidate]
                .iter()
                .any(|p| p.as_ref() == Some(&b.power))
        })
        .any(|b| !b.equal_duty);
    if unequal {
        answer.remarks.push(
            "Equal throttle is taken as equal duty; `equal_duty = true` in the bench entries would \
             declare that end points, timing and controller stayed the same."
                .to_owned(),
        );
    }
}

/// Why there is no flight to compare at all.
fn no_level_speed(evidence: &Evidence, answer: &Answer) -> String {
    let flown = [&answer.baseline, &answer.candidate]
        .into_iter()
        .flatten()
        .any(|power| !evidence.flights_of(power).is_empty());
    if flown {
        "no flight of the two tells a level top speed.".to_owned()
    } else {
        "neither of the two has flown yet.".to_owned()
    }
}

/// What the flights cannot tell apart, and the cross-over that separates it.
pub fn missing_flights(answer: &mut Answer, pack: &Observed) {
    if let Model::NotEstimable(n) = &pack.gain.model {
        if pack.speeds.is_empty() {
            answer.missing.push(
                "Flights of both with level full-throttle passes: logged with position or airspeed, \
                 or timed by stopwatch (passes.csv)."
                    .to_owned(),
            );
        } else {
            answer.missing.push(n.why.clone());
        }
        answer.next.push(n.cross_over.clone());
    }
}

pub fn remarks(answer: &mut Answer, pack: &Observed) {
    answer.remarks.extend(pack.gain.assumptions.iter().cloned());
    if let Some(effect) = &pack.gain.effect {
        answer.remarks.extend(logger_remark(pack, effect));
        // How far the largest influence of chance goes: the t factor at these degrees of freedom.
        answer.remarks.push(format!(
            "Flights scatter by {} within a day; t factor {:.2} at {} degrees of freedom{}.",
            percent(effect.scatter),
            t_quantile(0.975, effect.df as f64),
            effect.df,
            if effect.floored {
                "; the interval was widened to what the flights' own errors allow"
            } else {
                ""
            }
        ));
    }
    if let Some(permutation) = pack.gain.permutation {
        answer.remarks.push(format!(
            "Re-dealing the fans within days gives p = {:.3}; the smallest that so few flights can \
             reach is {:.3}.",
            permutation.p, permutation.smallest_p
        ));
        for (key, p) in [
            ("permutation_p", permutation.p),
            ("permutation_smallest_p", permutation.smallest_p),
        ] {
            answer.estimates.insert(
                key.to_owned(),
                Estimate {
                    low: None,
                    high: None,
                    ..Estimate::plus_minus(p, 0.0, "1", "fans re-dealt within days")
                }
                .count("arrangements", permutation.arrangements as usize),
            );
        }
    }
}
