//! Season tables in, answers with their evidence out. One file a question.

pub mod airframe;
pub mod answer;
mod by_day;
pub mod carry_over;
mod carry_over_words;
pub mod controller;
pub mod evidence;
mod excess_comparison;
mod exponents;
pub mod figure;
mod gain_pictures;
mod gain_tests;
pub mod level_speeds;
pub mod next;
pub mod observed;
pub mod pack;
mod pictures;
mod plan;
pub mod power_and_duration;
mod rotor_alignment;
pub mod season;
mod series;
pub mod sisters;
mod speed_pictures;
mod speed_tables;
mod where_gain_went;

pub use answer::*;
pub use figure::*;
pub use season::answer_all;
