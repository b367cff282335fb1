//! What a kilometre through the air takes.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, with_interval};
use crate::stats::estimate::Estimate;
use crate::store::DistanceEnergyRow;

/// Energy for a kilometre at the airspeed that the system flew most, with its interval; words where
/// there is none.
pub(super) fn estimates(evidence: &Evidence, power: &str, answer: &mut Answer) {
    let most: Option<&DistanceEnergyRow> = evidence
        .tables
        .energy_per_distance
        .iter()
        .filter(|r| r.power == power)
        .max_by_key(|r| (r.windows, r.flights));
    let Some(row) = most else {
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
        "power in level flight at no excess power, over airspeed, where the windows are most; leaving \
         out each flight in turn",
    )
    .at("airspeed", row.airspeed_m_s, "m/s")
    .count("flights", row.flights as usize)
    .count("windows", row.windows as usize)
    .input("table energy_per_distance".to_owned());
    answer.remarks.push(format!(
        "A kilometre through the air takes {} at {:.0} m/s, without wind.",
        with_interval(&estimate, 1.0, 2, " Wh"),
        row.airspeed_m_s
    ));
    answer
        .estimates
        .insert("energy_per_kilometre".to_owned(), estimate);
}
