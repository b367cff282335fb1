//! What the steps of a column tell: whether it rises as a clock does, and in which unit.

use super::stamp::{self, DateOrder};
use super::table::Table;

/// Steps of loggers, s: 2 kHz to one row in five seconds.
const STEPS_S: (f64, f64) = (0.0005, 5.0);
/// No flight of a model or run of a bench lasts longer, s.
const LONGEST_S: f64 = 4.0 * 3600.0;
/// Seconds since 1970 of any logger: 2001 to 2096.
pub(super) const EPOCH_S: (f64, f64) = (1e9, 4e9);
/// Rows that make a steady rise a clock; a sweep by hand has fewer.
const LEAST_ROWS: usize = 40;
/// The same for values that are seconds since 1970.
const LEAST_ROWS_OF_EPOCH: usize = 3;

/// Whether a column's values rise as a clock's do: nearly every cell a number, nearly every step
/// forward, most steps of one size, and that size and the whole in the range of loggers. A count of
/// rows (1, 2, 3, …) is no clock.
pub(super) fn could_be_time(table: &Table, column: usize) -> bool {
    let is_stamps = table.text(0, column).contains(':');
    let value = |row: usize| match is_stamps {
        true => {
            stamp::parse(table.text(row, column), DateOrder::DayFirst, false).map(|s| s.seconds)
        }
        false => table.raw(row, column).number(),
    };
    let values: Vec<f64> = (0..table.rows.len()).filter_map(value).collect();
    let rows = table.rows.len();
    let steps: Vec<f64> = values.windows(2).map(|w| w[1] - w[0]).collect();
    let mut forward: Vec<f64> = steps.iter().copied().filter(|s| *s > 0.0).collect();
    forward.sort_by(f64::total_cmp);
    let Some(&median) = forward.get(forward.len() / 2) else {
        return false;
    };
    let of_one_size = forward
        .iter()
        .filter(|s| (0.5 * median..=2.0 * median).contains(*s))
        .count();
    let rises = 20 * values.len() >= 19 * rows && 20 * forward.len() >= 19 * steps.len();
    if !rises || 10 * of_one_size < 9 * steps.len() {
        return false;
    }
    let of_epoch = [1.0, 1e-3, 1e-6].into_iter().any(|factor| {
        let within = |x: &f64| (EPOCH_S.0..EPOCH_S.1).contains(&(x * factor));
        values.iter().all(within) && steps_fit(&values, factor)
    });
    let counts_rows =
        values.first().is_some_and(|x| *x == 0.0 || *x == 1.0) && steps.iter().all(|s| *s == 1.0);
    ((of_epoch || (is_stamps && steps_fit(&values, 1.0))) && rows >= LEAST_ROWS_OF_EPOCH)
        || (rows >= LEAST_ROWS && !is_stamps && !counts_rows && by_step(&values).2)
}

/// Unit by the median step and the length: (word, factor, whether it fits).
pub(super) fn by_step(raw: &[f64]) -> (&'static str, f64, bool) {
    [("s", 1.0), ("ms", 1e-3), ("us", 1e-6)]
        .into_iter()
        .find(|(_, factor)| steps_fit(raw, *factor))
        .map_or(("s", 1.0, false), |(unit, factor)| (unit, factor, true))
}

pub(super) fn readable(raw: &[f64]) -> impl Iterator<Item = f64> {
    raw.iter().copied().filter(|t| t.is_finite())
}

pub(super) fn steps_fit(raw: &[f64], factor: f64) -> bool {
    let mut steps: Vec<f64> = readable(raw)
        .zip(readable(raw).skip(1))
        .map(|(before, after)| after - before)
        .filter(|step| *step > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    let Some(&step) = steps.get(steps.len() / 2) else {
        return factor == 1.0;
    };
    // The sum of usual steps leaves out jumps of a clock that was set.
    let length = steps.iter().filter(|s| **s <= 100.0 * step).sum::<f64>();
    (STEPS_S.0..=STEPS_S.1).contains(&(step * factor)) && length * factor <= LONGEST_S
}
