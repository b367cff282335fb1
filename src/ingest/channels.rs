//! Which column is which channel, in which unit.
//!
//! A declared column wins. Of several recognised columns for one channel the choice falls, in this
//! order, on one that is not empty or zero throughout, one whose name has no qualifier (`filtered`,
//! `max`, `receiver`), one whose unit is written, the most populated one, the leftmost one; the
//! others are named in a finding. Nothing is lost silently: columns without meaning are listed in a
//! note.

use std::collections::{BTreeMap, BTreeSet};

use csv::StringRecord;
use serde::{Deserialize, Serialize};

use super::angle;
use super::cell::{self, Cell};
use super::log::Channel;
use super::overrule::Line;
use super::plausible::Profile;
use super::sides;
use super::table::{CellsOf, Table};
use super::words::{self, Purpose};
use crate::season::{ChannelDecl, ChannelMap, Finding};
use crate::units::nearest;

/// Code of the finding that a clock was told by its values alone.
pub(super) const TIME_GUESSED: &str = "time-guessed";

/// How a column got its channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    Declared,
    Recognised,
}

/// How a cell holds the channel's value.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    #[default]
    Number,
    /// Degrees and minutes in one number (`4812.5000`).
    DegreesMinutes,
    /// The first and the second of two numbers.
    First,
    Second,
}

/// A column with its channel and its way into SI.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AssignedColumn {
    /// 0-based column of the table.
    pub index: usize,
    pub channel: Channel,
    /// The unit of the raw values in words; empty for a column of time stamps without a unit.
    pub unit: String,
    pub how: How,
    /// 0..1, for display; 1 when declared.
    pub confidence: f64,
    /// `value = raw * factor + offset` in the channel's unit ([`Channel::unit`]).
    pub factor: f64,
    pub offset: f64,
    #[serde(default)]
    pub form: Form,
    /// Columns whose values are added to this one's.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<usize>,
    /// The column that names the side of the world of a coordinate without a sign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<usize>,
}

impl AssignedColumn {
    /// A row's value, in the channel's unit; of a sum only where every part holds a number.
    pub fn read(&self, table: &Table, cells: &StringRecord) -> Cell {
        self.of_row(table, cells)
    }

    /// The same of any kind of row.
    pub(super) fn of_row(&self, table: &Table, cells: &impl CellsOf) -> Cell {
        let mut value = self.of_cell(table, cells);
        for &column in &self.also {
            value = match (value, self.to_si(table.cell(cells, column))) {
                (Cell::Number(sum), Cell::Number(part)) => Cell::Number(sum + part),
                (Cell::Bad, _) | (_, Cell::Bad) => Cell::Bad,
                _ => Cell::Blank,
            };
        }
        match self.side {
            Some(side) => sides::on_side(value, self.channel, cells, side),
            None => value,
        }
    }

    fn of_cell(&self, table: &Table, cells: &impl CellsOf) -> Cell {
        if matches!(self.form, Form::Number | Form::DegreesMinutes) {
            return self.to_si(table.cell(cells, self.index));
        }
        let (text, comma) = (cells.text(self.index), table.dialect.decimal_comma);
        let Some((first, second)) = angle::pair(text) else {
            return cell::parse(text, comma).unpaired();
        };
        let part = if self.form == Form::First {
            first
        } else {
            second
        };
        self.to_si(angle::coordinate(part, comma))
    }

    /// A raw cell in the channel's unit. Throttle is held within 0..1: pulses jitter at the ends.
    pub fn to_si(&self, raw: Cell) -> Cell {
        let raw = match (self.form, raw) {
            (Form::DegreesMinutes, Cell::Number(x)) => Cell::Number(angle::of_minutes(x)),
            _ => raw,
        };
        let value = raw.linear(self.factor, self.offset);
        match (self.channel, value) {
            (Channel::Throttle, Cell::Number(x)) => Cell::Number(x.clamp(0.0, 1.0)),
            _ => value,
        }
    }
}

/// The columns of a table and what they mean.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Assignment {
    /// In column order, one a channel.
    pub columns: Vec<AssignedColumn>,
    /// A column of calendar dates beside the time of day.
    pub date: Option<usize>,
    /// A column of satellite weeks beside the time of the week.
    pub week: Option<usize>,
    pub findings: Vec<Finding>,
}

impl Assignment {
    pub fn get(&self, channel: Channel) -> Option<&AssignedColumn> {
        self.columns.iter().find(|c| c.channel == channel)
    }

    /// A declared rate is worth more than a column that only looks like a clock.
    pub(super) fn forget_guessed_time(&mut self) {
        if self.findings.iter().any(|f| f.code == TIME_GUESSED) {
            self.findings.retain(|f| f.code != TIME_GUESSED);
            self.columns.retain(|c| c.channel != Channel::Time);
        }
    }
}

/// Finds the channels of a table's columns.
pub fn assign_channels(table: &Table, map: &ChannelMap, purpose: Purpose) -> Assignment {
    let mut assigner = Assigner {
        table,
        out: Assignment::default(),
        taken: vec![false; table.header.len()],
        off: BTreeSet::new(),
    };
    for (word, decl) in map {
        assigner.declared(word, decl);
    }
    assigner.date();
    assigner.week();
    assigner.recognised(purpose);
    assigner.pairs();
    assigner.cells();
    assigner.time_by_values(purpose);
    assigner.height_unit();
    assigner.negative_draw();
    assigner.reversed_throttle();
    assigner.contradicted(purpose);
    assigner.unknown(purpose);
    assigner.out.columns.sort_by_key(|c| c.index);
    assigner.out
}

/// A column that could be some channel.
pub(super) struct Candidate {
    pub index: usize,
    pub unit: Option<String>,
    pub qualified: bool,
    /// Loses against a plainer name, but is no doubt on its own.
    pub weak: bool,
    pub profile: Profile,
}

impl Candidate {
    /// With all its numbers times `scale`.
    pub fn scaled(&self, scale: f64) -> Self {
        let mut profile = self.profile.clone();
        profile.values.iter_mut().for_each(|x| *x *= scale);
        profile.values.sort_by(f64::total_cmp);
        Self {
            index: self.index,
            unit: self.unit.clone(),
            qualified: self.qualified,
            weak: self.weak,
            profile,
        }
    }
}

pub(super) struct Assigner<'a> {
    pub table: &'a Table,
    pub out: Assignment,
    /// Columns that have a meaning, chosen or not.
    pub taken: Vec<bool>,
    /// Channels that the season says are not in the file.
    pub off: BTreeSet<Channel>,
}

impl Assigner<'_> {
    pub(super) fn at(&self, finding: Finding, column: usize) -> Finding {
        match self.table.dialect.header_line {
            Some(line) => finding.at(&self.table.file, line, Some(column as u32 + 1)),
            None => finding.in_file(&self.table.file),
        }
    }

    fn declared(&mut self, word: &str, decl: &ChannelDecl) {
        let Some(channel) = Channel::from_word(word) else {
            let words: Vec<_> = Channel::ALL.iter().map(|c| c.word()).collect();
            let to_do = match nearest(word, words.iter().copied()) {
                Some(near) => format!("Write '{near}', or take the line out."),
                None => "Use one of these words, or take the line out.".to_owned(),
            };
            self.out.findings.push(
                Finding::error(
                    "unknown-channel",
                    format!("'{word}' in the channel map is no channel"),
                    to_do,
                )
                .in_file(&self.table.file)
                .expected(words.join(", ")),
            );
            return;
        };
        if decl.unused {
            self.off.insert(channel);
            return;
        }
        let Some(index) = self.table.find_column(&decl.column) else {
            let names: Vec<_> = (0..self.table.header.len())
                .map(|c| self.table.column_name(c))
                .collect();
            let to_do = match nearest(&decl.column, names.iter().map(String::as_str)) {
                Some(near) => format!("The nearest header is '{near}'; mend the channel map."),
                None => {
                    "Name one of its columns in the channel map, or take the line out.".to_owned()
                }
            };
            self.out.findings.push(
                Finding::error(
                    "no-such-column",
                    format!(
                        "the column '{}' declared for {word} is not in the file",
                        decl.column
                    ),
                    to_do,
                )
                .in_file(&self.table.file)
                .expected(names.join(", ")),
            );
            return;
        };
        self.taken[index] = true;
        let same: Vec<String> = (0..self.table.header.len())
            .filter(|&i| self.table.header[i].text == self.table.header[index].text)
            .map(|i| format!("#{}", i + 1))
            .collect();
        if !decl.column.starts_with('#') && same.len() > 1 {
            let finding = Finding::warning(
                "duplicate-header",
                format!(
                    "several columns are called '{}' ({}); the first was taken",
                    decl.column,
                    same.join(", ")
                ),
                format!(
                    "Name the column by its number: {word} = \"#{}\".",
                    index + 1
                ),
            );
            self.out.findings.push(self.at(finding, index));
        }
        let header = &self.table.header[index];
        // A name that itself names a unit (`Amps`) still counts under a declaration.
        let unit = decl
            .unit
            .clone()
            .or_else(|| header.unit.clone())
            .or_else(|| {
                words::recognise(&header.name, None, Purpose::Log)
                    .filter(|m| m.channel == channel)
                    .and_then(|m| m.unit.map(str::to_owned))
            });
        let candidate = Candidate {
            index,
            unit,
            qualified: false,
            weak: false,
            profile: Profile::of(self.table, index),
        };
        self.assign(channel, &candidate, How::Declared, Some(decl));
    }

    fn recognised(&mut self, purpose: Purpose) {
        let mut candidates: BTreeMap<Channel, Vec<Candidate>> = BTreeMap::new();
        for (index, header) in self.table.header.iter().enumerate() {
            if self.taken[index] {
                continue;
            }
            let meaning = words::recognise(&header.name, header.unit.as_deref(), purpose)
                // `Date` holding date and time together.
                .or_else(|| self.stamped(index));
            let Some(meaning) = meaning.filter(|m| !self.off.contains(&m.channel)) else {
                continue;
            };
            self.taken[index] = true;
            candidates
                .entry(meaning.channel)
                .or_default()
                .push(Candidate {
                    index,
                    unit: header
                        .unit
                        .clone()
                        .or_else(|| meaning.unit.map(str::to_owned)),
                    qualified: meaning.qualified,
                    weak: meaning.weak,
                    profile: Profile::of(self.table, index),
                });
        }
        for (channel, mut group) in candidates {
            if self.out.get(channel).is_some() {
                continue;
            }
            group.sort_by(|a, b| self.rank(channel, b).total_cmp(&self.rank(channel, a)));
            let chosen = &group[0];
            if !self.live(channel, chosen) {
                let name = self.table.column_name(chosen.index);
                if chosen.profile.values.is_empty() && chosen.profile.bad > 0 {
                    self.unreadable(channel, chosen.index);
                    continue;
                }
                self.out.findings.push(self.at(
                    Finding::note(
                        "dead-column",
                        format!(
                            "'{name}' is empty or zero throughout; there is no {}",
                            channel.word()
                        ),
                        "Nothing, unless the sensor should have recorded.",
                    ),
                    chosen.index,
                ));
                continue;
            }
            if group.len() > 1 {
                self.several(channel, &group);
            }
            self.assign(channel, &group[0], How::Recognised, None);
        }
    }

    fn live(&self, channel: Channel, candidate: &Candidate) -> bool {
        candidate.profile.is_live()
            || (channel == Channel::Time
                && (candidate.profile.bad > 0 || !candidate.profile.values.is_empty()))
    }

    /// Larger is better; the order of the terms is the order of the rule.
    fn rank(&self, channel: Channel, c: &Candidate) -> f64 {
        let filled = if channel == Channel::Time {
            (c.profile.bad + c.profile.values.len()) as f64 / c.profile.rows.max(1) as f64
        } else {
            c.profile.filled()
        };
        let term = |yes: bool, weight: f64| if yes { weight } else { 0.0 };
        // The list is sorted stably, so the leftmost wins what is left.
        term(self.live(channel, c), 100.0)
            + term(!c.qualified, 20.0)
            + term(!c.weak, 10.0)
            + term(c.unit.is_some(), 5.0)
            + filled
    }

    fn several(&mut self, channel: Channel, group: &[Candidate]) {
        let chosen = self.table.column_name(group[0].index);
        let others: Vec<_> = group[1..]
            .iter()
            .map(|c| format!("'{}'", self.table.column_name(c.index)))
            .collect();
        let equal = group[1..].iter().any(|c| {
            self.live(channel, c) && (c.qualified, c.weak) == (group[0].qualified, group[0].weak)
        });
        let what = format!(
            "several columns could be {}: '{chosen}' was taken, not {}",
            channel.word(),
            others.join(", ")
        );
        let line = Line::of(self.table, channel, group[1].index).text();
        if channel == Channel::Thrust && self.are_sides(group) {
            let what = format!(
                "{what}; they seem to be the two fans of one jet, whose thrust is the sum of both"
            );
            let to_do = format!(
                "Write the sum into a column of its own and name it in the channel map (thrust = \"…\"); \
                 if one side alone is meant: {line}."
            );
            let finding = Finding::warning("several-columns", what, to_do).overruled_by(line);
            self.out.findings.push(self.at(finding, group[0].index));
            return;
        }
        let to_do = format!("If that is wrong, say so in the channel map, e.g. {line}.");
        let finding = if equal {
            Finding::warning("several-columns", what, to_do).overruled_by(line)
        } else {
            Finding::note("several-columns", what, to_do)
        };
        self.out.findings.push(self.at(finding, group[0].index));
    }

    fn unknown(&mut self, purpose: Purpose) {
        let unknown: Vec<_> = (0..self.table.header.len())
            .filter(|&i| !self.taken[i])
            .map(|i| format!("'{}'", self.table.column_name(i)))
            .collect();
        // A log of the drive without its throttle: the likeliest to stand among them.
        let has = |channel| self.out.get(channel).is_some();
        let no_throttle = purpose == Purpose::Log
            && (has(Channel::Current) || has(Channel::Voltage))
            && !has(Channel::Throttle)
            && !self.off.contains(&Channel::Throttle);
        if !unknown.is_empty() {
            let to_do = if no_throttle {
                "No column was taken for the throttle: if one of them is it, name it in the channel map \
                 (throttle = \"…\")."
            } else {
                "If one of them matters, name it in the channel map."
            };
            self.out.findings.push(
                Finding::note(
                    "unknown-columns",
                    format!(
                        "{} column(s) not recognised: {}",
                        unknown.len(),
                        unknown.join(", ")
                    ),
                    to_do,
                )
                .in_file(&self.table.file),
            );
        }
    }
}
