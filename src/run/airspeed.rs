//! Logged airspeeds, held against the ground velocity of their flight.

use super::flights::named;
use super::folder::PlannedFlight;
use crate::flight::cross_checks::pitot_level_speed;
use crate::flight::pitot::{Pitot, calibrate};
use crate::flight::record::{LevelSpeed, PowerSide, Survey};
use crate::flight::run_up::WindPrior;
use crate::season::Finding;

/// The wind of a flight drifts by this over it, m/s (common practice, no source).
const DRIFT_M_S: f64 = 1.0;
/// Standard error of a velocity's lag that was taken as usual, s.
const USUAL_LAG_SE_S: f64 = 0.15;

/// Calibrates the flight's airspeed sensor, tells of it, and adds the level speed that it shows.
pub fn airspeed(
    planned: &PlannedFlight,
    survey: &mut Survey,
    power: &PowerSide,
    level: Option<&mut LevelSpeed>,
    complaints: &mut Vec<Finding>,
) {
    let (Some(log), Some(velocity)) = (&survey.log, &survey.velocity) else {
        return;
    };
    let prior = level.as_ref().map(|l| WindPrior {
        north_m_s: l.fit.wind.north_m_s,
        east_m_s: l.fit.wind.east_m_s,
        se_m_s: l.fit.wind.se_m_s.hypot(DRIFT_M_S),
    });
    let lag = (
        survey.velocity_lag_s(),
        survey.gps_lag.map_or(USUAL_LAG_SE_S, |l| l.se_s),
    );
    match calibrate(log, velocity, survey.phases.as_ref(), lag, prior) {
        Some(Ok(pitot)) => {
            if let Some(level) = level {
                let speed = pitot_level_speed(log, &power.straights.used, &level.fit, &pitot);
                level.checks.with_pitot(speed, &level.fit);
            }
            complaints.push(named(told(&pitot), planned));
            survey.pitot = Some(pitot);
        }
        Some(Err(finding)) => complaints.push(named(finding, planned)),
        None => {}
    }
}

/// A scale further from one than this has other causes more often than the sensor (common practice, no
/// source: a tube placed with care reads within a few percent).
const FAR: f64 = 0.08;

fn told(pitot: &Pitot) -> Finding {
    let (low, high) = pitot.interval(pitot.scale);
    let offset = if pitot.offset_fitted {
        let (low, high) = pitot.interval(pitot.offset_m_s);
        format!(
            "plus {:.1} m/s ({low:.1} to {high:.1})",
            pitot.offset_m_s.value
        )
    } else {
        "(speeds too alike to tell an offset)".to_owned()
    };
    let what = format!(
        "the logged airspeed is {:.3} ({low:.3} to {high:.3}) times the ground velocity less the wind \
         {offset}, and lags {:.1} s",
        pitot.scale.value, pitot.lag_s.value
    );
    let far = (pitot.scale.value - 1.0).abs() > FAR && pitot.is_off();
    let what = if far {
        format!(
            "{what}. So far from one is seldom the sensor's alone: a tube in the wash of a fan or \
             propeller or out of the stream (hover, high angle of attack, slip) reads wrong, climb and \
             descent are not in the ground velocity, a wind that changed is taken for scale, and an \
             indicated airspeed is low in thin air by half of what the density lacks"
        )
    } else {
        what
    };
    let to_do = if pitot.is_off() {
        "Speeds through the air are taken from it corrected; calibrate the sensor, or leave it as it is."
    } else {
        "Nothing: it is used as logged."
    };
    Finding::note("airspeed-calibrated", what, to_do)
}
