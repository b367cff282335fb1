//! Pack resistance from current steps, at a time scale that is said.
//!
//! A pack's voltage falls at once with the current and then goes on falling for many seconds: its
//! resistance is a matter of how long after a step one looks. Here it is what a single clean step shows
//! from one to three seconds after it. Steps in flight are not clean: what the step before left behind
//! is still fading. So the voltage around every step is explained by the current of the moment, by the
//! current smoothed with a time constant, and by the charge drawn; from the first two follows what a
//! clean step would show.

use serde::{Deserialize, Serialize};

use crate::flight::ticks::Ticks;
use crate::flight::track::{Track, mean, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;
use crate::stats::compressed::Compressed;
use crate::stats::jackknife::jackknife;
use crate::stats::linear::Fit;

/// Seconds after a step: the scale itself, sooner, later.
pub const AFTER_S: (f64, f64) = (1.0, 3.0);
const SOONER_S: (f64, f64) = (0.5, 1.5);
const LATER_S: (f64, f64) = (2.0, 5.0);
const SPANS_S: [(f64, f64); 3] = [SOONER_S, AFTER_S, LATER_S];
/// Seconds before it that all three are held against.
const BEFORE_S: (f64, f64) = (-1.5, -0.3);
/// Time constants tried for what builds up slowly, s.
const FASTEST_S: f64 = 0.7;
const SLOWEST_S: f64 = 30.0;
const TRIED: usize = 30;
/// A step is a change by this part of the flight's peak current, at least.
const STEP: f64 = 0.2;
/// Steps are looked for this often, s, and stand this far apart at least.
const EVERY_S: f64 = 0.25;
const APART_S: f64 = 2.0;
/// Steps from which a resistance is told, at least.
const STEPS: usize = 10;
/// What is fitted to the steps: six coefficients, a constant, the time constant. A step left out moves
/// the fit by its residual over one less its leverage, 8 / steps on average: the jackknife's squares
/// are that much too large. Source: MacKinnon and White, J. Econometrics 29 (1985) 305 (HC2 against
/// the jackknife).
const FITTED: f64 = 8.0;

/// Resistance of one flight's pack.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StepResistance {
    /// One to three seconds after a step, half-way through the flight's charge.
    pub resistance_ohm: f64,
    /// 95 %, leaving out one step at a time; the sensors' scales are not in it.
    pub interval_ohm: (f64, f64),
    /// Half to one and a half, and two to five seconds after.
    pub sooner_ohm: f64,
    pub later_ohm: f64,
    pub steps: usize,
    /// K, where the pack's temperature is logged.
    pub temperature_k: Option<f64>,
}

/// Changes over one step, for each of the three spans after it: current (A), smoothed current (A),
/// charge (A.h), voltage (V), and the current times what of the flight's charge was drawn beyond half:
/// an emptier pack is a softer one, and what is told is the resistance half-way. The charge times the
/// same and its square: the open-circuit voltage falls faster near either end.
type Step = Vec<[f64; 7]>;

/// The resistance of a flight; a finding where volts and amps are logged and steps are too few.
/// `None` without both sensors.
pub fn step_resistance(log: &Log) -> Result<Option<StepResistance>, Finding> {
    let voltage = tracks(log, Channel::Voltage);
    let current = tracks(log, Channel::Current);
    if voltage.is_empty() || current.is_empty() {
        return Ok(None);
    }
    let moments = moments(&current);
    let charge: Vec<Track> = current.iter().map(drawn).collect();
    let ticks: Vec<Ticks> = current.iter().map(|t| Ticks::of(&t.time)).collect();
    let fixed = fixed(&moments, &current, &charge, &voltage);
    let mut count = 0;
    let tried: Vec<Tried> = (0..TRIED)
        .map(|k| {
            let tau = FASTEST_S * (SLOWEST_S / FASTEST_S).powf(k as f64 / (TRIED - 1) as f64);
            let both = current.iter().zip(&ticks);
            let slow: Vec<Track> = both.map(|(t, ticks)| smoothed(t, ticks, tau)).collect();
            let steps = steps(&fixed, &slow);
            count = steps.len();
            (tau, responses(&steps))
        })
        .collect();
    let value = |span: (f64, f64), out: Option<usize>| best(&tried, span, out);
    let found = jackknife(count, |out| value(AFTER_S, out))
        .filter(|left| left.value > 0.0)
        .and_then(|left| {
            let spare = count as f64 - FITTED;
            let half =
                stats::t_quantile(0.975, spare) * left.se * (spare / (count as f64 - 1.0)).sqrt();
            Some(StepResistance {
                resistance_ohm: left.value,
                interval_ohm: (left.value - half, left.value + half),
                sooner_ohm: value(SOONER_S, None)?,
                later_ohm: value(LATER_S, None)?,
                steps: count,
                temperature_k: mean_of(log, Channel::PackTemperature),
            })
        });
    match found {
        Some(found) => Ok(Some(found)),
        None => Err(Finding::note(
            "pack-steps-too-few",
            format!(
                "fewer than {STEPS} clean steps of the current: no resistance of the pack at a time \
                 scale of one to three seconds"
            ),
            "Move the throttle in clear steps a few times a flight.",
        )
        .in_file(&log.file)),
    }
}

fn mean_of(log: &Log, channel: Channel) -> Option<f64> {
    let values: Vec<f64> = tracks(log, channel)
        .iter()
        .flat_map(|t| t.value.iter().copied())
        .collect();
    (!values.is_empty()).then(|| stats::mean(&values))
}

/// Times of the steps: where the current is half-way from its level before to its level after.
fn moments(current: &[Track]) -> Vec<f64> {
    let peak = current
        .iter()
        .flat_map(|t| &t.value)
        .fold(0.0_f64, |a, b| a.max(*b));
    let mut found: Vec<(f64, f64)> = Vec::new();
    for track in current {
        let count = (track.length() / EVERY_S).floor() as usize;
        for k in 0..count {
            let t = track.start() + EVERY_S * k as f64;
            let of = |span: (f64, f64)| mean(std::slice::from_ref(track), t + span.0, t + span.1);
            // Half a second on either side: the step itself, spool-up included.
            let (Some(before), Some(after)) = (of((-0.6, -0.1)), of((0.4, 0.9))) else {
                continue;
            };
            let change = (after - before).abs();
            if change < STEP * peak {
                continue;
            }
            let half = half_way(track, t, 0.5 * (before + after), after > before);
            match found.last_mut() {
                Some(last) if half - last.0 < APART_S => {
                    if change > last.1 {
                        *last = (half, change);
                    }
                }
                _ => found.push((half, change)),
            }
        }
    }
    found.into_iter().map(|(t, _)| t).collect()
}

/// When the current passes `level` around `t`, up or down; `t` where the samples do not show it.
fn half_way(track: &Track, t: f64, level: f64, up: bool) -> f64 {
    let (time, value) = track.part(t - 0.6, t + 0.9);
    let beyond = |v: f64| (v > level) == up;
    (1..value.len())
        .find(|&i| !beyond(value[i - 1]) && beyond(value[i]))
        .map_or(t, |i| {
            let share = (level - value[i - 1]) / (value[i] - value[i - 1]);
            time[i - 1] + share * (time[i] - time[i - 1])
        })
}

/// Charge drawn since the track began, A.h, by the trapezoid rule.
fn drawn(current: &Track) -> Track {
    let mut value = vec![0.0];
    let mut sum = 0.0;
    for (t, i) in current.time.windows(2).zip(current.value.windows(2)) {
        sum += 0.5 * (i[0] + i[1]) * (t[1] - t[0]) / 3600.0;
        value.push(sum);
    }
    Track {
        time: current.time.clone(),
        value,
    }
}

/// The current smoothed with a time constant, from the track's first value on.
fn smoothed(current: &Track, ticks: &Ticks, tau: f64) -> Track {
    let mut value = vec![current.value.first().copied().unwrap_or(0.0)];
    let mut smooth = value[0];
    let keeps = ticks.map(|dt| (-dt / tau).exp());
    for (keep, i) in keeps.zip(current.value.windows(2)) {
        smooth = smooth * keep + 0.5 * (i[0] + i[1]) * (1.0 - keep);
        value.push(smooth);
    }
    Track {
        time: current.time.clone(),
        value,
    }
}

/// Change of a signal over a span after a step, from before it.
fn change(tracks: &[Track], t: f64, after: (f64, f64)) -> Option<f64> {
    Some(mean(tracks, t + after.0, t + after.1)? - mean(tracks, t + BEFORE_S.0, t + BEFORE_S.1)?)
}

/// What a step shows whatever the time constant: its moment, the part of the flight's charge beyond half,
/// and over each span the changes of current, charge and voltage.
struct Fixed {
    moment: f64,
    beyond: f64,
    changes: Vec<[f64; 3]>,
}

fn fixed(moments: &[f64], current: &[Track], charge: &[Track], voltage: &[Track]) -> Vec<Fixed> {
    let all: f64 = charge.iter().filter_map(|t| t.value.last()).sum();
    let before = |t: f64| -> f64 {
        charge
            .iter()
            .filter(|track| track.start() <= t)
            .filter_map(|track| track.at(t).or(track.value.last().copied()))
            .sum()
    };
    let at = |t: f64, after: (f64, f64)| -> Option<[f64; 3]> {
        let [i, q, v] = [current, charge, voltage].map(|s| change(s, t, after));
        Some([i?, q?, v?])
    };
    let of = |&moment: &f64| {
        Some(Fixed {
            moment,
            beyond: before(moment) / all - 0.5,
            changes: SPANS_S
                .map(|span| at(moment, span))
                .into_iter()
                .collect::<Option<_>>()?,
        })
    };
    moments.iter().filter_map(of).collect()
}

/// The steps with the current smoothed.
fn steps(fixed: &[Fixed], slow: &[Track]) -> Vec<Step> {
    let row = |of: &Fixed, &[current, charge, voltage]: &[f64; 3], span| -> Option<[f64; 7]> {
        let slow = change(slow, of.moment, span)?;
        let beyond = of.beyond;
        Some([
            current,
            slow,
            charge,
            voltage,
            current * beyond,
            charge * beyond,
            charge * beyond * beyond,
        ])
    };
    let step = |of: &Fixed| {
        let spans = of.changes.iter().zip(SPANS_S);
        spans
            .map(|(changes, span)| row(of, changes, span))
            .collect()
    };
    fixed.iter().filter_map(step).collect()
}

/// How the voltage answers: at once, and in time.
struct Response {
    at_once: f64,
    slow: f64,
    mean_square: f64,
}

impl Response {
    /// Mean fall of the voltage over a span after a clean step of one ampere.
    fn after(&self, (from, to): (f64, f64), tau: f64) -> f64 {
        let built_up = 1.0 - tau / (to - from) * ((-from / tau).exp() - (-to / tau).exp());
        self.at_once + self.slow * built_up
    }
}

/// A time constant with the voltage's answers to all steps, then to all but each.
type Tried = (f64, Vec<Option<Response>>);

/// Resistance over a span at the time constant that explains the steps but `out` best, between the
/// tried ones by a parabola: chosen anew without each step, so that what it leaves open is in the
/// interval.
fn best(tried: &[Tried], span: (f64, f64), out: Option<usize>) -> Option<f64> {
    let fits: Vec<(f64, f64)> = tried
        .iter()
        .map(|(tau, responses)| {
            let fit = responses.get(out.map_or(0, |n| n + 1))?.as_ref()?;
            Some((fit.mean_square, fit.after(span, *tau)))
        })
        .collect::<Option<_>>()?;
    let least = (0..fits.len()).min_by(|a, b| fits[*a].0.total_cmp(&fits[*b].0))?;
    let (Some(before), Some(after)) = (
        least.checked_sub(1).and_then(|k| fits.get(k)),
        fits.get(least + 1),
    ) else {
        return Some(fits[least].1);
    };
    let bend = before.0 - 2.0 * fits[least].0 + after.0;
    let beyond = if bend > 0.0 {
        (0.5 * (before.0 - after.0) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    let towards = if beyond < 0.0 { before.1 } else { after.1 };
    Some(fits[least].1 + beyond.abs() * (towards - fits[least].1))
}

/// Least squares over all steps, then over all but each; none where there are too few.
fn responses(steps: &[Step]) -> Vec<Option<Response>> {
    if steps.len() < STEPS {
        return Vec::new();
    }
    let compressed = |step: &Step| {
        let column = |k: usize| -> Vec<f64> { step.iter().map(|r| r[k]).collect() };
        let design = std::iter::once(vec![1.0; step.len()])
            .chain([0, 1, 2, 4, 5, 6].map(column))
            .collect::<Vec<_>>();
        Compressed::of(&design, &column(3))
    };
    let Some(groups) = steps.iter().map(compressed).collect::<Option<Vec<_>>>() else {
        return Vec::new();
    };
    let rows: usize = steps.iter().map(Vec::len).sum();
    let all_and_without = Compressed::all_and_without_each(&groups).into_iter();
    let left = std::iter::once(0).chain(steps.iter().map(Vec::len));
    all_and_without
        .zip(left)
        .map(|(group, left)| response(&group.fit()?, rows - left))
        .collect()
}

fn response(fit: &Fit, rows: usize) -> Option<Response> {
    let squares: f64 = fit.residuals.iter().map(|r| r * r).sum();
    Some(Response {
        at_once: -fit.coefficient(1)?.value,
        slow: -fit.coefficient(2)?.value,
        mean_square: squares / rows as f64,
    })
}
