//! How much a comparison hangs on single flights: each left out in turn, and a fit that one wild
//! flight cannot pull far.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Verdict};
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::findings::observed::Observed;
use crate::stats::estimate::Estimate;
use crate::stats::mover::Bounds;

/// Flights that are left out in turn at most: each costs a fit of all the others. Of more flights those
/// that move the gain most; any other moves it less.
const MOST_LEFT_OUT: usize = 40;

/// The flights of a comparison to leave out, in its order.
pub fn to_leave_out(observed: &Observed) -> Vec<usize> {
    let all = 0..observed.speeds.len();
    let Some(effect) = observed.gain.effect.as_ref() else {
        return Vec::new();
    };
    let moves = |i: &usize| {
        let moves = effect.without_each.get(*i).copied();
        // What the others cannot tell at all moves it most of all.
        moves
            .filter(|m| m.is_finite())
            .map_or(f64::INFINITY, f64::abs)
    };
    let mut flights: Vec<usize> = all.collect();
    flights.sort_by(|a, b| moves(b).total_cmp(&moves(a)));
    flights.truncate(MOST_LEFT_OUT);
    flights.sort_unstable();
    flights
}

/// What is left of the answer without one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Without {
    /// Its place among the flights of the comparison.
    pub flight: usize,
    /// `None`: the others cannot tell the gain.
    pub gain: Option<Bounds>,
    pub verdict: Verdict,
}

/// Adds what leaving out single flights shows to an answer whose verdict is there; `without`: of the
/// flights [`to_leave_out`]. Returns the table of it.
pub fn record(
    evidence: &Evidence,
    answer: &mut Answer,
    observed: &Observed,
    without: &[Without],
) -> Option<DataTable> {
    let effect = observed.gain.effect.as_ref()?;
    robust(answer, observed);
    range(answer, observed, without);
    answer
        .remarks
        .extend(decided_by_one(answer.verdict, observed, without));
    let rows = without
        .iter()
        .map(|left| {
            let (speed, share) = (&observed.speeds[left.flight], effect.influence[left.flight]);
            vec![
                DataCell::text(Some(&speed.flight.flight)),
                DataCell::text(Some(speed.day)),
                DataCell::Text(evidence.power_name(speed.power)),
                DataCell::Number(share),
                DataCell::interval(
                    left.gain.map(|g| g.value),
                    left.gain.map(|g| g.low),
                    left.gain.map(|g| g.high),
                ),
                DataCell::text(Some(left.verdict.words())),
            ]
        })
        .collect();
    Some(DataTable {
        id: format!("influence-{}", answer.id),
        title: match observed.speeds.len() - without.len() {
            0 => "What each flight does to the gain: its weight, and the answer without it"
                .to_owned(),
            others => format!(
                "What the {} flights that move the gain most do to it: their weight, and the answer \
                 without them ({others} others move it less)",
                without.len()
            ),
        },
        columns: vec![
            DataColumn::new("flight", "", 0),
            DataColumn::new("day", "", 0),
            DataColumn::new("power system", "", 0),
            DataColumn::new("weight in the gain", "1", 2),
            DataColumn::new("gain without it", "1", 3),
            DataColumn::new("verdict without it", "", 0),
        ],
        rows,
    })
}

fn robust(answer: &mut Answer, observed: &Observed) {
    let Some(gain) = observed.gain.robust_gain else {
        return;
    };
    answer.estimates.insert(
        "gain_by_robust_fit".to_owned(),
        Estimate {
            low: None,
            high: None,
            ..Estimate::plus_minus(
                gain,
                0.0,
                "1",
                "the same model by Huber's fit (k = 1.345), as a check: no interval of its own",
            )
        }
        .count("flights", observed.speeds.len()),
    );
    answer.remarks.push(format!(
        "A fit that one wild flight cannot pull far puts the gain at {}.",
        percent(gain)
    ));
}

/// The smallest and the largest gain that leaving out one flight gives.
fn range(answer: &mut Answer, observed: &Observed, without: &[Without]) {
    let of = |w: &Without| {
        let flight = &observed.speeds[w.flight].flight.flight;
        Some((flight.as_str(), w.gain?))
    };
    let mut gains: Vec<(&str, Bounds)> = without.iter().filter_map(of).collect();
    gains.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let (Some(least), Some(most)) = (gains.first(), gains.last()) else {
        return;
    };
    let estimate = |(flight, gain): &(&str, Bounds)| {
        Estimate::interval(
            gain.value,
            gain.low,
            gain.high,
            0.95,
            "1",
            "the same model with one flight left out",
        )
        .count("flights", observed.speeds.len() - 1)
        .input(format!("without flight {flight}"))
    };
    let (low, high) = (estimate(least), estimate(most));
    answer.remarks.push(format!(
        "Leaving out one flight at a time moves the gain between {} (without {}) and {} (without {}).",
        percent_interval(&low),
        least.0,
        percent_interval(&high),
        most.0
    ));
    answer
        .estimates
        .insert("smallest_gain_without_one_flight".to_owned(), low);
    answer
        .estimates
        .insert("largest_gain_without_one_flight".to_owned(), high);
}

/// Which single flights the verdict hangs on.
fn decided_by_one(verdict: Verdict, observed: &Observed, without: &[Without]) -> Option<String> {
    let changes: Vec<String> = without
        .iter()
        .filter(|w| w.verdict != verdict)
        .map(|w| {
            let flight = &observed.speeds[w.flight].flight.flight;
            if w.gain.is_none() {
                format!("without {flight} the gain cannot be told")
            } else {
                format!(
                    "without {flight} it would be \"{}\"",
                    w.verdict.words().to_lowercase()
                )
            }
        })
        .collect();
    if changes.is_empty() {
        return (!without.is_empty())
            .then(|| "No single flight decides the verdict: it stays without any one.".to_owned());
    }
    Some(format!(
        "The verdict hangs on single flights: {}.",
        changes.join("; ")
    ))
}
