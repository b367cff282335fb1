//! A line a column: what it is taken for, how sure that is, and what overrules it.

use serde::{Serialize, Serializer};

use super::motion::span;
use super::spark::sparkline;
use super::tally::{Tally, number};
use crate::ingest::{AssignedColumn, Assignment, Cell, Channel, How, Log, Table};
use crate::season::{Finding, Severity};
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
    /// Share of the rows that hold a value.
    pub present: f64,
    pub sparkline: String,
    /// The line in the channel map that overrules a guess.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overrule: Option<String>,
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
    log: Option<&Log>,
) -> Vec<ColumnLook> {
    tallies
        .iter()
        .enumerate()
        .map(|(index, tally)| {
            let assigned = assignment.columns.iter().find(|c| c.index == index);
            let mut look = plain(table, index, tally);
            if let Some(column) = assigned {
                fill(&mut look, table, tally, column, findings, log);
            } else if assignment.date == Some(index) {
                look.certainty = Certainty::Date;
                look.stamps = tally.ends.clone();
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
        key: column_key(table, index),
        channel: None,
        unit: header.unit.clone().unwrap_or_default(),
        certainty: Certainty::NotRecognised,
        reasons: Vec::new(),
        range: tally.range,
        stamps: None,
        range_si: None,
        unit_si: None,
        present: tally.present as f64 / tally.rows.max(1) as f64,
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
    log: Option<&Log>,
) {
    let channel = column.channel;
    look.channel = Some(channel);
    look.unit.clone_from(&column.unit);
    look.unit_si = Some(channel.unit());
    look.range_si = tally.range.and_then(|(low, high)| {
        let ends = [low, high].map(|x| number(column.to_si(Cell::Number(x))));
        span(ends.into_iter().flatten())
    });
    let mut unit_guessed = false;
    if channel == Channel::Time {
        let stamps = tally.rows > 0 && look.range.is_none();
        look.stamps = tally.ends.clone().filter(|_| stamps);
        if column.unit.is_empty() && !stamps {
            unit_guessed = true;
            look.unit = log
                .and_then(|log| time_unit(&tally.numbers, log))
                .unwrap_or_default()
                .to_owned();
        }
        if column.unit.is_empty() {
            let unit = units::find(&look.unit, units::Quantity::Time);
            let si = unit.and_then(|u| Some((u, look.range?)));
            look.range_si = si.map(|(u, (low, high))| (u.to_si(low), u.to_si(high)));
        }
    }
    let name = table.column_name(column.index);
    look.reasons = reasons(findings, column, &name);
    if column.how == How::Declared {
        look.certainty = Certainty::Declared;
        look.reasons.clear();
        return;
    }
    // See `ingest`: 0.9 with a written unit, 0.7 without, 0.3 less for a qualified name.
    let qualified = column.confidence < 0.65;
    if qualified {
        let why = "its name says that it may not be the plain quantity, or only its unit tells";
        look.reasons.insert(0, why.to_owned());
    }
    if unit_guessed && look.reasons.is_empty() {
        look.reasons
            .push(format!("no unit is written; {} fits its steps", look.unit));
    }
    look.certainty = if look.reasons.is_empty() {
        Certainty::Recognised
    } else {
        Certainty::Guess
    };
    if look.certainty == Certainty::Guess {
        look.overrule = Some(map_line(table, column, &look.unit));
    }
}

/// What the reader had to assume of a column.
fn reasons(findings: &[Finding], column: &AssignedColumn, name: &str) -> Vec<String> {
    const ASSUMED: [&str; 10] = [
        "unit-assumed",
        "unknown-unit",
        "several-columns",
        "implausible-values",
        "throttle-scale-unknown",
        "throttle-ends-observed",
        "throttle-reversed",
        "electrical-speed",
        "time-unit-assumed",
        "date-order-assumed",
    ];
    let own = format!("'{name}'");
    findings
        .iter()
        .filter(|f| ASSUMED.contains(&f.code.as_str()))
        // That a better column was taken is no doubt about it.
        .filter(|f| f.code != "several-columns" || f.severity > Severity::Note)
        .filter(|f| {
            let place = f.place.as_ref().and_then(|p| p.column);
            match place {
                Some(place) => place as usize == column.index + 1,
                None => {
                    f.what.contains(&own)
                        || (f.code == "date-order-assumed" && column.channel == Channel::Time)
                }
            }
        })
        .map(|f| {
            let what = f.what.as_str();
            let bare = what.strip_prefix(&own).and_then(|w| w.strip_prefix(": "));
            bare.unwrap_or(what).to_owned()
        })
        .collect()
}

/// The unit in which the reader took a time column without one: it makes the log's own steps.
fn time_unit(times: &[f64], log: &Log) -> Option<&'static str> {
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
            let off = |f: f64| (step * f / log.step_s).ln().abs();
            off(a.1).total_cmp(&off(b.1))
        })
        .map(|(unit, _)| unit)
}

/// `throttle = { column = "Thr", unit = "us", ends = [1100, 1900] }`, with what was guessed.
fn map_line(table: &Table, column: &AssignedColumn, unit: &str) -> String {
    let mut line = format!(
        "{} = {{ column = {}",
        column.channel.word(),
        toml_string(&column_key(table, column.index))
    );
    let word = if column.channel == Channel::Throttle {
        column.unit.split(' ').next().unwrap_or_default()
    } else {
        unit
    };
    let of_time =
        column.channel == Channel::Throttle && units::find(word, units::Quantity::Time).is_some();
    if of_time || units::find(word, column.channel.quantity()).is_some() {
        line += &format!(", unit = {}", toml_string(word));
    }
    if column.channel == Channel::Throttle {
        let low = -column.offset / column.factor;
        let high = low + 1.0 / column.factor;
        line += &format!(", ends = [{}, {}]", tidy(low), tidy(high));
    }
    line + " }"
}

/// A number without the dust of its arithmetic.
fn tidy(x: f64) -> f64 {
    let rounded = (x * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// How a channel map names a column: by header where that is its alone, else by number.
fn column_key(table: &Table, index: usize) -> String {
    let text = &table.header[index].text;
    let first = table
        .header
        .iter()
        .position(|h| h.text.eq_ignore_ascii_case(text));
    if text.is_empty() || text.starts_with('#') || first != Some(index) {
        format!("#{}", index + 1)
    } else {
        text.clone()
    }
}

/// A TOML basic string.
pub fn toml_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out += "\\\"",
            '\\' => out += "\\\\",
            c if c.is_control() => out += &format!("\\u{:04X}", u32::from(c)),
            c => out.push(c),
        }
    }
    out + "\""
}
