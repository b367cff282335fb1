//! Synthetic seasons with a known truth: do the intervals cover what they claim, and how often is
//! a verdict wrong? Flight means only, no physics; seeds are fixed.

use benchborne::stats::mover::Bounds;
use benchborne::stats::observed::{FlightSpeed, Model, observed_gain};
use benchborne::stats::verdict::{Evidence, Verdict, verdict};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const DAY_SD: f64 = 0.01;
const FLIGHT_SD: f64 = 0.01;
/// How much faster the second airframe is.
const SISTER: f64 = 0.03;
/// Standard error within a flight; a part of the scatter between flights.
const WITHIN_SE: f64 = 0.004;
const MARGIN: f64 = 0.02;
/// Standard uncertainty of the reference band as a whole, and its width.
const BAND_U: f64 = 0.005;
const BAND_WIDTH: f64 = 0.01;
const SEASONS: usize = 2000;
/// Three standard errors of a share of 5 % among so many seasons.
const THREE_ERRORS: f64 = 0.0147;

/// How flights are spread over days.
#[derive(Debug, Clone, Copy)]
enum Spread {
    /// Both fans on one day.
    OneDay,
    /// Both fans on every day, at most two flights of each a day.
    BothEachDay,
    /// Swapped at home: one fan a day, at most two flights, at least two days a fan.
    OneFanADay,
    /// As it comes: the baseline flies first, the candidate last, and both only in between.
    Ragged,
    /// Two sister airframes, each with both fans, on one day.
    Sisters,
}

/// (day, candidate, airframe) of every flight.
fn season(spread: Spread, flights_a_fan: usize) -> Vec<(usize, bool, usize)> {
    let mut flights = Vec::new();
    for candidate in [false, true] {
        for i in 0..flights_a_fan {
            let day = match spread {
                Spread::OneDay | Spread::Sisters => 0,
                Spread::BothEachDay => i / 2,
                Spread::OneFanADay => {
                    let days = flights_a_fan.div_ceil(2).max(2);
                    2 * (i % days) + usize::from(candidate)
                }
                Spread::Ragged => i * 2 / flights_a_fan + usize::from(candidate),
            };
            let airframe = match spread {
                Spread::Sisters => i % 2,
                _ => 0,
            };
            flights.push((day, candidate, airframe));
        }
    }
    flights
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

fn fly(
    design: &[(usize, bool, usize)],
    gain: f64,
    se: f64,
    rng: &mut ChaCha8Rng,
) -> Vec<FlightSpeed> {
    let days: Vec<f64> = (0..32).map(|_| DAY_SD * normal(rng)).collect();
    design
        .iter()
        .map(|(day, candidate, airframe)| FlightSpeed {
            log_speed: 4.0
                + days[*day]
                + SISTER * *airframe as f64
                + if *candidate { gain.ln_1p() } else { 0.0 }
                + FLIGHT_SD * normal(rng),
            se: Some(se),
            day: *day,
            candidate: *candidate,
            airframe: *airframe,
        })
        .collect()
}

/// Shares of seasons.
#[derive(Default, Debug)]
struct Shares {
    covered: f64,
    floored: f64,
    half_width: f64,
    /// Of a gain within the band, and of one that carried by half (or not at all).
    wrong: [f64; 2],
    /// Any verdict but "not settled".
    settled: [f64; 2],
}

/// A verdict that says something untrue of the gain and the band (lower, upper end).
fn is_wrong(v: Verdict, gain: f64, band: (f64, f64)) -> bool {
    match v {
        Verdict::NotSettled(_) | Verdict::NothingToCarry { .. } => false,
        Verdict::NoDifferenceThatMatters { real } => gain.abs() >= MARGIN || (real && gain == 0.0),
        Verdict::Worse => gain >= 0.0,
        Verdict::MoreThanTheReferenceCases => gain <= band.1,
        Verdict::PartlyCarriedOver => gain <= 0.0 || gain >= band.0,
        Verdict::CarriedOver => gain <= 0.0 || gain < band.0 - MARGIN,
    }
}

/// Lower ends of the two bands that a gain is held against.
fn low_ends(gain: f64) -> [f64; 2] {
    let about = |middle: f64| middle - 0.5 * BAND_WIDTH;
    if gain == 0.0 {
        [about(0.04), about(0.06)]
    } else {
        [about(gain), about(2.0 * gain)]
    }
}

fn shares(spread: Spread, n: usize, gain: f64, within_se: f64) -> Shares {
    let design = season(spread, n);
    let mut shares = Shares::default();
    let each = 1.0 / SEASONS as f64;
    let count = |is: bool| if is { each } else { 0.0 };
    for s in 0..SEASONS {
        // Seasons of their own for each gain.
        let mut rng = ChaCha8Rng::seed_from_u64((1000.0 * gain) as u64);
        rng.set_stream(s as u64);
        let observed = observed_gain(&fly(&design, gain, within_se, &mut rng), 0);
        let expected = match (spread, n) {
            // Two a fan leave no freedom beside three days.
            (Spread::OneFanADay, _) | (Spread::Ragged, 2) => Model::DayMeans,
            _ => Model::WithinDays,
        };
        assert_eq!(observed.model, expected);
        let effect = observed.effect.unwrap();
        shares.covered += count(effect.low <= gain && gain <= effect.high);
        shares.floored += count(effect.floored);
        shares.half_width += each * 0.5 * (effect.high - effect.low);
        let error = BAND_U * normal(&mut rng);
        let end = |true_end: f64| Bounds::from_u(true_end + error, BAND_U, f64::INFINITY);
        for (i, low_end) in low_ends(gain).into_iter().enumerate() {
            let v = verdict(&Evidence {
                same_pack: Some(effect.bounds(0.0)),
                compared: Some(effect.bounds(0.0)),
                margin: MARGIN,
                band: Some((end(low_end), end(low_end + BAND_WIDTH))),
                static_gain: Some((0.08, 0.12)),
            });
            shares.wrong[i] += count(is_wrong(v, gain, (low_end, low_end + BAND_WIDTH)));
            shares.settled[i] += count(!matches!(v, Verdict::NotSettled(_)));
        }
    }
    shares
}

/// Coverage of at least 93 % and no more than 97 %, wrong verdicts in at most 5 % of seasons. How
/// much is covered does not depend on the gain, so all gains count together there.
#[test]
fn intervals_cover_and_verdicts_hold() {
    const GAINS: [f64; 4] = [0.0, 0.02, 0.04, 0.08];
    let spreads = [
        Spread::OneDay,
        Spread::BothEachDay,
        Spread::OneFanADay,
        Spread::Ragged,
        Spread::Sisters,
    ];
    let cells: Vec<(Spread, usize)> = spreads
        .into_iter()
        .flat_map(|spread| [2, 3, 4, 6].map(|n| (spread, n)))
        .collect();
    let results: Vec<Vec<Shares>> = cells
        .par_iter()
        .map(|(spread, n)| {
            GAINS
                .map(|gain| shares(*spread, *n, gain, WITHIN_SE))
                .into()
        })
        .collect();
    let mut failures = Vec::new();
    for ((spread, n), of_gains) in cells.iter().zip(&results) {
        let covered = of_gains.iter().map(|s| s.covered).sum::<f64>() / GAINS.len() as f64;
        println!("{spread:?}, {n} a fan: covered {covered:.4}");
        if !(0.93..=0.97).contains(&covered) {
            failures.push(format!("{spread:?}, {n} a fan: covered {covered}"));
        }
        for (gain, s) in GAINS.iter().zip(of_gains) {
            println!("    gain {gain}: {s:.3?}");
            if s.wrong.iter().any(|w| *w > 0.05 + THREE_ERRORS) {
                failures.push(format!(
                    "{spread:?}, {n} a fan, gain {gain}: wrong {:?}",
                    s.wrong
                ));
            }
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}

/// What the floor from within-flight errors does, at two degrees of freedom: next to nothing where
/// flights scatter by more than they are measured to; where measuring error known exactly is all
/// the scatter there is, it covers more than it says. With more freedom it is not there.
#[test]
fn floor_of_the_interval() {
    let at = |n: usize, within_se: f64| shares(Spread::OneDay, n, 0.04, within_se);
    let (without, usual, extreme) = (at(2, 0.0), at(2, WITHIN_SE), at(2, FLIGHT_SD));
    assert_eq!(without.floored, 0.0);
    assert!(usual.floored > 0.0 && usual.covered - without.covered < 0.01);
    assert!(extreme.covered >= 0.95 && extreme.half_width < 1.1 * without.half_width);
    assert_eq!(at(3, FLIGHT_SD).floored, 0.0);
}

/// Least squares that leaves the days out, on fans swapped at home: the trap that day means avoid.
#[test]
fn flights_are_not_replicates_of_a_fan_swapped_at_home() {
    let design = season(Spread::OneFanADay, 4);
    let mut covered = 0;
    for s in 0..SEASONS {
        let mut rng = ChaCha8Rng::seed_from_u64(2026);
        rng.set_stream(s as u64);
        let mut flights = fly(&design, 0.04, WITHIN_SE, &mut rng);
        flights.iter_mut().for_each(|f| f.day = 0);
        let effect = observed_gain(&flights, 0).effect.unwrap();
        covered += usize::from(effect.low <= 0.04 && 0.04 <= effect.high);
    }
    assert!(
        (covered as f64) < 0.93 * SEASONS as f64,
        "{covered} of {SEASONS}"
    );
}
