//! Each flight of a question's baseline flown again with the candidate's bench curve.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::benches::Benches;
use super::flights::Flights;
use super::kept::{Kept, Parts};
use super::shelf::Shelf;
use crate::findings::evidence::Evidence;
use crate::flight::replay::{History, NoReplay, Replay, Sticks, replay};
use crate::season::{Finding, QuestionKind, Season};
use crate::stats;
use crate::stats::gum::rectangular;
use crate::store::from_flight::Flown;
use crate::store::{ReplayRow, SeasonTables};

/// Relative standard uncertainty of the candidate's unloading against the baseline's, which it is
/// taken to share. Simulated fans that are alike standing still, but of which one's torque falls with
/// speed by half as much again as the other's, differ by 5 % in their time (`scripts/study-air`):
/// half of that.
const UNLOADS_ALIKE_U: f64 = 0.025;
/// Relative standard uncertainty of one flight's time because no pilot flies a flight twice (ours, not
/// fitted; with it the intervals of `scripts/study-air` hold the truth in 98 %).
const STICKS_U: f64 = 0.015;

pub fn fill(
    season: &Season,
    benches: &Benches,
    flights: &mut Flights,
    (shelf, kept): (&Shelf, &Kept),
    tables: &mut SeasonTables,
    complaints: &mut Vec<Finding>,
) {
    let mut done: Vec<(&str, &str)> = Vec::new();
    for question in &season.questions {
        let pair = (question.baseline.as_str(), question.candidate.as_str());
        let fans = question.kind != QuestionKind::Sisters && pair.0 != pair.1;
        if fans && !done.contains(&pair) {
            done.push(pair);
            replay_pair(
                season,
                benches,
                (&mut *flights, shelf, kept),
                pair,
                tables,
                complaints,
            );
        }
    }
}

fn replay_pair(
    season: &Season,
    benches: &Benches,
    (flights, shelf, kept): (&mut Flights, &Shelf, &Kept),
    (baseline, candidate): (&str, &str),
    tables: &mut SeasonTables,
    complaints: &mut Vec<Finding>,
) {
    let curve = |power: &str| benches.curves.get(power)?.current.as_ref();
    let (Some(flown), Some(other)) = (curve(baseline), curve(candidate)) else {
        return;
    };
    let mut refused: BTreeMap<NoReplay, usize> = BTreeMap::new();
    let same_power = Sticks::SamePowerBelow(season.rules.full_throttle.value);
    let mut found: Vec<(&Flown, [Replay; 2])> = Vec::new();
    let replayed: Vec<Option<Result<[Replay; 2], NoReplay>>> = flights
        .flights
        .par_iter_mut()
        .zip(&mut flights.shelves)
        .zip(&flights.keys)
        .map(|((flight, shelved), key)| {
            if flight.row.power.as_deref() != Some(baseline) {
                return None;
            }
            let parts = |key| Parts::of("replay").key(key).shown(&(flown, other));
            let key = key.map(|key| parts(key).done());
            let make = || {
                let aside = shelf.light(shelved, &mut flight.survey);
                let replays = history(season, flight).map(|history| {
                    let same = replay(&history, flown, other, Sticks::SameThrottle)?;
                    Ok([same, replay(&history, flown, other, same_power)?])
                });
                shelved.dim(shelf, &mut flight.survey, aside);
                replays
            };
            kept.or_make("replay", key, || shelf.is_sound(), make)
        })
        .collect();
    for (flight, replays) in flights.flights.iter().zip(replayed) {
        let Some(replays) = replays else { continue };
        match replays {
            Ok(replays) => found.push((flight, replays)),
            Err(why) => *refused.entry(why).or_insert(0) += 1,
        }
    }
    if !refused.is_empty() {
        complaints.push(not_replayed(baseline, candidate, &refused));
    }
    let shared_u = shared_u(season, tables, (baseline, candidate));
    for (flight, replays) in found {
        tables
            .replays
            .push(row((baseline, candidate), flight, &replays, shared_u));
    }
}

/// What a replay needs of a flight; `None` without a sound current sensor, phases or pack.
fn history<'a>(season: &Season, flight: &'a Flown) -> Option<History<'a>> {
    Some(History {
        log: flight.survey.log.as_ref()?,
        phases: flight.survey.phases.as_ref()?,
        density_kg_m3: flight.density_kg_m3,
        pack: flight.power.pack.as_ref()?,
        capacity_c: flight.capacity_c?,
        reserve: season.rules.reserve.value,
    })
    .filter(|_| flight.survey.has_sound_current())
}

fn not_replayed(baseline: &str, candidate: &str, refused: &BTreeMap<NoReplay, usize>) -> Finding {
    let why: Vec<String> = refused
        .iter()
        .map(|(why, count)| {
            let words = match why {
                NoReplay::MissingChannels => "without throttle, volts and amps side by side",
                NoReplay::Gaps => "with gaps in the recording",
                NoReplay::AboveBench => "above the throttle that both benches reach",
                NoReplay::NoCommonThrottle => "as the two benches share no throttle",
                NoReplay::NotAirborne => "never airborne",
            };
            format!("{count} {words}")
        })
        .collect();
    Finding::note(
        "flight-not-replayed",
        format!(
            "flights of power system `{baseline}` are not replayed with `{candidate}`: {}",
            why.join(", ")
        ),
        "Log throttle, volts and amps without gaps, and bench both systems over the throttle you fly.",
    )
}

/// Relative standard uncertainty of all times of the pair: bench current over bench current,
/// unloading, scale of the charge.
fn shared_u(season: &Season, tables: &SeasonTables, (baseline, candidate): (&str, &str)) -> f64 {
    let bench_u = tables
        .static_gains
        .iter()
        .find(|g| {
            g.baseline == baseline
                && g.candidate == candidate
                && g.quantity == "current"
                && g.condition == "same_terminal_voltage"
        })
        .and_then(|g| Some(g.u? / (1.0 + g.gain?)))
        .unwrap_or(UNKNOWN_BENCH_U);
    // A standard uncertainty is half of a 95 % half-width.
    let scale_u = Evidence { season, tables }
        .charge_half_width(baseline)
        .map_or(0.0, |half| half / 2.0);
    bench_u.hypot(UNLOADS_ALIKE_U).hypot(scale_u)
}

/// Where the static gain in current has no uncertainty: two watt meters of 2 % (common practice, no
/// source).
const UNKNOWN_BENCH_U: f64 = 0.02;

fn row(
    (baseline, candidate): (&str, &str),
    flight: &Flown,
    replays: &[Replay; 2],
    shared_u: f64,
) -> ReplayRow {
    let [throttle, power] = replays;
    let predicted_s = 0.5 * (throttle.to_reserve_s + power.to_reserve_s);
    // The truth lies somewhere between the two cases: a rectangle.
    let apart = (throttle.to_reserve_s - power.to_reserve_s).abs() / (2.0 * predicted_s);
    let shared_u = shared_u.hypot(rectangular(apart));
    let half = stats::NORMAL_95 * shared_u.hypot(STICKS_U) * predicted_s;
    let charge_c = 0.5 * (throttle.charge_c + power.charge_c);
    let capacity_c = flight.capacity_c.unwrap_or(f64::NAN);
    ReplayRow {
        baseline: baseline.to_owned(),
        candidate: candidate.to_owned(),
        flight: flight.row.flight.clone(),
        predicted_s,
        predicted_low_s: predicted_s - half,
        predicted_high_s: predicted_s + half,
        same_throttle_s: throttle.to_reserve_s,
        same_power_s: power.to_reserve_s,
        reached: throttle.reached && power.reached,
        shared_u,
        own_u: STICKS_U,
        flown_s: flight.to_reserve.map(|t| t.airborne_s),
        flown_reached: flight.to_reserve.is_some_and(|t| t.reached),
        charge_ratio: charge_c / throttle.flown_charge_c,
        left_at_landing: 1.0 - charge_c / capacity_c,
        below_bench: throttle.below_bench,
    }
}
