//! Which column is which channel, in which unit.
//!
//! A declared column wins. Of several recognised columns for one channel the choice falls, in this
//! order, on one that is not empty or zero throughout, one whose name has no qualifier (`filtered`,
//! `max`, `receiver`), one whose unit is written, the most populated one, the leftmost one; the
//! others are named in a finding. Nothing is lost silently: columns without meaning are listed in a
//! note.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cell::{Cell, is_stamp};
use super::log::Channel;
use super::plausible::{self, Conversion, Profile, conversion, is_plausible};
use super::table::Table;
use super::throttle;
use super::words::{self, Purpose};
use crate::season::{ChannelDecl, ChannelMap, Finding};

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
    pub findings: Vec<Finding>,
}

impl Assignment {
    pub fn get(&self, channel: Channel) -> Option<&AssignedColumn> {
        self.columns.iter().find(|c| c.channel == channel)
    }
}

/// Finds the channels of a table's columns.
pub fn assign_channels(table: &Table, map: &ChannelMap, purpose: Purpose) -> Assignment {
    let mut assigner = Assigner {
        table,
        out: Assignment::default(),
        taken: vec![false; table.header.len()],
    };
    for (word, decl) in map {
        assigner.declared(word, decl);
    }
    assigner.date();
    assigner.recognised(purpose);
    assigner.reversed_throttle();
    assigner.unknown();
    assigner.out.columns.sort_by_key(|c| c.index);
    assigner.out
}

struct Candidate {
    index: usize,
    unit: Option<String>,
    qualified: bool,
    profile: Profile,
}

struct Assigner<'a> {
    table: &'a Table,
    out: Assignment,
    /// Columns that have a meaning, chosen or not.
    taken: Vec<bool>,
}

impl Assigner<'_> {
    fn at(&self, finding: Finding, column: usize) -> Finding {
        match self.table.dialect.header_line {
            Some(line) => finding.at(&self.table.file, line, Some(column as u32 + 1)),
            None => finding.in_file(&self.table.file),
        }
    }

    fn declared(&mut self, word: &str, decl: &ChannelDecl) {
        let Some(channel) = Channel::from_word(word) else {
            let words: Vec<_> = Channel::ALL.iter().map(|c| c.word()).collect();
            let nearest = nearest(word, words.iter().copied());
            self.out.findings.push(
                Finding::error(
                    "unknown-channel",
                    format!("'{word}' in the channel map is no channel"),
                    format!("Write '{nearest}', or take the line out."),
                )
                .in_file(&self.table.file)
                .expected(words.join(", ")),
            );
            return;
        };
        let Some(index) = self.find(&decl.column) else {
            let names: Vec<_> = (0..self.table.header.len())
                .map(|c| self.table.column_name(c))
                .collect();
            let nearest = nearest(&decl.column, names.iter().map(String::as_str));
            self.out.findings.push(
                Finding::error(
                    "no-such-column",
                    format!(
                        "the column '{}' declared for {word} is not in the file",
                        decl.column
                    ),
                    format!("The nearest header is '{nearest}'; mend the channel map."),
                )
                .in_file(&self.table.file)
                .expected(names.join(", ")),
            );
            return;
        };
        self.taken[index] = true;
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
            profile: Profile::of(self.table, index),
        };
        self.assign(channel, &candidate, How::Declared, Some(decl));
    }

    /// By number, by header text exactly, else without regard to case or the unit.
    fn find(&self, column: &str) -> Option<usize> {
        let column = column.trim();
        if let Some(number) = column
            .strip_prefix('#')
            .and_then(|n| n.parse::<usize>().ok())
        {
            return number
                .checked_sub(1)
                .filter(|i| *i < self.table.header.len());
        }
        let by = |test: &dyn Fn(&str, &str) -> bool| {
            self.table
                .header
                .iter()
                .position(|h| test(&h.text, &h.name))
        };
        by(&|text, _| text == column)
            .or_else(|| by(&|text, _| text.eq_ignore_ascii_case(column)))
            .or_else(|| by(&|_, name| name.eq_ignore_ascii_case(column)))
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

    fn recognised(&mut self, purpose: Purpose) {
        let mut candidates: BTreeMap<Channel, Vec<Candidate>> = BTreeMap::new();
        for (index, header) in self.table.header.iter().enumerate() {
            if self.taken[index] {
                continue;
            }
            let meaning = words::recognise(&header.name, header.unit.as_deref(), purpose)
                // `Date` holding date and time together.
                .or_else(|| self.stamped(index));
            let Some(meaning) = meaning else { continue };
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
            + term(!c.qualified, 10.0)
            + term(c.unit.is_some(), 5.0)
            + filled
    }

    fn several(&mut self, channel: Channel, group: &[Candidate]) {
        let chosen = self.table.column_name(group[0].index);
        let others: Vec<_> = group[1..]
            .iter()
            .map(|c| format!("'{}'", self.table.column_name(c.index)))
            .collect();
        let equal = group[1..]
            .iter()
            .any(|c| self.live(channel, c) && c.qualified == group[0].qualified);
        let what = format!(
            "several columns could be {}: '{chosen}' was taken, not {}",
            channel.word(),
            others.join(", ")
        );
        let to_do = format!(
            "If that is wrong, say so in the channel map: {} = \"…\".",
            channel.word()
        );
        let finding = if equal {
            Finding::warning("several-columns", what, to_do)
        } else {
            Finding::note("several-columns", what, to_do)
        };
        self.out.findings.push(self.at(finding, group[0].index));
    }

    fn assign(
        &mut self,
        channel: Channel,
        candidate: &Candidate,
        how: How,
        decl: Option<&ChannelDecl>,
    ) {
        let Some((conversion, unit, written)) = self.conversion(channel, candidate, decl) else {
            return;
        };
        let scale = decl.and_then(|d| d.scale).unwrap_or(1.0);
        if channel == Channel::AngularSpeed && scale == 1.0 {
            self.electrical_speed(candidate.index);
        }
        let confidence = match how {
            How::Declared => 1.0,
            How::Recognised => {
                let base = if written { 0.9 } else { 0.7 };
                if candidate.qualified {
                    base - 0.3
                } else {
                    base
                }
            }
        };
        self.out.columns.push(AssignedColumn {
            index: candidate.index,
            channel,
            unit,
            how,
            confidence,
            factor: conversion.factor * scale,
            offset: conversion.offset * scale,
        });
    }

    /// Way into SI, unit in words, and whether the unit was written.
    fn conversion(
        &mut self,
        channel: Channel,
        candidate: &Candidate,
        decl: Option<&ChannelDecl>,
    ) -> Option<(Conversion, String, bool)> {
        let name = self.table.column_name(candidate.index);
        let unit = candidate.unit.as_deref();
        if channel == Channel::Throttle {
            let ends = decl.and_then(|d| d.ends);
            let scale = throttle::scale(ends, unit, &candidate.profile);
            if let Some((code, what, to_do)) = scale.doubt {
                let finding = Finding::warning(code, format!("'{name}': {what}"), to_do);
                self.out.findings.push(self.at(finding, candidate.index));
            }
            return Some((scale.conversion, scale.unit, unit.is_some()));
        }
        if channel == Channel::Time {
            let known = unit.and_then(|u| conversion(channel, u));
            let unit = unit.filter(|_| known.is_some()).unwrap_or_default();
            let as_is = Conversion {
                factor: 1.0,
                offset: 0.0,
            };
            return Some((known.unwrap_or(as_is), unit.to_owned(), known.is_some()));
        }
        if let Some(unit) = unit {
            if let Some(by) = conversion(channel, unit) {
                if !is_plausible(channel, &candidate.profile, by) {
                    self.implausible(channel, candidate, unit, by);
                }
                return Some((by, unit.to_owned(), true));
            }
            self.out.findings.push(self.at(
                Finding::warning(
                    "unknown-unit",
                    format!("'{name}': '{unit}' is no known unit of {}", channel.quantity().name()),
                    format!("Name the unit in the channel map: {} = {{ column = \"{name}\", unit = \"…\" }}.", channel.word()),
                )
                .expected(crate::units::words(channel.quantity()).join(", ")),
                candidate.index,
            ));
        }
        let to_do = format!(
            "Name the unit in the channel map: {} = {{ column = \"{name}\", unit = \"…\" }}.",
            channel.word()
        );
        let Some((unit, fits)) = plausible::implied(channel, &candidate.profile) else {
            let finding = Finding::error(
                "unit-missing",
                format!("'{name}' has no unit, and its numbers cannot tell it; it is not used"),
                to_do,
            );
            self.out.findings.push(self.at(
                finding.expected(crate::units::words(channel.quantity()).join(", ")),
                candidate.index,
            ));
            return None;
        };
        let by = conversion(channel, unit)?;
        if !fits {
            self.implausible(channel, candidate, unit, by);
        } else if channel != Channel::Satellites {
            let what = format!("'{name}' has no unit; {unit} was taken");
            // A wrong unit of speed or height looks plausible; of volts it does not.
            let finding = match channel.quantity() {
                crate::units::Quantity::Speed | crate::units::Quantity::Acceleration => {
                    Finding::warning("unit-assumed", what, to_do)
                }
                _ => Finding::note("unit-assumed", what, to_do),
            };
            self.out.findings.push(self.at(finding, candidate.index));
        }
        Some((by, unit.to_owned(), false))
    }

    fn implausible(&mut self, channel: Channel, c: &Candidate, unit: &str, by: Conversion) {
        let (Some(low), Some(high)) = (c.profile.quantile(0.02), c.profile.quantile(0.98)) else {
            return;
        };
        let (least, most) = plausible::range(channel);
        let back = |x: f64| (x - by.offset) / by.factor;
        let name = self.table.column_name(c.index);
        self.out.findings.push(
            self.at(
                Finding::warning(
                    "implausible-values",
                    format!(
                        "'{name}' runs from {low} to {high} {unit}: hardly a {} in {unit}",
                        channel.quantity().name()
                    ),
                    "Check the unit in the header or name it in the channel map.",
                )
                .expected(format!(
                    "values from {:.4} to {:.4} {unit}",
                    back(least),
                    back(most)
                )),
                c.index,
            ),
        );
    }

    fn electrical_speed(&mut self, index: usize) {
        let tokens = words::tokens(&self.table.header[index].text);
        if tokens
            .iter()
            .any(|t| matches!(t.as_str(), "electrical" | "erpm" | "elektrische"))
        {
            let name = self.table.column_name(index);
            self.out.findings.push(self.at(
                Finding::warning(
                    "electrical-speed",
                    format!("'{name}' counts electrical revolutions: the rotor turns slower by the number of pole pairs"),
                    format!("Divide it in the channel map: angular_speed = {{ column = \"{name}\", scale = 0.1429 }} for 7 pole pairs; scale = 1.0 if it was divided already."),
                ),
                index,
            ));
        }
    }

    /// Current that falls as the throttle rises says that the throttle runs backwards.
    fn reversed_throttle(&mut self) {
        let Some(thr) = self.out.get(Channel::Throttle).cloned() else {
            return;
        };
        let load = [
            Channel::Current,
            Channel::Power,
            Channel::Thrust,
            Channel::AngularSpeed,
        ]
        .into_iter()
        .find_map(|c| self.out.get(c).cloned());
        let Some(load) = load else { return };
        let pairs: Vec<_> = plausible::sample(self.table)
            .filter_map(|row| {
                let x = self.table.value(row, &thr).number()?;
                Some((x, self.table.value(row, &load).number()?))
            })
            .collect();
        if throttle::rank_correlation(&pairs).is_some_and(|r| r < -0.5) {
            let name = self.table.column_name(thr.index);
            self.out.findings.push(self.at(
                Finding::warning(
                    "throttle-reversed",
                    format!("{} falls as '{name}' rises: the throttle seems to run backwards", load.channel.word()),
                    "Declare its ends the other way round in the channel map, e.g. ends = [1900, 1100].",
                ),
                thr.index,
            ));
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

fn nearest<'a>(word: &str, among: impl Iterator<Item = &'a str>) -> &'a str {
    let word = word.to_lowercase();
    among
        .map(|w| (strsim::damerau_levenshtein(&w.to_lowercase(), &word), w))
        .min()
        .map_or("", |(_, w)| w)
}
