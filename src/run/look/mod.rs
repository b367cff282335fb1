//! What is in a file: how it is written, what its columns seem to mean and how sure that is, its
//! clock, its track, and the line that overrules each guess.

mod columns;
mod motion;
mod screen;
mod season;
mod spark;
mod tally;
mod words;
mod written;

use serde::Serialize;

use super::sensors;
use crate::ingest::{
    AssignedColumn, Assignment, Cell, Channel, Dialect, FileLedger, Purpose, ReadOptions, Scan,
    Source, Table, assign_channels, log_of, read_log_from, scan,
};
use crate::season::{Accuracy, ChannelMap, Finding, Severity};

pub use crate::ingest::Format;
pub use crate::ingest::toml_string;
pub use columns::{Certainty, ColumnLook};
pub use motion::{Gap, TimeLook, TrackLook};
pub use screen::screen;
pub use season::{Declared, declared};
pub use written::{Unwritten, Written, as_csv};

/// Findings whose line overrules a guess of the whole file.
const OF_THE_FILE: [&str; 5] = [
    "date-order-assumed",
    "date-from-preamble",
    "encoding-assumed",
    "row-numbers-assumed",
    "rows-longer-than-header",
];
/// Rows that one writes by hand.
const BY_HAND: usize = 30;
/// Rows without a clock beyond this are a recording, not a bench table written by hand.
const BENCH_ROWS: usize = 500;

/// What the season says about a file; empty where nobody declared anything.
#[derive(Debug, Clone, Default)]
pub struct LookOptions {
    pub read: ReadOptions,
    /// Declared as a bench table.
    pub bench: bool,
    /// What is declared of its current sensor.
    pub current: Option<Accuracy>,
}

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    BenchTable,
    OnboardLog,
    PositionTrack,
    /// A table that is none of these.
    OtherTable,
    Unreadable,
}

impl Kind {
    pub fn words(self) -> &'static str {
        match self {
            Self::BenchTable => "bench table",
            Self::OnboardLog => "onboard log",
            Self::PositionTrack => "position track",
            Self::OtherTable => "a table, neither bench nor log",
            Self::Unreadable => "could not be read",
        }
    }
}

/// All that `look` shows of one file.
#[derive(Debug, Clone, Serialize)]
pub struct Look {
    pub file: String,
    pub bytes: u64,
    /// `None` where the file could not be opened or is of no format that is read here.
    pub format: Option<Format>,
    pub kind: Kind,
    /// How delimited text is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dialect: Option<Dialect>,
    pub ledger: FileLedger,
    /// Lines at which the recording starts again under a repeated header.
    pub restart_lines: Vec<u32>,
    pub columns: Vec<ColumnLook>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time: Option<TimeLook>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub track: Option<TrackLook>,
    pub findings: Vec<Finding>,
    /// Lines for the file's entry in season.toml that overrule what was guessed of the whole file.
    pub overrule: Vec<String>,
    /// A line of a channel map that gives a meaning to the first column without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub example: Option<String>,
}

impl Look {
    pub fn is_readable(&self) -> bool {
        self.kind != Kind::Unreadable
    }

    pub fn column(&self, channel: Channel) -> Option<&ColumnLook> {
        self.columns.iter().find(|c| c.channel == Some(channel))
    }

    /// A file that could not be opened.
    pub fn unopened(file: &str, error: &std::io::Error) -> Self {
        let finding = Finding::error(
            "unreadable-file",
            format!("the file could not be read: {error}"),
            "Check its name, and that you may read it.",
        );
        Self {
            file: file.to_owned(),
            bytes: 0,
            format: None,
            kind: Kind::Unreadable,
            dialect: None,
            ledger: FileLedger::new(file),
            restart_lines: Vec::new(),
            columns: Vec::new(),
            time: None,
            track: None,
            findings: vec![finding.in_file(file)],
            overrule: Vec::new(),
            example: None,
        }
    }
}

/// Looks into a file; never fails.
pub fn look(source: &dyn Source, file: &str, options: &LookOptions) -> Look {
    let opened = Format::of(source).and_then(|format| Ok((format, source.length()?)));
    let (format, bytes) = match opened {
        Ok(opened) => opened,
        Err(error) => return Look::unopened(file, &error),
    };
    let mut out = match format {
        Format::Gpx | Format::Igc | Format::Nmea => track_look(source, file, options),
        Format::Delimited | Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            match scan(source, file, options.read.text) {
                Ok(scan) if scan.rows > 0 => table_look(scan, format, options),
                Ok(scan) => blank(file, Kind::Unreadable, scan.ledger, scan.findings),
                Err(findings) => blank(file, Kind::Unreadable, FileLedger::new(file), findings),
            }
        }
    };
    let foreign = |f: &Finding| {
        ["not-a-table", "not-text", "prose", "program-text"].contains(&f.code.as_str())
    };
    out.format = Some(format).filter(|_| !out.findings.iter().any(foreign));
    out.bytes = bytes;
    out
}

fn blank(file: &str, kind: Kind, ledger: FileLedger, findings: Vec<Finding>) -> Look {
    Look {
        file: file.to_owned(),
        bytes: 0,
        format: None,
        kind,
        dialect: None,
        ledger,
        restart_lines: Vec::new(),
        columns: Vec::new(),
        time: None,
        track: None,
        findings,
        overrule: Vec::new(),
        example: None,
    }
}

/// A format that names its own channels.
fn track_look(source: &dyn Source, file: &str, options: &LookOptions) -> Look {
    let read = read_log_from(source, file, &options.read);
    let Some(log) = read.log else {
        return blank(file, Kind::Unreadable, read.ledger, read.findings);
    };
    let electrical = ELECTRICAL.iter().any(|c| log.get(*c).is_some());
    let kind = if electrical {
        Kind::OnboardLog
    } else {
        Kind::PositionTrack
    };
    let mut out = blank(file, kind, read.ledger, read.findings);
    out.columns = columns::of_log(&log);
    out.time = Some(motion::time(&log, &out.findings));
    out.track = motion::track(&log);
    out
}

fn table_look(mut scan: Scan<'_>, format: Format, options: &LookOptions) -> Look {
    let map: &ChannelMap = &options.read.channels;
    scan.table.declare_marks(map);
    let table = scan.table.clone();
    let bench = assign_channels(&table, map, Purpose::Bench);
    let log = assign_channels(&table, map, Purpose::Log);
    let kind = kind(&table, scan.rows, &bench, &log, options.bench);
    let file = table.file.as_str();
    let mut out = blank(file, kind, scan.ledger.clone(), scan.findings.clone());
    out.restart_lines.clone_from(&scan.restart_lines);
    let tallies = match tally::tally(&scan) {
        Ok(tallies) => tallies,
        Err(error) => {
            out.findings
                .push(Look::unopened(file, &error).findings.remove(0));
            Vec::new()
        }
    };
    let read = log_of(scan, &options.read);
    let is_log = matches!(kind, Kind::OnboardLog | Kind::PositionTrack);
    let assignment = match kind {
        Kind::BenchTable => {
            out.findings.extend(bench.findings.clone());
            out.findings.extend(bad_cells(&table, &bench));
            bench
        }
        Kind::OnboardLog | Kind::PositionTrack => {
            out.ledger = read.ledger;
            out.findings = read.findings;
            log
        }
        Kind::OtherTable | Kind::Unreadable => {
            out.findings.extend(log.findings.clone());
            log
        }
    };
    let step_s = read.log.as_ref().map(|log| log.step_s);
    if kind != Kind::OtherTable
        && let Some(log) = read.log
    {
        out.time = Some(motion::time(&log, &out.findings));
        out.track = motion::track(&log);
        if is_log {
            let told = sensors::of_log(log, options.current.as_ref());
            out.findings.extend(told);
        }
    }
    if is_log && assignment.get(Channel::Time).is_none() && options.read.rate_hz.is_none() {
        out.overrule
            .push("rate = \"10 Hz\"    # in [[logs]]; or name the time column".to_owned());
    }
    let section = if is_log { "[[logs]]" } else { "[[bench]]" };
    for finding in &out.findings {
        // The lines of single columns stand beside these.
        if OF_THE_FILE.contains(&finding.code.as_str())
            && let Some(line) = &finding.overrule
        {
            out.overrule.push(format!("{line}    # in {section}"));
        }
    }
    let zone_open = out.findings.iter().any(|f| f.code == "zone-unknown");
    if zone_open && options.read.zone.is_none() {
        out.overrule.push(
            "zone = \"Europe/Vienna\"    # in [site]: the zone of the logger's clock".to_owned(),
        );
    }
    out.columns = columns::of_table(&table, &tallies, &assignment, &out.findings, step_s);
    out.example = columns::example(&out.columns, &out.findings);
    let is_text = format == Format::Delimited;
    out.dialect = is_text.then_some(table.dialect);
    out
}

/// Cells of a bench table that `check` would complain of.
fn bad_cells(table: &Table, bench: &Assignment) -> Vec<Finding> {
    let columns = bench.columns.iter().filter(|c| c.channel != Channel::Time);
    columns
        .flat_map(|c| (0..table.rows.len()).map(move |row| (row, c)))
        .filter(|(row, c)| table.value(*row, c) == Cell::Bad)
        .map(|(row, c)| table.bad_cell(row, c))
        .collect()
}

const ELECTRICAL: [Channel; 6] = [
    Channel::Throttle,
    Channel::Voltage,
    Channel::Current,
    Channel::Power,
    Channel::Charge,
    Channel::AngularSpeed,
];

/// Bench, log or track, by the channels found.
fn kind(
    table: &Table,
    rows: usize,
    bench: &Assignment,
    log: &Assignment,
    declared_bench: bool,
) -> Kind {
    let logged = |c: &Channel| log.get(*c).is_some();
    let electrical = ELECTRICAL.iter().filter(|c| logged(c)).count();
    let placed = logged(&Channel::GroundSpeed)
        || (logged(&Channel::Latitude) && logged(&Channel::Longitude));
    let thrust = bench.get(Channel::Thrust).is_some();
    if declared_bench || (thrust && !placed) {
        return Kind::BenchTable;
    }
    if logged(&Channel::Time) {
        return match (electrical > 0, placed) {
            (true, _) => Kind::OnboardLog,
            (false, true) => Kind::PositionTrack,
            (false, false) if log.columns.len() > 1 => Kind::OnboardLog,
            _ => Kind::OtherTable,
        };
    }
    let exhaust = usize::from(bench.get(Channel::ExhaustSpeed).is_some());
    let metered = [Channel::Throttle, Channel::Voltage, Channel::Current]
        .iter()
        .any(logged);
    if electrical + exhaust < 2 || !metered {
        return Kind::OtherTable;
    }
    // What a bench alone has: the air it moves, steps of the throttle, as few rows as one writes.
    let stepped = log
        .get(Channel::Throttle)
        .is_some_and(|c| is_stepped(table, c));
    if exhaust > 0 || rows <= BY_HAND || (stepped && rows <= BENCH_ROWS) {
        Kind::BenchTable
    } else {
        Kind::OnboardLog
    }
}

/// Throttle that goes up (or down) from row to row, back to its start at most a few times.
fn is_stepped(table: &Table, throttle: &AssignedColumn) -> bool {
    let values: Vec<f64> = (0..table.rows.len())
        .filter_map(|row| table.value(row, throttle).number())
        .collect();
    let steps = || values.windows(2).map(|w| w[1] - w[0]);
    let (up, down) = (
        steps().filter(|s| *s > 0.0).count(),
        steps().filter(|s| *s < 0.0).count(),
    );
    10 * up.min(down) <= up + down
}

/// True where any file has an error that leaves nothing of it.
pub fn any_unreadable(looks: &[Look]) -> bool {
    looks.iter().any(|l| !l.is_readable())
}

/// A row was set aside, or something could not be used.
pub fn any_set_aside(looks: &[Look]) -> bool {
    looks.iter().any(|l| {
        l.ledger.rows_set_aside > 0 || l.findings.iter().any(|f| f.severity == Severity::Error)
    })
}
