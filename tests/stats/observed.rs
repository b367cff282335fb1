use benchborne::stats::observed::{Confounded, FlightSpeed, Model, ObservedGain, observed_gain};
use benchborne::stats::t_quantile;
use proptest::prelude::*;

use super::close;

/// (log speed, day, candidate, airframe)
fn gain_of(flights: &[(f64, usize, bool, usize)]) -> ObservedGain {
    let flights: Vec<FlightSpeed> = flights
        .iter()
        .map(|(log_speed, day, candidate, airframe)| FlightSpeed {
            log_speed: *log_speed,
            se: None,
            day: *day,
            candidate: *candidate,
            airframe: *airframe,
        })
        .collect();
    observed_gain(&flights, 1)
}

fn confounded(observed: &ObservedGain) -> Confounded {
    assert!(observed.effect.is_none());
    match &observed.model {
        Model::NotEstimable(because) => {
            assert!(!because.why.is_empty() && !because.cross_over.is_empty());
            because.confounded
        }
        model => panic!("{model:?}"),
    }
}

/// Student's sleep data (1908), hours gained by ten patients with two drugs [M: R data set `sleep`].
const FIRST: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
const SECOND: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

/// A patient as a day with one flight of each: the paired t test, mean 1.58, t 4.0621, 9 degrees
/// of freedom, 95 % interval 0.7001142 to 2.4598858 [M: R's help page].
#[test]
fn one_of_each_a_day_is_the_paired_t_test() {
    let flights: Vec<_> = (0..10)
        .flat_map(|day| [(FIRST[day], day, false, 0), (SECOND[day], day, true, 0)])
        .collect();
    let observed = gain_of(&flights);
    assert_eq!(observed.model, Model::WithinDays);
    let e = observed.effect.unwrap();
    close(e.coefficient, 1.58, 1e-12);
    close(e.coefficient / e.se, 4.0621, 1e-5);
    close(e.df, 9.0, 1e-12);
    close(e.low.ln_1p(), 0.7001142, 1e-6);
    close(e.high.ln_1p(), 2.4598858, 1e-7);
    close(e.gain, 1.58_f64.exp() - 1.0, 1e-12);
    assert_eq!((observed.days, observed.days_with_both), (10, 10));
}

/// Twenty days with one drug each: the pooled t test, t 1.8608, 18 degrees of freedom, interval
/// −0.203874 to 3.363874 [M: R's help page]; two flights about each day's mean change nothing.
#[test]
fn one_fan_a_day_is_the_pooled_t_test_on_days() {
    let flights: Vec<_> = (0..10)
        .flat_map(|i| [(FIRST[i], 2 * i, false), (SECOND[i], 2 * i + 1, true)])
        .flat_map(|(y, day, fan)| [(y + 0.3, day, fan, 0), (y - 0.3, day, fan, 0)])
        .collect();
    let observed = gain_of(&flights);
    assert_eq!(observed.model, Model::DayMeans);
    let e = observed.effect.unwrap();
    close(e.coefficient / e.se, 1.8608, 1e-5);
    close(e.df, 18.0, 1e-12);
    close(e.low.ln_1p(), -0.203874, 1e-5);
    close(e.high.ln_1p(), 3.363874, 1e-6);
    assert!(observed.permutation.is_none());
    assert!(observed.assumptions[0].contains("days"));
}

/// Sister airframes crossed over on one day, speeds made up as sums: both effects come back.
#[test]
fn sister_airframes_crossed_over() {
    let flights: Vec<_> = [(false, 0), (true, 0), (false, 1), (true, 1)]
        .into_iter()
        .flat_map(|(fan, airframe)| {
            let y = 4.0 + if fan { 0.05 } else { 0.0 } - 0.02 * airframe as f64;
            [(y + 0.001, 0, fan, airframe), (y - 0.001, 0, fan, airframe)]
        })
        .collect();
    let observed = gain_of(&flights);
    assert_eq!(observed.model, Model::WithinDays);
    let e = observed.effect.unwrap();
    close(e.coefficient, 0.05, 1e-12);
    close(e.df, 5.0, 1e-12);
    // Residual variance 8·1e-6/5 on four against four.
    close(e.se, (8e-6_f64 / 5.0 * 0.5).sqrt(), 1e-9);
    close(e.high.ln_1p(), 0.05 + t_quantile(0.975, 5.0) * e.se, 1e-12);
    let (airframe, effect) = &observed.airframe_effects[0];
    assert_eq!(*airframe, 1);
    close(effect.coefficient, -0.02, 1e-10);
    // Re-dealt within airframes: C(4,2)² arrangements.
    let permutation = observed.permutation.unwrap();
    assert_eq!(permutation.arrangements, 36);
    close(permutation.p, 2.0 / 36.0, 1e-12);
}

#[test]
fn fan_and_airframe_confounded() {
    let observed = gain_of(&[
        (4.0, 0, false, 0),
        (4.1, 0, true, 1),
        (4.0, 1, false, 0),
        (4.1, 1, true, 1),
    ]);
    assert_eq!(confounded(&observed), Confounded::FanAndAirframe);
}

#[test]
fn fan_and_day_confounded() {
    let observed = gain_of(&[
        (4.0, 0, false, 0),
        (4.01, 0, false, 0),
        (4.1, 1, true, 0),
        (4.11, 1, true, 0),
    ]);
    assert_eq!(confounded(&observed), Confounded::FanAndDay);
}

/// The candidate flew the baseline's airframe only on a day of its own.
#[test]
fn fan_and_airframe_and_day_confounded() {
    let observed = gain_of(&[
        (4.0, 0, false, 0),
        (4.1, 0, true, 1),
        (4.0, 1, false, 0),
        (4.1, 1, true, 1),
        (4.0, 2, true, 0),
        (4.0, 2, true, 0),
    ]);
    assert_eq!(confounded(&observed), Confounded::FanAndAirframeAndDay);
}

#[test]
fn nothing_repeated() {
    let observed = gain_of(&[(4.0, 0, false, 0), (4.1, 0, true, 0)]);
    assert_eq!(confounded(&observed), Confounded::NothingRepeated);
}

#[test]
fn one_fan_only() {
    for candidate in [false, true] {
        let observed = gain_of(&[(4.0, 0, candidate, 0), (4.1, 1, candidate, 0)]);
        assert_eq!(confounded(&observed), Confounded::OneFanOnly);
    }
    assert_eq!(confounded(&gain_of(&[])), Confounded::OneFanOnly);
    // A flight without a speed is no flight.
    assert_eq!(
        confounded(&gain_of(&[(4.0, 0, false, 0), (f64::NAN, 0, true, 0)])),
        Confounded::OneFanOnly
    );
}

/// Flights that agree by luck, each known to 1 %: with two degrees of freedom the interval is what
/// the known errors give, 1.96·1 %.
#[test]
fn lucky_agreement_is_not_believed() {
    let flight = |log_speed, candidate| FlightSpeed {
        log_speed,
        se: Some(0.01),
        day: 0,
        candidate,
        airframe: 0,
    };
    let flights = [
        flight(4.0, false),
        flight(4.0001, false),
        flight(4.04, true),
        flight(4.0401, true),
    ];
    let e = observed_gain(&flights, 0).effect.unwrap();
    assert!(e.floored);
    // Two against two: sqrt(1/2 + 1/2) of 1 %.
    close(
        e.high.ln_1p() - e.coefficient,
        1.959963984540054 * 0.01,
        1e-9,
    );
}

proptest! {
    /// A shift of a whole day, or other names for days and airframes, change nothing.
    #[test]
    fn days_drop_out(
        noise in prop::collection::vec(-0.02..0.02f64, 12),
        shifts in prop::collection::vec(-0.1..0.1f64, 3)
    ) {
        let plain: Vec<_> =
            (0..12).map(|i| (4.0 + noise[i], i / 4, i % 2 == 1, (i / 2) % 2)).collect();
        let moved: Vec<_> = plain
            .iter()
            .map(|(y, day, fan, airframe)| (y + shifts[*day], 9 - 3 * day, *fan, 5 - airframe))
            .collect();
        let (a, b) = (gain_of(&plain).effect.unwrap(), gain_of(&moved).effect.unwrap());
        prop_assert!((a.low - b.low).abs() < 1e-9 && (a.high - b.high).abs() < 1e-9);
        prop_assert!((a.df - b.df).abs() < 1e-6 && (1.0..=7.0 + 1e-9).contains(&a.df));
        prop_assert!(a.low <= a.low90 && a.low90 <= a.gain && a.gain <= a.high90);
    }
}
