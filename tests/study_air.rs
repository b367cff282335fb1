//! A small part of the study of what is measured in the air (`examples/study_air.rs`,
//! `datasets/studies/air.csv`).

use benchborne::stats::{mean, median};
use rayon::prelude::*;

use crate::sim_air::{AirSeason, air_season, tuned};
use crate::sim_season::Held;

/// Each pair of fans once.
const SEASONS: usize = 4;

fn errors(held: &[Held]) -> (f64, f64, usize) {
    let errors: Vec<f64> = held.iter().map(|h| h.error()).collect();
    let sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    let missed = held.iter().filter(|h| !h.covers()).count();
    (mean(&errors), median(&sizes), missed)
}

/// Limits on errors are those asked of the whole study, but where it says otherwise. Of n intervals
/// that hold the truth in 95 of 100 more than the misses allowed here come about once in a hundred
/// (binomial).
#[test]
fn what_is_measured_in_the_air_holds_the_truth() {
    let tuned = tuned();
    let seasons: Vec<AirSeason> = (0..SEASONS)
        .into_par_iter()
        .map(|n| air_season(n, &tuned, 880 + n as u64).unwrap())
        .collect();
    let all = |pick: fn(&AirSeason) -> &Vec<Held>| -> Vec<Held> {
        seasons.iter().flat_map(pick).copied().collect()
    };
    let energy = all(|s| &s.energy);
    assert_eq!(energy.len(), 4 * SEASONS);
    let (_, middle, missed) = errors(&energy);
    assert!(middle < 0.05 && missed <= 2, "{energy:?}");
    let left_out = all(|s| &s.left_out);
    assert_eq!(left_out.len(), 8 * SEASONS);
    assert!(errors(&left_out).1 < 0.05 && errors(&left_out).2 <= 4);
    let kappa = all(|s| &s.kappa);
    assert_eq!(kappa.len(), 2 * SEASONS);
    assert!(errors(&kappa).2 <= 2, "{kappa:?}");
    // The meters and sensors of a season, 1.7 % together, are shared by its fans: the mean of four
    // seasons tells 0.9 % of them. With their scales taken out what is left is the method's.
    let method = all(|s| &s.kappa_by_method);
    assert_eq!(method.len(), 2 * SEASONS);
    let (bias, middle, _) = errors(&method);
    assert!(bias.abs() < 0.01 && middle < 0.01, "{method:?}");
    let replay = all(|s| &s.replay);
    assert_eq!(replay.len(), 4 * SEASONS);
    assert!(errors(&replay).2 <= 3, "{replay:?}");
    // The study of 204 flights is held to a median error of 3 %. All replays of a season share its
    // charger (drawn anew for each, within 2 %), its current sensor and two benches, 4 to 5 % together
    // by their intervals: four seasons tell a mean to half of that.
    let seasons = all(|s| &s.replay_mean);
    assert_eq!(seasons.len(), SEASONS);
    let (bias, _, missed) = errors(&seasons);
    let half: Vec<f64> = seasons.iter().map(|h| h.half_width()).collect();
    assert!(mean(&half) < 0.12, "{seasons:?}");
    assert!(
        bias.abs() < mean(&half) / (SEASONS as f64).sqrt() && missed <= 1,
        "{seasons:?}"
    );
}
