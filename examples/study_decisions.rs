//! Do the intervals behind a decision hold the truth? Resistances, their trend and the next flight's
//! current over seasons flown by the simulator; damage ratios over seasons of known loads.
//!
//! Prints the table kept in `datasets/studies/decisions.csv` (run `scripts/study-decisions`).

#![allow(clippy::print_stdout)]

#[path = "../tests/held.rs"]
mod held;
#[path = "../tests/sim_decisions.rs"]
mod sim_decisions;
#[path = "../tests/sim_log.rs"]
mod sim_log;

use benchborne::simulate::Tuned;
use benchborne::stats::clopper_pearson::clopper_pearson;
use benchborne::stats::{mean, median};
use rayon::prelude::*;
use sim_decisions::{Held, load_season, pack_plan, pack_season};

const SEASONS: u64 = 120;
const LOAD_SEASONS: u64 = 2000;
const SEED: u64 = 70_000;

fn print(what: &str, flights: usize, covered: &[bool], held: &[Held]) {
    let events = covered.iter().filter(|c| **c).count();
    let Some(share) = clopper_pearson(events, covered.len(), 0.95) else {
        return;
    };
    let relative = |of: &dyn Fn(&Held) -> f64| -> Vec<f64> {
        held.iter().map(|h| of(h) / h.truth.abs()).collect()
    };
    let digits = |values: Vec<f64>, middle: fn(&[f64]) -> f64| {
        if values.is_empty() {
            String::new()
        } else {
            format!("{:.3}", middle(&values))
        }
    };
    println!(
        "{what},{flights},{},{:.3},{:.3},{:.3},{},{}",
        covered.len(),
        events as f64 / covered.len() as f64,
        share.low,
        share.high,
        digits(relative(&|h| h.value - h.truth), mean),
        digits(relative(&|h| 0.5 * (h.high - h.low)), median),
    );
}

fn main() {
    let seasons = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(SEASONS);
    println!(
        "# Simulated seasons with known resistances, currents and loads; coverage of 95 % intervals."
    );
    println!(
        "# bias and half-width are relative to the truth (median half-width); scripts/study-decisions"
    );
    println!("what,flights,cases,coverage,coverage_low,coverage_high,bias,half_width");
    for flights in [5, 8, 12] {
        let plan = pack_plan(flights, 0.02);
        let Some(tuned) = Tuned::new(&plan) else {
            continue;
        };
        let flown: Vec<_> = (0..seasons)
            .into_par_iter()
            .filter_map(|i| pack_season(&plan, &tuned, SEED + 1000 * flights as u64 + i))
            .collect();
        let each: Vec<Held> = flown.iter().flat_map(|s| s.flights.clone()).collect();
        let trends: Vec<Held> = flown.iter().filter_map(|s| s.trend).collect();
        let covered = |held: &[Held]| held.iter().map(Held::covers).collect::<Vec<_>>();
        print("resistance of a flight", flights, &covered(&each), &each);
        print("trend of resistance", flights, &covered(&trends), &trends);
        let next: Vec<bool> = flown.iter().filter_map(|s| s.next_below).collect();
        print(
            "current of a further flight (one-sided)",
            flights,
            &next,
            &[],
        );
    }
    for flights in [3, 4, 6, 10] {
        let all: Vec<_> = (0..LOAD_SEASONS)
            .into_par_iter()
            .map(|i| load_season(flights, 1.1, SEED + i))
            .collect();
        for (m, exponent) in [3, 5, 8].into_iter().enumerate() {
            let model: Vec<Held> = all.iter().filter_map(|s| s[m].0).collect();
            let boot: Vec<Held> = all.iter().map(|s| s[m].1).collect();
            let covered = |held: &[Held]| held.iter().map(Held::covers).collect::<Vec<_>>();
            print(
                &format!("damage ratio at exponent {exponent} (linear model)"),
                flights,
                &covered(&model),
                &model,
            );
            print(
                &format!("damage ratio at exponent {exponent} (percentile bootstrap)"),
                flights,
                &covered(&boot),
                &boot,
            );
        }
    }
}
