//! Charge, energy, power: by counting what the sensor says, with what it may be wrong by.

use serde::{Deserialize, Serialize};

use crate::flight::sensor::{CurrentSensor, current_sensor};
use crate::flight::track::{Track, tracks, tracks_of};
use crate::ingest::{Channel, Log};
use crate::season::{Accuracy, Finding};
use crate::stats;

/// Seconds of an hour: A.s to A.h, W.s to W.h.
const HOUR_S: f64 = 3600.0;

/// A value with its 95 % interval; an open end is a bound that is not known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bounded {
    pub value: f64,
    pub low: f64,
    pub high: Option<f64>,
}

/// What one flight drew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Draw {
    pub sensor: CurrentSensor,
    /// Length counted, gaps left out, s.
    pub counted_s: f64,
    /// Recording gaps within the spans asked for, s: bounded between zero and the peak current.
    pub gap_s: f64,
    pub charge_mah: Bounded,
    pub energy_wh: Option<Bounded>,
    /// Energy over the time counted; in a flight's survey the airborne part of it alone.
    pub mean_power_w: Option<Bounded>,
    pub peak_power_w: Option<f64>,
    pub peak_current_a: f64,
    pub mean_current_a: f64,
    pub min_voltage_v: Option<f64>,
}

/// Relative standard uncertainty of a reading from the declared limits (rectangular, GUM 4.3.7).
/// Undeclared: 5 % of current and 2 % of voltage, common practice, no source.
pub fn relative_u(accuracy: Option<&Accuracy>, undeclared: f64, typical: f64) -> f64 {
    let (fraction, absolute) =
        accuracy.map_or((undeclared, 0.0), |a| (a.fraction.value, a.absolute.value));
    let offset = if typical > 0.0 {
        absolute / typical
    } else {
        0.0
    };
    fraction.hypot(offset) / 3.0_f64.sqrt()
}

/// Counts charge and energy over `spans` (the whole record where `None`) by the trapezoid rule,
/// never across a gap. `None` where there is no usable current.
pub fn draw(
    log: &Log,
    spans: Option<&[(f64, f64)]>,
    current_accuracy: Option<&Accuracy>,
    voltage_accuracy: Option<&Accuracy>,
) -> (Option<Draw>, Vec<Finding>) {
    let (sensor, finding) = current_sensor(log, current_accuracy.and_then(|a| a.range_end));
    let mut findings: Vec<Finding> = finding.into_iter().collect();
    let current = tracks(log, Channel::Current);
    if !sensor.usable() || log.is_empty() {
        return (None, findings);
    }
    let whole = [(log.time[0], log.time[log.len() - 1])];
    let spans = spans.unwrap_or(&whole);
    let charge = count(&current, spans);
    if charge.counted_s <= 0.0 {
        findings.push(
            Finding::warning(
                "too-short",
                "the log has no two current readings in a row: no charge can be counted",
                "Check the logger's rate and the file for gaps.",
            )
            .in_file(&log.file),
        );
        return (None, findings);
    }
    let power = power_tracks(log, &current);
    let energy = count(&power, spans);
    let voltage = tracks(log, Channel::Voltage);
    let has_voltage = !voltage.is_empty();
    let mean_current = charge.sum / charge.counted_s;
    let u_current = relative_u(current_accuracy, 0.05, mean_current);
    let mean_voltage = if mean_current > 0.0 {
        energy.sum / energy.counted_s / mean_current
    } else {
        0.0
    };
    let u_power = u_current.hypot(relative_u(voltage_accuracy, 0.02, mean_voltage));
    let saturated = matches!(sensor, CurrentSensor::Saturated { .. });
    if charge.gap_s > 0.0 {
        findings.push(
            Finding::warning(
                "gap-in-current",
                format!(
                    "{:.1} s without a current reading: charge and energy are widened by what the \
                     peak current could have drawn meanwhile",
                    charge.gap_s
                ),
                "Compare with the charge put back after the flight.",
            )
            .in_file(&log.file),
        );
    }
    let drawn = Draw {
        sensor,
        counted_s: charge.counted_s,
        gap_s: charge.gap_s,
        charge_mah: charge.bounded(u_current, saturated, 1000.0 / HOUR_S),
        energy_wh: has_voltage.then(|| energy.bounded(u_power, saturated, 1.0 / HOUR_S)),
        mean_power_w: (has_voltage && energy.counted_s > 0.0).then(|| {
            // A mean over what was counted: the gaps do not bias it, they only shorten it.
            Count {
                gap_s: 0.0,
                ..energy
            }
            .bounded(u_power, saturated, 1.0 / energy.counted_s)
        }),
        peak_power_w: has_voltage.then_some(energy.peak),
        peak_current_a: charge.peak,
        mean_current_a: mean_current,
        min_voltage_v: min_within(&voltage, spans),
    };
    (Some(drawn), findings)
}

/// Electrical power by track: voltage interpolated to the moments of the current readings.
pub fn power_tracks(log: &Log, current: &[Track]) -> Vec<Track> {
    let voltage = tracks(log, Channel::Voltage);
    let product: Vec<f64> = log
        .time
        .iter()
        .zip(log.get(Channel::Current).map_or(&[][..], |c| c.as_slice()))
        .map(|(t, i)| {
            if !i.is_finite() {
                return f64::NAN;
            }
            crate::flight::track::at(&voltage, *t).map_or(f64::NAN, |v| v * i)
        })
        .collect();
    if current.is_empty() {
        Vec::new()
    } else {
        tracks_of(log, &product)
    }
}

/// A sum of the trapezoid rule.
#[derive(Debug, Clone, Copy)]
struct Count {
    sum: f64,
    counted_s: f64,
    gap_s: f64,
    peak: f64,
    /// Change of the sum when every second sample is left out: what the sampling hides.
    coarse: f64,
}

impl Count {
    /// 95 % interval: scale and sampling in quadrature (k = 2), the gaps' bound on top.
    fn bounded(&self, u_relative: f64, saturated: bool, factor: f64) -> Bounded {
        let u = (u_relative * self.sum).hypot(self.coarse);
        let gap = self.gap_s * self.peak.max(0.0);
        Bounded {
            value: self.sum * factor,
            low: (self.sum - 2.0 * u).max(0.0) * factor,
            high: (!saturated).then_some((self.sum + 2.0 * u + gap) * factor),
        }
    }
}

fn count(tracks: &[Track], spans: &[(f64, f64)]) -> Count {
    let mut total = Count {
        sum: 0.0,
        counted_s: 0.0,
        gap_s: 0.0,
        peak: f64::NEG_INFINITY,
        coarse: 0.0,
    };
    for &(from, to) in spans {
        let mut covered = 0.0;
        for track in tracks {
            let (sum, length) = track.integral(from, to);
            total.sum += sum;
            covered += length;
            let half = every_second(track);
            total.coarse += half.integral(from, to).0 - sum;
            total.peak = track
                .part(from, to)
                .1
                .iter()
                .fold(total.peak, |a, &b| a.max(b));
        }
        total.counted_s += covered;
        // Less than a millisecond is rounding of the clock.
        let gap = to - from - covered;
        total.gap_s += if gap > 1e-3 { gap } else { 0.0 };
    }
    total.coarse = total.coarse.abs();
    total
}

/// Every second sample, and both ends.
fn every_second(track: &Track) -> Track {
    let last = track.time.len().saturating_sub(1);
    let keep = |(i, v): (usize, &f64)| (i % 2 == 0 || i == last).then_some(*v);
    Track {
        time: track.time.iter().enumerate().filter_map(keep).collect(),
        value: track.value.iter().enumerate().filter_map(keep).collect(),
    }
}

fn min_within(tracks: &[Track], spans: &[(f64, f64)]) -> Option<f64> {
    spans
        .iter()
        .flat_map(|&(from, to)| tracks.iter().flat_map(move |t| t.part(from, to).1))
        .copied()
        .min_by(f64::total_cmp)
}

/// True charge over logged charge: what the sensor's declared accuracy and the charger say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleEstimate {
    pub scale: f64,
    /// Relative standard uncertainty of `scale`.
    pub relative_u: f64,
    /// Charge put back over charge logged, geometric mean over flights.
    pub put_back_over_logged: f64,
    pub flights: usize,
}

impl ScaleEstimate {
    /// To as many digits as it is worth: one flight more seldom changes what the others are told.
    #[must_use]
    pub fn as_told(mut self) -> Self {
        let u = self.relative_u * self.scale;
        let (scale, u) = stats::to_its_uncertainty(self.scale, u);
        (self.scale, self.relative_u) = (scale, u / scale);
        self
    }
}

/// A charger counts within ± 2 % (limit; common practice, no source).
const CHARGER: f64 = 0.02;
/// A lithium pack takes up to 1 % more than it gave (common practice, no source): half of that is
/// taken off, and half is the limit of the error.
const HALF_LOSS: f64 = 0.005;

/// Scale of the current sensor from (logged, put back) charges of the flights, any one unit.
///
/// `sensor_u` is the relative standard uncertainty of the sensor as declared. The two ways of
/// knowing the scale, the sensor's own and the charger's, are averaged with the weights of their
/// variances (GUM, JCGM 100:2008, H.5 for the idea of a weighted mean): a charger that is no better
/// than the sensor must not overrule it. Pairs that are not both positive are left out; `None`
/// below two pairs, whose scatter tells nothing.
pub fn put_back_scale(pairs: &[(f64, f64)], sensor_u: f64) -> Option<ScaleEstimate> {
    let logs: Vec<f64> = pairs
        .iter()
        .filter(|(logged, back)| {
            *logged > 0.0 && *back > 0.0 && logged.is_finite() && back.is_finite()
        })
        .map(|(logged, back)| (back / logged).ln())
        .collect();
    if logs.len() < 2 {
        return None;
    }
    let ratio = stats::mean(&logs);
    let limits = CHARGER.hypot(HALF_LOSS) / 3.0_f64.sqrt();
    let charger_u = limits.hypot(stats::sd(&logs) / (logs.len() as f64).sqrt());
    let (charger, sensor) = (charger_u.powi(-2), sensor_u.powi(-2));
    let (weight, relative_u) = if sensor.is_finite() {
        (
            charger / (charger + sensor),
            (charger + sensor).sqrt().recip(),
        )
    } else {
        // A sensor declared without error cannot be corrected.
        (0.0, 0.0)
    };
    Some(ScaleEstimate {
        scale: (weight * (ratio - HALF_LOSS)).exp(),
        relative_u,
        put_back_over_logged: ratio.exp(),
        flights: logs.len(),
    })
}

/// Put-backs that a sensor and a charger as good as declared cannot explain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PutBackRefused {
    /// Charge put back over charge logged, geometric mean over flights.
    pub put_back_over_logged: f64,
    /// The most that the two explain, as a factor to either side.
    pub explained: f64,
    pub flights: usize,
}

/// Two standard uncertainties that are honest differ by more than three of them together less than
/// once in three hundred times (normal; JCGM 100:2008, G.1.3), and by rectangular limits never.
const TOO_FAR: f64 = 3.0;
/// A flight's put-back this far from the median of the others (of the log ratio) is another kind of
/// error than the charger's, which scatters by its limit (four times the limit; ours, no source).
const OUTLIER: f64 = 4.0 * CHARGER;
/// The usual robust bound: so many scaled median absolute deviations from the median
/// (Huber, Robust Statistics, 1981, 1.2; the factor is common practice).
const OUTLIER_MADS: f64 = 3.5;

/// Places of the pairs whose ratio is an outlier among the others; none below three pairs.
pub fn put_back_outliers(pairs: &[(f64, f64)]) -> Vec<usize> {
    let logs: Vec<f64> = pairs
        .iter()
        .map(|(logged, back)| (back / logged).ln())
        .collect();
    if logs.len() < 3 {
        return Vec::new();
    }
    let middle = stats::median(&logs);
    let off: Vec<f64> = logs.iter().map(|l| (l - middle).abs()).collect();
    let bound = OUTLIER.max(OUTLIER_MADS * 1.4826 * stats::median(&off));
    // What is not a number is as far off as can be.
    (0..off.len())
        .filter(|i| off[*i].is_nan() || off[*i] > bound)
        .collect()
}

/// Whether the put-backs contradict the sensor: their mean ratio lies further from the sensor's own
/// scale than both declared (or assumed) accuracies explain. A scatter of the flights is no excuse:
/// it says that something else than the sensor's scale is in the put-backs.
pub fn put_back_refused(pairs: &[(f64, f64)], sensor_u: f64) -> Option<PutBackRefused> {
    let logs: Vec<f64> = pairs
        .iter()
        .map(|(logged, back)| (back / logged).ln())
        .filter(|l| l.is_finite())
        .collect();
    if logs.is_empty() {
        return None;
    }
    let ratio = stats::mean(&logs);
    let limits = CHARGER.hypot(HALF_LOSS) / 3.0_f64.sqrt();
    // How a single put-back scatters honestly does not shrink the more the fewer there are.
    let single = CHARGER / (3.0 * logs.len() as f64).sqrt();
    let explained = TOO_FAR * limits.hypot(single).hypot(sensor_u);
    ((ratio - HALF_LOSS).abs() > explained).then(|| PutBackRefused {
        put_back_over_logged: ratio.exp(),
        explained: explained.exp(),
        flights: logs.len(),
    })
}

impl Draw {
    /// The same draw with the sensor's scale corrected: the corrected scale's uncertainty takes the
    /// place of the declared one; what an energy's interval has beyond the charge's is the voltage's
    /// and stays.
    pub fn calibrated(&self, scale: &ScaleEstimate) -> Self {
        let declared = (self.charge_mah.value - self.charge_mah.low) / self.charge_mah.value;
        let correct = |b: Bounded| {
            let value = b.value * scale.scale;
            let beyond = ((b.value - b.low) / b.value).powi(2) - declared.powi(2);
            let half = (2.0 * scale.relative_u).hypot(beyond.max(0.0).sqrt()) * value;
            let gap = b
                .high
                .map(|h| ((h - b.value) - (b.value - b.low)).max(0.0) * scale.scale);
            Bounded {
                value,
                low: (value - half).max(0.0),
                high: gap.map(|g| value + half + g),
            }
        };
        Self {
            charge_mah: correct(self.charge_mah),
            energy_wh: self.energy_wh.map(correct),
            mean_power_w: self.mean_power_w.map(correct),
            peak_power_w: self.peak_power_w.map(|p| p * scale.scale),
            peak_current_a: self.peak_current_a * scale.scale,
            mean_current_a: self.mean_current_a * scale.scale,
            ..self.clone()
        }
    }
}
