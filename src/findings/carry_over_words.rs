//! The carry-over answer in words: sentence, remarks, what is missing.

use crate::findings::answer::{Answer, HowWeKnow, Step, Verdict};
use crate::findings::covariates;
use crate::findings::evidence::{Evidence, counted, p_value, percent, percent_interval, uncapital};
use crate::findings::observed::{Observed, logger_remark, method_remark};
use crate::stats::estimate::Estimate;
use crate::stats::mover::Bounds;
use crate::stats::observed::Model;
use crate::stats::t_quantile;
use crate::stats::verdict::{self, NotSettled};

/// The verdict as an answer has it.
pub fn mapped(verdict: verdict::Verdict) -> Verdict {
    match verdict {
        verdict::Verdict::NotSettled(_) => Verdict::NotSettled,
        verdict::Verdict::NoDifferenceThatMatters { .. } => Verdict::NoDifferenceThatMatters,
        verdict::Verdict::Worse => Verdict::Worse,
        verdict::Verdict::MoreThanTheReferenceCases => Verdict::MoreThanTheReferenceCases,
        verdict::Verdict::PartlyCarriedOver => Verdict::PartlyCarriedOver,
        verdict::Verdict::CarriedOver => Verdict::CarriedOver,
        verdict::Verdict::NothingToCarry { .. } => Verdict::NothingToCarry,
    }
}

/// How a gain stands to one reference case, both errors counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    Exceeds,
    /// Not below it by more than the margin.
    Meets,
    FallsShort,
    Open,
}

impl Standing {
    fn of(gain: &Bounds, case: &Bounds, margin: f64) -> Self {
        let over = gain.minus(case);
        if over.low > 0.0 {
            Self::Exceeds
        } else if over.high < 0.0 {
            Self::FallsShort
        } else if over.low90 > -margin {
            Self::Meets
        } else {
            Self::Open
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Exceeds => "exceeds",
            Self::Meets => "meets",
            Self::FallsShort => "falls short of",
            Self::Open => "may or may not meet",
        }
    }
}

/// How a gain stands to the power case and to the thrust case.
#[derive(Debug, Clone, Copy)]
pub struct Met {
    power: Standing,
    thrust: Standing,
}

impl Met {
    pub fn of(gain: &Bounds, [power, thrust]: [Bounds; 2], margin: f64) -> Self {
        Self {
            power: Standing::of(gain, &power, margin),
            thrust: Standing::of(gain, &thrust, margin),
        }
    }

    /// ": the gain observed meets the power case and falls short of the thrust case".
    fn words(self) -> String {
        if self.power == self.thrust {
            format!(": the gain observed {} both cases", self.power.words())
        } else {
            format!(
                ": the gain observed {} the power case and {} the thrust case",
                self.power.words(),
                self.thrust.words()
            )
        }
    }

    /// By which case it carried over, where not by both.
    fn by(self) -> &'static str {
        let reached = |s| matches!(s, Standing::Meets | Standing::Exceeds);
        match (reached(self.power), reached(self.thrust)) {
            (true, false) => ", by the power case",
            (false, true) => ", by the thrust case",
            _ => "",
        }
    }
}

/// Verdict, sentence, headline and the remarks that belong to the verdict; `met`: how the gain stands
/// to the reference cases.
pub fn conclude(
    evidence: &Evidence,
    answer: &mut Answer,
    verdict: verdict::Verdict,
    pack: &Observed,
    met: Option<Met>,
    [old, new]: [&str; 2],
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
    let mut ends: Vec<(f64, &str)> = [("from_power", "power case"), ("from_thrust", "thrust case")]
        .into_iter()
        .filter_map(|(key, name)| Some((end(key)?, name)))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let band = match ends.as_slice() {
        [low, high] => format!(
            "a change in level top speed of {} ({}) to {} ({})",
            percent(low.0),
            low.1,
            percent(high.0),
            high.1
        ),
        _ => "no reference band".to_owned(),
    };
    // A loss that the bench foretold is no news of the flights'.
    let bench = {
        let lost = |key: &str| {
            let estimate = answer
                .estimates
                .get(&format!("reference_speed_gain_{key}{suffix}"));
            estimate.and_then(|e| e.high).is_some_and(|high| high < 0.0)
        };
        match (ends.is_empty(), lost("low"), lost("high")) {
            (true, ..) => String::new(),
            (_, true, true) => {
                format!(". The bench foretold a loss: its figures alone would make {band}")
            }
            _ => format!(". The bench's figures alone would make {band}"),
        }
    };
    let stands = met.map_or_else(String::new, Met::words);
    let static_thrust = show(answer, "static_thrust_gain");
    let gain = match (on_pack, at_terminal) {
        (Some(on_pack), Some(at_terminal)) => format!(
            "level top speed changed by {} as on the same pack ({flown}); at the same terminal \
             voltage, as the bench compares, by {}",
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
    let sentence = match verdict {
        verdict::Verdict::NotSettled(NotSettled::NotEstimable) => {
            let why = match &pack.gain.model {
                Model::NotEstimable(n) if !pack.left_out.is_empty() => {
                    format!("{} {}", pack.left_out.join(" "), n.why)
                }
                Model::NotEstimable(_) if pack.speeds.is_empty() => {
                    no_level_speed(evidence, answer)
                }
                Model::NotEstimable(n) => n.why.clone(),
                _ => "the flights cannot tell the gain.".to_owned(),
            };
            let statically = if answer.estimates.contains_key("static_thrust_gain") {
                format!("; statically thrust changed by {static_thrust}, which could mean {band}")
            } else {
                String::new()
            };
            let why = if pack.left_out.is_empty() {
                uncapital(&why)
            } else {
                why
            };
            format!("Not settled: {}{statically}.", why.trim_end_matches('.'))
        }
        verdict::Verdict::NotSettled(NotSettled::TooWide) => {
            format!("Not settled: {gain}; the interval is too wide for a verdict.")
        }
        verdict::Verdict::NotSettled(NotSettled::NoReference) => {
            format!("Not settled: {gain}; no static gain to hold it against.")
        }
        verdict::Verdict::NotSettled(NotSettled::HowMuchIsOpen) => format!(
            "A gain is real, but whether all of it carried over is not settled: {gain}. The bench's \
             figures alone would make {band}{stands}."
        ),
        verdict::Verdict::NoDifferenceThatMatters { real } => format!(
            "No difference that matters{}: {gain}{bench}.",
            if real { " (small but real)" } else { "" }
        ),
        verdict::Verdict::Worse => format!("Worse: {gain}{bench}."),
        verdict::Verdict::MoreThanTheReferenceCases => format!(
            "More than the reference cases: {gain}. The bench's figures alone would make {band}{stands}."
        ),
        verdict::Verdict::PartlyCarriedOver => {
            format!("Partly: {gain}. The bench's figures alone would make {band}{stands}.")
        }
        verdict::Verdict::CarriedOver => {
            let by = met.map_or("", Met::by);
            let margin = show(answer, "margin");
            format!(
                "Yes{by}: {gain}. The bench's figures alone would make {band}{stands}. To carry over the \
                 gain must be shown to lie no more than the {margin} that matter below the lower case."
            )
        }
        verdict::Verdict::NothingToCarry { .. } => format!(
            "The static gain {static_thrust} may be nothing, so there is nothing to carry; {gain}."
        ),
    };
    let mapped = mapped(verdict);
    answer.verdict = mapped;
    answer.sentence = sentence;
    answer.headline = [
        "observed_speed_gain_same_pack",
        "observed_speed_gain_same_terminal_voltage",
        "static_thrust_gain",
        "carry_over_fraction_from_thrust",
        "reference_speed_gain_low",
        "reference_speed_gain_high",
        "reference_speed_gain_low_same_pack",
        "reference_speed_gain_high_same_pack",
    ]
    .into_iter()
    .filter(|k| answer.estimates.contains_key(*k))
    .take(6)
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
    let flights = &evidence.tables.flights;
    let unnamed = flights.iter().filter(|f| f.power.is_none()).count();
    if flown {
        "no flight of the two tells a level top speed.".to_owned()
    } else if unnamed > 0 {
        format!(
            "of {} it is not known with which power system: the logbook does not say.",
            counted(unnamed, "flight")
        )
    } else if flights.is_empty() && !evidence.season.logs.is_empty() {
        "neither of the two has flown by the logbook; a log counts once its flight stands there."
            .to_owned()
    } else {
        "neither of the two has flown yet.".to_owned()
    }
}

/// What the flights cannot tell apart, and the cross-over that separates it.
pub fn missing_flights(answer: &mut Answer, pack: &Observed) {
    if let Model::NotEstimable(n) = &pack.gain.model {
        if pack.speeds.is_empty() && pack.left_out.is_empty() {
            answer.missing.push(Step::fly(
                "Flights of both with level full-throttle passes: logged with position or airspeed, \
                 or timed by stopwatch (passes.csv).",
            ));
        } else {
            answer.missing.push(Step::fly(n.why.clone()));
        }
        answer.next.push(Step::separates(n));
    }
}

pub fn remarks(answer: &mut Answer, pack: &Observed) {
    answer.remarks.extend(pack.left_out.iter().cloned());
    answer.remarks.extend(pack.gain.assumptions.iter().cloned());
    covariates::record(answer, pack);
    if let Some(effect) = &pack.gain.effect {
        answer.remarks.extend(logger_remark(pack, effect));
        answer.remarks.extend(method_remark(pack, effect));
        // How far the largest influence of chance goes: the t factor at these degrees of freedom.
        answer.remarks.push(format!(
            "Flights scatter by {} within a day; t factor {:.2} at {:.1} degrees of freedom{}.",
            percent(effect.scatter),
            t_quantile(0.975, effect.df),
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
            "Re-dealing the fans within days gives {}; the smallest that so few flights can reach is \
             {}.",
            p_value(permutation.p),
            p_value(permutation.smallest_p)
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
    } else if pack.gain.effect.is_some() {
        answer.remarks.push(format!(
            "The fans could not be re-dealt within days to test the gain without a model: on no day did \
             both fly{}.",
            if pack.gain.days_with_both > 0 {
                " in one airframe"
            } else {
                ""
            }
        ));
    }
}

/// Method and sources.
pub fn how() -> HowWeKnow {
    HowWeKnow {
        method: vec![
            "Static gain: candidate over baseline less one at full throttle, both brought to the \
             same terminal voltage and air density; an instrument used on both sides cancels its \
             scale error."
                .to_owned(),
            "Reference cases: the static figure of merit survives in flight, sqrt(1 + thrust gain) \
             - 1; it does not, cube root of (1 + power gain) - 1. They span a band; they prove \
             nothing."
                .to_owned(),
            "Level top speed of a flight: one joint fit over its full-throttle straights (entry \
             speed and heading free per pass; level speed, wind and time constant common), errors \
             from a jackknife over passes. Never a mean over a pass: a jet leaves a turn 20 to 30 % \
             slow."
                .to_owned(),
            "Observed gain: linear model of log level speed on fan and day (and airframe where they \
             can be told apart), flights as the unit; where the fans flew on different days, means \
             of days."
                .to_owned(),
            "Carry-over fraction: the observed gain over the reference case's, by Fieller's set, never a \
             ratio of bare means: where the bench's gain may be nothing the set says so."
                .to_owned(),
            "Robustness: the whole analysis again with each flight left out; Huber's fit beside least \
             squares; where a day holds both fans on one airframe, fans re-dealt within it, with the \
             smallest p that so few flights can reach."
                .to_owned(),
            "Verdict, first that holds: no difference that matters (the 90 % interval lies within ± \
             the margin); worse (the 95 % interval lies below zero); more than the reference cases \
             (the gain exceeds the upper case, both errors counted); partly (above zero, and below \
             the lower case); carried over (above zero, and not below the lower case by more than \
             the margin); else not settled."
                .to_owned(),
            "'As on the same pack' brings every flight to one open-circuit voltage and resistance; \
             'at the same terminal voltage' compares with the reference cases."
                .to_owned(),
        ],
        sources: vec![
            "Momentum theory of a uniform jet, outlet area without contraction.".to_owned(),
            "Two one-sided tests: Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657.".to_owned(),
            "Uncertainty of correlated readings: JCGM 100:2008, 5.2; budgets 5.1 and G.4.".to_owned(),
            "Ratio of two estimates: Fieller, J. R. Statist. Soc. B 16 (1954) 175.".to_owned(),
            "Robust fit: Huber, Robust Statistics (1981), 7.8.".to_owned(),
        ],
        inputs: vec![
            "tables static_gains, flights, passes".to_owned(),
            "bench tables and logs named in the ledger".to_owned(),
        ],
        would_change: vec![
            "Another smallest difference that matters.".to_owned(),
            "Throttle end points, timing or controller that differ between the two set-ups.".to_owned(),
        ],
    }
}
