//! Channels that one column does not make: two in one cell, the cells of a pack, the sides of a jet.

use super::channels::{AssignedColumn, Assigner, Candidate, Form, How};
use super::log::Channel;
use super::overrule;
use super::plausible::{self, Profile};
use super::words;
use crate::season::Finding;

impl Assigner<'_> {
    /// Latitude and longitude that stand in one cell.
    pub(super) fn pairs(&mut self) {
        let both = [Channel::Latitude, Channel::Longitude];
        if both
            .iter()
            .any(|c| self.out.get(*c).is_some() || self.off.contains(c))
        {
            return;
        }
        const NAMES: &[&str] = &[
            "gps",
            "gnss",
            "position",
            "pos",
            "coord",
            "coordinates",
            "lat",
        ];
        let named = |i: usize| {
            words::tokens(&self.table.header[i].name)
                .iter()
                .any(|t| NAMES.contains(&t.as_str()))
        };
        let found = (0..self.table.header.len())
            .find(|&i| !self.taken[i] && named(i) && self.table.holds_pairs(i));
        let Some(index) = found else { return };
        self.taken[index] = true;
        for (channel, form) in both.into_iter().zip([Form::First, Form::Second]) {
            self.out.columns.push(AssignedColumn {
                index,
                channel,
                unit: "deg".to_owned(),
                how: How::Recognised,
                confidence: 0.7,
                factor: 1.0,
                offset: 0.0,
                form,
                also: Vec::new(),
                side: None,
            });
        }
        let name = self.table.column_name(index);
        let line = overrule::unused(Channel::Latitude);
        let finding = Finding::note(
            "position-pair",
            format!(
                "'{name}': each cell holds two numbers; they were read as latitude and longitude"
            ),
            format!("If they are something else, put this into the channel map: {line}."),
        );
        let finding = self.at(finding.overruled_by(line), index);
        self.out.findings.push(finding);
    }

    /// The pack's voltage as the sum of its cells, where only they are logged and all of them.
    pub(super) fn cells(&mut self) {
        if self.out.get(Channel::Voltage).is_some() || self.off.contains(&Channel::Voltage) {
            return;
        }
        let mut found: Vec<(usize, usize)> = (0..self.table.header.len())
            .filter(|&i| !self.taken[i])
            .filter_map(|i| Some((self.cell_number(i)?, i)))
            .collect();
        found.sort_unstable();
        let first = found.first().map_or(0, |(number, _)| *number);
        let unbroken = found
            .iter()
            .enumerate()
            .all(|(k, (number, _))| *number == first + k);
        let [(_, index), rest @ ..] = found.as_slice() else {
            return;
        };
        if rest.is_empty() || first > 1 || !unbroken {
            return;
        }
        let unit = self.table.header[*index].unit.as_deref().unwrap_or("V");
        let Some(by) = plausible::conversion(Channel::Voltage, unit) else {
            return;
        };
        let (name, last) = (
            self.table.column_name(*index),
            self.table.column_name(rest[rest.len() - 1].1),
        );
        let line = overrule::unused(Channel::Voltage);
        let finding = Finding::warning(
            "sum-of-cells",
            format!(
                "'{name}': no column is the pack's voltage; the sum of the {} cells to '{last}' was taken",
                found.len()
            ),
            format!(
                "If these are not all the cells in series, put this into the channel map: {line}."
            ),
        );
        self.out.columns.push(AssignedColumn {
            index: *index,
            channel: Channel::Voltage,
            unit: unit.to_owned(),
            how: How::Recognised,
            confidence: 0.6,
            factor: by.factor,
            offset: by.offset,
            form: Form::Number,
            also: rest.iter().map(|(_, i)| *i).collect(),
            side: None,
        });
        found.iter().for_each(|(_, i)| self.taken[*i] = true);
        let finding = self.at(finding.overruled_by(line), *index);
        self.out.findings.push(finding);
    }

    /// Which cell of a pack the column is the voltage of, as far as name, unit and size tell.
    fn cell_number(&self, index: usize) -> Option<usize> {
        const CELLS: &[&str] = &["cell", "cells", "zelle", "cella", "celda", "cel", "cellule"];
        let header = &self.table.header[index];
        let tokens = words::tokens(&header.name);
        if !tokens.iter().any(|t| CELLS.contains(&t.as_str())) {
            return None;
        }
        let mut numbers = tokens.iter().filter_map(|t| t.parse::<usize>().ok());
        let number = numbers.next().filter(|_| numbers.next().is_none())?;
        let by = plausible::conversion(Channel::Voltage, header.unit.as_deref().unwrap_or("V"))?;
        // Lithium cells, flat to overfull (common practice, no source).
        let median = Profile::of(self.table, index).quantile(0.5)? * by.factor;
        (2.0..4.6).contains(&median).then_some(number)
    }

    /// Whether names tell the sides of a jet, and several columns hold values.
    pub(super) fn are_sides(&self, group: &[Candidate]) -> bool {
        const SIDES: &[&str] = &[
            "left",
            "right",
            "links",
            "rechts",
            "gauche",
            "droite",
            "droit",
            "izquierda",
            "derecha",
            "sinistra",
            "destra",
            "port",
            "starboard",
            "l",
            "r",
            "lh",
            "rh",
        ];
        let sided = |c: &&Candidate| {
            c.profile.is_live()
                && words::tokens(&self.table.header[c.index].name)
                    .iter()
                    .any(|t| SIDES.contains(&t.as_str()))
        };
        group.iter().filter(sided).count() > 1
    }
}
