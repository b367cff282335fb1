//! A chosen column's way into SI: its unit, its plausibility, the throttle's scale.

use super::angle;
use super::channels::{AssignedColumn, Assigner, Candidate, Form, How};
use super::log::Channel;
use super::overrule::{self, Line};
use super::plausible::{self, Conversion, Profile, conversion, is_plausible};
use super::{height, marks, throttle, words};
use crate::season::{ChannelDecl, Finding};
use crate::units::{self, Quantity};

/// Of the usual outrunner with fourteen magnets (common practice, no source).
const POLE_PAIRS: f64 = 7.0;

/// Of the packs of most jets (common practice, no source).
const CELLS: f64 = 6.0;

/// `V/cell` and the like.
fn is_per_cell(unit: &str) -> bool {
    let unit = unit.to_lowercase().replace(' ', "");
    matches!(unit.as_str(), "v/cell" | "v/zelle" | "v/c" | "v/s" | "vpc")
}

impl Assigner<'_> {
    pub(super) fn assign(
        &mut self,
        channel: Channel,
        candidate: &Candidate,
        how: How,
        decl: Option<&ChannelDecl>,
    ) {
        let declared = decl.and_then(|d| d.scale);
        let scaled;
        // What the numbers are is judged as they are declared to count.
        let judged = match declared.filter(|_| channel != Channel::Throttle) {
            Some(scale) => {
                scaled = candidate.scaled(scale);
                &scaled
            }
            None => candidate,
        };
        let Some((conversion, unit, written)) = self.conversion(channel, judged, decl) else {
            return;
        };
        self.told_marks(channel, candidate);
        let scale = match declared {
            Some(scale) => scale,
            None => {
                let (power, finding) = self.multiplied(channel, candidate, conversion);
                if channel == Channel::AngularSpeed {
                    self.electrical_speed(candidate.index, power);
                }
                if let Some(finding) = finding {
                    self.say(finding, candidate.index);
                }
                power
            }
        };
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
            self.guessed(channel, candidate);
        }
        let form = if unit == angle::DEGREES_MINUTES {
            Form::DegreesMinutes
        } else {
            Form::Number
        };
        let side = self.side(channel, candidate.index);
        if form == Form::DegreesMinutes {
            self.degrees_and_minutes(channel, candidate, decl, side);
        }
        self.out.columns.push(AssignedColumn {
            index: candidate.index,
            channel,
            form,
            also: Vec::new(),
            side,
            unit,
            how,
            confidence,
            factor: conversion.factor * scale,
            // The zero of a scale of temperature is no part of the numbers.
            offset: if channel.quantity() == Quantity::Temperature {
                conversion.offset
            } else {
                conversion.offset * scale
            },
        });
    }

    /// Its name alone does not tell that the column is the quantity.
    fn guessed(&mut self, channel: Channel, candidate: &Candidate) {
        let name = self.table.column_name(candidate.index);
        let line = overrule::unused(channel);
        let finding = Finding::note(
            "guessed-column",
            format!(
                "'{name}': its name says that it may not be the plain quantity, or only its unit tells; \
                 it was taken as {}",
                channel.word()
            ),
            format!(
                "If another column is right, name that one in the channel map; if none is: {line}."
            ),
        );
        self.say(finding.overruled_by(line), candidate.index);
    }

    pub(super) fn say(&mut self, finding: Finding, column: usize) {
        let finding = self.at(finding, column);
        self.out.findings.push(finding);
    }

    pub(super) fn line(&self, channel: Channel, column: usize) -> Line<'_> {
        Line::of(self.table, channel, column)
    }

    /// Which mark of the column's numbers is the decimal one, where that had to be found out.
    fn told_marks(&mut self, channel: Channel, candidate: &Candidate) {
        let Some(found) = self.table.header[candidate.index].marks else {
            return;
        };
        let name = self.table.column_name(candidate.index);
        let grouped = found.grouping();
        let why = match found.basis {
            marks::Basis::Declared => return,
            marks::Basis::OtherColumns => "the other columns write decimals with it",
            marks::Basis::SizeAndWidth => {
                "short numbers stand without a mark, and only so is their size usual"
            }
            marks::Basis::Size => "only so is their size usual; nothing else tells",
        };
        let what = format!(
            "'{name}': '{}' was read as the decimal mark and '{grouped}' as the mark of thousands: {why}",
            found.decimal
        );
        let line = self.line(channel, candidate.index).decimal(grouped).text();
        let to_do = format!("If that is wrong, put this into the channel map: {line}.");
        let finding = if found.is_guess() {
            Finding::warning("marks-assumed", what, to_do).overruled_by(line)
        } else {
            Finding::note("marks-found", what, to_do)
        };
        self.say(finding, candidate.index);
    }

    /// The factor that a power of ten in the header stands for.
    fn multiplied(
        &self,
        channel: Channel,
        candidate: &Candidate,
        by: Conversion,
    ) -> (f64, Option<Finding>) {
        let Some(power) = self.table.header[candidate.index].multiplier else {
            return (1.0, None);
        };
        let largest = candidate.profile.quantile(1.0).unwrap_or_default();
        let usual = |scale: f64| {
            let unit = Conversion {
                factor: by.factor * scale,
                offset: by.offset,
            };
            marks::is_usual_in(channel, unit, largest) != Some(false)
        };
        // `erpm/100` counts hundreds; `°C/10` may as well count tenths.
        let (taken, other) = if usual(power) || !usual(1.0 / power) {
            (power, 1.0 / power)
        } else {
            (1.0 / power, power)
        };
        let name = self.table.column_name(candidate.index);
        let line = self.line(channel, candidate.index).scale(other).text();
        let what =
            format!("'{name}': its numbers were taken {taken} times for the {power} in its name");
        let to_do = format!("If that is wrong, put this into the channel map: {line}.");
        let finding = Finding::warning("scale-assumed", what, to_do).overruled_by(line);
        (taken, Some(finding))
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
            if let Some(doubt) = scale.doubt {
                let mut line = self.line(channel, candidate.index);
                let word = scale.unit.split(' ').next().unwrap_or_default();
                if units::find(word, Quantity::Time).is_some() {
                    line = line.unit(word);
                }
                let line = line.ends(doubt.others.0, doubt.others.1).text();
                let to_do = format!(
                    "Declare the raw values of no and full throttle in the channel map, such as: {line}."
                );
                let what = format!("'{name}': {}", doubt.what);
                let finding = Finding::warning(doubt.code, what, to_do).overruled_by(line);
                self.say(finding, candidate.index);
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
        if let Some(unit) = unit
            && let Some(by) = conversion(channel, unit)
        {
            if !is_plausible(channel, &candidate.profile, by) {
                self.implausible(channel, candidate, unit, by);
            }
            return Some((by, unit.to_owned(), true));
        }
        let implied = plausible::implied(channel, &candidate.profile);
        if let Some(unit) = unit.filter(|u| channel == Channel::Voltage && is_per_cell(u)) {
            if decl.is_none_or(|d| d.scale.is_none()) {
                let line = self.line(channel, candidate.index).unit("V").scale(CELLS);
                let line = line.text();
                let what = format!(
                    "'{name}': its numbers count the volts of one cell ({unit}), and the file does not \
                     tell how many cells the pack has"
                );
                let to_do =
                    format!("Name their number in the channel map: {line} for {CELLS} cells.");
                let finding = Finding::warning("volts-of-a-cell", what, to_do).overruled_by(line);
                self.say(finding, candidate.index);
            }
            return Some((conversion(channel, "V")?, unit.to_owned(), true));
        }
        if unit.is_none()
            && implied.is_none_or(|(_, fits)| !fits)
            && angle::are_minutes(channel, &candidate.profile)
        {
            let as_is = Conversion {
                factor: 1.0,
                offset: 0.0,
            };
            return Some((as_is, angle::DEGREES_MINUTES.to_owned(), false));
        }
        if self.table.header[candidate.index].degrees && unit.is_none() {
            let by = conversion(channel, "deg")?;
            return Some((by, "deg".to_owned(), true));
        }
        if let Some(unit) = unit {
            let taken = implied.map(|(taken, _)| taken);
            let line = self.other_unit(channel, candidate, taken.unwrap_or_default());
            let what = format!(
                "'{name}': '{unit}' is no known unit of {}{}",
                channel.quantity().name(),
                taken.map_or_else(String::new, |taken| format!("; {taken} was taken"))
            );
            let to_do = format!("Name the unit in the channel map, such as: {line}.");
            let finding = Finding::warning("unknown-unit", what, to_do)
                .overruled_by(line)
                .expected(units::words(channel.quantity()).join(", "));
            self.say(finding, candidate.index);
        }
        let Some((unit, fits)) = implied else {
            let line = self.other_unit(channel, candidate, "");
            let finding = Finding::error(
                "unit-missing",
                format!("'{name}' has no unit, and its numbers cannot tell it; it is not used"),
                format!("Name the unit in the channel map, such as: {line}."),
            );
            let finding = finding
                .overruled_by(line)
                .expected(units::words(channel.quantity()).join(", "));
            self.say(finding, candidate.index);
            return None;
        };
        let by = conversion(channel, unit)?;
        if !fits {
            self.implausible(channel, candidate, unit, by);
        } else if channel != Channel::Satellites && channel != Channel::Height {
            let what = format!("'{name}': no unit is written; {unit} was taken");
            let line = self.other_unit(channel, candidate, unit);
            let to_do =
                format!("If another is right, put it into the channel map, such as: {line}.");
            // A wrong unit of speed looks plausible; of volts it does not.
            let finding = match channel.quantity() {
                Quantity::Speed | Quantity::Acceleration => {
                    Finding::warning("unit-assumed", what, to_do)
                }
                _ => Finding::note("unit-assumed", what, to_do),
            };
            self.say(finding.overruled_by(line), candidate.index);
        }
        Some((by, unit.to_owned(), false))
    }

    /// The line for the next likely unit; where there is none, for no column at all.
    fn other_unit(&self, channel: Channel, candidate: &Candidate, taken: &str) -> String {
        match overrule::other_unit(channel, taken, &candidate.profile) {
            Some(unit) => self.line(channel, candidate.index).unit(unit).text(),
            None => overrule::unused(channel),
        }
    }

    /// Metres or feet where no unit of height is written: by what else in the file tells them apart,
    /// else metres, said to be unsure.
    pub(super) fn height_unit(&mut self) {
        let Some(at) = self.out.columns.iter().position(|c| {
            c.channel == Channel::Height && c.how == How::Recognised && !self.has_unit(c.index)
        }) else {
            return;
        };
        let column = self.out.columns[at].clone();
        let name = self.table.column_name(column.index);
        let tells = height::evidence(self.table, &self.out, &column);
        let other = match &tells {
            Some(found) if found.unit != "m" => "m",
            Some(_) => "ft",
            None if column.unit == "m" => "ft",
            None => "m",
        };
        let line = self.line(Channel::Height, column.index).unit(other).text();
        let to_do = format!("If that is wrong, put this into the channel map: {line}.");
        let finding = match tells {
            Some(found) => {
                if let Some(by) = conversion(Channel::Height, found.unit) {
                    let column = &mut self.out.columns[at];
                    (column.factor, column.offset) = (by.factor, by.offset);
                    found.unit.clone_into(&mut column.unit);
                }
                let what = format!(
                    "'{name}': no unit is written; {} was taken, since {}",
                    found.unit, found.why
                );
                Finding::note("unit-found", what, to_do)
            }
            None => {
                let what = format!(
                    "'{name}': no unit is written, and nothing in the file tells metres from feet; {} \
                     was taken, unsure: were it {other}, heights and climbs would be 3.28 times off",
                    column.unit
                );
                Finding::warning("unit-assumed", what, to_do).overruled_by(line)
            }
        };
        self.say(finding, column.index);
    }

    fn has_unit(&self, column: usize) -> bool {
        let unit = self.table.header[column].unit.as_deref();
        unit.is_some_and(|u| conversion(Channel::Height, u).is_some())
    }

    fn implausible(&mut self, channel: Channel, c: &Candidate, unit: &str, by: Conversion) {
        let (Some(low), Some(high)) = (c.profile.quantile(0.02), c.profile.quantile(0.98)) else {
            return;
        };
        let (least, most) = plausible::range(channel);
        let back = |x: f64| (x - by.offset) / by.factor;
        let line = match overrule::other_unit(channel, unit, &c.profile) {
            Some(unit) if fits_in(channel, unit, &c.profile) => {
                self.line(channel, c.index).unit(unit).text()
            }
            _ => overrule::unused(channel),
        };
        let name = self.table.column_name(c.index);
        self.out.findings.push(
            self.at(
                Finding::warning(
                    "implausible-values",
                    format!(
                        "'{name}': it runs from {low} to {high} {unit}: hardly {} in {unit}",
                        with_article(channel.quantity().name())
                    ),
                    format!(
                        "Check the unit in the header, or put what is right into the channel map, such \
                         as: {line}."
                    ),
                )
                .overruled_by(line)
                .expected(format!(
                    "values from {:.4} to {:.4} {unit}",
                    back(least),
                    back(most)
                )),
                c.index,
            ),
        );
    }

    fn electrical_speed(&mut self, index: usize, power: f64) {
        let tokens = words::tokens(&self.table.header[index].text);
        if tokens
            .iter()
            .any(|t| matches!(t.as_str(), "electrical" | "erpm" | "elektrische"))
        {
            let name = self.table.column_name(index);
            let line = self.line(Channel::AngularSpeed, index);
            let line = line.scale(power / POLE_PAIRS).text();
            let finding = Finding::warning(
                "electrical-speed",
                format!(
                    "'{name}': it counts electrical revolutions: the rotor turns slower by the number of \
                     pole pairs, which the file does not tell"
                ),
                format!(
                    "Divide it in the channel map: {line} for {POLE_PAIRS} pole pairs; scale = {power} if \
                     it was divided already."
                ),
            );
            self.say(finding.overruled_by(line), index);
        }
    }
}

/// `a speed`, `an angle`.
fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {noun}")
}

fn fits_in(channel: Channel, unit: &str, profile: &Profile) -> bool {
    conversion(channel, unit).is_some_and(|by| is_plausible(channel, profile, by))
}
