//! The one test binary: a module a subject.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod air_bad_input;
mod bench;
mod calibration;
mod card;
mod cli;
mod decisions;
#[cfg(target_os = "linux")]
mod faults;
mod findings;
mod flight_air;
mod flight_clocks;
mod flight_power;
mod flight_speed;
mod floors;
mod held;
mod ingest;
mod kill;
mod look;
mod look_guesses;
mod look_lines;
mod look_polluted;
mod look_screens;
mod memory;
mod new;
mod physics;
mod propeller_pairs;
mod real_data;
mod report;
mod row_season;
mod run;
mod season;
mod sim_air;
mod sim_decisions;
mod sim_log;
mod sim_season;
mod simulate;
mod stats;
mod store;
mod study;
mod study_air;
mod study_propellers;
#[cfg(target_os = "linux")]
mod terminal;
mod thin;
mod units;
