//! Bench runs: read, checked, drawn as curves, compared.

use std::collections::BTreeMap;
use std::io;

use super::folder::Folder;
use crate::bench::{
    BenchRun, GainConditions, PowerSystemCurve, curve, exhaust_pair, read_run, static_gains,
};
use crate::findings::Ledger;
use crate::ingest::{Channel, Log, ReadOptions, read_log, read_table_as};
use crate::season::{Finding, QuestionKind, Season};
use crate::stats;
use crate::store::{SeasonTables, from_bench};

/// All bench runs of a season.
#[derive(Debug, Clone, Default)]
pub struct Benches {
    pub runs: Vec<BenchRun>,
    pub curves: BTreeMap<String, PowerSystemCurve>,
    /// Tunnel runs: power system, run id and record. Flight and bench meet by rotor speed there.
    pub records: Vec<(String, String, Log)>,
}

pub fn read(
    folder: &Folder,
    season: &Season,
    ledger: &mut Ledger,
    complaints: &mut Vec<Finding>,
) -> Benches {
    let mut out = Benches::default();
    for decl in &season.benches {
        let bytes = match folder.read(&decl.file) {
            Ok(bytes) => bytes,
            Err(error) => {
                complaints.push(missing(&decl.file, decl.line, &error));
                continue;
            }
        };
        let options = ReadOptions {
            channels: decl.channels.clone(),
            text: decl.text,
            ..ReadOptions::default()
        };
        let record = read_log(&bytes, &decl.file, &options);
        if let Some(log) = record.log.filter(is_tunnel_run) {
            ledger.files.push(record.ledger);
            complaints.extend(record.findings);
            complaints.push(tunnel(&decl.id, &decl.file));
            out.records.push((decl.power.clone(), decl.id.clone(), log));
            continue;
        }
        let read = read_run(&read_table_as(&bytes, &decl.file, decl.text), decl, season);
        ledger.files.push(read.ledger);
        complaints.extend(read.findings);
        out.runs.extend(read.run);
    }
    for power in season.powers.keys() {
        let runs: Vec<&BenchRun> = out.runs.iter().filter(|r| r.power == *power).collect();
        if let Some(mut found) = curve(power, &runs, season) {
            complaints.append(&mut found.findings);
            out.curves.insert(power.clone(), found);
        }
    }
    out
}

/// A record over time with rotor speed in an airstream and no throttle: none of its rows has a place
/// on a static curve.
fn is_tunnel_run(log: &Log) -> bool {
    let has = |channel| log.get(channel).is_some();
    has(Channel::AngularSpeed) && has(Channel::Airspeed) && !has(Channel::Throttle)
}

fn tunnel(id: &str, file: &str) -> Finding {
    Finding::note(
        "tunnel-run",
        format!(
            "bench run '{id}' records rotor speed and airspeed over time and no throttle: a tunnel \
             run, held against flights by rotor speed and no part of a static curve"
        ),
        "Add a throttle column if it was a static test.",
    )
    .in_file(file)
}

fn missing(file: &str, line: u32, error: &io::Error) -> Finding {
    Finding::error(
        "missing-bench",
        format!("the bench table '{file}' could not be read: {error}"),
        "Put it into the season folder or correct its name.",
    )
    .at("season.toml", line, None)
}

impl Benches {
    pub fn fill(&self, tables: &mut SeasonTables) {
        for run in &self.runs {
            tables
                .bench_points
                .extend(from_bench::bench_points(run, self.curves.get(&run.power)));
            tables.bench_checks.extend(from_bench::bench_checks(run));
        }
        for curve in self.curves.values() {
            tables.bench_curves.extend(from_bench::bench_curve(curve));
            tables
                .bench_exponents
                .extend(from_bench::bench_exponents(curve));
        }
    }

    /// Static gains of every pair that a question asks for, at the voltage of the passes compared.
    pub fn compare(
        &self,
        season: &Season,
        tables: &mut SeasonTables,
        complaints: &mut Vec<Finding>,
    ) {
        let mut done: Vec<(&str, &str)> = Vec::new();
        for question in &season.questions {
            let pair = (question.baseline.as_str(), question.candidate.as_str());
            if question.kind == QuestionKind::Sisters || done.contains(&pair) {
                continue;
            }
            done.push(pair);
            let (Some(baseline), Some(candidate)) =
                (self.curves.get(pair.0), self.curves.get(pair.1))
            else {
                continue;
            };
            let mean_of = |pick: fn(&crate::store::FlightRow) -> Option<f64>| {
                let values: Vec<f64> = tables
                    .flights
                    .iter()
                    .filter(|f| [Some(pair.0), Some(pair.1)].contains(&f.power.as_deref()))
                    .filter_map(pick)
                    .collect();
                (!values.is_empty()).then(|| (stats::mean(&values), values))
            };
            let resistance = mean_of(|f| f.pack_resistance_ohm).map(|(mean, all)| {
                (
                    mean,
                    if all.len() > 1 {
                        stats::sd(&all)
                    } else {
                        0.2 * mean
                    },
                )
            });
            let conditions = GainConditions {
                reference_voltage: mean_of(|f| f.pass_voltage_v).map(|m| m.0),
                density: None,
                pack_open_circuit_v: mean_of(|f| f.pass_open_circuit_v).map(|m| m.0),
                pack_resistance: resistance.or_else(|| declared_resistance(season, pair.0)),
            };
            let gains = static_gains(baseline, candidate, conditions);
            tables.static_gains.extend(from_bench::static_gains(&gains));
            tables.gain_budgets.extend(from_bench::gain_budgets(&gains));
            if let Some((check, finding)) = exhaust_pair(baseline, candidate) {
                let run = candidate.full_throttle.first();
                tables.bench_checks.push(crate::store::BenchCheckRow {
                    run: run.map_or_else(String::new, |r| r.run.clone()),
                    power: candidate.power.clone(),
                    file: String::new(),
                    line: i64::from(check.line),
                    code: check.code,
                    passed: check.passed,
                    what: check.what,
                    action: check.action,
                });
                complaints.extend(finding);
            }
        }
    }
}

/// The declared (or default) resistance of the pack a system usually flies with; a default is taken
/// as good to a third (common practice, no source).
fn declared_resistance(season: &Season, power: &str) -> Option<(f64, f64)> {
    let pack = season.powers.get(power)?.pack.as_ref()?;
    let resistance = season.packs.get(pack)?.resistance_ohm;
    let relative = if resistance.is_default {
        1.0 / 3.0
    } else {
        0.1
    };
    Some((resistance.value, relative * resistance.value))
}
