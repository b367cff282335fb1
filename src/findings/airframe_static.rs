//! What a heavier or stronger unit does to the airframe at rest: thrust on the mount, its moment about
//! the joint, mass and balance (part of question 4).

use crate::findings::answer::{Answer, Step};
use crate::findings::evidence::{Evidence, percent_interval};
use crate::season::Airframe;
use crate::stats::NORMAL_95;
use crate::stats::estimate::Estimate;

/// The airframe that the candidate flew on most; before any flight the first declared.
pub(super) fn airframe_of<'a>(
    evidence: &Evidence<'a>,
    power: &str,
) -> Option<(&'a str, &'a Airframe)> {
    let flown = evidence.flights_of(power);
    let count = |id: &str| {
        flown
            .iter()
            .filter(|f| f.airframe.as_deref() == Some(id))
            .count()
    };
    evidence
        .season
        .airframes
        .iter()
        .rev()
        .max_by_key(|(id, _)| count(id))
        .map(|(id, airframe)| (id.as_str(), airframe))
}

/// A value as declared: no interval.
fn declared(value: f64, unit: &str, method: &str) -> Estimate {
    Estimate {
        low: None,
        high: None,
        ..Estimate::plus_minus(value, 0.0, unit, method)
    }
}

/// Static thrust on the mount and its moment about the joint.
pub(super) fn thrust(evidence: &Evidence, baseline: &str, candidate: &str, answer: &mut Answer) {
    let row = evidence.tables.static_gains.iter().find(|r| {
        r.baseline == baseline
            && r.candidate == candidate
            && r.quantity == "thrust"
            && r.condition == "same_terminal_voltage"
    });
    match row.and_then(|r| Some((r, r.gain?))) {
        Some((row, gain)) => {
            let gain = Estimate {
                low: row.low,
                high: row.high,
                ..Estimate::plus_minus(gain, 0.0, "1", &row.method)
            };
            answer.sentence += &format!(
                " On the bench static thrust on the mount changes by {}.",
                percent_interval(&gain)
            );
            answer
                .estimates
                .insert("static_thrust_gain".to_owned(), gain);
            answer.headline.push("static_thrust_gain".to_owned());
        }
        None => answer.missing.push(Step::measure(
            "Bench runs of both systems with thrust: the static load on the mount.",
        )),
    }
    let arm = airframe_of(evidence, candidate).and_then(|(id, a)| Some((id, a.joint_arm_m?)));
    for (power, side) in [(baseline, "baseline"), (candidate, "candidate")] {
        let largest = evidence
            .tables
            .bench_points
            .iter()
            .filter(|p| p.power == power)
            .filter_map(|p| Some((p.thrust_n?, p.thrust_u_n?)))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((newton, u)) = largest else { continue };
        let on_mount = Estimate::plus_minus(
            newton,
            NORMAL_95 * u,
            "N",
            "largest static thrust on the bench, as measured; scale's accuracy",
        );
        if let Some((_, arm)) = arm {
            answer.estimates.insert(
                format!("moment_about_joint_{side}"),
                Estimate::plus_minus(
                    newton * arm,
                    NORMAL_95 * u * arm,
                    "N.m",
                    "largest static thrust on the bench times the declared arm about the joint",
                )
                .at("arm", arm, "m"),
            );
        }
        answer
            .estimates
            .insert(format!("thrust_on_mount_{side}"), on_mount);
    }
    if arm.is_none() {
        answer.missing.push(Step::measure(
            format!(
                "The distance from the thrust line to the joint of {} (its joint_arm): the moment about \
                 it.",
                airframe_of(evidence, candidate)
                    .map_or_else(|| "the airframe".to_owned(), |(id, _)| evidence.airframe_name(id))
            ),
        ));
    }
}

/// Mass and balance with the candidate's unit in place of the baseline's.
pub(super) fn balance(evidence: &Evidence, baseline: &str, candidate: &str, answer: &mut Answer) {
    let mass_of = |power: &str| evidence.season.powers.get(power)?.unit_mass_kg;
    let airframe = airframe_of(evidence, candidate);
    let (Some(old), Some(new)) = (mass_of(baseline), mass_of(candidate)) else {
        answer.missing.push(Step::measure(
            "What both fan units weigh (unit_mass): the change of mass and balance.",
        ));
        return;
    };
    let Some((_, airframe)) = airframe else {
        return;
    };
    let Some(flying) = airframe.mass_kg else {
        answer.missing.push(Step::measure(
            "What the airframe weighs (mass): the change of mass and balance.",
        ));
        return;
    };
    let change = shift(airframe, flying, new - old, airframe.unit_arm_m);
    let mass = declared(
        new - old,
        "kg",
        "declared unit masses, candidate less baseline",
    );
    answer.remarks.push(format!(
        "The unit weighs {:.0} g {}, as declared{}.",
        (new - old).abs() * 1000.0,
        if new < old { "less" } else { "more" },
        match change.metres {
            Some(m) => format!(
                ": the balance point moves {:.1} mm {}{}",
                m.abs() * 1000.0,
                if m >= 0.0 { "back" } else { "ahead" },
                change.of_chord.map_or_else(String::new, |c| format!(
                    ", {:.1} % of the chord",
                    100.0 * c.abs()
                ))
            ),
            None => String::new(),
        }
    ));
    answer.estimates.insert("unit_mass_added".to_owned(), mass);
    answer.estimates.insert(
        "flying_mass_change".to_owned(),
        declared(
            change.of_mass,
            "1",
            "added mass over the declared flying mass",
        ),
    );
    match change.metres {
        Some(metres) => {
            answer.estimates.insert(
                "balance_point_shift".to_owned(),
                declared(
                    metres * 1000.0,
                    "mm",
                    "added mass times its distance behind the balance point over the new flying mass; \
                     positive is back",
                ),
            );
        }
        None => answer.missing.push(Step::measure(
            "Where the unit sits behind the balance point (unit_arm of the airframe): its shift.",
        )),
    }
}

/// What added mass changes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shift {
    /// Of the flying mass, fraction.
    pub of_mass: f64,
    /// Of the balance point, m, positive back; with the arm declared.
    pub metres: Option<f64>,
    /// The same over the mean chord.
    pub of_chord: Option<f64>,
}

pub(super) fn shift(
    airframe: &Airframe,
    flying_kg: f64,
    added_kg: f64,
    arm_m: Option<f64>,
) -> Shift {
    let metres = arm_m.map(|arm| added_kg * arm / (flying_kg + added_kg));
    Shift {
        of_mass: added_kg / flying_kg,
        metres,
        of_chord: metres.zip(mean_chord(airframe)).map(|(m, c)| m / c),
    }
}

/// As declared, else wing area over span, m.
pub(super) fn mean_chord(airframe: &Airframe) -> Option<f64> {
    airframe
        .mean_chord_m
        .or_else(|| Some(airframe.wing_area_m2? / airframe.span_m?))
}
