//! Which column is which channel, in which unit.
//!
//! A declared column wins. Of several recognised columns for one channel the choice falls, in this
//! order, on one that is not empty or zero throughout, one whose name has no qualifier (`filtered`,
//! `max`, `receiver`), one whose unit is written, the most populated one, the leftmost one; the
//! others are named in a finding. Nothing is lost silently: columns without meaning are listed in a
//! note.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::cell::{Cell, is_stamp};
use super::clock;
use super::log::Channel;
use super::overrule::{self, Line};
use super::plausible::Profile;
use super::table::Table;
use super::words::{self, Purpose};
use crate::season::{ChannelDecl, ChannelMap, Finding};
use crate::units::{self, nearest};

/// Code of the finding that a clock was told by its values alone.
const TIME_GUESSED: &str = "time-guessed";

/// How a column got its channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    Declared,
    Recognised,
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
}

impl AssignedColumn {
    /// A raw cell in the channel's unit. Throttle is held within 0..1: pulses jitter at the ends.
    pub fn to_si(&self, raw: Cell) -> Cell {
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
    assigner.time_by_values(purpose);
    assigner.height_unit();
    assigner.reversed_throttle();
    assigner.contradicted(purpose);
    assigner.unknown();
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

pub(super) struct Assigner<'a> {
    pub table: &'a Table,
    pub out: Assignment,
    /// Columns that have a meaning, chosen or not.
    taken: Vec<bool>,
    /// Channels that the season says are not in the file.
    off: BTreeSet<Channel>,
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

    fn date(&mut self) {
        for (index, header) in self.table.header.iter().enumerate() {
            if self.taken[index] || !words::names_date(&header.name) {
                continue;
            }
            let text = (0..self.table.rows.len())
                .map(|row| self.table.text(row, index).trim())
                .find(|t| !t.is_empty());
            // A date without a time of day; with one it is the time column itself.
            if text.is_some_and(|t| !t.contains(':') && super::clock::date_of(t).is_some()) {
                self.out.date = Some(index);
                self.taken[index] = true;
                return;
            }
        }
    }

    fn week(&mut self) {
        for (index, header) in self.table.header.iter().enumerate() {
            if self.taken[index] || !words::names_week(&header.name) {
                continue;
            }
            let profile = Profile::of(self.table, index);
            let is_week = |x: &f64| (0.0..10_000.0).contains(x) && x.fract() == 0.0;
            if !profile.values.is_empty() && profile.values.iter().all(is_week) {
                self.out.week = Some(index);
                self.taken[index] = true;
                return;
            }
        }
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

    /// A clock that no name tells: a column without another meaning that rises as steadily as time
    /// does. A guess, told as one.
    fn time_by_values(&mut self, purpose: Purpose) {
        let known = self.out.get(Channel::Time).is_some() || self.off.contains(&Channel::Time);
        if known || purpose == Purpose::Bench {
            return;
        }
        let Some(index) = (0..self.table.header.len())
            .find(|&i| !self.taken[i] && clock::could_be_time(self.table, i))
        else {
            return;
        };
        self.taken[index] = true;
        let candidate = Candidate {
            index,
            unit: self.table.header[index].unit.clone(),
            qualified: false,
            weak: false,
            profile: Profile::of(self.table, index),
        };
        self.assign(Channel::Time, &candidate, How::Recognised, None);
        let line = overrule::unused(Channel::Time);
        let name = self.table.column_name(index);
        let finding = Finding::warning(
            TIME_GUESSED,
            format!(
                "'{name}': no column is called a time; this one rises as steadily as time does and was \
                 taken for it, unsure"
            ),
            format!("If it is none, put this into the channel map: {line}."),
        );
        let finding = self.at(finding.overruled_by(line), index);
        self.out.findings.push(finding);
    }

    fn stamped(&self, index: usize) -> Option<words::Meaning> {
        let header = &self.table.header[index];
        let first = (0..self.table.rows.len().min(50))
            .map(|row| self.table.text(row, index))
            .find(|t| !t.trim().is_empty())?;
        let is_time = words::names_date(&header.name) || header.text.is_empty();
        (is_time && first.contains(':') && is_stamp(first)).then_some(words::Meaning {
            channel: Channel::Time,
            unit: None,
            qualified: false,
            weak: false,
            score: 1,
        })
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
        let to_do = format!("If that is wrong, say so in the channel map, e.g. {line}.");
        let finding = if equal {
            Finding::warning("several-columns", what, to_do).overruled_by(line)
        } else {
            Finding::note("several-columns", what, to_do)
        };
        self.out.findings.push(self.at(finding, group[0].index));
    }

    /// A column of which no cell can be read.
    fn unreadable(&mut self, channel: Channel, index: usize) {
        let bad: Vec<&str> = (0..self.table.rows.len())
            .filter(|&row| self.table.raw(row, index) == Cell::Bad)
            .map(|row| self.table.text(row, index).trim())
            .collect();
        let Some(first) = bad.first() else { return };
        let name = self.table.column_name(index);
        let what = format!(
            "'{name}': none of its cells is a number that can be read in one way only; the first is \
             '{first}'; there is no {}",
            channel.word()
        );
        let is_mark = first.contains(',') && first.bytes().any(|b| b.is_ascii_digit());
        let finding = if is_mark || first.contains('.') {
            let comma = self.table.dialect.decimal_comma;
            let line = Line::of(self.table, channel, index);
            let line = line.decimal(if comma { ',' } else { '.' }).text();
            let to_do = format!("Name its decimal mark in the channel map: {line}.");
            Finding::warning("unreadable-cells", what, to_do).overruled_by(line)
        } else {
            Finding::warning("unreadable-cells", what, "Write numbers, if they matter.")
        };
        self.out.findings.push(self.at(finding, index));
    }

    /// Columns whose name means one quantity and whose unit measures another.
    fn contradicted(&mut self, purpose: Purpose) {
        for (index, header) in self.table.header.iter().enumerate() {
            let Some(unit) = header.unit.as_deref().filter(|_| !self.taken[index]) else {
                continue;
            };
            let Some(meaning) = words::recognise(&header.name, None, purpose) else {
                continue;
            };
            let channel = meaning.channel;
            if channel == Channel::Time || words::fits(channel, unit) || meaning.qualified {
                continue;
            }
            let taken = self.out.get(channel).is_some();
            let (word, quantity) = (channel.word(), channel.quantity());
            let words = units::words(quantity);
            let right = overrule::usual_unit(quantity);
            let line = Line::of(self.table, channel, index).unit(right).text();
            let measured: BTreeSet<_> = units::guess(unit)
                .iter()
                .map(|u| u.quantity.name())
                .collect();
            let what = format!(
                "'{}' looks like {word}, but '{unit}' is no unit of {} but of {}; the column is not used",
                header.text,
                quantity.name(),
                measured.into_iter().collect::<Vec<_>>().join(" or ")
            );
            let to_do = format!(
                "Correct the header, or put what is right into the channel map: if the name is, {line}."
            );
            let finding = if taken {
                Finding::note("wrong-unit", what, to_do)
            } else if purpose == Purpose::Bench {
                Finding::error("wrong-unit", what, to_do)
            } else {
                Finding::warning("wrong-unit", what, to_do)
            };
            let finding = finding.overruled_by(line).expected(words.join(", "));
            self.out.findings.push(self.at(finding, index));
            self.taken[index] = true;
        }
    }

    fn unknown(&mut self) {
        let unknown: Vec<_> = (0..self.table.header.len())
            .filter(|&i| !self.taken[i])
            .map(|i| format!("'{}'", self.table.column_name(i)))
            .collect();
        if !unknown.is_empty() {
            self.out.findings.push(
                Finding::note(
                    "unknown-columns",
                    format!(
                        "{} column(s) not recognised: {}",
                        unknown.len(),
                        unknown.join(", ")
                    ),
                    "If one of them matters, name it in the channel map.",
                )
                .in_file(&self.table.file),
            );
        }
    }
}
