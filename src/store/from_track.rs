//! A flight's lines for its pictures: quantities over time and the path over the ground, thinned.

use crate::flight::straights::Straight;
use crate::flight::thin;
use crate::flight::track::{self, Track, tracks, tracks_of};
use crate::ingest::{Channel, Log};
use crate::physics::geodesy::LocalFrame;
use crate::store::from_flight::Flown;
use crate::store::tables::{StripRow, TrackRow};

/// Equal parts of a flight of which each line of its strip keeps the least and the greatest value.
const STRIP_PARTS: usize = 300;
/// Share of a quantity's range by which a line of the strip may miss a value: a third of a pixel.
const STRIP_TOLERANCE: f64 = 0.004;
/// Points of a flight's path, about, at most.
const TRACK_POINTS: usize = 600;

/// Where a strip's quantity goes in its row.
type Put = fn(&mut StripRow, f64);

impl Flown {
    /// Each quantity's line with the points that its picture needs, extremes among them.
    pub fn strip_rows(&self) -> Vec<StripRow> {
        let Some(log) = &self.survey.log else {
            return Vec::new();
        };
        let speed = track::ground_speed(log);
        let quantities: [(&str, Vec<Track>, Put); 5] = [
            ("throttle", tracks(log, Channel::Throttle), |r, v| {
                r.throttle = Some(v);
            }),
            ("current", tracks(log, Channel::Current), |r, v| {
                r.current_a = Some(v);
            }),
            ("voltage", tracks(log, Channel::Voltage), |r, v| {
                r.voltage_v = Some(v);
            }),
            (
                "ground speed",
                speed.map_or_else(Vec::new, |s| tracks_of(log, &s)),
                |r, v| r.ground_speed_m_s = Some(v),
            ),
            ("height", tracks(log, Channel::Height), |r, v| {
                r.height_m = Some(v);
            }),
        ];
        let mut points: Vec<(f64, &str, Put, f64, bool)> = Vec::new();
        for (name, lines, put) in &quantities {
            let tolerance = STRIP_TOLERANCE * range(lines);
            for line in lines {
                let kept = thin::trace(&line.time, &line.value, whole(log), STRIP_PARTS, tolerance);
                for (n, i) in kept.into_iter().enumerate() {
                    points.push((line.time[i], name, *put, line.value[i], n == 0));
                }
            }
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut rows: Vec<StripRow> = Vec::new();
        for (time_s, name, put, value, begins) in points {
            if rows.last().is_none_or(|row| row.time_s != time_s) {
                rows.push(StripRow {
                    flight: self.row.flight.clone(),
                    time_s,
                    ..StripRow::default()
                });
            }
            if let Some(row) = rows.last_mut() {
                put(row, value);
                if begins {
                    let gap = if row.begins.is_empty() { "" } else { "," };
                    row.begins += gap;
                    row.begins += name;
                }
            }
        }
        rows
    }

    /// The path over the ground, in metres from its first position; none without positions.
    pub fn track_rows(&self) -> Vec<TrackRow> {
        let Some(log) = &self.survey.log else {
            return Vec::new();
        };
        let path = positions(log, self.survey.velocity_lag_s());
        let all: usize = path.iter().map(|s| s.time.len()).sum();
        let heights = tracks(log, Channel::Height);
        let used = self.power.straights.used.iter();
        let aside = self.power.straights.set_aside.iter().map(|s| &s.straight);
        let straights: Vec<&Straight> = used.chain(aside).collect();
        let mut rows = Vec::new();
        for (segment, stretch) in path.iter().enumerate() {
            // Each stretch takes its part of the points.
            let most = (TRACK_POINTS * stretch.time.len()).div_ceil(all.max(1));
            // A pass begins and ends at points of the path.
            let mut fixed: Vec<usize> = straights
                .iter()
                .flat_map(|s| [s.start_s, s.end_s])
                .map(|t| stretch.time.partition_point(|x| *x < t))
                .collect();
            fixed.sort_unstable();
            for i in thin::path(&stretch.east, &stretch.north, &fixed, most.max(2)) {
                rows.push(TrackRow {
                    flight: self.row.flight.clone(),
                    segment: segment as i64 + 1,
                    time_s: stretch.time[i],
                    east_m: stretch.east[i],
                    north_m: stretch.north[i],
                    height_m: track::at(&heights, stretch.time[i]),
                });
            }
        }
        rows
    }
}

/// One unbroken stretch of the path.
struct Stretch {
    /// On the clock of throttle and current, s.
    time: Vec<f64>,
    east: Vec<f64>,
    north: Vec<f64>,
}

/// `lag_s`: how far positions lag behind the throttle.
fn positions(log: &Log, lag_s: f64) -> Vec<Stretch> {
    let (Some(latitude), Some(longitude)) =
        (log.get(Channel::Latitude), log.get(Channel::Longitude))
    else {
        return Vec::new();
    };
    // A row counts where it has both.
    let both = |own: &[f64], other: &[f64]| -> Vec<f64> {
        let pairs = own.iter().zip(other);
        pairs
            .map(|(v, w)| if w.is_finite() { *v } else { f64::NAN })
            .collect()
    };
    let north_south = tracks_of(log, &both(latitude, longitude));
    let east_west = tracks_of(log, &both(longitude, latitude));
    let mut frame = None;
    north_south
        .into_iter()
        .zip(east_west)
        .map(|(lat, lon)| {
            let origin = lat.value.first().zip(lon.value.first());
            let frame = *frame.get_or_insert(LocalFrame::new(
                origin.map_or(f64::NAN, |o| *o.0),
                origin.map_or(f64::NAN, |o| *o.1),
            ));
            let (east, north) = lat
                .value
                .iter()
                .zip(&lon.value)
                .map(|(lat, lon)| frame.east_north(*lat, *lon))
                .unzip();
            Stretch {
                time: lat.time.iter().map(|t| t - lag_s).collect(),
                east,
                north,
            }
        })
        .collect()
}

/// First and last time of the log, s; at least a little apart.
fn whole(log: &Log) -> (f64, f64) {
    let times = log.time.iter().copied().filter(|t| t.is_finite());
    let (from, to) = times.fold((f64::MAX, f64::MIN), |(a, b), t| (a.min(t), b.max(t)));
    (from, to.max(from + 1e-3))
}

/// Greatest less least value of all lines.
fn range(lines: &[Track]) -> f64 {
    let values = lines.iter().flat_map(|l| &l.value);
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| {
        (f64::min(l, *v), f64::max(h, *v))
    });
    (high - low).max(0.0)
}
