//! Is there a current sensor, and can what it says be believed?

use serde::{Deserialize, Serialize};

use crate::flight::track::{Track, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;

/// What the current channel of a log is worth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum CurrentSensor {
    /// No such column, or no value in it.
    Absent,
    /// A column that never leaves zero: a logger without its sensor. Treated as absent.
    AllZero,
    /// The reading stops at `at_a`: charge and power are lower bounds.
    Saturated {
        at_a: f64,
    },
    Sound,
}

impl CurrentSensor {
    pub fn usable(self) -> bool {
        matches!(self, Self::Sound | Self::Saturated { .. })
    }
}

/// Judges the current channel. `range_end_a` is the sensor's declared end, if any.
pub fn current_sensor(log: &Log, range_end_a: Option<f64>) -> (CurrentSensor, Option<Finding>) {
    let all = tracks(log, Channel::Current);
    let peak = all
        .iter()
        .flat_map(|t| &t.value)
        .fold(f64::NEG_INFINITY, |a, &b| a.max(b));
    if all.is_empty() {
        return (CurrentSensor::Absent, None);
    }
    if all.iter().flat_map(|t| &t.value).all(|v| *v == 0.0) {
        let finding = Finding::warning(
            "no-current",
            "the current column is zero from start to end: no current was measured",
            "Check that the sensor was plugged in; until then the power of this flight is estimated \
             from the bench curve, not measured.",
        );
        return (CurrentSensor::AllZero, Some(finding.in_file(&log.file)));
    }
    let declared = range_end_a.filter(|end| peak >= *end);
    if declared.is_some() || flat_top(&all, peak) {
        let at_a = declared.unwrap_or(peak);
        let finding = Finding::warning(
            "saturated-current",
            format!("the current reading stops at {at_a:.1} A: the sensor has reached its end"),
            "Charge, energy and peak current of this flight are lower bounds; use a sensor with a \
             greater range.",
        );
        return (
            CurrentSensor::Saturated { at_a },
            Some(finding.in_file(&log.file)),
        );
    }
    (CurrentSensor::Sound, None)
}

/// A live signal never repeats its peak to the last digit while it varies everywhere else. So: the
/// peak comes in runs of at least five equal values (ten in all), and among the readings between
/// 20 % and 99 % of it fewer than one neighbouring pair in five is equal. A coarse display repeats
/// everywhere and is not accused; its end must be declared.
fn flat_top(all: &[Track], peak: f64) -> bool {
    let (mut at_peak, mut longest) = (0, 0);
    let (mut pairs, mut equal) = (0, 0);
    for track in all {
        let mut run = 0;
        for (i, &v) in track.value.iter().enumerate() {
            if v == peak {
                at_peak += 1;
                run += 1;
                longest = longest.max(run);
                continue;
            }
            run = 0;
            if i > 0 && v > 0.2 * peak && v < 0.99 * peak {
                pairs += 1;
                equal += usize::from(v == track.value[i - 1]);
            }
        }
    }
    longest >= 5 && at_peak >= 10 && pairs >= 20 && 5 * equal < pairs
}
