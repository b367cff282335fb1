//! Columns that make up the time: dates, satellite weeks, stamps under another name, and a clock told
//! by its values.

use super::cell::is_stamp;
use super::channels::{Assigner, Candidate, How, TIME_GUESSED};
use super::date_order::date_of;
use super::log::Channel;
use super::overrule;
use super::plausible::Profile;
use super::rising::could_be_time;
use super::words::{self, Purpose};
use crate::season::Finding;
use crate::units::{self, Quantity};

impl Assigner<'_> {
    pub(super) fn date(&mut self) {
        for (index, header) in self.table.header.iter().enumerate() {
            if self.taken[index] || !words::names_date(&header.name) {
                continue;
            }
            let text = (0..self.table.rows.len())
                .map(|row| self.table.text(row, index).trim())
                .find(|t| !t.is_empty());
            // A date without a time of day; with one it is the time column itself.
            if text.is_some_and(|t| !t.contains(':') && date_of(t).is_some()) {
                self.out.date = Some(index);
                self.taken[index] = true;
                return;
            }
        }
    }

    pub(super) fn week(&mut self) {
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

    /// A clock that no name tells: a column without another meaning that rises as steadily as time
    /// does. A guess, told as one.
    pub(super) fn time_by_values(&mut self, purpose: Purpose) {
        let known = self.out.get(Channel::Time).is_some() || self.off.contains(&Channel::Time);
        if known || purpose == Purpose::Bench {
            return;
        }
        let Some(index) = (0..self.table.header.len())
            .find(|&i| !self.taken[i] && !self.measures_else(i) && could_be_time(self.table, i))
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

    /// The column's name or unit says that it is no time.
    fn measures_else(&self, index: usize) -> bool {
        const OTHERS: &[&str] = &[
            "temp",
            "temperature",
            "temperatur",
            "temperatura",
            "week",
            "rssi",
        ];
        let header = &self.table.header[index];
        let known = units::guess(units::canonical(header.unit.as_deref().unwrap_or_default()));
        let of_other = !known.is_empty() && known.iter().all(|u| u.quantity != Quantity::Time);
        let tokens = words::tokens(&header.name);
        of_other || tokens.iter().any(|t| OTHERS.contains(&t.as_str()))
    }

    pub(super) fn stamped(&self, index: usize) -> Option<words::Meaning> {
        let header = &self.table.header[index];
        let first = (0..self.table.rows.len().min(50))
            .map(|row| self.table.text(row, index))
            .find(|t| !t.trim().is_empty())?;
        let is_time = words::names_date(&header.name) || header.text.is_empty();
        (is_time && first.contains([':', 'T']) && is_stamp(first)).then_some(words::Meaning {
            channel: Channel::Time,
            unit: None,
            qualified: false,
            weak: false,
            score: 1,
        })
    }
}
