//! Whether a channel's values can be: positions before a fix and jumps of the receiver, spikes,
//! stuck and clipped channels, the zero of the current sensor.
//!
//! What cannot be becomes absent (NaN), counted in the ledger by channel and reason and told in a
//! finding, both with the first line; nothing is dropped in silence, and no row is lost. What is merely suspect is named and kept.

mod position;
mod range;
mod spikes;
mod zero;

pub use spikes::hampel;
pub use zero::zero_current;

use super::ledger::FileLedger;
use super::log::{Channel, Log};
use crate::season::Finding;

/// Marks what cannot be, in the ledger too. Called on every log once it is read.
pub fn check(log: &mut Log, ledger: &mut FileLedger, findings: &mut Vec<Finding>) {
    let mut marks = Marks { ledger, findings };
    position::check(log, &mut marks);
    range::stuck(log, &mut marks);
    spikes::check(log, &mut marks);
    range::clipped(log, marks.findings);
}

/// Where marks are written down.
struct Marks<'a> {
    ledger: &'a mut FileLedger,
    findings: &'a mut Vec<Finding>,
}

/// Makes the channels' values at these rows absent and says so: `why` in a few words for the ledger,
/// `say` with the count of rows for the finding.
fn blank(
    log: &mut Log,
    rows: &[usize],
    channels: &[Channel],
    why: &str,
    mut say: impl FnMut(usize) -> (&'static str, String, &'static str),
    marks: &mut Marks<'_>,
) {
    // Of each channel: values made absent, and the row of the first.
    let mut blanked: Vec<(Channel, usize, usize)> = Vec::new();
    let (mut marked, mut first) = (0usize, None);
    for &row in rows {
        let mut had = false;
        for channel in channels {
            let value = log.channels.get_mut(channel).and_then(|s| s.get_mut(row));
            let Some(value) = value.filter(|v| v.is_finite()) else {
                continue;
            };
            *value = f64::NAN;
            had = true;
            match blanked.iter_mut().find(|b| b.0 == *channel) {
                Some((_, count, _)) => *count += 1,
                None => blanked.push((*channel, 1, row)),
            }
        }
        if had {
            marked += 1;
            first.get_or_insert(row);
        }
    }
    let Some(first) = first else { return };
    let line = |row: usize| log.lines.get(row).copied().unwrap_or_default();
    let (code, what, to_do) = say(marked);
    for (channel, count, row) in blanked {
        marks.ledger.mark(channel, code, count, line(row), why);
    }
    let finding = Finding::warning(code, what, to_do);
    marks
        .findings
        .push(finding.at(&log.file, line(first), None));
}
