//! Times of rows into strictly increasing time, with what had to be done counted.
//!
//! - A row without a time, a stamp repeated (the later row), a single row that goes back or jumps
//!   ahead and returns: set aside.
//! - Rows a few places late, in a recording otherwise in order: sorted.
//! - More than [`COARSE`] of the stamps repeated: the clock is coarser than the rows; the rows of one
//!   stamp are spread evenly until the next.
//! - A clock that goes back for good was reset, one that leaps ahead by more than [`LEAP_S`] was set:
//!   time goes on [`RESTART_GAP_S`] after the last row, and a break is recorded.
//! - A gap (longer than ten median steps and 1 s) is a break; before a header that stands again one
//!   longer than [`HEADER_STEPS`] median steps is.

use super::ledger::FileLedger;
use crate::season::Finding;

/// Time put between the last row before a restart and the first after it, s. The true gap is
/// unknown; the break tells everyone not to look across it.
pub const RESTART_GAP_S: f64 = 1.0;
/// A step ahead longer than this is a clock being set, not a gap, s.
pub const LEAP_S: f64 = 6.0 * 3600.0;
/// A gap longer than this within a file parts two flights (common practice, no source), s.
const PAUSE_S: f64 = 600.0;
/// Steps from a late row's time to those of its neighbours, at least: the jitter of loggers.
const HOLE: f64 = 0.75;
/// A row is late by at most so many places.
const LATE_ROWS: usize = 5;
/// Share of repeated stamps from which the clock counts as coarse.
const COARSE: f64 = 0.3;
/// Median steps beyond which a repeated header tells of a restart, and not of a logger that writes its
/// header again while the clock runs on (common practice, no source).
const HEADER_STEPS: f64 = 3.0;
const DAY_S: f64 = 86_400.0;

/// Rows in order.
#[derive(Debug, Default)]
pub(super) struct Ordered {
    /// Indices into the rows given.
    pub rows: Vec<usize>,
    /// s since the first row kept, strictly increasing.
    pub time: Vec<f64>,
    pub breaks: Vec<usize>,
    pub step_s: f64,
    /// Seconds to add to the clock's reading of the last clean stretch to get `time`.
    pub shift: f64,
    /// Of each stretch between resets: the clock's reading at its first row, and its shift.
    pub stretches: Vec<(f64, f64)>,
    /// The clock was reset or set on the way.
    pub reset: bool,
}

/// What is known of the rows.
pub(super) struct Rows<'a> {
    pub file: &'a str,
    /// NaN where a row has no readable time.
    pub seconds: Vec<f64>,
    pub lines: &'a dyn Fn(usize) -> u32,
    /// Rows of the file that each of these stands for.
    pub count: &'a dyn Fn(usize) -> u64,
    /// Rows before which the recording may have stopped.
    pub restarts: &'a [usize],
    /// It stopped there whatever the clock says.
    pub sure_restarts: bool,
    pub wraps_at_midnight: bool,
    /// Rows may come a few places late; of sentences and track points such a time is a stray.
    pub may_be_late: bool,
}

impl Rows<'_> {
    fn withdraw(&self, ledger: &mut FileLedger, code: &str, row: usize, what: &str) {
        for _ in 0..(self.count)(row) {
            ledger.withdraw(code, u64::from((self.lines)(row)), what);
        }
    }
}

/// Puts rows in order; the ledger must hold every row as used.
pub(super) fn order(
    mut rows: Rows<'_>,
    ledger: &mut FileLedger,
    findings: &mut Vec<Finding>,
) -> Ordered {
    if rows.wraps_at_midnight {
        unwrap_midnight(&mut rows.seconds);
    }
    let mut timed: Vec<(usize, f64)> = Vec::with_capacity(rows.seconds.len());
    for (row, seconds) in std::mem::take(&mut rows.seconds).into_iter().enumerate() {
        if seconds.is_finite() {
            timed.push((row, seconds));
        } else {
            rows.withdraw(ledger, "no-time", row, "no readable time");
        }
    }
    spread_coarse(&mut timed, rows.file, findings);
    sort_late(&mut timed, &rows, findings);
    let step = median_step(&timed);
    let gap = f64::max(10.0 * step, 1.0);
    let mut out = Ordered {
        step_s: step,
        rows: Vec::with_capacity(timed.len()),
        time: Vec::with_capacity(timed.len()),
        ..Ordered::default()
    };
    let (mut gaps, mut longest, mut resets) = (0usize, (0.0f64, 0usize), Vec::new());
    let mut last: Option<f64> = None;
    let mut restarts = rows.restarts.iter().copied().peekable();
    for i in 0..timed.len() {
        let (row, raw) = timed[i];
        let next = timed.get(i + 1).map(|n| n.1);
        let restarted = restarts.peek().is_some_and(|r| *r <= row);
        let Some(before) = last else {
            out.shift = -raw;
            out.stretches.push((raw, out.shift));
            push(&mut out, row, 0.0);
            last = Some(raw);
            while restarts.next_if(|r| *r <= row).is_some() {}
            continue;
        };
        let forward = raw - before;
        let restarted =
            restarted && (rows.sure_restarts || forward < 0.0 || forward > HEADER_STEPS * step);
        if forward == 0.0 && !restarted {
            rows.withdraw(ledger, "repeated-time", row, "the time of the row before");
            continue;
        }
        let returns = next.is_some_and(|next| next > before && next - before <= gap);
        let strays = forward < 0.0 || (forward > gap && next.is_some_and(|next| next < raw));
        if strays && returns && !restarted {
            rows.withdraw(
                ledger,
                "stray-time",
                row,
                "a time out of line with its neighbours",
            );
            continue;
        }
        while restarts.next_if(|r| *r <= row).is_some() {}
        let before_in_time = out.time.last().copied().unwrap_or(0.0);
        if forward <= 0.0 || forward > LEAP_S {
            out.shift = before_in_time + RESTART_GAP_S - raw;
            out.stretches.push((raw, out.shift));
            resets.push(row);
            out.breaks.push(out.rows.len());
        } else if forward > gap || restarted {
            gaps += 1;
            if forward > longest.0 {
                longest = (forward, row);
            }
            out.breaks.push(out.rows.len());
        }
        // Rounding may not make two times equal.
        let time = f64::max(raw + out.shift, before_in_time.next_up());
        push(&mut out, row, time);
        last = Some(raw);
    }
    out.reset = !resets.is_empty();
    report(&rows, gaps, longest, &resets, findings);
    out
}

fn push(out: &mut Ordered, row: usize, time: f64) {
    out.rows.push(row);
    out.time.push(time);
}

fn report(
    rows: &Rows<'_>,
    gaps: usize,
    (longest, after): (f64, usize),
    resets: &[usize],
    findings: &mut Vec<Finding>,
) {
    if gaps > 0 {
        findings.push(
            Finding::note(
                "gaps",
                format!("the recording stops {gaps} time(s), at longest for {longest:.1} s"),
                "Nothing; nobody looks across a gap.",
            )
            .in_file(rows.file),
        );
    }
    if longest > PAUSE_S {
        findings.push(
            Finding::warning(
                "long-pause",
                format!(
                    "the recording stops for {:.0} min: these are hardly one flight",
                    longest / 60.0
                ),
                "If the file holds two flights, split it there, and name both in logbook.csv.",
            )
            .at(rows.file, (rows.lines)(after), None),
        );
    }
    if let Some(&first) = resets.first() {
        findings.push(
            Finding::warning(
                "clock-reset",
                format!(
                    "the clock was reset or set {} time(s); time goes on {RESTART_GAP_S} s after the last row",
                    resets.len()
                ),
                "If the file holds several flights, split it there.",
            )
            .at(rows.file, (rows.lines)(first), None),
        );
    }
}

fn unwrap_midnight(seconds: &mut [f64]) {
    let (mut days, mut last) = (0.0, f64::NEG_INFINITY);
    for t in seconds.iter_mut().filter(|t| t.is_finite()) {
        if *t < last - DAY_S / 2.0 {
            days += DAY_S;
        }
        last = *t;
        *t += days;
    }
}

/// Puts rows that came a few places late where a step was left out for them.
fn sort_late(timed: &mut [(usize, f64)], rows: &Rows<'_>, findings: &mut Vec<Finding>) {
    if !rows.may_be_late || timed.windows(2).all(|w| w[0].1 <= w[1].1) {
        return;
    }
    let mut sorted = timed.to_vec();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    let step = median_step(&sorted);
    let (mut late, mut first) = (0u64, None);
    for i in 1..timed.len() {
        let (row, t) = timed[i];
        if t >= timed[i - 1].1 || timed[i - 1].1 - t > (LATE_ROWS + 1) as f64 * step {
            continue;
        }
        let least = i.saturating_sub(LATE_ROWS);
        let place = (least..i).rev().take_while(|&k| timed[k].1 > t).last();
        let Some(place) = place else { continue };
        let restarted = rows
            .restarts
            .iter()
            .any(|r| timed[place].0 < *r && *r <= row);
        // Elsewhere than in a hole the stamp is a stray.
        let before = place.checked_sub(1).map(|k| timed[k].1);
        let holds = before.is_none_or(|before| t - before >= HOLE * step)
            && timed[place].1 - t >= HOLE * step;
        if restarted || !holds {
            continue;
        }
        timed[place..=i].rotate_right(1);
        late += (rows.count)(row);
        first.get_or_insert(row);
    }
    let Some(first) = first else { return };
    findings.push(
        Finding::note(
            "late-rows",
            format!(
                "{late} row(s) came up to {LATE_ROWS} places late; they were put in the order of their \
                 times, none is lost"
            ),
            "Nothing.",
        )
        .at(rows.file, (rows.lines)(first), None),
    );
}

fn median_step(timed: &[(usize, f64)]) -> f64 {
    let mut steps: Vec<f64> = timed
        .windows(2)
        .map(|w| w[1].1 - w[0].1)
        .filter(|s| *s > 0.0)
        .collect();
    if steps.is_empty() {
        return 0.0;
    }
    let middle = steps.len() / 2;
    *steps.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Rows that share a stamp are spread evenly until the next stamp.
fn spread_coarse(timed: &mut [(usize, f64)], file: &str, findings: &mut Vec<Finding>) {
    let repeated = timed.windows(2).filter(|w| w[0].1 == w[1].1).count();
    if timed.len() < 10 || (repeated as f64) < COARSE * timed.len() as f64 {
        return;
    }
    let step = median_step(timed);
    if step == 0.0 {
        return;
    }
    let mut start = 0;
    while start < timed.len() {
        let stamp = timed[start].1;
        let count = timed[start..].iter().take_while(|t| t.1 == stamp).count();
        let until = timed.get(start + count).map_or(step, |next| next.1 - stamp);
        // The last rows before a gap take no longer than usual.
        let span = if until > 0.0 { until.min(step) } else { step };
        for (k, t) in timed[start..start + count].iter_mut().enumerate() {
            t.1 += span * k as f64 / count as f64;
        }
        start += count;
    }
    // Without the dust of its arithmetic.
    let tick = (step * 1e6).round() / 1e6;
    findings.push(
        Finding::warning(
            "coarse-clock",
            format!("the clock ticks every {tick} s, slower than the rows; they were spread evenly between its ticks"),
            "Let the logger write fractions of a second.",
        )
        .in_file(file),
    );
}
