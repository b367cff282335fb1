//! `benchborne check SEASON`.

use std::path::PathBuf;

use super::progress::Line;
use super::{Exit, show};
use crate::run;
use crate::season::{Finding, Severity};

/// Tell all that is wrong with a season folder at once: season file, logbook, passes, and whether
/// every named file is there and readable.
#[derive(Debug, clap::Args)]
#[command(after_help = concat!(
    "Example: benchborne check my-season\n\n",
    super::exit_codes!("0 nothing worse than a warning, 2 an error was found, or wrong use")
))]
pub struct Arguments {
    /// Folder with season.toml.
    pub season: PathBuf,
    /// Print the findings as JSON.
    #[arg(long)]
    pub json: bool,
    /// No progress, no notes and no warnings: errors and the count alone.
    #[arg(short, long)]
    pub quiet: bool,
}

pub fn main(arguments: &Arguments) -> Exit {
    let line = Line::on_terminal(arguments.quiet);
    let checked = run::check_watched(&arguments.season, &line.progress());
    drop(line);
    match checked {
        Ok(findings) => {
            if arguments.json {
                match serde_json::to_string_pretty(&findings) {
                    Ok(text) => show::raw(&(text + "\n")),
                    Err(error) => return show::fault(&error.to_string()),
                }
            } else {
                let shown = |f: &&Finding| !arguments.quiet || f.severity == Severity::Error;
                show::all_complaints(&findings.iter().filter(shown).cloned().collect::<Vec<_>>());
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
