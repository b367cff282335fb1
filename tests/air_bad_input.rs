//! Logs that do not tell what they seem to: whole seasons with sensors at their end, flights cut
//! short, throttles that run backwards.

use benchborne::findings::Answer;
use benchborne::season::QuestionKind;
use benchborne::simulate::{SeasonPlan, Sharing, SimLog, Tuned};

use crate::sim_season::{Studied, studied_after};

fn draw<'a>(season: &'a Studied, power: &str) -> &'a Answer {
    season
        .analysed
        .findings
        .questions
        .iter()
        .find(|q| {
            q.question == QuestionKind::PowerAndDuration && q.candidate.as_deref() == Some(power)
        })
        .unwrap()
}

fn codes(season: &Studied) -> Vec<&str> {
    season
        .analysed
        .findings
        .ledger
        .findings
        .iter()
        .map(|f| f.code.as_str())
        .collect()
}

fn cut(log: &mut SimLog, seconds: f64) {
    let keep = log.time.partition_point(|t| *t < seconds);
    for series in [
        &mut log.time,
        &mut log.throttle,
        &mut log.voltage,
        &mut log.current,
        &mut log.rpm,
        &mut log.gps_speed,
        &mut log.course,
        &mut log.vn,
        &mut log.ve,
        &mut log.height,
        &mut log.lat,
        &mut log.lon,
        &mut log.airspeed_true,
        &mut log.voltage_true,
        &mut log.current_true,
        &mut log.load_factor_true,
    ] {
        series.truncate(keep);
    }
}

/// A sensor of 60 A on one flight: what it counted is a lower bound and is averaged nowhere.
#[test]
fn a_saturated_current_is_a_lower_bound_and_is_averaged_nowhere() {
    let plan = SeasonPlan::coverage(5, 0.04, Sharing::EachDay, 3.0);
    let tuned = Tuned::new(&plan).unwrap();
    let first = plan.flights.iter().position(|f| f.fan == 0).unwrap();
    let season = studied_after(plan, &tuned, 31, |flown| {
        for amps in &mut flown.flights[first].log.current {
            *amps = amps.min(60.0);
        }
    })
    .unwrap();
    let id = format!("f{first:02}");
    let tables = &season.analysed.tables;
    let row = tables.flights.iter().find(|f| f.flight == id).unwrap();
    let truth = &season.flown.flights[first].truth;
    assert!(row.charge_mah.unwrap() < truth.charge_mah);
    assert_eq!((row.charge_high_mah, row.energy_high_wh), (None, None));
    assert_eq!(row.to_reserve_s, None, "counted too little to tell a time");
    assert!(codes(&season).contains(&"saturated-current"));
    let answer = draw(&season, "stock");
    for key in ["energy_per_flight", "mean_power_in_flight"] {
        assert_eq!(answer.estimates[key].basis.counts["flights"], 4, "{key}");
    }
    assert!(
        answer
            .remarks
            .iter()
            .any(|r| r.contains(&format!("In flight {id}")) && r.contains("lower bound")),
        "{:?}",
        answer.remarks
    );
    assert!(tables.replays.iter().all(|r| r.flight != id));
    assert!(tables.estimate_errors.iter().all(|r| r.flight != id));
    assert_eq!(
        answer.estimates["unloading_at_highest_throttle"]
            .basis
            .counts["flights"],
        4
    );
    // Four flights are left: no timer, in words.
    assert!(
        answer.missing.iter().any(|m| m
            .what
            .contains("no honest timer limit exists from 4 flights")),
        "{:?}",
        answer.missing
    );
    assert!(
        draw(&season, "swap")
            .estimates
            .keys()
            .any(|k| k.ends_with("timer"))
    );
}

/// The stock fan's logs end after 40 s; the other fan's throttle runs backwards.
#[test]
fn flights_of_forty_seconds_and_a_reversed_throttle_leave_the_rest_standing() {
    let plan = SeasonPlan::coverage(5, 0.04, Sharing::EachDay, 3.0);
    let tuned = Tuned::new(&plan).unwrap();
    let fans: Vec<usize> = plan.flights.iter().map(|f| f.fan).collect();
    let season = studied_after(plan, &tuned, 32, |flown| {
        for (flight, fan) in flown.flights.iter_mut().zip(&fans) {
            if *fan == 0 {
                cut(&mut flight.log, 40.0);
            } else {
                for throttle in &mut flight.log.throttle {
                    *throttle = 1.0 - *throttle;
                }
            }
        }
    })
    .unwrap();
    let short = draw(&season, "stock");
    assert_eq!(
        short.estimates["charge_per_flight"].basis.counts["flights"],
        5
    );
    // None reached the reserve: a time is given only under a name that says so.
    assert!(!short.estimates.contains_key("timer"));
    assert!(!short.estimates.contains_key("mean_time_to_reserve"));
    assert!(short.estimates.contains_key("extrapolated_time_to_reserve"));
    assert!(
        short.remarks.iter().any(|r| r.contains("extrapolation")),
        "{:?}",
        short.remarks
    );
    let turned = draw(&season, "swap");
    assert!(
        codes(&season).contains(&"throttle-reversed"),
        "{:?}",
        codes(&season)
    );
    assert!(
        !turned
            .estimates
            .contains_key("unloading_at_highest_throttle")
    );
    // What needs no throttle stands.
    let energy = turned.estimates["energy_per_flight"].value.unwrap();
    let truths: Vec<f64> = season
        .flown
        .flights
        .iter()
        .zip(&fans)
        .filter(|(_, fan)| **fan == 1)
        .map(|(f, _)| f.truth.energy_wh)
        .collect();
    assert!((energy / benchborne::stats::mean(&truths) - 1.0).abs() < 0.04);
    assert!(turned.estimates.keys().any(|k| k.ends_with("timer")));
}
