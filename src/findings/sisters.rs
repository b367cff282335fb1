//! Question 6: are two sister airframes really alike?

use crate::findings::answer::{Answer, HowWeKnow, Verdict};
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::findings::level_speeds::conditions;
use crate::findings::observed::{Observed, logger_remark, observe};
use crate::findings::plan::{self, Ask};
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
        ],
        sources: vec![
            "Two one-sided tests: Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657.".to_owned(),
        ],
        inputs: vec!["table flights".to_owned()],
        would_change: vec!["Repairs, trim, or another pack position in one of them.".to_owned()],
    };
    masses(evidence, airframes, &mut answer);
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
            let of = names.get(*index).copied()?;
            let reference = names.first().copied()?;
            if of == airframes[1] && reference == airframes[0] {
                Some((observed.bounds_of(effect), effect))
            } else if of == airframes[0] && reference == airframes[1] {
                let of = observed.bounds_of(effect);
                let invert = |g: f64| 1.0 / (1.0 + g) - 1.0;
                let inverted = Bounds {
                    value: invert(of.value),
                    low: invert(of.high),
                    high: invert(of.low),
                    low90: invert(of.high90),
                    high90: invert(of.low90),
                };
                Some((inverted, effect))
            } else {
                None
            }
        });
    let Some((bounds, effect)) = effect else {
        let why = match &observed.gain.model {
            Model::NotEstimable(n) => {
                answer.next.push(n.cross_over.clone());
                n.why.clone()
            }
            _ => "the flights do not tell the airframe from fan and day.".to_owned(),
        };
        answer.sentence = format!("Not settled: {}.", why.trim_end_matches('.'));
        let rule = Rule {
            margin,
            band: None,
            common_pack: 0.0,
            common_compared: 0.0,
            compared_less_pack: None,
        };
        plan::flights(
            &ask(evidence, &observed, rule, powers, airframes),
            &mut answer,
        );
        answer.missing.push(
            "Flights of both airframes with the same fan on one day, or of both fans on each \
             airframe: then fan and airframe can be told apart."
                .to_owned(),
        );
        return answer;
    };
    let Bounds {
        value: gain,
        low,
        high,
        low90,
        high90,
    } = bounds;
    let estimate = Estimate::interval(
        gain,
        low,
        high,
        0.95,
        "1",
        "airframe effect of the linear model of log level speed on fan, day and airframe",
    )
    .count("flights", observed.speeds.len())
    .count("degrees of freedom", effect.df);
    let shown = percent_interval(&estimate);
    answer.remarks.extend(logger_remark(&observed, effect));
    answer
        .estimates
        .insert("level_speed_change_between_airframes".to_owned(), estimate);
    answer
        .headline
        .push("level_speed_change_between_airframes".to_owned());
    if low90 > -margin && high90 < margin {
        answer.verdict = Verdict::NoDifferenceThatMatters;
        answer.sentence = format!(
            "Yes: {second}'s level top speed differs from {first}'s by {shown} with the same fan and \
             pack, less than the {} that matters.",
            percent(margin)
        );
    } else if low > 0.0 || high < 0.0 {
        answer.verdict = Verdict::Answered;
        answer.sentence = format!(
            "No: {second}'s level top speed differs from {first}'s by {shown} with the same fan and \
             pack."
        );
    } else {
        answer.sentence = format!(
            "Not settled: {second}'s level top speed differs from {first}'s by {shown} with the same \
             fan and pack; the interval reaches beyond the {} that matters.",
            percent(margin)
        );
        answer
            .missing
            .push("More flights of both airframes.".to_owned());
        let rule = Rule {
            margin,
            band: None,
            common_pack: observed.common_error(effect),
            common_compared: 0.0,
            compared_less_pack: None,
        };
        plan::flights(
            &ask(evidence, &observed, rule, powers, airframes),
            &mut answer,
        );
    }
    answer
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

fn masses(evidence: &Evidence, airframes: [&str; 2], answer: &mut Answer) {
    let masses: Vec<Option<f64>> = airframes
        .iter()
        .map(|a| evidence.season.airframes.get(*a).and_then(|a| a.mass_kg))
        .collect();
    match (masses[0], masses[1]) {
        (Some(first), Some(second)) => {
            answer.estimates.insert(
                "mass_difference".to_owned(),
                Estimate {
                    low: None,
                    high: None,
                    ..Estimate::plus_minus(second - first, 0.0, "kg", "declared masses")
                },
            );
        }
        _ => answer
            .missing
            .push("The mass of both airframes.".to_owned()),
    }
}
