//! A small part of the study of decisions (`examples/study_decisions.rs`,
//! `datasets/studies/decisions.csv`).

use benchborne::simulate::Tuned;

use crate::sim_decisions::{Held, load_season, pack_plan, pack_season};

fn covered(held: &[Held]) -> f64 {
    held.iter().filter(|h| h.covers()).count() as f64 / held.len() as f64
}

/// 60 flights: with a true coverage of 95 % fewer than 52 hold the truth once in 150 (binomial).
#[test]
fn resistances_and_their_trend_hold_the_truth() {
    let plan = pack_plan(6, 0.02);
    let tuned = Tuned::new(&plan).unwrap();
    let seasons: Vec<_> = (0..10)
        .map(|i| pack_season(&plan, &tuned, 500 + i).unwrap())
        .collect();
    let flights: Vec<Held> = seasons.iter().flat_map(|s| s.flights.clone()).collect();
    assert_eq!(flights.len(), 60);
    assert!(covered(&flights) >= 52.0 / 60.0, "{}", covered(&flights));
    let trends: Vec<Held> = seasons.iter().filter_map(|s| s.trend).collect();
    assert!(covered(&trends) >= 0.8, "{trends:?}");
    // An interval that holds anything would pass too.
    assert!(flights.iter().all(|h| h.high - h.low < 0.2 * h.truth));
}

/// 300 seasons of four flights a fan: the linear model between 92 and 98 % (three standard errors of
/// 95 %), the percentile bootstrap well below.
#[test]
fn damage_ratios_hold_the_truth_where_a_bootstrap_does_not() {
    let seasons: Vec<_> = (0..300).map(|i| load_season(4, 1.1, 900 + i)).collect();
    let model: Vec<Held> = seasons.iter().filter_map(|s| s[1].0).collect();
    assert_eq!(model.len(), 300);
    let share = covered(&model);
    assert!((0.912..=0.988).contains(&share), "{share}");
    let boot: Vec<Held> = seasons.iter().map(|s| s[1].1).collect();
    assert!(covered(&boot) < 0.93, "{}", covered(&boot));
}
