//! Season tables to finished series for the pictures of level speed.

use crate::findings::answer::Answer;
use crate::findings::by_day::{self, FlightValue};
use crate::findings::evidence::{Evidence, counted, percent};
use crate::findings::figure::{
    Figure, FigureData, Ladder, Line, PassFit, Points, Rung, RungGroup, Span, VelocityVectors,
};
use crate::findings::level_speeds::LevelSpeed;
use crate::findings::pictured::Pictured;
use crate::findings::pictures::axis;
use crate::stats::NORMAL_95;
use crate::store::from_flight::JOINT_FIT;

/// Static gains, reference cases and observed gains as one ladder, in percent.
pub fn ladder(answer: &Answer) -> Option<Figure> {
    let steps = [
        (
            "static_thrust_gain",
            "static thrust",
            "same terminal voltage",
            RungGroup::Static,
        ),
        (
            "static_power_gain",
            "electrical power",
            "same terminal voltage",
            RungGroup::Static,
        ),
        (
            "static_current_gain",
            "current",
            "same terminal voltage",
            RungGroup::Static,
        ),
        (
            "reference_speed_gain_from_thrust",
            "speed, if the static figure of merit survives",
            "from thrust",
            RungGroup::Reference,
        ),
        (
            "reference_speed_gain_from_power",
            "speed, if it does not",
            "from power",
            RungGroup::Reference,
        ),
        (
            "observed_speed_gain_same_terminal_voltage",
            "level top speed, observed",
            "same terminal voltage",
            RungGroup::Observed,
        ),
        (
            "observed_speed_gain_same_pack",
            "level top speed, observed",
            "same pack",
            RungGroup::Observed,
        ),
    ];
    let hundred = |v: Option<f64>| v.map(|v| v * 100.0);
    let rungs: Vec<Rung> = steps
        .iter()
        .filter_map(|(key, label, note, group)| {
            let estimate = answer.estimates.get(*key)?;
            Some(Rung {
                label: (*label).to_owned(),
                note: (*note).to_owned(),
                value: hundred(estimate.value),
                low: hundred(estimate.low),
                high: hundred(estimate.high),
                group: *group,
            })
        })
        .collect();
    if rungs.is_empty() {
        return None;
    }
    let end = |key: &str, pick: fn(&crate::stats::estimate::Estimate) -> Option<f64>| {
        answer.estimates.get(key).and_then(pick)
    };
    let band = end("reference_speed_gain_low", |e| e.value)
        .zip(end("reference_speed_gain_high", |e| e.value))
        .map(|(low, high)| Span {
            low: low * 100.0,
            high: high * 100.0,
            label: "reference band".to_owned(),
        });
    Some(Figure {
        id: format!("ladder-{}", answer.id),
        caption: ladder_caption(answer),
        alt: "Intervals of the static gains, of the level speed the two reference cases make of \
              them, and of the gain observed in flight, on one percent scale."
            .to_owned(),
        data: FigureData::Ladder(Ladder {
            x: axis("change against the baseline", "%"),
            rungs,
            band,
            margin: end("margin", |e| e.value).map(|m| m * 100.0),
            limit: None,
            verdict: Some(answer.verdict),
        }),
    })
}

/// Where the observed gain lies against the reference band.
fn ladder_caption(answer: &Answer) -> String {
    let value = |key: &str| answer.estimates.get(key).and_then(|e| e.value);
    let band = value("reference_speed_gain_low").zip(value("reference_speed_gain_high"));
    let of_terminal = value("observed_speed_gain_same_terminal_voltage").is_some();
    let observed = value("observed_speed_gain_same_terminal_voltage")
        .or(value("observed_speed_gain_same_pack"));
    match (band, observed) {
        (Some((low, high)), Some(gain)) => format!(
            "The observed gain of {} lies {} the reference band of {} to {}; bars are 95 % intervals.{}",
            percent(gain),
            if gain < low {
                "below"
            } else if gain > high {
                "above"
            } else {
                "inside"
            },
            percent(low),
            percent(high),
            if of_terminal && value("observed_speed_gain_same_pack").is_some() {
                " The shaded band is for the same terminal voltage: only the gain observed at it may be \
                 held against the band, not the one as on the same pack."
            } else {
                ""
            }
        ),
        (Some((low, high)), None) => format!(
            "What the static gains would mean in level top speed: {} to {}; no gain in flight is known.",
            percent(low),
            percent(high)
        ),
        (None, _) => "The gains with their 95 % intervals; there is no reference band.".to_owned(),
    }
}

/// Level top speed of each flight by day, coloured by power system.
pub fn level_speeds(
    evidence: &Evidence,
    speeds: &[LevelSpeed],
    powers: [&str; 2],
) -> Option<Figure> {
    let values: Vec<FlightValue> = speeds
        .iter()
        .map(|s| {
            let half = NORMAL_95 * s.relative_se * s.speed_m_s;
            FlightValue {
                day: s.day,
                power: s.power,
                value: s.speed_m_s,
                interval: (half > 0.0).then_some((s.speed_m_s - half, s.speed_m_s + half)),
            }
        })
        .collect();
    let means: Vec<String> = powers
        .iter()
        .filter_map(|power| {
            let own: Vec<f64> = speeds
                .iter()
                .filter(|s| s.power == *power)
                .map(|s| s.speed_m_s)
                .collect();
            (!own.is_empty()).then(|| {
                format!(
                    "{} averages {:.1} m/s over {}",
                    evidence.power_name(power),
                    crate::stats::mean(&own),
                    counted(own.len(), "flight")
                )
            })
        })
        .collect();
    by_day::figure(
        evidence,
        &values,
        ("level top speed", "m/s"),
        format!("level-speeds-{}", powers.join("-")),
        format!(
            "Level top speed of each flight as on the same pack: {}. The verdict compares within \
             days.",
            means.join("; ")
        ),
    )
}

/// The flight with the most used passes that has samples to show; the first of equals.
pub fn best_flight<'a>(evidence: &Evidence, speeds: &[LevelSpeed<'a>]) -> Option<&'a str> {
    let count = |flight: &str| {
        evidence
            .tables
            .passes
            .iter()
            .filter(|p| p.flight == flight && p.used)
            .count()
    };
    speeds
        .iter()
        .map(|s| s.flight.flight.as_str())
        .filter(|f| {
            // Only a joint fit has samples of its passes.
            let mut rows = evidence.tables.flights.iter();
            rows.any(|r| r.flight == *f && r.level_speed_source == JOINT_FIT)
        })
        .fold(None, |best: Option<(&str, usize)>, f| {
            let n = count(f);
            if best.is_none_or(|(_, most)| n > most) {
                Some((f, n))
            } else {
                best
            }
        })
        .map(|(f, _)| f)
}

/// One flight's passes with the joint fit.
pub fn pass_fit(flown: &Pictured) -> Option<Figure> {
    let (row, colour) = (flown.row, flown.colour);
    let flight = row.flight.as_str();
    let (level, se) = (row.level_speed_m_s?, row.level_speed_se_m_s?);
    let mut measured: Vec<Line> = Vec::new();
    let mut fitted: Vec<Line> = Vec::new();
    let mut current: Option<(i64, f64)> = None;
    for sample in &flown.own.pass_samples {
        if current.is_none_or(|(pass, _)| pass != sample.pass) {
            current = Some((sample.pass, sample.time_s));
            measured.push(Line::new(&format!("pass {}", sample.pass), colour));
            fitted.push(Line::new(&format!("fit, pass {}", sample.pass), colour));
        }
        let start = current.map_or(0.0, |c| c.1);
        if let (Some(m), Some(f)) = (measured.last_mut(), fitted.last_mut()) {
            m.push(sample.time_s - start, sample.airspeed_m_s);
            f.push(sample.time_s - start, sample.fitted_airspeed_m_s);
        }
    }
    if measured.is_empty() {
        return None;
    }
    let reached = row.share_reached.map_or_else(String::new, |share| {
        format!(", the fastest pass reached {} of it", percent(share))
    });
    Some(Figure {
        id: format!("pass-fit-{}", flown.slug),
        caption: format!(
            "Flight {flight}: {} passes, one level top speed of {level:.1} m/s behind them all{reached}.",
            measured.len()
        ),
        alt: format!(
            "Airspeed against time in each full-throttle pass of flight {flight}, with the joint fit \
             and the level top speed."
        ),
        data: FigureData::PassFit(PassFit {
            x: axis("time since the start of the pass", "s"),
            y: axis("airspeed", "m/s"),
            measured,
            fitted,
            level_speed: Span {
                low: level - NORMAL_95 * se,
                high: level + NORMAL_95 * se,
                label: "level top speed".to_owned(),
            },
            level_value: level,
        }),
    })
}

/// Ground velocities at the end of the passes, with the wind and the circle of level speed.
pub fn velocity_vectors(flown: &Pictured) -> Option<Figure> {
    let Pictured {
        evidence,
        row,
        colour,
        ..
    } = *flown;
    let flight = row.flight.as_str();
    let radius = row.level_speed_m_s?;
    let (north, east) = (row.wind_to_north_m_s?, row.wind_to_east_m_s?);
    let mut points = Points::new("end of pass", colour);
    for pass in evidence
        .tables
        .passes
        .iter()
        .filter(|p| p.flight == flight && p.used)
    {
        let mut samples = flown.own.pass_samples.iter();
        let last = samples.rfind(|s| s.pass == pass.pass);
        if let Some(sample) = last {
            points.push(
                sample.velocity_east_m_s,
                sample.velocity_north_m_s,
                None,
                None,
            );
        }
    }
    if points.x.is_empty() {
        return None;
    }
    Some(Figure {
        id: format!("velocity-vectors-{}", flown.slug),
        caption: format!(
            "Flight {flight}: the passes' ground velocities lie about a circle of level top speed \
             carried {:.1} m/s off by the wind.",
            north.hypot(east)
        ),
        alt: format!(
            "Ground velocities, east and north, at the end of the passes of flight {flight}, with \
             the wind vector and the circle of level top speed."
        ),
        data: FigureData::VelocityVectors(VelocityVectors {
            unit: "m/s".to_owned(),
            points: vec![points],
            wind_east: east,
            wind_north: north,
            wind_se: row.wind_se_m_s.unwrap_or(0.0),
            radius,
        }),
    })
}
