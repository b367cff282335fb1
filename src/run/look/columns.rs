//! A line a column: what it is taken for, how sure that is, and what overrules it.

use serde::{Serialize, Serializer};

use super::motion::span;
use super::spark::sparkline;
use super::tally::{Tally, number};
use crate::ingest::{AssignedColumn, Assignment, Cell, Channel, How, Log, Table, toml_string};
use crate::season::Finding;
use crate::units;

/// How a column got its channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Certainty {
    /// The season file says so.
    Declared,
    /// Name and unit, or the format, say so.
    Recognised,
    /// Name or unit had to be guessed.
    Guess,
    /// The calendar date beside the time.
    Date,
    NotRecognised,
}

impl Certainty {
    pub fn words(self) -> &'static str {
        match self {
            Self::Declared => "declared",
            Self::Recognised => "recognised",
            Self::Guess => "a guess",
            Self::Date => "date",
            Self::NotRecognised => "-",
        }
    }
}

#[derive(Debug, Clone, Serialize)]
pub struct ColumnLook {
    /// Counted from 1.
    pub number: usize,
    /// As written; empty where there is none.
    pub header: String,
    /// How a channel map names it.
    pub key: String,
    #[serde(serialize_with = "word", rename = "channel")]
    pub channel: Option<Channel>,
    /// The unit the file's numbers are read in.
    pub unit: String,
    pub certainty: Certainty,
    /// Why it is a guess.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reasons: Vec<String>,
    /// Least and greatest number as written.
    pub range: Option<(f64, f64)>,
    /// First and last time stamp as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stamps: Option<(String, String)>,
    /// The range in the channel's own unit.
    pub range_si: Option<(f64, f64)>,
    /// UCUM code.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit_si: Option<&'static str>,
    /// Share of the rows that give a value (of columns without a channel: whose cell is filled).
    pub present: f64,
    /// Filled cells of a channel that give no value.
    pub unreadable: usize,
    /// Filled cells that only bound their value (`>80`).
    #[serde(skip_serializing_if = "is_zero")]
    pub bounds: usize,
    /// An end of the range is such a bound: the low one, the high one.
    #[serde(skip)]
    pub open_ends: (bool, bool),
    pub sparkline: String,
    /// The line in the channel map that overrules a guess.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overrule: Option<String>,
}

fn is_zero(count: &usize) -> bool {
    *count == 0
}

fn word<S: Serializer>(channel: &Option<Channel>, to: S) -> Result<S::Ok, S::Error> {
    channel.map(Channel::word).serialize(to)
}

impl ColumnLook {
    /// What to call it.
    pub fn name(&self) -> String {
        if self.header.is_empty() {
            format!("#{}", self.number)
        } else {
            self.header.clone()
        }
    }
}

/// The columns of a format that names its own channels.
pub fn of_log(log: &Log) -> Vec<ColumnLook> {
    let series = log.channels.iter().map(|(channel, series)| {
        let present = series.iter().filter(|x| x.is_finite()).count();
        ColumnLook {
            number: 0,
            header: String::new(),
            key: String::new(),
            channel: Some(*channel),
            unit: channel.unit().to_owned(),
            certainty: Certainty::Recognised,
            reasons: Vec::new(),
            range: span(series.iter().copied()),
            stamps: None,
            range_si: span(series.iter().copied()),
            unit_si: Some(channel.unit()),
            present: present as f64 / series.len().max(1) as f64,
            unreadable: 0,
            bounds: 0,
            open_ends: (false, false),
            sparkline: sparkline(series),
            overrule: None,
        }
    });
    series
        .enumerate()
        .map(|(index, column)| ColumnLook {
            number: index + 1,
            ..column
        })
        .collect()
}

pub fn of_table(
    table: &Table,
    tallies: &[Tally],
    assignment: &Assignment,
    findings: &[Finding],
    step_s: Option<f64>,
) -> Vec<ColumnLook> {
    tallies
        .iter()
        .enumerate()
        .map(|(index, tally)| {
            let assigned = assignment.columns.iter().find(|c| c.index == index);
            let mut look = plain(table, index, tally);
            if let Some(column) = assigned {
                fill(&mut look, table, tally, column, findings, step_s);
            } else if assignment.date == Some(index) {
                look.certainty = Certainty::Date;
                look.stamps = tally.ends.clone();
            } else {
                doubts(&mut look, table, index, findings);
            }
            look
        })
        .collect()
}

fn plain(table: &Table, index: usize, tally: &Tally) -> ColumnLook {
    let header = &table.header[index];
    ColumnLook {
        number: index + 1,
        header: header.text.clone(),
        key: table.column_key(index),
        channel: None,
        unit: header.unit.clone().unwrap_or_default(),
        certainty: Certainty::NotRecognised,
        reasons: Vec::new(),
        range: tally.range,
        stamps: None,
        range_si: None,
        unit_si: None,
        present: tally.filled as f64 / tally.rows.max(1) as f64,
        unreadable: 0,
        bounds: tally.bounds,
        open_ends: tally.range.map_or((false, false), |(low, high)| {
            (tally.below == Some(low), tally.above == Some(high))
        }),
        sparkline: tally.spark.line(),
        overrule: None,
    }
}

fn fill(
    look: &mut ColumnLook,
    table: &Table,
    tally: &Tally,
    column: &AssignedColumn,
    findings: &[Finding],
    step_s: Option<f64>,
) {
    let channel = column.channel;
    look.channel = Some(channel);
    look.unit.clone_from(&column.unit);
    look.unit_si = Some(channel.unit());
    look.range_si = tally.range.and_then(|(low, high)| {
        let ends = [low, high].map(|x| number(column.to_si(Cell::Number(x))));
        span(ends.into_iter().flatten())
    });
    let stamps = channel == Channel::Time && tally.rows > 0 && 2 * tally.bad > tally.filled;
    if !stamps {
        look.present = (tally.filled - tally.bad) as f64 / tally.rows.max(1) as f64;
        look.unreadable = tally.bad;
    }
    if channel == Channel::Time {
        look.stamps = tally.ends.clone().filter(|_| stamps);
        if column.unit.is_empty() && !stamps {
            look.unit = step_s
                .and_then(|step_s| time_unit(&tally.numbers, step_s))
                .unwrap_or_default()
                .to_owned();
        }
        if column.unit.is_empty() {
            let unit = units::find(&look.unit, units::Quantity::Time);
            let si = unit.and_then(|u| Some((u, look.range?)));
            look.range_si = si.map(|(u, (low, high))| (u.to_si(low), u.to_si(high)));
        }
    }
    if column.how == How::Declared {
        look.certainty = Certainty::Declared;
        return;
    }
    look.certainty = Certainty::Recognised;
    doubts(look, table, column.index, findings);
    let order = findings.iter().find(|f| f.code == "date-order-assumed");
    if let Some(order) = order.filter(|_| channel == Channel::Time && stamps) {
        look.reasons.push(order.what.clone());
    }
    if !look.reasons.is_empty() {
        look.certainty = Certainty::Guess;
    }
}

/// What the reader had to assume of a column, and the line by which it would be read another way.
fn doubts(look: &mut ColumnLook, table: &Table, index: usize, findings: &[Finding]) {
    let own = format!("'{}'", table.column_name(index));
    let of_it = findings.iter().filter(|f| {
        let place = f.place.as_ref().and_then(|p| p.column);
        f.overrule.is_some()
            && match place {
                Some(place) => place as usize == index + 1,
                None => f.what.starts_with(&own),
            }
    });
    for finding in of_it {
        let what = finding.what.as_str();
        let bare = what.strip_prefix(&own).and_then(|w| w.strip_prefix(": "));
        look.reasons.push(bare.unwrap_or(what).to_owned());
        if look.overrule.is_none() {
            look.overrule.clone_from(&finding.overrule);
        }
    }
}

/// The unit in which the reader took a time column without one: it makes the log's own steps.
fn time_unit(times: &[f64], step_s: f64) -> Option<&'static str> {
    let steps: Vec<f64> = times
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|s| *s > 0.0)
        .collect();
    if steps.is_empty() {
        return None;
    }
    let step = crate::stats::median(&steps);
    [("s", 1.0), ("ms", 1e-3), ("us", 1e-6)]
        .into_iter()
        .min_by(|a, b| {
            let off = |f: f64| (step * f / step_s).ln().abs();
            off(a.1).total_cmp(&off(b.1))
        })
        .map(|(unit, _)| unit)
}

/// Channels that a column without a meaning may be, the likeliest first.
const LIKELY: [Channel; 10] = [
    Channel::Current,
    Channel::Voltage,
    Channel::AngularSpeed,
    Channel::GroundSpeed,
    Channel::Height,
    Channel::Throttle,
    Channel::Airspeed,
    Channel::Power,
    Channel::ClimbRate,
    Channel::MotorTemperature,
];

/// A free channel that the column may be: one that its unit measures, any where none is written.
fn likely(column: &ColumnLook, free: &dyn Fn(&Channel) -> bool) -> Option<Channel> {
    let fits = |c: &Channel| measures(column, *c);
    let mut open = LIKELY.into_iter().filter(free);
    let first = open.clone().find(fits);
    first.or_else(|| open.next().filter(|_| column.unit.is_empty()))
}

fn measures(column: &ColumnLook, channel: Channel) -> bool {
    units::guess(units::canonical(&column.unit))
        .iter()
        .any(|u| u.quantity == channel.quantity())
}

/// The line that gives the first column of numbers without a meaning one that its unit allows.
pub fn example(columns: &[ColumnLook], findings: &[Finding]) -> Option<String> {
    let moving = |c: &&ColumnLook| c.range.is_some_and(|(low, high)| low < high);
    // Told with its line already.
    let second = |c: &ColumnLook| {
        let name = format!("'{}'", c.name());
        findings
            .iter()
            .any(|f| f.code == "several-columns" && f.what.contains(&name))
    };
    let numbered = findings.iter().any(|f| f.code == "row-numbers-assumed");
    let free = |c: &Channel| columns.iter().all(|other| other.channel != Some(*c));
    let (column, channel) = columns
        .iter()
        .filter(|c| !(numbered && c.number == 1))
        .filter(|c| c.certainty == Certainty::NotRecognised && c.overrule.is_none() && !second(c))
        .filter(moving)
        .find_map(|c| Some((c, likely(c, &free)?)))?;
    let fits = |c: &Channel| measures(column, *c);
    let key = toml_string(&column.key);
    let word = channel.word();
    let unit = units::words(channel.quantity()).first().copied();
    Some(
        match unit.filter(|_| !fits(&channel) && channel != Channel::Throttle) {
            Some(unit) => format!(
                "{word} = {{ column = {key}, unit = {} }}",
                toml_string(unit)
            ),
            None => format!("{word} = {key}"),
        },
    )
}
