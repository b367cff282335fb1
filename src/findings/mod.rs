//! Season tables in, answers with their evidence out. One file a question.

pub mod answer;
pub mod figure;

pub use answer::*;
pub use figure::*;
