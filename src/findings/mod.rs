//! Season tables in, answers with their evidence out. One file a question.

pub mod airframe;
mod airframe_pictures;
mod airframe_static;
pub mod answer;
mod by_day;
pub mod carry_over;
mod carry_over_words;
pub mod controller;
mod controller_need;
pub mod evidence;
mod exponents;
pub mod figure;
mod gain_tests;
pub mod level_speeds;
pub mod next;
pub mod observed;
pub mod options;
pub mod pack;
mod pack_draw;
mod pack_pictures;
mod pack_trend;
mod pictures;
mod plan;
pub mod power_and_duration;
mod rotor_alignment;
pub mod season;
mod series;
pub mod sisters;
mod speed_pictures;
mod speed_tables;

pub use answer::*;
pub use figure::*;
pub use season::answer_all;
