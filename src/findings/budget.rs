//! What limits the static gains: the budget of each, and the sentence on the largest part.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable};
use crate::findings::evidence::{Evidence, percent};
use crate::store::GainBudgetRow;

/// Under this condition, or the other where the first is not there.
const CONDITIONS: [&str; 2] = ["same_terminal_voltage", "as_measured"];

/// The budgets of a comparison's static gains as one table, and the sentence on what limits the
/// thrust gain into the answer.
pub fn record(
    evidence: &Evidence,
    answer: &mut Answer,
    [baseline, candidate]: [&str; 2],
) -> Option<DataTable> {
    let of_pair: Vec<&GainBudgetRow> = evidence
        .tables
        .gain_budgets
        .iter()
        .filter(|r| r.baseline == baseline && r.candidate == candidate)
        .collect();
    let condition = CONDITIONS
        .into_iter()
        .find(|c| of_pair.iter().any(|r| r.condition == *c))?;
    let rows: Vec<&GainBudgetRow> = of_pair
        .into_iter()
        .filter(|r| r.condition == condition)
        .collect();
    if let Some(largest) = rows.iter().find(|r| r.quantity == "thrust") {
        answer.remarks.push(limits(evidence, largest));
    }
    Some(DataTable {
        id: format!("budget-{}", answer.id),
        title: format!(
            "What limits the static gains {}",
            if condition == CONDITIONS[0] {
                "at the same terminal voltage"
            } else {
                "as measured"
            }
        ),
        columns: vec![
            DataColumn::new("static gain in", "", 0),
            DataColumn::new("error", "", 0),
            DataColumn::new("share of the variance", "1", 3),
            DataColumn::new("half-width of the gain", "1", 3),
            DataColumn::new("half-width of the gain with half this error", "1", 3),
        ],
        rows: rows
            .iter()
            .map(|row| {
                vec![
                    DataCell::Text(row.quantity.replace('_', " ")),
                    DataCell::Text(error(evidence, row)),
                    DataCell::Number(row.share),
                    DataCell::Number(row.half_width),
                    DataCell::Number(row.half_width_if_halved),
                ]
            })
            .collect(),
    })
}

/// "accuracy of the hanging scale (thrust)".
fn error(evidence: &Evidence, row: &GainBudgetRow) -> String {
    let mut names: Vec<String> = row
        .instruments
        .split(' ')
        .filter(|id| !id.is_empty())
        .map(|id| match evidence.season.instruments.get(id) {
            Some(instrument) => format!("the {}", instrument.name),
            None => "an instrument that is not declared".to_owned(),
        })
        .collect();
    names.dedup();
    match (names.is_empty(), row.reading.is_empty()) {
        (true, true) => row.kind.clone(),
        (true, false) => format!("{} ({})", row.kind, row.reading),
        (false, _) => format!("{} of {} ({})", row.kind, names.join(" and "), row.reading),
    }
}

fn limits(evidence: &Evidence, row: &GainBudgetRow) -> String {
    let remedy = match row.kind.as_str() {
        "scatter of repeats" => "four times as many readings would halve it",
        "accuracy" => "the same instrument on both sides would cancel it",
        "zero drift" => "taring before each run would lessen it",
        "step to equal voltage" => "readings at more alike voltages would lessen it",
        "step to equal air density" | "air density" => {
            "both runs on one day, in the same air, would lessen it"
        }
        _ => "a finer instrument would lessen it",
    };
    format!(
        "What limits the static thrust gain most is the {}: {:.0} % of its variance. With half of it \
         the gain would be known to ±{} instead of ±{}; {remedy}.",
        error(evidence, row),
        100.0 * row.share,
        percent(row.half_width_if_halved),
        percent(row.half_width)
    )
}
