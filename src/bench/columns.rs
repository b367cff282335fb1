//! The columns of a bench table with the accuracy of what filled them.

use crate::bench::model::{Censor, Measured};
use crate::ingest::{AssignedColumn, Assignment, Channel, Purpose, Table, assign_channels};
use crate::season::{Accuracy, BenchDecl, Finding, Season};
use crate::stats::gum::{rectangular, resolution};
use crate::units::{find, words};

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
    let digits = (0..table.rows.len())
        .map(|row| table.text(row, column.index))
        .filter(|text| text.contains(|c: char| c.is_ascii_digit()))
        .map(|text| match text.rsplit_once(['.', ',']) {
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

/// Columns whose name means something a bench measures while their unit measures something else.
pub(super) fn wrong_units(
    table: &Table,
    decl: &BenchDecl,
    assignment: &Assignment,
    findings: &mut Vec<Finding>,
) {
    let mut without_units = table.clone();
    for header in &mut without_units.header {
        header.unit = None;
    }
    let bare = assign_channels(&without_units, &decl.channels, Purpose::Bench);
    let named = |index: usize| {
        bare.columns.iter().any(|c| c.index == index)
            || bare.findings.iter().any(|f| {
                let column = f.place.as_ref().and_then(|p| p.column);
                f.code == "unit-missing" && column == Some(index as u32 + 1)
            })
    };
    for (index, header) in table.header.iter().enumerate() {
        let taken = assignment.columns.iter().any(|c| c.index == index);
        let (false, Some(unit), true) = (taken, &header.unit, named(index)) else {
            continue;
        };
        // With a unit of which quantity would it be understood?
        let meant = CHANNELS.into_iter().find(|channel| {
            let mut right = table.clone();
            let si = words(channel.quantity()).first().copied();
            right.header[index].unit = si.map(str::to_owned);
            let assignment = assign_channels(&right, &decl.channels, Purpose::Bench);
            find(unit, channel.quantity()).is_none()
                && assignment.get(*channel).is_some_and(|c| c.index == index)
        });
        let Some(channel) = meant else { continue };
        let (word, quantity) = (channel.word(), channel.quantity());
        let finding = Finding::error(
            "wrong-unit",
            format!(
                "'{}' looks like {word}, but '{unit}' is no unit of {}",
                header.text,
                quantity.name()
            ),
            format!(
                "The column is not used. Correct the header, or name the unit in the season: \
                 {word} = {{ column = \"{}\", unit = \"…\" }}.",
                header.text
            ),
        )
        .expected(words(quantity).join(", "));
        findings.push(match table.dialect.header_line {
            Some(line) => finding.at(&decl.file, line, Some(index as u32 + 1)),
            None => finding.in_file(&decl.file),
        });
    }
}
