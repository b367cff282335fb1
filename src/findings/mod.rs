//! Season tables in, answers with their evidence out. One file a question.

pub mod airframe;
pub mod answer;
mod by_day;
pub mod card;
mod carried_share;
pub mod carry_over;
mod carry_over_words;
pub mod controller;
mod covariates;
pub mod evidence;
mod exponents;
pub mod figure;
mod gain_tests;
mod influence;
pub mod level_speeds;
pub mod margins;
pub mod next;
pub mod observed;
pub mod pack;
mod pictures;
mod plan;
mod plan_flights;
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
