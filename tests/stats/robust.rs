//! Huber's fit, covariates and what bad flights leave of a gain.

use benchborne::stats::huber::huber;
use benchborne::stats::linear::fit;
use benchborne::stats::observed::{
    Confounded, FlightSpeed, Model, observed_gain, observed_gain_given,
};

use super::close;

/// One wild point; slope and intercept 2.00842108, 1.05171039 [C: statsmodels RLM, HuberT(1.345),
/// scale by the median absolute deviation].
#[test]
fn huber_with_a_wild_point() {
    let x: Vec<f64> = (0..10).map(f64::from).collect();
    let y = [1.1, 2.9, 5.2, 7.1, 8.8, 11.2, 13.1, 30.0, 17.2, 18.9];
    let found = huber(&[x], &y).unwrap();
    close(found.coefficients[0], 1.0517103935764807, 1e-8);
    close(found.coefficients[1], 2.0084210838643575, 1e-8);
    assert!(huber(&[], &[1.0, 1.0, 1.0, 2.0]).is_none(), "no scale");
    assert!(huber(&[], &[1.0, f64::NAN]).is_none());
}

fn flight(log_speed: f64, day: usize, candidate: bool) -> FlightSpeed {
    FlightSpeed {
        log_speed,
        se: None,
        day,
        candidate,
        airframe: 0,
    }
}

/// Two days, both fans in turn; the fifth number is a temperature.
fn eight() -> (Vec<FlightSpeed>, Vec<f64>) {
    let rows = [
        (4.001, 0, false, 10.0),
        (4.043, 0, true, 11.0),
        (4.006, 0, false, 12.0),
        (4.047, 0, true, 13.5),
        (4.020, 1, false, 15.0),
        (4.066, 1, true, 15.5),
        (4.023, 1, false, 18.0),
        (4.070, 1, true, 19.0),
    ];
    let flights = rows.iter().map(|r| flight(r.0, r.1, r.2)).collect();
    (flights, rows.iter().map(|r| r.3).collect())
}

/// The fan's coefficient with a covariate is that of the linear model with its column (Frisch-Waugh),
/// whatever the zero of its scale.
#[test]
fn a_covariate_is_a_column_of_the_model() {
    let (flights, temperature) = eight();
    let day: Vec<f64> = flights.iter().map(|f| f.day as f64).collect();
    let fan: Vec<f64> = flights.iter().map(|f| f64::from(f.candidate)).collect();
    let y: Vec<f64> = flights.iter().map(|f| f.log_speed).collect();
    let model = fit(&[day, temperature.clone(), fan], &y).unwrap();
    let kelvin: Vec<f64> = temperature.iter().map(|t| t + 273.15).collect();
    let observed = observed_gain_given(&flights, &[kelvin], Some(1));
    let effect = observed.effect.unwrap();
    let contrast = model.coefficient(3).unwrap();
    close(effect.coefficient, contrast.value, 1e-9);
    // Each fan's own scatter [C].
    close(effect.se, 0.0016531457051761663, 1e-8);
    close(effect.df, 3.9693865959457897, 1e-6);
    let slope = observed.covariates[0].unwrap();
    close(slope.value, model.coefficients[2], 1e-9);
    assert!(observed.permutation.unwrap().exact);
}

#[test]
fn nan_in_a_covariate_leaves_the_flight_out() {
    let (flights, mut temperature) = eight();
    temperature[3] = f64::NAN;
    let observed = observed_gain_given(&flights, &[temperature.clone()], Some(1));
    assert_eq!(observed.flights_candidate, 3);
    assert!(observed.effect.unwrap().gain.is_finite());
    let nothing = vec![f64::NAN; 8];
    let observed = observed_gain_given(&flights, &[nothing], Some(1));
    assert!(observed.effect.is_none());
    // A column that is too short is missing at its end.
    let observed = observed_gain_given(&flights, &[vec![1.0, 2.0]], Some(1));
    assert!(observed.effect.is_none());
}

/// A covariate that tells which fan flew takes the gain with it.
#[test]
fn a_covariate_confounded_with_the_fan() {
    let (flights, _) = eight();
    let fan: Vec<f64> = flights.iter().map(|f| f64::from(f.candidate)).collect();
    let observed = observed_gain_given(&flights, &[fan], Some(1));
    let Model::NotEstimable(why) = observed.model else {
        panic!("{:?}", observed.model)
    };
    assert_eq!(why.confounded, Confounded::FanAndCovariate);
    assert!(observed.effect.is_none());
}

/// The same temperature all day is taken up by the day.
#[test]
fn a_covariate_of_the_day_changes_nothing() {
    let (flights, _) = eight();
    let by_day: Vec<f64> = flights.iter().map(|f| 10.0 + 5.0 * f.day as f64).collect();
    let with = observed_gain_given(&flights, &[by_day], Some(1));
    let without = observed_gain(&flights, 1);
    assert_eq!(with.covariates, [None]);
    let (with, without) = (with.effect.unwrap(), without.effect.unwrap());
    close(with.coefficient, without.coefficient, 1e-12);
    close(with.df, without.df, 1e-9);
}

#[test]
fn identical_values_have_no_interval() {
    let same: Vec<FlightSpeed> = (0..8)
        .map(|i| flight(if i % 2 == 0 { 4.0 } else { 4.04 }, i / 4, i % 2 == 1))
        .collect();
    let observed = observed_gain(&same, 1);
    let Model::NotEstimable(why) = &observed.model else {
        panic!("{:?}", observed.model)
    };
    assert_eq!(why.confounded, Confounded::NoScatter);
    assert!(observed.effect.is_none() && observed.robust_gain.is_none());
    // With errors of their own the flights bound it, however many there are.
    let known: Vec<FlightSpeed> = same
        .iter()
        .map(|f| FlightSpeed {
            se: Some(0.01),
            ..*f
        })
        .collect();
    let effect = observed_gain(&known, 1).effect.unwrap();
    assert!(effect.floored);
    // Four against four: sqrt(1/4 + 1/4) of 1 %.
    close(
        effect.high.ln_1p() - effect.coefficient,
        1.959963984540054 * 0.01 * 0.5_f64.sqrt(),
        1e-9,
    );
}

/// One flight 10 % off among sixteen: least squares moves by more than a point, Huber's fit by less
/// than a third of that.
#[test]
fn one_wild_flight() {
    let mut flights: Vec<FlightSpeed> = (0..16)
        .map(|i| {
            let wobble = [0.001, -0.002, 0.0015, -0.0005][i % 4 / 2 + i / 8];
            let fan = if i % 2 == 1 { 0.04 } else { 0.0 };
            flight(4.0 + fan + wobble, i / 8, i % 2 == 1)
        })
        .collect();
    let tame = observed_gain(&flights, 1);
    flights[5].log_speed -= 0.1;
    let wild = observed_gain(&flights, 1);
    let moved = (wild.effect.unwrap().gain - tame.effect.unwrap().gain).abs();
    let robust = (wild.robust_gain.unwrap() - tame.robust_gain.unwrap()).abs();
    assert!(moved > 0.01 && robust < moved / 3.0, "{moved} {robust}");
}
