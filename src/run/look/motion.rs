//! A log's clock and its track.

use chrono::{DateTime, Utc};
use serde::{Serialize, Serializer};

use crate::ingest::{Channel, Log, Series};
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
    let (mut points, mut length_m, mut farthest_m) = (0, 0.0, 0.0_f64);
    let (mut first, mut last) = (None, None);
    let mut breaks = log.breaks.iter().copied().peekable();
    for (row, (&lat, &lon)) in latitude.iter().zip(longitude).enumerate() {
        if !lat.is_finite() || !lon.is_finite() {
            continue;
        }
        points += 1;
        let mut broken = false;
        while breaks.next_if(|b| *b <= row).is_some() {
            broken = true;
        }
        if let Some((lat, lon)) = last.replace((lat, lon)).filter(|_| !broken) {
            let (to_lat, to_lon) = (latitude[row], longitude[row]);
            length_m += geodesy::distance(lat, lon, to_lat, to_lon);
        }
        let (lat0, lon0) = *first.get_or_insert((lat, lon));
        farthest_m = farthest_m.max(geodesy::distance(lat0, lon0, lat, lon));
    }
    let height = || log.get(Channel::Height).into_iter().flatten().copied();
    let first: Vec<f64> = height().filter(|h| h.is_finite()).take(10).collect();
    Some(TrackLook {
        points,
        length_m,
        farthest_m,
        latitude_deg: span(of_points(longitude, latitude))?,
        longitude_deg: span(of_points(latitude, longitude))?,
        height_m: span(height()),
        first_height_m: (!first.is_empty()).then(|| crate::stats::median(&first)),
        greatest_speed_m_s: log
            .get(Channel::GroundSpeed)
            .and_then(|s| span(s.iter().copied()))
            .map(|(_, most)| most),
    })
}

/// The values of one co-ordinate where the other is known.
fn of_points<'a>(other: &'a Series, of: &'a Series) -> impl Iterator<Item = f64> + 'a {
    let both = other.iter().zip(of);
    both.filter(|(other, _)| other.is_finite()).map(|(_, x)| *x)
}

/// Least and greatest of the finite values.
pub fn span(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .filter(|x| x.is_finite())
        .fold(None, |span: Option<(f64, f64)>, x| {
            Some(span.map_or((x, x), |(low, high)| (low.min(x), high.max(x))))
        })
}
