//! Evidence before a change: controller, airframe, pack, options.

mod accelerometer;
mod answers;
mod counting;
mod heat;
mod resistance;
mod study;
