//! Columns that a name claims and their content or unit denies: said in words, and not used.

use std::collections::BTreeSet;

use super::cell::Cell;
use super::channels::Assigner;
use super::log::Channel;
use super::overrule::{self, Line};
use super::words::{self, Purpose};
use crate::season::Finding;
use crate::units;

impl Assigner<'_> {
    /// A column of which no cell can be read.
    pub(super) fn unreadable(&mut self, channel: Channel, index: usize) {
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
    pub(super) fn contradicted(&mut self, purpose: Purpose) {
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
}
