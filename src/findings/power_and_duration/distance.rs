//! What a kilometre through the air takes.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, with_interval};
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;
use crate::store::DistanceEnergyRow;

/// Energy for a kilometre with its interval, at the airspeed that it has in common with the system it
/// is compared with (a faster fan looks worse at a higher airspeed), else in the middle of its own;
/// words where there is none.
pub(super) fn estimates(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let rows = &evidence.tables.energy_per_distance;
    let own: Vec<&DistanceEnergyRow> = rows.iter().filter(|r| r.power == power).collect();
    let others: Vec<String> = compared_with(evidence, power);
    let matched = others.iter().find_map(|other| {
        let (row, _) = evidence.matched_distance([power, other])?;
        Some((row, other))
    });
    let row = matched.map(|m| m.0).or(own.get(own.len() / 2).copied());
    let Some(row) = row else {
        if evidence
            .flights_of(power)
            .iter()
            .any(|f| f.power_source == "measured")
        {
            answer.remarks.push(
                "Energy for a kilometre is not told: it takes nearly level, nearly steady flight with \
                 current, throttle and airspeed known, on several flights."
                    .to_owned(),
            );
        }
        return;
    };
    let estimate = Estimate::interval(
        row.energy_wh_km,
        row.low_wh_km,
        row.high_wh_km,
        0.95,
        "W.h/km",
        "power in level flight at no excess power, over airspeed; leaving out each flight in turn",
    )
    .at("airspeed", row.airspeed_m_s, "m/s")
    .count("flights", row.flights as usize)
    .count("windows", row.windows as usize)
    .input("table energy_per_distance".to_owned());
    let beside = match matched {
        Some((_, other)) => format!(
            ", an airspeed at which {} is told too",
            evidence.power_name(other)
        ),
        None if rows.iter().any(|r| others.contains(&r.power)) => {
            "; the other system is told at other airspeeds or on another airframe, and two figures at \
             two airspeeds are no comparison"
                .to_owned()
        }
        None => String::new(),
    };
    answer.remarks.push(format!(
        "A kilometre through the air takes {} at {:.0} m/s, without wind{beside}.",
        with_interval(&estimate, 1.0, 2, " Wh"),
        row.airspeed_m_s
    ));
    answer
        .estimates
        .insert("energy_per_kilometre".to_owned(), estimate);
}

/// The systems that a carry-over question of the season compares with this one.
pub(super) fn compared_with(evidence: &Evidence, power: &str) -> Vec<String> {
    evidence
        .season
        .questions
        .iter()
        .filter(|q| q.kind == QuestionKind::CarryOver && q.baseline != q.candidate)
        .filter_map(|q| {
            if q.baseline == power {
                Some(q.candidate.clone())
            } else if q.candidate == power {
                Some(q.baseline.clone())
            } else {
                None
            }
        })
        .collect()
}
