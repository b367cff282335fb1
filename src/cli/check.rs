//! `benchborne check SEASON`.

use std::path::PathBuf;

use super::{Exit, show};
use crate::run;
use crate::season::Severity;

/// Tell all that is wrong with a season folder at once: season file, logbook, passes, and whether
/// every named file is there and readable.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: benchborne check my-season")]
pub struct Arguments {
    /// Folder with season.toml.
    pub season: PathBuf,
    /// Print the findings as JSON.
    #[arg(long)]
    pub json: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    match run::check(&arguments.season) {
        Ok(findings) => {
            if arguments.json {
                match serde_json::to_string_pretty(&findings) {
                    Ok(text) => show::raw(&(text + "\n")),
                    Err(error) => return show::fault(&error.to_string()),
                }
            } else {
                show::all_complaints(&findings);
                show::check_summary(&findings);
            }
            if findings.iter().any(|f| f.severity == Severity::Error) {
                Exit::Wrong
            } else {
                Exit::Fine
            }
        }
        Err(error) => show::failure(&error),
    }
}
