//! The pipeline, top to bottom.
use crate::findings::Findings;
use crate::season::Finding;
use std::path::PathBuf;
pub struct RunOptions {
    pub season: PathBuf,
    pub out: PathBuf,
    pub threads: Option<usize>,
}
pub struct RunOutcome {
    pub findings: Findings,
    pub json: String,
    pub nothing_usable: bool,
    pub set_aside: bool,
}
pub enum RunError {
    Season(Vec<Finding>),
    Input(String),
    Fault(String),
}
pub fn run(_o: &RunOptions) -> Result<RunOutcome, RunError> {
    Err(RunError::Fault(String::new()))
}
pub fn check(_o: &std::path::Path) -> Result<Vec<Finding>, RunError> {
    Err(RunError::Fault(String::new()))
}
