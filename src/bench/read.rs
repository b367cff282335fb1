//! A bench table as checked SI readings.

use std::collections::BTreeMap;

use crate::bench::air::declared_density;
use crate::bench::checks::check_run;
use crate::bench::columns::{CHANNELS, Column, columns, largest, measured};
use crate::bench::model::{BenchPoint, BenchRun, Censor};
use crate::bench::supply::take_out_stuck;
use crate::ingest::{
    Assignment, Cell, Channel, FileLedger, Purpose, Table, TableRead, assign_channels,
};
use crate::season::{BenchDecl, Finding, Season};

/// What reading a bench table gave.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchRead {
    /// `None` when no row is usable.
    pub run: Option<BenchRun>,
    pub ledger: FileLedger,
    /// Of the table, its channels and the checks.
    pub findings: Vec<Finding>,
}

/// Rows without a throttle column are repeats at full throttle if they come this near the largest.
const NEAR_EQUAL: f64 = 0.90;
/// Readings below zero by less than this share of the column's largest are zero drift.
const DRIFT: f64 = 0.02;

/// Reads and checks one bench run.
pub fn read_run(read: &TableRead, decl: &BenchDecl, season: &Season) -> BenchRead {
    let mut out = BenchRead {
        run: None,
        ledger: read.ledger.clone(),
        findings: read.findings.clone(),
    };
    let Some(mut table) = read.table.clone() else {
        out.findings.push(unusable(decl, "the file holds no table"));
        return out;
    };
    table.declare_marks(&decl.channels);
    let table = &table;
    let Some(power) = season.powers.get(&decl.power) else {
        out.findings.push(unusable(
            decl,
            &format!("the power system '{}' is not declared", decl.power),
        ));
        return out;
    };
    let assignment = assign_channels(table, &decl.channels, Purpose::Bench);
    out.findings.extend(assignment.findings.clone());
    let columns = columns(season, decl, table, &assignment, &mut out.findings);
    let mut points = points(table, &assignment, &columns, decl, &mut out);
    zero_current(decl, &mut points, &mut out.findings);
    points.retain(|p| {
        let usable = p.readings.keys().any(|c| {
            !p.set_aside.contains_key(c) && !matches!(c, Channel::Voltage | Channel::AngularSpeed)
        });
        if !usable {
            out.ledger.withdraw(
                "no-reading",
                u64::from(p.line),
                "no current, power, thrust or exhaust speed",
            );
        }
        usable
    });
    place_throttle(&assignment, decl, &mut points, &mut out);
    let stuck = take_out_stuck(&mut points);
    for line in &stuck {
        out.ledger.withdraw(
            "stuck-reading",
            u64::from(*line),
            "volts, amps and thrust repeat the row before while the throttle rises",
        );
    }
    if let Some(first) = stuck.first() {
        out.findings.push(
            Finding::warning(
                "stuck-reading",
                format!(
                    "{} rows repeat the readings of the row before to the last digit while the \
                     throttle rises",
                    stuck.len()
                ),
                "They were set aside. Wait for the meter to refresh before noting a row.",
            )
            .at(&decl.file, *first, None),
        );
    }
    if points.is_empty() {
        out.findings
            .push(unusable(decl, "no row holds a usable reading"));
        return out;
    }
    let mut run = BenchRun {
        id: decl.id.clone(),
        power: decl.power.clone(),
        airframe: decl.airframe.clone(),
        file: decl.file.clone(),
        density: declared_density(decl, season, &mut out.findings),
        points,
        checks: Vec::new(),
    };
    let peak_hold = columns.iter().any(|c| c.accuracy.peak_hold);
    out.findings
        .extend(check_run(&mut run, power.outlet_area_m2, peak_hold));
    out.run = Some(run);
    out
}

fn unusable(decl: &BenchDecl, why: &str) -> Finding {
    Finding::error(
        "bench-unusable",
        format!("bench run '{}': {why}", decl.id),
        "Give a header with units and at least one row with thrust, or volts and amps; the other \
         runs are used without it.",
    )
    .in_file(&decl.file)
}

fn points(
    table: &Table,
    assignment: &Assignment,
    columns: &[Column],
    decl: &BenchDecl,
    out: &mut BenchRead,
) -> Vec<BenchPoint> {
    let throttle = assignment.get(Channel::Throttle);
    let timed = assignment.get(Channel::Time).is_some();
    let mut points = Vec::new();
    let mut previous: Option<usize> = None;
    for (row, source) in table.rows.iter().enumerate() {
        let repeated = timed && previous.is_some_and(|p| table.rows[p].cells == source.cells);
        previous = Some(row);
        if repeated {
            out.ledger.withdraw(
                "repeated-row",
                u64::from(source.line),
                "the same row, time included, stands above",
            );
            continue;
        }
        let place = throttle.map(|c| table.value(row, c));
        if let (Some(c), Some(Cell::Bad)) = (throttle, place) {
            out.findings.push(table.bad_cell(row, c));
        }
        let mut point = BenchPoint {
            file: decl.file.clone(),
            line: source.line,
            throttle: place.and_then(|cell| cell.number()),
            readings: BTreeMap::new(),
            set_aside: BTreeMap::new(),
        };
        for column in columns {
            let channel = column.assigned.channel;
            let (value, censor) = match table.value(row, column.assigned) {
                Cell::Blank => continue,
                Cell::Bad => {
                    out.findings.push(table.bad_cell(row, column.assigned));
                    continue;
                }
                Cell::Number(x) => (x, Censor::Exact),
                Cell::Above(x) => (x, Censor::Above),
                Cell::Below(x) => (x, Censor::Below),
            };
            let measured = measured(value, censor, column);
            // Just below zero is how a scale drifts; far below is a sensor the wrong way round.
            if value < -DRIFT * largest(table, column) {
                point
                    .set_aside
                    .insert(channel, "negative reading".to_owned());
            }
            point.readings.insert(channel, measured);
        }
        points.push(point);
    }
    negative(&points, decl, &mut out.findings);
    points
}

fn negative(points: &[BenchPoint], decl: &BenchDecl, findings: &mut Vec<Finding>) {
    for channel in CHANNELS {
        let lines: Vec<u32> = points
            .iter()
            .filter(|p| p.set_aside.contains_key(&channel))
            .map(|p| p.line)
            .collect();
        if let Some(first) = lines.first() {
            findings.push(
                Finding::warning(
                    "negative-reading",
                    format!("{} is negative, in {} row(s)", channel.word(), lines.len()),
                    format!(
                        "Those readings were set aside. If the sensor is mounted the other way \
                         round, declare {} with scale = -1; if it was not zeroed, zero it.",
                        channel.word()
                    ),
                )
                .at(&decl.file, *first, None),
            );
        }
    }
}

/// A current of 0 in every row is a dead sensor, not a motor that draws nothing.
fn zero_current(decl: &BenchDecl, points: &mut [BenchPoint], findings: &mut Vec<Finding>) {
    let currents = || points.iter().filter_map(|p| p.get(Channel::Current));
    let recorded = currents().count();
    if recorded > 0 && currents().any(|i| i.value != 0.0) {
        return;
    }
    let with_thrust = points.iter().any(|p| p.get(Channel::Thrust).is_some());
    for point in points.iter_mut() {
        if point.readings.contains_key(&Channel::Current) {
            point
                .set_aside
                .insert(Channel::Current, "current reads 0 throughout".to_owned());
        }
    }
    let what = if recorded > 0 {
        "the current reads 0 in every row"
    } else {
        "no current was read"
    };
    findings.push(
        Finding::warning(
            "no-current",
            format!("bench run '{}': {what}", decl.id),
            if with_thrust {
                "Thrust is used; power, efficiency, headroom and the bench curve need amps: check \
                 the sensor's wiring and range."
            } else {
                "Power, efficiency, headroom and the bench curve need amps: check the sensor's \
                 wiring and range."
            },
        )
        .in_file(&decl.file),
    );
}

/// Gives rows of a table without throttle their place, and sets aside rows that have none.
fn place_throttle(
    assignment: &Assignment,
    decl: &BenchDecl,
    points: &mut Vec<BenchPoint>,
    out: &mut BenchRead,
) {
    let without_column = assignment.get(Channel::Throttle).is_none();
    if without_column {
        let of = |p: &BenchPoint, c: Channel| p.exact(c).map(|m| m.value);
        let load = [Channel::Current, Channel::Power, Channel::Thrust]
            .into_iter()
            .find(|c| points.iter().any(|p| of(p, *c).is_some()));
        let largest = load.map_or(0.0, |c| {
            points.iter().filter_map(|p| of(p, c)).fold(0.0, f64::max)
        });
        for point in points.iter_mut() {
            let value = load.and_then(|c| of(point, c)).unwrap_or(largest);
            if value >= NEAR_EQUAL * largest {
                point.throttle = Some(1.0);
            }
        }
        let full = points.iter().filter(|p| p.throttle.is_some()).count();
        let what = match full {
            0 => return,
            1 => "its highest row counts as full throttle".to_owned(),
            n => format!("{n} rows of near-equal load count as repeats at full throttle"),
        };
        out.findings.push(
            Finding::note(
                "full-throttle-assumed",
                format!("bench run '{}' has no throttle column: {what}", decl.id),
                "Add a throttle column if that is wrong.",
            )
            .in_file(&decl.file),
        );
    } else if !decl.equal_duty {
        out.findings.push(
            Finding::note(
                "equal-duty",
                format!(
                    "bench run '{}': that equal throttle means equal duty is assumed",
                    decl.id
                ),
                "Declare equal_duty = true if end points, timing and controller were the same as \
                 on the other runs and in flight.",
            )
            .at("season.toml", decl.line, None),
        );
    }
    points.retain(|p| {
        if p.throttle.is_none() {
            out.ledger.withdraw(
                "no-throttle",
                u64::from(p.line),
                "no throttle, so the row has no place on the curve",
            );
        }
        p.throttle.is_some()
    });
}
