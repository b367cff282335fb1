//! How fast two clocks drift apart over a long flight.
//!
//! The offset is found in windows of five minutes and more, one by one, and a straight line is fitted
//! to the offsets by least squares; the windows' own scatter around it is the error of its slope, with
//! Student's t for the few windows there are. Quartz clocks differ by some tens of parts per million,
//! ceramic resonators by thousands (common practice, no source).

use serde::{Deserialize, Serialize};

use super::correlation::{Grid, refine};
use super::track::Track;
use crate::season::Finding;
use crate::stats::distributions::t_quantile;
use crate::stats::linear;

/// Least length of a window, s, and windows at most.
const WINDOW_S: f64 = 300.0;
const MOST_WINDOWS: usize = 12;
/// Fewer windows than these show no drift.
const LEAST_WINDOWS: usize = 4;
/// The offset of a window is looked for so far from that of the whole, s.
const REACH_S: f64 = 2.5;
/// A window counts if its offset is at least this certain, s, and its signals agree this well.
const WINDOW_SE_S: f64 = 0.15;
const WINDOW_CORRELATION: f64 = 0.45;
/// Windows that scatter more than this around a line disagree, s (as the offset that is refused).
const MOST_SPREAD_S: f64 = 0.25;

/// A drift of the position logger's clock against the power logger's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// s that the offset grows by in a second; above 0 the position logger's clock is slow.
    pub rate: f64,
    /// Half of the interval at 95 %.
    pub half_width: f64,
    /// Time of the power log at which the offset of the whole holds, s.
    pub at_s: f64,
    pub windows: usize,
}

impl Drift {
    /// The interval does not hold 0: only then is the drift taken off.
    pub fn is_distinct(&self) -> bool {
        self.rate.abs() > self.half_width
    }

    pub fn finding(&self, file: &str) -> Finding {
        let ppm = |x: f64| 1e6 * x;
        let (low, high) = (self.rate - self.half_width, self.rate + self.half_width);
        let interval = format!(
            "between {:.0} and {:.0} parts per million (95 %, from {} windows)",
            ppm(low),
            ppm(high),
            self.windows
        );
        let what = if self.is_distinct() {
            let which = if self.rate > 0.0 { "slow" } else { "fast" };
            format!(
                "this logger's clock runs {which} against the power logger's by {:.0} parts per million, \
                 {interval}; that was taken off",
                ppm(self.rate.abs())
            )
        } else {
            format!("the two loggers' clocks drift apart by {interval}; nothing was taken off")
        };
        Finding::note("clock-drift", what, "Nothing.").in_file(file)
    }

    /// The position log's tracks as a clock without drift had stamped them; `offset` is that of the
    /// whole.
    pub(super) fn taken_off(&self, tracks: &[Track], offset: f64) -> Vec<Track> {
        let straight = |t: &f64| t + self.rate * (t + offset - self.at_s);
        tracks
            .iter()
            .map(|track| Track {
                time: track.time.iter().map(straight).collect(),
                value: track.value.clone(),
            })
            .collect()
    }
}

/// The drift of `moved` against `fixed` around an offset; `None` where the logs are too short or too
/// few windows tell, the scatter in s where the windows disagree.
pub(super) fn drift(fixed: &Grid, moved: &Grid, offset: f64) -> Result<Option<Drift>, f64> {
    let from = fixed.start.max(moved.start + offset);
    let length = fixed.end().min(moved.end() + offset) - from;
    let windows = ((length / WINDOW_S) as usize).min(MOST_WINDOWS);
    if windows < LEAST_WINDOWS {
        return Ok(None);
    }
    let step = length / windows as f64;
    let (mut middles, mut offsets) = (Vec::new(), Vec::new());
    for window in 0..windows {
        let start = from + window as f64 * step;
        let part = fixed.part(start, start + step);
        let found = refine(&part, moved, offset - REACH_S, offset + REACH_S)
            .filter(|s| s.se_s < WINDOW_SE_S && s.correlation >= WINDOW_CORRELATION);
        if let Some(shift) = found {
            middles.push(start + 0.5 * step);
            offsets.push(shift.value_s);
        }
    }
    if middles.len() < LEAST_WINDOWS {
        return Ok(None);
    }
    let at_s = crate::stats::mean(&middles);
    middles.iter_mut().for_each(|t| *t -= at_s);
    let Some(line) = linear::fit(&[middles], &offsets) else {
        return Ok(None);
    };
    if line.s > MOST_SPREAD_S {
        return Err(line.s);
    }
    Ok(line.coefficient(1).map(|slope| Drift {
        rate: slope.value,
        half_width: t_quantile(0.975, line.df as f64) * slope.se,
        at_s,
        windows: offsets.len(),
    }))
}
