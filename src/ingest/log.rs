//! A logger file as SI columns.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::units::Quantity;

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
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Log {
    /// Relative to the season folder.
    pub file: String,
    /// Wall-clock time of the first row where the file says it (UTC, or local time turned into UTC
    /// by the site's zone).
    #[serde(with = "instant")]
    pub start: Option<DateTime<Utc>>,
    /// Reading of the logger's clock at the first row where it counts without a date, s; `None` where
    /// it was reset on the way.
    pub clock_s: Option<f64>,
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

/// An instant as seconds since 1970 and nanoseconds.
mod instant {
    use chrono::{DateTime, Utc};
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<S: Serializer>(at: &Option<DateTime<Utc>>, to: S) -> Result<S::Ok, S::Error> {
        let at = at.map(|at| (at.timestamp(), at.timestamp_subsec_nanos()));
        at.serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<DateTime<Utc>>, D::Error> {
        let at = Option::<(i64, u32)>::deserialize(from)?;
        Ok(at.and_then(|(s, ns)| DateTime::from_timestamp(s, ns)))
    }
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

impl Channel {
    /// Every channel.
    pub const ALL: [Self; 28] = [
        Self::Time,
        Self::Throttle,
        Self::Voltage,
        Self::Current,
        Self::Power,
        Self::Charge,
        Self::AngularSpeed,
        Self::Thrust,
        Self::ExhaustSpeed,
        Self::GroundSpeed,
        Self::Course,
        Self::VelocityNorth,
        Self::VelocityEast,
        Self::VelocityDown,
        Self::Airspeed,
        Self::Height,
        Self::Latitude,
        Self::Longitude,
        Self::ClimbRate,
        Self::AccelerationX,
        Self::AccelerationY,
        Self::AccelerationZ,
        Self::ControllerTemperature,
        Self::MotorTemperature,
        Self::PackTemperature,
        Self::AirTemperature,
        Self::Pressure,
        Self::Satellites,
    ];

    /// The kind of quantity (throttle and satellites are ratios).
    pub fn quantity(self) -> Quantity {
        match self {
            Self::Time => Quantity::Time,
            Self::Throttle | Self::Satellites => Quantity::Ratio,
            Self::Voltage => Quantity::Voltage,
            Self::Current => Quantity::Current,
            Self::Power => Quantity::Power,
            Self::Charge => Quantity::Charge,
            Self::AngularSpeed => Quantity::AngularSpeed,
            Self::Thrust => Quantity::Force,
            Self::ExhaustSpeed
            | Self::GroundSpeed
            | Self::VelocityNorth
            | Self::VelocityEast
            | Self::VelocityDown
            | Self::Airspeed
            | Self::ClimbRate => Quantity::Speed,
            Self::Course | Self::Latitude | Self::Longitude => Quantity::Angle,
            Self::Height => Quantity::Length,
            Self::AccelerationX | Self::AccelerationY | Self::AccelerationZ => {
                Quantity::Acceleration
            }
            Self::ControllerTemperature
            | Self::MotorTemperature
            | Self::PackTemperature
            | Self::AirTemperature => Quantity::Temperature,
            Self::Pressure => Quantity::Pressure,
        }
    }

    /// UCUM code of the values kept: SI, except positions in degrees.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Latitude | Self::Longitude => "deg",
            other => other.quantity().si(),
        }
    }

    /// The word in channel maps and JSON, e.g. `ground_speed`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Throttle => "throttle",
            Self::Voltage => "voltage",
            Self::Current => "current",
            Self::Power => "power",
            Self::Charge => "charge",
            Self::AngularSpeed => "angular_speed",
            Self::Thrust => "thrust",
            Self::ExhaustSpeed => "exhaust_speed",
            Self::GroundSpeed => "ground_speed",
            Self::Course => "course",
            Self::VelocityNorth => "velocity_north",
            Self::VelocityEast => "velocity_east",
            Self::VelocityDown => "velocity_down",
            Self::Airspeed => "airspeed",
            Self::Height => "height",
            Self::Latitude => "latitude",
            Self::Longitude => "longitude",
            Self::ClimbRate => "climb_rate",
            Self::AccelerationX => "acceleration_x",
            Self::AccelerationY => "acceleration_y",
            Self::AccelerationZ => "acceleration_z",
            Self::ControllerTemperature => "controller_temperature",
            Self::MotorTemperature => "motor_temperature",
            Self::PackTemperature => "pack_temperature",
            Self::AirTemperature => "air_temperature",
            Self::Pressure => "pressure",
            Self::Satellites => "satellites",
        }
    }

    /// The channel that a channel map's word names (`rpm` is the pilot's word for angular speed).
    pub fn from_word(word: &str) -> Option<Self> {
        let word = word.trim().to_lowercase().replace(['-', ' '], "_");
        if word == "rpm" {
            return Some(Self::AngularSpeed);
        }
        Self::ALL.into_iter().find(|c| c.word() == word)
    }
}
