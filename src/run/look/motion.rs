//! A log's clock and its track.

use chrono::{DateTime, Utc};
use serde::{Serialize, Serializer};

use crate::ingest::{Channel, Log};
use crate::physics::geodesy;
use crate::season::Finding;

#[derive(Debug, Clone, Serialize)]
pub struct TimeLook {
    /// 1 / median step.
    pub rate_hz: f64,
    pub duration_s: f64,
    /// Of the first row.
    #[serde(serialize_with = "instant")]
    pub start: Option<DateTime<Utc>>,
    /// The file names no zone: the start is the logger's own clock.
    pub zone_unknown: bool,
    pub gaps: Vec<Gap>,
}

fn instant<S: Serializer>(at: &Option<DateTime<Utc>>, to: S) -> Result<S::Ok, S::Error> {
    at.map(|at| at.to_rfc3339()).serialize(to)
}

/// A break in the recording.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Gap {
    /// 1-based line of the first row after it.
    pub line: u32,
    pub seconds: f64,
}

#[derive(Debug, Clone, Serialize)]
pub struct TrackLook {
    pub points: usize,
    /// Over the ground, breaks left out, m.
    pub length_m: f64,
    /// Greatest distance from the first point, m.
    pub farthest_m: f64,
    pub latitude_deg: (f64, f64),
    pub longitude_deg: (f64, f64),
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_m: Option<(f64, f64)>,
    /// Median of the first ten heights, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_height_m: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_speed_m_s: Option<f64>,
}

pub fn time(log: &Log, findings: &[Finding]) -> TimeLook {
    let gaps = log
        .breaks
        .iter()
        .filter(|b| **b > 0)
        .filter_map(|&b| {
            Some(Gap {
                line: *log.lines.get(b)?,
                seconds: log.time.get(b)? - log.time.get(b - 1)?,
            })
        })
        .collect();
    let first = log.time.first().copied().unwrap_or(0.0);
    TimeLook {
        rate_hz: if log.step_s > 0.0 {
            1.0 / log.step_s
        } else {
            0.0
        },
        duration_s: log.time.last().copied().unwrap_or(0.0) - first,
        start: log.start,
        zone_unknown: findings.iter().any(|f| f.code == "zone-unknown"),
        gaps,
    }
}

pub fn track(log: &Log) -> Option<TrackLook> {
    let (latitude, longitude) = (log.get(Channel::Latitude)?, log.get(Channel::Longitude)?);
    let points: Vec<(usize, f64, f64)> = latitude
        .iter()
        .zip(longitude)
        .enumerate()
        .map(|(row, (lat, lon))| (row, *lat, *lon))
        .filter(|(_, lat, lon)| lat.is_finite() && lon.is_finite())
        .collect();
    let &(_, lat0, lon0) = points.first()?;
    let broken = |from: usize, to: usize| log.breaks.iter().any(|b| (from + 1..=to).contains(b));
    let length_m = points
        .windows(2)
        .filter(|w| !broken(w[0].0, w[1].0))
        .map(|w| geodesy::distance(w[0].1, w[0].2, w[1].1, w[1].2))
        .fold(0.0, |sum, step| sum + step);
    let farthest_m = points
        .iter()
        .map(|p| geodesy::distance(lat0, lon0, p.1, p.2))
        .fold(0.0, f64::max);
    let heights: Vec<f64> = log
        .get(Channel::Height)
        .into_iter()
        .flatten()
        .copied()
        .filter(|h| h.is_finite())
        .collect();
    let first = &heights[..heights.len().min(10)];
    Some(TrackLook {
        points: points.len(),
        length_m,
        farthest_m,
        latitude_deg: span(points.iter().map(|p| p.1))?,
        longitude_deg: span(points.iter().map(|p| p.2))?,
        height_m: span(heights.iter().copied()),
        first_height_m: (!first.is_empty()).then(|| crate::stats::median(first)),
        greatest_speed_m_s: log
            .get(Channel::GroundSpeed)
            .and_then(|s| span(s.iter().copied()))
            .map(|(_, most)| most),
    })
}

/// Least and greatest of the finite values.
pub fn span(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .filter(|x| x.is_finite())
        .fold(None, |span: Option<(f64, f64)>, x| {
            Some(span.map_or((x, x), |(low, high)| (low.min(x), high.max(x))))
        })
}
