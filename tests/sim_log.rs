//! A simulated log as the reader would hand it over. Shared with the studies under examples/.

#![allow(dead_code)]

use benchborne::ingest::{Channel, Log};
use benchborne::simulate::SimLog;

/// The power log, with the receiver's values held between its updates as loggers do.
pub fn log_of(sim: &SimLog) -> Log {
    let mut log = Log {
        file: "logs/simulated.csv".to_owned(),
        time: sim.time.clone(),
        lines: (0..sim.time.len()).map(|i| i as u32 + 2).collect(),
        step_s: match sim.time.as_slice() {
            [first, second, ..] => second - first,
            _ => 0.1,
        },
        ..Log::default()
    };
    for (channel, series) in [
        (Channel::Throttle, &sim.throttle),
        (Channel::Voltage, &sim.voltage),
        (Channel::Current, &sim.current),
        (Channel::GroundSpeed, &sim.gps_speed),
        (Channel::Course, &sim.course),
        (Channel::VelocityNorth, &sim.vn),
        (Channel::VelocityEast, &sim.ve),
        (Channel::Latitude, &sim.lat),
        (Channel::Longitude, &sim.lon),
        (Channel::Height, &sim.height),
    ] {
        if series.iter().any(|v| v.is_finite()) {
            log.channels.insert(channel, series.clone());
        }
    }
    log
}

/// The position logger's file: its own rate and clock.
pub fn track_of(sim: &SimLog) -> Log {
    let first = sim.track.first().map_or(0.0, |f| f.time_s);
    let column = |of: fn(&benchborne::simulate::Fix) -> f64| sim.track.iter().map(of).collect();
    let mut log = Log {
        file: "logs/simulated.gpx".to_owned(),
        time: sim.track.iter().map(|f| f.time_s - first).collect(),
        lines: (0..sim.track.len()).map(|i| i as u32 + 2).collect(),
        step_s: 0.1,
        ..Log::default()
    };
    log.channels.insert(Channel::Latitude, column(|f| f.lat));
    log.channels.insert(Channel::Longitude, column(|f| f.lon));
    log.channels
        .insert(Channel::Height, column(|f| f.elevation_m));
    log.channels
        .insert(Channel::GroundSpeed, column(|f| f.speed));
    log.channels.insert(Channel::Course, column(|f| f.course));
    log
}
