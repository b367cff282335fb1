//! Season tables in, answers with their evidence out. One file a question.

pub mod answer;
pub mod controller;
pub mod evidence;
pub mod figure;
pub mod pack;
mod pictures;
mod series;

pub use answer::*;
pub use figure::*;
