//! What a page of its own shows: a flight, a power system, a comparison.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::findings::answer::{DataCell, DataTable, RowsBehind};
use crate::findings::figure::Figure;
use crate::stats::estimate::Estimate;

/// What any such page holds. Figures, tables and questions are named by their ids.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    pub estimates: BTreeMap<String, Estimate>,
    /// The order to read the estimates in; every key stands in one group.
    pub groups: Vec<Group>,
    pub figures: Vec<String>,
    pub tables: Vec<String>,
    /// Questions it bears on.
    pub questions: Vec<String>,
    /// What was found wrong with its files: places in the ledger's findings, from 0.
    pub findings: Vec<u64>,
    pub rows: RowsBehind,
}

/// Estimates that are read together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    pub title: String,
    /// Keys of the estimates.
    pub keys: Vec<String>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FlightSheet {
    pub id: String,
    /// ISO date.
    pub day: Option<String>,
    /// Place among the flights of the day, from 1; 0 where the day is not known.
    pub order_in_day: u64,
    /// Ids of the season file.
    pub airframe: Option<String>,
    pub power: Option<String>,
    pub pack: Option<String>,
    /// The pilot's names of them.
    pub airframe_name: Option<String>,
    pub power_name: Option<String>,
    pub pack_name: Option<String>,
    pub remarks: String,
    /// Files of the ledger.
    pub logs: Vec<String>,
    /// What it has and lacks, in a sentence.
    pub sentence: String,
    pub sheet: Sheet,
}

/// A flight's own pictures with their data, a file beside its page (`flights/NAME.json`): for all flights
/// of a season they would be most of the findings.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FlightDocument {
    pub schema: u32,
    /// Program version that wrote it.
    pub version: String,
    /// Id of the flight.
    pub flight: String,
    pub figures: Vec<Figure>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct PowerSheet {
    pub id: String,
    pub name: String,
    /// Place in the palette.
    pub colour: u32,
    pub sentence: String,
    /// Ids of its flights.
    pub flights: Vec<String>,
    /// Ids of the comparisons that it stands in.
    pub comparisons: Vec<String>,
    /// Bench files.
    pub benches: Vec<String>,
    pub sheet: Sheet,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ComparisonSheet {
    /// `BASELINE--CANDIDATE`.
    pub id: String,
    /// Ids of power systems.
    pub baseline: String,
    pub candidate: String,
    pub baseline_name: String,
    pub candidate_name: String,
    pub sentence: String,
    /// Ids of the flights with either.
    pub flights: Vec<String>,
    pub sheet: Sheet,
}

impl Sheet {
    /// Puts an estimate, where there is one, at the end of a group.
    pub(super) fn put(&mut self, group: &str, key: &str, estimate: Option<Estimate>) {
        let Some(estimate) = estimate else { return };
        if self.estimates.insert(key.to_owned(), estimate).is_some() {
            return;
        }
        match self.groups.iter_mut().find(|g| g.title == group) {
            Some(found) => found.keys.push(key.to_owned()),
            None => self.groups.push(Group {
                title: group.to_owned(),
                keys: vec![key.to_owned()],
            }),
        }
    }
}

/// A number that has no interval, and why.
pub(super) fn bare(value: Option<f64>, unit: &str, method: &str) -> Option<Estimate> {
    between(value, None, None, unit, method)
}

/// A number with what is known of its 95 % interval.
pub(super) fn between(
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    unit: &str,
    method: &str,
) -> Option<Estimate> {
    let value = value.filter(|v| v.is_finite())?;
    Some(Estimate {
        low: low.filter(|v| v.is_finite()),
        high: high.filter(|v| v.is_finite()),
        ..Estimate::plus_minus(value, 0.0, unit, method)
    })
}

/// A table without the columns that hold nothing in any row.
pub(super) fn without_blank_columns(mut table: DataTable) -> DataTable {
    let holds = |column: usize| {
        table.rows.iter().any(|row| match row.get(column) {
            Some(DataCell::Text(text)) => !text.is_empty(),
            Some(DataCell::Blank(())) | None => false,
            Some(_) => true,
        })
    };
    let keep: Vec<bool> = (0..table.columns.len()).map(holds).collect();
    let mut kept = keep.iter();
    table.columns.retain(|_| kept.next() == Some(&true));
    for row in &mut table.rows {
        let mut kept = keep.iter();
        row.retain(|_| kept.next() == Some(&true));
    }
    table
}
