//! A chosen column's way into SI: its unit, its plausibility, the throttle's scale.

use super::channels::{AssignedColumn, Assigner, Candidate, How};
use super::log::Channel;
use super::plausible::{self, Conversion, conversion, is_plausible};
use super::{throttle, words};
use crate::season::{ChannelDecl, Finding};
use crate::units::{self, Quantity};

impl Assigner<'_> {
    pub(super) fn assign(
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
        if how == How::Recognised && candidate.qualified {
            self.guessed(channel, candidate, &unit);
        }
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

    /// Its name alone does not tell that the column is the quantity.
    fn guessed(&mut self, channel: Channel, candidate: &Candidate, unit: &str) {
        let name = self.table.column_name(candidate.index);
        let line = map_line(channel, &name, unit);
        let finding = Finding::note(
            "guessed-column",
            format!(
                "'{name}' was taken as {}: its name says that it may not be the plain quantity, or \
                 only its unit tells",
                channel.word()
            ),
            format!(
                "If another column is right, name that one in the channel map; this one reads: {line}."
            ),
        );
        self.out.findings.push(self.at(finding, candidate.index));
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
                .expected(units::words(channel.quantity()).join(", ")),
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
                finding.expected(units::words(channel.quantity()).join(", ")),
                candidate.index,
            ));
            return None;
        };
        let by = conversion(channel, unit)?;
        if !fits {
            self.implausible(channel, candidate, unit, by);
        } else if channel != Channel::Satellites {
            let what = format!("'{name}' has no unit; {unit} was taken");
            let to_do = format!(
                "If another is right, put it into the channel map: {}.",
                map_line(channel, &name, unit)
            );
            // A wrong unit of speed or height looks plausible; of volts it does not.
            let finding = match channel.quantity() {
                Quantity::Speed | Quantity::Acceleration => {
                    Finding::warning("unit-assumed", what, to_do)
                }
                // Feet look like metres.
                Quantity::Length => Finding::warning(
                    "unit-assumed",
                    format!(
                        "{what}; if they are feet, heights and climbs come out 3.28 times too large"
                    ),
                    to_do,
                ),
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
    pub(super) fn reversed_throttle(&mut self) {
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
}

/// The line of a channel map that names a column and its unit.
fn map_line(channel: Channel, name: &str, unit: &str) -> String {
    let column = name.replace('\\', "\\\\").replace('"', "\\\"");
    // The throttle's unit is told with its ends.
    let known = plausible::conversion(channel, unit).is_some() && channel != Channel::Throttle;
    let unit = if known {
        format!(", unit = \"{unit}\"")
    } else {
        String::new()
    };
    format!("{} = {{ column = \"{column}\"{unit} }}", channel.word())
}
