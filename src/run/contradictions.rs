//! A flight that contradicts the other flights of its day or its power system: what was fitted there
//! was no level flight, and a confident wrong number is worse than none.

use crate::flight::record::LevelSpeed;
use crate::flight::run_up::{Fit, TimeConstant, WindPrior};
use crate::season::Finding;

/// A flight's wind this many standard errors from the others' contradicts them; a time constant also
/// has to be off by a factor (common practice, no source).
pub const CONTRADICTS: f64 = 4.0;
const OFF_FACTOR: f64 = 2.0;

/// The fit's own time constant is far from `usual`, s.
pub fn off(fit: &Fit, usual: f64) -> bool {
    let ratio = (fit.time_constant_s / usual).ln().abs();
    ratio > OFF_FACTOR.ln() && ratio * fit.time_constant_s > CONTRADICTS * fit.time_constant_se_s
}

/// What a flight finds against everything the other flights say: then it is no level flight that was
/// fitted. `own`: the fit without the others' help. The wind of the day's and the time constant of the
/// power system's other flights come with whether they are enough of them to be held against.
pub fn contradiction(
    level: &LevelSpeed,
    own: Option<&Fit>,
    day: Option<(WindPrior, bool)>,
    pool: Option<(TimeConstant, bool)>,
) -> Option<Finding> {
    const CURE: &str = "look at the passes' picture for a dive before or in a pass, a gust, or a \
                        clock that is off; the flight's other answers stand";
    let wind = level.fit.wind;
    if let Some((prior, _)) = day.filter(|d| d.1)
        && (wind.north_m_s - prior.north_m_s).hypot(wind.east_m_s - prior.east_m_s)
            > CONTRADICTS * prior.se_m_s
    {
        return Some(Finding::warning(
            "wind-contradicts",
            format!(
                "the fit finds a wind of {:.0} m/s, the other flights of the day {:.0} ± \
                 {:.0} m/s from elsewhere: no level speed is given",
                wind.north_m_s.hypot(wind.east_m_s),
                prior.north_m_s.hypot(prior.east_m_s),
                2.0 * prior.se_m_s
            ),
            CURE,
        ));
    }
    let (own, usual_s) = match (own, pool) {
        (Some(own), Some((TimeConstant::Pooled { value_s, .. }, true))) => (own, value_s),
        _ => return None,
    };
    off(own, usual_s).then(|| {
        Finding::warning(
            "run-up-contradicts",
            format!(
                "this flight's run-ups settle within {:.1} s, those of the power system's flights \
                 within {usual_s:.1} s: no level speed is given",
                own.time_constant_s
            ),
            CURE,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::record::{PowerSide, level_speed};
    use crate::flight::run_up::TimeConstant;
    use crate::flight::straights::{Straight, Straights};

    /// Two passes each way in a wind of 5 m/s to the north, with this time constant.
    fn flight(time_constant: f64) -> LevelSpeed {
        let used = [0.0, 3.1, 0.1, 3.2, 1.6, 4.7]
            .iter()
            .map(|heading: &f64| {
                let time: Vec<f64> = (0..60).map(|k| 0.1 * f64::from(k)).collect();
                let air = |t: &f64| 50.0 * (1.0 - 0.25 * (-t / time_constant).exp());
                Straight {
                    end_s: 5.9,
                    north: time.iter().map(|t| air(t) * heading.cos() + 5.0).collect(),
                    east: time.iter().map(|t| air(t) * heading.sin()).collect(),
                    course_rad: *heading,
                    mean_ground_speed_m_s: 48.0,
                    time,
                    ..Straight::default()
                }
            })
            .collect();
        let side = PowerSide {
            straights: Straights {
                used,
                ..Straights::default()
            },
            ..PowerSide::default()
        };
        level_speed(&side, TimeConstant::Free, None).unwrap()
    }

    #[test]
    fn a_wind_against_all_others_is_refused_and_one_with_them_is_not() {
        let level = flight(2.5);
        let others = |north_m_s, enough| {
            let prior = WindPrior {
                north_m_s,
                east_m_s: 0.0,
                se_m_s: 1.5,
            };
            contradiction(&level, None, Some((prior, enough)), None)
        };
        assert!(others(4.0, true).is_none());
        assert_eq!(others(-8.0, true).unwrap().code, "wind-contradicts");
        assert!(others(-8.0, false).is_none());
    }

    #[test]
    fn a_time_constant_far_from_the_pool_is_refused() {
        let level = flight(2.5);
        let pool = |value_s, enough| (TimeConstant::Pooled { value_s, se_s: 0.1 }, enough);
        let said = |p| contradiction(&level, Some(&level.fit), None, Some(p));
        assert!(said(pool(2.6, true)).is_none());
        assert_eq!(said(pool(9.0, true)).unwrap().code, "run-up-contradicts");
        assert!(said(pool(9.0, false)).is_none());
    }
}
