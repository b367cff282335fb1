//! Whether a channel's values can be: positions before a fix and jumps of the receiver, spikes,
//! stuck and clipped channels, the zero of the current sensor.
//!
//! What cannot be becomes absent (NaN), counted in a finding with its first line; nothing is
//! dropped in silence, and no row is lost. What is merely suspect is named and kept.

mod position;
mod range;
mod spikes;
mod zero;

pub use spikes::hampel;
pub use zero::zero_current;

use super::log::{Channel, Log};
use crate::season::Finding;

/// Marks what cannot be. Called on every log once it is read.
pub fn check(log: &mut Log, findings: &mut Vec<Finding>) {
    position::check(log, findings);
    range::stuck(log, findings);
    spikes::check(log, findings);
    range::clipped(log, findings);
}

/// Makes the channels' values at these rows absent and says so.
fn blank(
    log: &mut Log,
    rows: &[usize],
    channels: &[Channel],
    mut say: impl FnMut(usize) -> (&'static str, String, &'static str),
    findings: &mut Vec<Finding>,
) {
    let mut marked: Vec<usize> = Vec::new();
    for &row in rows {
        let mut had = false;
        for channel in channels {
            if let Some(value) = log.channels.get_mut(channel).and_then(|s| s.get_mut(row)) {
                had |= value.is_finite();
                *value = f64::NAN;
            }
        }
        if had {
            marked.push(row);
        }
    }
    let Some(&first) = marked.first() else { return };
    let (code, what, to_do) = say(marked.len());
    let line = log.lines.get(first).copied().unwrap_or_default();
    findings.push(Finding::warning(code, what, to_do).at(&log.file, line, None));
}
