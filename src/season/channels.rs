//! The words for channels, as `season.toml` names them.

use crate::units::Quantity;

/// Channel word, its quantity.
pub const CHANNELS: &[(&str, Quantity)] = &[
    ("time", Quantity::Time),
    ("throttle", Quantity::Ratio),
    ("voltage", Quantity::Voltage),
    ("current", Quantity::Current),
    ("power", Quantity::Power),
    ("charge", Quantity::Charge),
    ("angular_speed", Quantity::AngularSpeed),
    ("thrust", Quantity::Force),
    ("exhaust_speed", Quantity::Speed),
    ("ground_speed", Quantity::Speed),
    ("course", Quantity::Angle),
    ("velocity_north", Quantity::Speed),
    ("velocity_east", Quantity::Speed),
    ("velocity_down", Quantity::Speed),
    ("airspeed", Quantity::Speed),
    ("height", Quantity::Length),
    ("latitude", Quantity::Angle),
    ("longitude", Quantity::Angle),
    ("climb_rate", Quantity::Speed),
    ("acceleration_x", Quantity::Acceleration),
    ("acceleration_y", Quantity::Acceleration),
    ("acceleration_z", Quantity::Acceleration),
    ("controller_temperature", Quantity::Temperature),
    ("motor_temperature", Quantity::Temperature),
    ("pack_temperature", Quantity::Temperature),
    ("air_temperature", Quantity::Temperature),
    ("pressure", Quantity::Pressure),
    ("satellites", Quantity::Ratio),
];

/// The channel that `word` names; `rpm` is what pilots call the angular speed.
pub fn channel(word: &str) -> Option<(&'static str, Quantity)> {
    let word = if word == "rpm" { "angular_speed" } else { word };
    CHANNELS.iter().find(|(name, _)| *name == word).copied()
}

pub(super) fn channel_words() -> impl Iterator<Item = &'static str> {
    CHANNELS.iter().map(|(name, _)| *name).chain(["rpm"])
}
