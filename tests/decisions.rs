//! Evidence before a change: controller, airframe, pack, options.

mod accelerometer;
mod answers;
mod counting;
mod declared;
mod heat;
mod resistance;
mod study;
