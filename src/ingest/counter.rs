//! Counters of time: those that start again when they are full, and the weeks of satellite time.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

/// Counts at which counters start again: 16, 24 and 32 bits, and microseconds of 32 bits written as
/// milliseconds.
const FULL: [f64; 4] = [65_536.0, 16_777_216.0, 4_294_967_296.0, 4_294_967.296];
/// Usual steps that the step over the end may be long.
const LONGEST_STEPS: f64 = 10.0;
/// Seconds in a week of satellite time.
pub(super) const WEEK_S: f64 = 604_800.0;

/// Lets a counter that started again go on; how often it did.
///
/// A step back is a counter's end if adding its full count makes it a step of usual length and no
/// value reaches the full count; any other is left for [`super::order`] to judge.
pub(super) fn unwrap(raw: &mut [f64]) -> usize {
    let values = || raw.iter().copied().filter(|x| x.is_finite());
    let most = values().fold(f64::NEG_INFINITY, f64::max);
    let steps = || values().zip(values().skip(1)).map(|(a, b)| b - a);
    if !steps().any(|s| s < 0.0) {
        return 0;
    }
    let mut steps: Vec<f64> = steps().filter(|s| *s > 0.0).collect();
    steps.sort_by(f64::total_cmp);
    let Some(&step) = steps.get(steps.len() / 2) else {
        return 0;
    };
    let full = |before: f64, value: f64| {
        FULL.into_iter().find(|full| {
            let over = value + full - before;
            most < *full && over > 0.0 && over <= LONGEST_STEPS * step
        })
    };
    let (mut added, mut times) = (0.0, 0);
    let mut last: Option<f64> = None;
    for value in raw.iter_mut().filter(|x| x.is_finite()) {
        if let Some(full) = last.filter(|b| *b > *value).and_then(|b| full(b, *value)) {
            added += full;
            times += 1;
        }
        last = Some(*value);
        *value += added;
    }
    times
}

/// UTC at the start of a satellite week. Ten-bit weeks (below 1024) are taken as counted since
/// 2019-04-07, when they last started again.
pub(super) fn week_start(week: f64) -> Option<DateTime<Utc>> {
    let week = if week < 1024.0 { week + 2048.0 } else { week };
    if !(0.0..10_000.0).contains(&week) || week.fract() != 0.0 {
        return None;
    }
    let epoch = NaiveDate::from_ymd_opt(1980, 1, 6)?
        .and_hms_opt(0, 0, 0)?
        .and_utc();
    let at = epoch.checked_add_signed(TimeDelta::try_weeks(week as i64)?)?;
    at.checked_sub_signed(TimeDelta::try_seconds(leap_seconds(at))?)
}

/// Seconds by which satellite time is ahead of UTC (IERS Bulletin C; none since 2017).
fn leap_seconds(at: DateTime<Utc>) -> i64 {
    const SINCE: [(i32, u32, i64); 5] = [
        (2017, 1, 18),
        (2015, 7, 17),
        (2012, 7, 16),
        (2009, 1, 15),
        (2006, 1, 14),
    ];
    let date = at.date_naive();
    SINCE
        .into_iter()
        .find(|(year, month, _)| {
            NaiveDate::from_ymd_opt(*year, *month, 1).is_some_and(|since| date >= since)
        })
        .map_or(13, |(_, _, seconds)| seconds)
}
