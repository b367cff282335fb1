//! Which way a column counts: discharge as negative, the throttle backwards, the side of the world.

use super::angle;
use super::channels::{AssignedColumn, Assigner, Candidate};
use super::log::Channel;
use super::{plausible, throttle};
use crate::season::{ChannelDecl, Finding};
use crate::units::{self, Quantity};

impl Assigner<'_> {
    /// Says that discharge is counted as negative.
    pub(super) fn negative_draw(&mut self) {
        for channel in [Channel::Current, Channel::Power] {
            let Some(column) = self.out.get(channel).cloned() else {
                continue;
            };
            if !self.is_negative(&column) {
                continue;
            }
            let name = self.table.column_name(column.index);
            let mut line = self.line(channel, column.index);
            if self.table.header[column.index].unit.is_none() {
                line = line.unit(&column.unit);
            }
            let line = line.scale(-1.0).text();
            let what = format!(
                "'{name}': it is negative nearly throughout: what the pack gives seems to be counted as \
                 negative"
            );
            let to_do = format!("Turn its sign in the channel map: {line}.");
            let finding = Finding::warning("negative-draw", what, to_do).overruled_by(line);
            self.say(finding, column.index);
        }
    }

    /// Nine in ten of the values that are not small lie below zero.
    fn is_negative(&self, column: &AssignedColumn) -> bool {
        let values: Vec<f64> = plausible::sample(self.table)
            .filter_map(|row| self.table.value(row, column).number())
            .collect();
        let largest = values.iter().fold(0.0, |most: f64, x| most.max(x.abs()));
        let large = || values.iter().filter(|x| x.abs() > 0.1 * largest);
        let below = large().filter(|x| **x < 0.0).count();
        largest > 1.0 && 10 * below >= 9 * large().count()
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
        let draws = matches!(load.channel, Channel::Current | Channel::Power);
        let sign = if draws && self.is_negative(&load) {
            -1.0
        } else {
            1.0
        };
        let pairs: Vec<_> = plausible::sample(self.table)
            .filter_map(|row| {
                let x = self.table.value(row, &thr).number()?;
                Some((x, sign * self.table.value(row, &load).number()?))
            })
            .collect();
        if throttle::rank_correlation(&pairs).is_some_and(|r| r < -0.5) {
            let name = self.table.column_name(thr.index);
            let low = -thr.offset / thr.factor;
            let mut line = self.line(Channel::Throttle, thr.index);
            let word = thr.unit.split(' ').next().unwrap_or_default();
            if units::find(word, Quantity::Time).is_some() {
                line = line.unit(word);
            }
            let line = line.ends(low + 1.0 / thr.factor, low).text();
            let finding = Finding::warning(
                "throttle-reversed",
                format!(
                    "'{name}': {} falls as it rises: the throttle seems to run backwards",
                    load.channel.word()
                ),
                format!("Declare its ends the other way round in the channel map: {line}."),
            );
            // The likeliest mistake: its line comes before that of other ends.
            let finding = self.at(finding.overruled_by(line), thr.index);
            self.out.findings.insert(0, finding);
        }
    }

    /// Says that degrees and minutes stand in one number, and on which side of the world.
    pub(super) fn degrees_and_minutes(
        &mut self,
        channel: Channel,
        candidate: &Candidate,
        decl: Option<&ChannelDecl>,
        side: Option<usize>,
    ) {
        if decl.is_some_and(|d| d.scale.is_some()) {
            return;
        }
        let name = self.table.column_name(candidate.index);
        let negative = candidate.profile.values.iter().any(|x| *x < 0.0);
        if side.is_some() {
            let what = format!(
                "'{name}': its numbers were read as degrees and minutes in one ({})",
                angle::DEGREES_MINUTES
            );
            let finding = Finding::note("degrees-and-minutes", what, "Nothing, if they are.");
            return self.say(finding, candidate.index);
        }
        let side = match (channel, negative) {
            (_, true) => "by the sign of its numbers",
            (Channel::Latitude, false) => "north of the equator",
            (_, false) => "east of Greenwich",
        };
        let what = format!(
            "'{name}': its numbers were read as degrees and minutes in one ({}), {side}",
            angle::DEGREES_MINUTES
        );
        let line = self.line(channel, candidate.index).scale(-1.0).text();
        let to_do = format!("If it is the other side, put this into the channel map: {line}.");
        let finding = Finding::warning("degrees-and-minutes", what, to_do).overruled_by(line);
        self.say(finding, candidate.index);
    }
}
