//! The columns of a bench table with the accuracy of what filled them.

use crate::bench::model::{Censor, Measured};
use crate::ingest::{AssignedColumn, Assignment, Channel, Table};
use crate::season::{Accuracy, BenchDecl, Finding, Season};
use crate::stats::gum::{rectangular, resolution};

/// What a bench can measure.
pub(super) const CHANNELS: [Channel; 6] = [
    Channel::Voltage,
    Channel::Current,
    Channel::Power,
    Channel::Thrust,
    Channel::ExhaustSpeed,
    Channel::AngularSpeed,
];
/// True for what the season assumes where no instrument is declared.
pub(super) fn is_usual(instrument: &str) -> bool {
    instrument.starts_with("usual:")
}

/// A column with the accuracy of what filled it.
pub(super) struct Column<'a> {
    pub assigned: &'a AssignedColumn,
    pub instrument: String,
    pub accuracy: Accuracy,
    /// SI; declared, else the finest step written in the column.
    pub resolution: f64,
}

pub(super) fn columns<'a>(
    season: &Season,
    decl: &BenchDecl,
    table: &Table,
    assignment: &'a Assignment,
    findings: &mut Vec<Finding>,
) -> Vec<Column<'a>> {
    let mut undeclared = Vec::new();
    let columns = assignment
        .columns
        .iter()
        .filter(|c| CHANNELS.contains(&c.channel))
        .filter_map(|assigned| {
            let (instrument, accuracy) = season.accuracy(decl, assigned.channel.word())?;
            if is_usual(&instrument) && assigned.channel != Channel::AngularSpeed {
                undeclared.push(assigned.channel.word());
            }
            let resolution = if accuracy.resolution.value > 0.0 {
                accuracy.resolution.value
            } else {
                written_step(table, assigned)
            };
            Some(Column {
                assigned,
                instrument,
                accuracy,
                resolution,
            })
        })
        .collect();
    if !undeclared.is_empty() {
        findings.push(
            Finding::note(
                "undeclared-instrument",
                format!(
                    "no instrument of bench run '{}' measures {}: usual accuracies were taken",
                    decl.id,
                    undeclared.join(", ")
                ),
                "Declare the instrument and name it in both runs: the scale error of a shared \
                 instrument then cancels in the gain.",
            )
            .in_file(&decl.file),
        );
    }
    columns
}

/// Step of the last digit written in a column, SI; 0 where numbers have an exponent.
fn written_step(table: &Table, column: &AssignedColumn) -> f64 {
    let grouping = table.header[column.index].marks.map(|m| m.grouping());
    let digits = (0..table.rows.len())
        .map(|row| table.text(row, column.index))
        .filter(|text| text.contains(|c: char| c.is_ascii_digit()))
        .map(|text| match text.rsplit_once(['.', ',']) {
            Some((whole, _)) if grouping.is_some_and(|g| text[whole.len()..].starts_with(g)) => 0,
            _ if text.contains(['e', 'E']) => 18,
            Some((_, decimals)) => decimals.chars().filter(char::is_ascii_digit).count(),
            None => 0,
        })
        .max();
    digits.map_or(0.0, |d| 10f64.powi(-(d as i32)) * column.factor.abs())
}

pub(super) fn measured(value: f64, censor: Censor, column: &Column) -> Measured {
    let at_end = column.accuracy.range_end.is_some_and(|end| value >= end);
    Measured {
        value,
        u_independent: resolution(column.resolution),
        u_scale: rectangular(column.accuracy.fraction.value),
        u_zero: rectangular(column.accuracy.absolute.value),
        instrument: Some(column.instrument.clone()),
        censor: if at_end && censor == Censor::Exact {
            Censor::Above
        } else {
            censor
        },
    }
}

/// Largest reading of a column without its sign, SI.
pub(super) fn largest(table: &Table, column: &Column) -> f64 {
    (0..table.rows.len())
        .filter_map(|row| table.value(row, column.assigned).number())
        .fold(0.0, |most, x| x.abs().max(most))
}
