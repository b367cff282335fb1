//! Question 6: are two sister airframes really alike?
//!
//! Method: the airframe's effect in the linear model of question 1, at equal mass; alike by two one-sided
//! tests (Schuirmann 1987). Where fan and airframe, or day and airframe, are confounded there is none.

use crate::findings::answer::{Answer, HowWeKnow, Step, Verdict};
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::findings::level_speeds::{LevelSpeed, conditions};
use crate::findings::observed::{Observed, logger_remark, method_remark, observe};
use crate::findings::plan::{self, Ask};
use crate::physics::mass::usual_speed_exponent;
use crate::season::QuestionKind;
use crate::stats::chance::Rule;
use crate::stats::estimate::Estimate;
use crate::stats::mover::Bounds;
use crate::stats::observed::Model;

/// `powers`: the two systems whose flights are compared; `airframes`: the two sisters.
pub fn answer<'a>(
    evidence: &Evidence<'a>,
    powers: [&'a str; 2],
    airframes: [&'a str; 2],
    margin: f64,
) -> Answer {
    let [first, second] = airframes.map(|a| evidence.airframe_name(a));
    let mut answer = Answer::new(
        QuestionKind::Sisters,
        &format!("sisters-{}-{}", airframes[0], airframes[1]),
        &format!("Are {first} and {second} really alike?"),
    );
    answer.baseline = Some(airframes[0].to_owned());
    answer.candidate = Some(airframes[1].to_owned());
    answer.how = HowWeKnow {
        method: vec![
            "The linear model of the carry-over question, with the airframe beside fan and day: the \
             airframe's effect on level top speed as on the same pack, where the flights can tell it \
             from fan and day (by rank of the model)."
                .to_owned(),
            "Difference in mass taken out: of the drag at level top speed 0.5 to 15 % is induced and \
             goes with the square of the mass (ours, no source), and thrust falls with speed to the \
             power of 1 to 8; balance of thrust and drag then gives what a heavier sister loses. The \
             range is in the interval."
                .to_owned(),
        ],
        sources: vec![
            "Two one-sided tests: Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657.".to_owned(),
        ],
        inputs: vec!["table flights".to_owned()],
        would_change: vec!["Repairs, trim, or another pack position in one of them.".to_owned()],
    };
    let masses = masses(evidence, airframes, &mut answer);
    let at = conditions(evidence, powers);
    let observed = observe(
        evidence,
        powers[0],
        powers[1],
        at.and_then(|a| a.1).or(at.map(|a| a.0)),
        &[],
    );
    let flown = |airframe: &str, power: &str| {
        observed
            .speeds
            .iter()
            .filter(|s| s.airframe == airframe && s.power == power)
            .count()
    };
    let counts: Vec<String> = airframes
        .iter()
        .map(|a| {
            format!(
                "{}: {} with {}, {} with {}",
                evidence.airframe_name(a),
                flown(a, powers[0]),
                evidence.power_name(powers[0]),
                flown(a, powers[1]),
                evidence.power_name(powers[1])
            )
        })
        .collect();
    answer.remarks.push(format!(
        "Flights with a level top speed: {}.",
        counts.join("; ")
    ));
    let mut names: Vec<&str> = observed.speeds.iter().map(|s| s.airframe).collect();
    names.sort_unstable();
    names.dedup();
    // Effects are against the first name in order.
    let effect = observed
        .gain
        .airframe_effects
        .iter()
        .find_map(|(index, effect)| {
            let (of, reference) = (*names.get(*index)?, *names.first()?);
            if [reference, of] == airframes {
                Some((effect, false))
            } else if [of, reference] == airframes {
                Some((effect, true))
            } else {
                None
            }
        });
    let Some((effect, turned)) = effect else {
        unsettled(evidence, &mut answer, &observed, airframes);
        let ask = ask(evidence, &observed, rule(margin, 0.0), powers, airframes);
        plan::flights(&ask, &mut answer);
        return answer;
    };
    let oriented = |common: f64| {
        let bounds = effect.bounds(common);
        if turned { inverted(&bounds) } else { bounds }
    };
    let own = observed.common_error(effect);
    let estimate = |bounds: &Bounds, method: &str| {
        Estimate::interval(bounds.value, bounds.low, bounds.high, 0.95, "1", method)
            .count("flights", observed.speeds.len())
            .at("degrees_of_freedom", effect.df, "1")
    };
    let as_flown = oriented(own);
    answer.estimates.insert(
        AS_FLOWN.to_owned(),
        estimate(
            &as_flown,
            "airframe effect of the linear model of log level speed on fan, day and airframe",
        ),
    );
    let (key, bounds, how) = match masses {
        Some([one, other]) => {
            let (exponent, u) = usual_speed_exponent();
            let log = (other / one).ln();
            let bounds = scaled(&oriented(own.hypot(u * log)), (-exponent * log).exp());
            let method = "airframe effect less what the difference in mass makes of it";
            answer.estimates.insert(
                EQUAL_MASS.to_owned(),
                estimate(&bounds, method)
                    .at("mass_exponent", exponent, "1")
                    .at("mass_exponent_standard_uncertainty", u, "1"),
            );
            (
                EQUAL_MASS,
                bounds,
                "with the same fan and pack, brought to equal mass",
            )
        }
        None => {
            answer.remarks.push(
                "The mass of one or both is not declared, so a difference in mass is in the figure. \
                 At level top speed it matters little: 10 % more mass costs at most about 1.2 % of speed."
                    .to_owned(),
            );
            (
                AS_FLOWN,
                as_flown,
                "with the same fan and pack, masses as they are",
            )
        }
    };
    let shown = answer
        .estimates
        .get(key)
        .map_or_else(String::new, percent_interval);
    answer.remarks.extend(logger_remark(&observed, effect));
    answer.remarks.extend(method_remark(&observed, effect));
    answer.headline.push(key.to_owned());
    if bounds.low90 > -margin && bounds.high90 < margin {
        answer.verdict = Verdict::NoDifferenceThatMatters;
        answer.sentence = format!(
            "Yes: {second}'s level top speed differs from {first}'s by {shown} {how}, less than the \
             {} that matters.",
            percent(margin)
        );
    } else if bounds.low > 0.0 || bounds.high < 0.0 {
        answer.verdict = Verdict::Answered;
        answer.sentence =
            format!("No: {second}'s level top speed differs from {first}'s by {shown} {how}.");
    } else {
        answer.sentence = format!(
            "Not settled: {second}'s level top speed differs from {first}'s by {shown} {how}; the \
             interval reaches beyond the {} that matters.",
            percent(margin)
        );
        answer
            .missing
            .push(Step::fly("More flights of both airframes."));
        let rule = rule(margin, observed.common_error(effect));
        plan::flights(
            &ask(evidence, &observed, rule, powers, airframes),
            &mut answer,
        );
    }
    answer
}

/// The rule by which more flights would settle it: no band, the airframes' difference alone.
fn rule(margin: f64, common: f64) -> Rule {
    Rule {
        margin,
        band: None,
        common_pack: common,
        common_compared: 0.0,
        compared_less_pack: None,
    }
}

fn ask<'a, 'b>(
    evidence: &'b Evidence<'a>,
    observed: &'b Observed<'a>,
    rule: Rule,
    powers: [&'a str; 2],
    airframes: [&'a str; 2],
) -> Ask<'a, 'b> {
    Ask {
        evidence,
        observed,
        powers,
        sisters: Some(airframes),
        rule,
    }
}

const AS_FLOWN: &str = "level_speed_change_between_airframes";
const EQUAL_MASS: &str = "level_speed_change_between_airframes_at_equal_mass";

/// The effect of the first over the second from that of the second over the first.
fn inverted(of: &Bounds) -> Bounds {
    let invert = |g: f64| 1.0 / (1.0 + g) - 1.0;
    Bounds {
        value: invert(of.value),
        low: invert(of.high),
        high: invert(of.low),
        low90: invert(of.high90),
        high90: invert(of.low90),
    }
}

/// All limits of a ratio less one, the ratio times `factor`.
fn scaled(of: &Bounds, factor: f64) -> Bounds {
    let scale = |g: f64| (1.0 + g) * factor - 1.0;
    Bounds {
        value: scale(of.value),
        low: scale(of.low),
        high: scale(of.high),
        low90: scale(of.low90),
        high90: scale(of.high90),
    }
}

/// Why the airframes cannot be told apart, and what would.
fn unsettled(evidence: &Evidence, answer: &mut Answer, observed: &Observed, airframes: [&str; 2]) {
    let of = |k: usize| {
        let name = airframes[k];
        observed.speeds.iter().filter(move |s| s.airframe == name)
    };
    let missing = (0..2).find(|k| of(*k).next().is_none());
    let shares = |pick: fn(&LevelSpeed) -> String| {
        of(0).any(|one| of(1).any(|other| pick(one) == pick(other)))
    };
    let same_fan = shares(|s| s.power.to_owned());
    let same_day = shares(|s| s.day.to_owned());
    let why = match (missing, &observed.gain.model) {
        (Some(k), _) => format!(
            "{} has no flight with a level top speed",
            evidence.airframe_name(airframes[k])
        ),
        (None, _) if !same_fan => {
            "each airframe has flown with a fan of its own: a difference between the airframes and \
             one between the fans look the same"
                .to_owned()
        }
        (None, _) if !same_day => {
            "each airframe has flown on days of its own: a difference between the airframes and one \
             between the days look the same"
                .to_owned()
        }
        (None, Model::NotEstimable(n)) => n.why.trim_end_matches('.').to_owned(),
        (None, _) => {
            "airframe, fan and day change together: their differences cannot be told apart".to_owned()
        }
    };
    answer.sentence = format!("Not settled: {why}.");
    answer.next.push(match &observed.gain.model {
        Model::NotEstimable(n) => Step::separates(n),
        _ => {
            Step::fly("Fly both airframes with the same fan on one day, two flights each or more.")
        }
    });
    answer.missing.push(Step::fly(
        "Flights of both airframes with the same fan on one day, or of both fans on each \
         airframe: then fan and airframe can be told apart.",
    ));
}

/// Declared masses, where both are.
fn masses(evidence: &Evidence, airframes: [&str; 2], answer: &mut Answer) -> Option<[f64; 2]> {
    let mass = |id: &str| evidence.season.airframes.get(id).and_then(|a| a.mass_kg);
    let [Some(first), Some(second)] = airframes.map(mass) else {
        answer
            .missing
            .push(Step::measure("The mass of both airframes."));
        return None;
    };
    answer.estimates.insert(
        "mass_difference".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(second - first, 0.0, "kg", "declared masses")
        },
    );
    Some([first, second])
}
