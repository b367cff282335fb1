//! How much a comparison hangs on single flights: each left out in turn, and a fit that one wild
//! flight cannot pull far.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable, Verdict};
use crate::findings::evidence::{Evidence, percent, percent_interval};
use crate::findings::observed::Observed;
use crate::stats::estimate::Estimate;
use crate::stats::mover::Bounds;

/// What is left of the answer without one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Without {
    /// `None`: the others cannot tell the gain.
    pub gain: Option<Bounds>,
    pub verdict: Verdict,
}

/// Adds what leaving out single flights shows to an answer whose verdict is there; `without` has
/// one entry a flight of `observed`. Returns the table of it.
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
    let rows = observed
        .speeds
        .iter()
        .zip(without)
        .zip(&effect.influence)
        .map(|((speed, left), share)| {
            vec![
                DataCell::text(Some(&speed.flight.flight)),
                DataCell::text(Some(speed.day)),
                DataCell::Text(evidence.power_name(speed.power)),
                DataCell::Number(*share),
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
        title: "What each flight does to the gain: its weight, and the answer without it"
            .to_owned(),
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
    let mut gains: Vec<(&str, Bounds)> = observed
        .speeds
        .iter()
        .zip(without)
        .filter_map(|(s, w)| Some((s.flight.flight.as_str(), w.gain?)))
        .collect();
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
    let changes: Vec<String> = observed
        .speeds
        .iter()
        .zip(without)
        .filter(|(_, w)| w.verdict != verdict)
        .map(|(speed, w)| {
            let flight = &speed.flight.flight;
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
