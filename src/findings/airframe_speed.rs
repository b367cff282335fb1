//! Part of question 4: why the greatest dynamic pressure need not follow level top speed.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::stats;
use crate::stats::estimate::Estimate;

/// Greatest dynamic pressure beside that of level top speed: the one is a moment's, dives and gusts
/// included, the other is what the power system holds.
pub fn beside_level_speed(
    evidence: &Evidence,
    [baseline, candidate]: [&str; 2],
    answer: &mut Answer,
) {
    let mean_level = |power: &str| {
        let flights = evidence.flights_of(power);
        let speeds: Vec<f64> = flights.iter().filter_map(|f| f.level_speed_m_s).collect();
        (!speeds.is_empty()).then(|| stats::mean(&speeds))
    };
    let (Some(old), Some(new)) = (mean_level(baseline), mean_level(candidate)) else {
        return;
    };
    let Some(change) = answer
        .estimates
        .get("dynamic_pressure_change")
        .and_then(|e| Some((e.value?, percent_interval(e))))
    else {
        return;
    };
    let of_level = (new / old).powi(2) - 1.0;
    answer.estimates.insert(
        "dynamic_pressure_change_at_level_speed".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                of_level,
                0.0,
                "1",
                "square of the ratio of mean level top speeds, less one: equal air density",
            )
        },
    );
    answer.remarks.push(format!(
        "Greatest dynamic pressure changes by {}; level top speed alone would change it by {}. The two \
         need not agree: the greatest is one moment of a flight, most often in a dive or a gust, and \
         follows how it was flown; level top speed is what the fan holds.",
        change.1,
        percent(of_level)
    ));
}
