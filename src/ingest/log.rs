//! A logger file as SI columns.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// What a column means. SI inside: see [`Channel::unit`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// s since the first row of the file.
    Time,
    /// 0..1.
    Throttle,
    Voltage,
    Current,
    /// Shown power, W (never computed here).
    Power,
    /// Charge drawn as the logger counts it, C.
    Charge,
    /// rad/s of the rotor.
    AngularSpeed,
    /// N (bench).
    Thrust,
    /// m/s (bench).
    ExhaustSpeed,
    /// Ground speed, m/s.
    GroundSpeed,
    /// Course over ground, rad clockwise from true north.
    Course,
    /// Velocity over ground, m/s.
    VelocityNorth,
    VelocityEast,
    VelocityDown,
    /// Indicated or true airspeed as logged, m/s.
    Airspeed,
    /// m, above the start or sea level.
    Height,
    /// deg.
    Latitude,
    Longitude,
    /// m/s, up positive.
    ClimbRate,
    /// m/s² along the body axes.
    AccelerationX,
    AccelerationY,
    AccelerationZ,
    /// K.
    ControllerTemperature,
    MotorTemperature,
    PackTemperature,
    AirTemperature,
    /// Pa.
    Pressure,
    Satellites,
}

/// One channel's values: same length as the log's time, NaN where absent.
pub type Series = Vec<f64>;

/// One logger file, read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Log {
    /// Relative to the season folder.
    pub file: String,
    /// Wall-clock time of the first row where the file says it (UTC, or local time turned into UTC
    /// by the site's zone).
    pub start: Option<DateTime<Utc>>,
    /// s since the first used row, strictly increasing.
    pub time: Series,
    pub channels: BTreeMap<Channel, Series>,
    /// 1-based source line of each row (same length as `time`).
    pub lines: Vec<u32>,
    /// Where the recording stopped and went on: index of the first row after each gap (a gap is
    /// longer than ten median steps and 1 s) or restart.
    pub breaks: Vec<usize>,
    /// Median step, s.
    pub step_s: f64,
}

impl Log {
    pub fn len(&self) -> usize {
        self.time.len()
    }
    pub fn is_empty(&self) -> bool {
        self.time.is_empty()
    }
    pub fn get(&self, channel: Channel) -> Option<&Series> {
        self.channels.get(&channel)
    }
}
